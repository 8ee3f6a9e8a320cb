//! 65 536 rows of every column, shared once full, with the extremes of every 16 rows, and sums.
use std::ops::Range;

use super::extremes::{Extremes, extremes, joined};
use super::sums::{Sums, SumsAlong};

/// Rows in a full block.
pub const BLOCK_ROWS: usize = 65_536;
/// Rows under one entry of the extremes.
pub(super) const ENTRY_ROWS: usize = 16;

/// One column of a block.
#[derive(Clone, Debug, Default)]
struct Column {
    cells: Vec<i32>,
    /// Minimum and maximum of each begun run of 16 rows.
    entries: Extremes,
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
    /// Cost: at most 30 cells and an entry for every 16 rows.
    pub(super) fn min_max(&self, field: usize, rows: Range<usize>) -> Option<(i32, i32)> {
        let column = self.columns.get(field)?;
        let rows = rows.start..rows.end.min(self.rows);
        let head = rows.start.next_multiple_of(ENTRY_ROWS).min(rows.end);
        let tail = (rows.end / ENTRY_ROWS * ENTRY_ROWS).max(head);
        let ends = [rows.start..head, tail..rows.end].map(|part| column.cells.get(part));
        let ends = ends.into_iter().flatten().filter_map(extremes);
        ends.chain(self.over(field, head..tail)).reduce(joined)
    }

    /// The same for rows that begin and end on entries; `None` when they are not all there.
    pub(super) fn over(&self, field: usize, rows: Range<usize>) -> Option<(i32, i32)> {
        let column = self.columns.get(field)?;
        column.entries.over(rows.start / ENTRY_ROWS..rows.end / ENTRY_ROWS)
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

impl Column {
    fn extend(&mut self, cells: &[i32]) {
        let start = self.cells.len();
        reserve(&mut self.cells, cells.len());
        self.cells.extend_from_slice(cells);
        self.sums.extend(start, cells);
        // Entries from the first touched one on are made anew.
        let first = start / ENTRY_ROWS;
        self.entries.truncate(first);
        for run in self.cells[first * ENTRY_ROWS..].chunks(ENTRY_ROWS) {
            extremes(run).into_iter().for_each(|made| self.entries.push(made));
        }
    }
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
    fn the_entries_agree_with_a_scan() {
        let cells: Vec<i32> =
            (0..BLOCK_ROWS as i64).map(|i| (i * i * 7919 % 4093) as i32).collect();
        for (rows, step) in [(1, 1), (15, 4), (16, 5), (257, 50), (5000, 333), (BLOCK_ROWS, 4096)] {
            let block = filled(&cells[..rows], step);
            for (a, b) in [(0, rows), (0, 1), (rows / 3, rows), (rows / 2, rows / 2 + 17), (1, 300)]
            {
                let range = a.min(rows)..b.min(rows);
                let scan = extremes(&cells[range.clone()]);
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
