//! 65 536 rows of every column, shared once full, with a pyramid of minima and maxima, and sums.
use std::ops::Range;

use super::sums::{Sums, SumsAlong};

/// Rows in a full block.
pub const BLOCK_ROWS: usize = 65_536;
/// Rows (or entries of the level below) under one entry of a pyramid level.
pub const FACTOR: usize = 16;

/// One column of a block.
#[derive(Clone, Debug, Default)]
struct Column {
    cells: Vec<i32>,
    /// Level k: minimum and maximum of each begun run of 16^(k+1) rows.
    levels: [Vec<(i32, i32)>; 4],
    sums: SumsAlong,
}

/// Up to [`BLOCK_ROWS`] rows.
#[derive(Clone, Debug, Default)]
pub struct Block {
    columns: Vec<Column>,
    host_us: Vec<u64>,
    rows: usize,
}

impl Block {
    /// An empty block; `before` is the full one before it, from which the sums go on.
    pub(super) fn new(fields: usize, before: Option<&Block>) -> Block {
        let column = |field: usize| {
            let sums = before.and_then(|b| b.columns.get(field)).map(|c| c.sums.end());
            Column { sums: SumsAlong::from(sums.unwrap_or_default()), ..Column::default() }
        };
        let columns = (0..fields).map(column).collect();
        Block { columns, host_us: Vec::new(), rows: 0 }
    }

    /// Number of rows.
    pub fn rows(&self) -> usize {
        self.rows
    }

    /// Number of columns.
    pub fn fields(&self) -> usize {
        self.columns.len()
    }

    /// The cells of a field.
    pub fn column(&self, field: usize) -> &[i32] {
        self.columns.get(field).map_or(&[], |c| &c.cells)
    }

    /// Host time of each row, µs; empty when the source has none.
    pub fn host_us(&self) -> &[u64] {
        &self.host_us
    }

    /// Appends rows of `columns` from `from` on until the block is full; gives how many.
    pub(super) fn fill(&mut self, columns: &[Vec<i32>], host_us: &[u64], from: usize) -> usize {
        let have = columns.first().map_or(0, Vec::len);
        let take = (BLOCK_ROWS - self.rows).min(have.saturating_sub(from));
        for (column, cells) in self.columns.iter_mut().zip(columns) {
            column.extend(&cells[from..from + take]);
        }
        if let Some(times) = host_us.get(from..from + take) {
            reserve(&mut self.host_us, take);
            self.host_us.extend_from_slice(times);
        }
        self.rows += take;
        take
    }

    /// Least and greatest cell of a field over `rows`; `None` when there are none.
    ///
    /// Cost: at most 32 entries a pyramid level.
    pub fn min_max(&self, field: usize, rows: Range<usize>) -> Option<(i32, i32)> {
        let column = self.columns.get(field)?;
        let rows = rows.start..rows.end.min(self.rows);
        if rows.is_empty() {
            return None;
        }
        if rows == (0..self.rows) {
            return column.levels[3].first().copied();
        }
        Some(column.min_max(rows))
    }

    /// Sums of a field over every row of the session before `row` of this block.
    pub(super) fn sums_before(&self, field: usize, row: usize) -> Option<Sums> {
        let column = self.columns.get(field)?;
        Some(column.sums.before(row, &column.cells))
    }
}

/// Grows by doubling, but never past what a full block needs.
fn reserve<T>(vector: &mut Vec<T>, more: usize) {
    let need = vector.len() + more;
    if need > vector.capacity() {
        vector.reserve_exact((2 * vector.len()).clamp(need, BLOCK_ROWS.max(need)) - vector.len());
    }
}

fn joined(a: (i32, i32), b: (i32, i32)) -> (i32, i32) {
    (a.0.min(b.0), a.1.max(b.1))
}

impl Column {
    fn extend(&mut self, cells: &[i32]) {
        let start = self.cells.len();
        reserve(&mut self.cells, cells.len());
        self.cells.extend_from_slice(cells);
        self.sums.extend(start, cells);
        let (mut from, end) = (start, self.cells.len());
        for level in 0..self.levels.len() {
            // Entries from the first touched one on are made anew from the level below.
            let first = from / FACTOR;
            let (below, rest) = self.levels.split_at_mut(level);
            let entries = &mut rest[0];
            entries.truncate(first);
            match below.last() {
                None => entries.extend(self.cells[first * FACTOR..end].chunks(FACTOR).map(span)),
                Some(below) => entries.extend(below[first * FACTOR..].chunks(FACTOR).map(hull)),
            }
            from = first;
        }
    }

    fn min_max(&self, rows: Range<usize>) -> (i32, i32) {
        let mut found = (i32::MAX, i32::MIN);
        let (mut start, mut end) = (rows.start, rows.end);
        let mut level = None;
        while start < end {
            let (head, tail) = match level {
                Some(3) => (end, end),
                _ => (start.next_multiple_of(FACTOR).min(end), (end / FACTOR * FACTOR).max(start)),
            };
            let tail = tail.max(head);
            found = joined(found, self.entries(level, start..head));
            found = joined(found, self.entries(level, tail..end));
            (start, end) = (head.div_ceil(FACTOR), tail / FACTOR);
            level = Some(level.map_or(0, |l: usize| l + 1));
        }
        found
    }

    fn entries(&self, level: Option<usize>, range: Range<usize>) -> (i32, i32) {
        match level {
            None => span(&self.cells[range]),
            Some(level) => hull(&self.levels[level][range]),
        }
    }
}

fn span(cells: &[i32]) -> (i32, i32) {
    cells.iter().fold((i32::MAX, i32::MIN), |found, c| joined(found, (*c, *c)))
}

fn hull(entries: &[(i32, i32)]) -> (i32, i32) {
    entries.iter().fold((i32::MAX, i32::MIN), |found, e| joined(found, *e))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn filled(cells: &[i32], step: usize) -> Block {
        let mut block = Block::new(1, None);
        let mut at = 0;
        while at < cells.len() {
            let part = vec![cells[at..(at + step).min(cells.len())].to_vec()];
            at += block.fill(&part, &[], 0);
        }
        block
    }

    #[test]
    fn the_pyramid_agrees_with_a_scan() {
        let cells: Vec<i32> =
            (0..BLOCK_ROWS as i64).map(|i| (i * i * 7919 % 4093) as i32).collect();
        for (rows, step) in [(1, 1), (15, 4), (16, 5), (257, 50), (5000, 333), (BLOCK_ROWS, 4096)] {
            let block = filled(&cells[..rows], step);
            for (a, b) in [(0, rows), (0, 1), (rows / 3, rows), (rows / 2, rows / 2 + 17), (1, 300)]
            {
                let range = a.min(rows)..b.min(rows);
                let scan = (!range.is_empty()).then(|| span(&cells[range.clone()]));
                assert_eq!(block.min_max(0, range.clone()), scan, "{rows} by {step}, {range:?}");
            }
        }
    }

    #[test]
    fn a_full_block_takes_no_more() {
        let mut block = Block::new(2, None);
        let part = vec![vec![1; BLOCK_ROWS - 10]; 2];
        assert_eq!(block.fill(&part, &[], 0), BLOCK_ROWS - 10);
        assert_eq!(block.fill(&part, &[], 5), 10);
        assert_eq!(block.fill(&part, &[], 0), 0);
        assert_eq!(block.rows(), BLOCK_ROWS);
    }
}
