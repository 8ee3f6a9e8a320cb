//! What a window draws of a column: least and greatest cell for each pixel.
use std::ops::Range;
use std::sync::Arc;

use super::Session;
use super::block::{BLOCK_ROWS, Block, ENTRY_ROWS};
use super::extremes::{extremes, joined};
use super::shelf::{SHELF_ROWS, STEPS, Shelf};

/// Rows under one entry, from single cells to whole blocks.
const SIZES: [usize; 5] = [1, ENTRY_ROWS, STEPS[0], STEPS[1], STEPS[2]];
/// Runs of at most so many rows are read cell by cell.
const FEW: usize = 128;

/// Extremes of every field in steps from 256 rows on.
#[derive(Clone, Debug, Default)]
pub(super) struct Shelves(Vec<Arc<Shelf>>);

impl Shelves {
    /// Takes in the rows of the block at a place from `from` on; it is the last one.
    pub(super) fn note(&mut self, at: usize, block: &Block, from: usize) {
        let blocks = SHELF_ROWS / BLOCK_ROWS;
        self.0.resize_with(at / blocks + 1, Arc::default);
        Arc::make_mut(&mut self.0[at / blocks]).note(at % blocks, block, from);
    }

    /// Forgets everything.
    pub(super) fn clear(&mut self) {
        self.0.clear();
    }
}

impl Session {
    /// Least and greatest cell of a field over `rows`; `None` when there are none.
    ///
    /// Cost: at most 64 entries a level, and one for every 65 536 rows.
    pub fn span_of(&self, field: usize, rows: Range<usize>) -> Option<(i32, i32)> {
        let (mut start, mut end) = (rows.start, rows.end.min(self.rows()));
        let mut found = None;
        let mut add = |level: usize, rows: Range<usize>| {
            found = found.into_iter().chain(self.entries(field, level, rows)).reduce(joined);
        };
        for level in 0..SIZES.len() {
            if start >= end {
                break;
            }
            // Up to whole entries of the next level, which go there.
            let Some(next) = SIZES.get(level + 1) else {
                add(level, start..end);
                break;
            };
            let head = start.next_multiple_of(*next).min(end);
            let tail = (end / next * next).max(head);
            add(level, start..head);
            add(level, tail..end);
            (start, end) = (head, tail);
        }
        found
    }

    /// The same for each of many runs, as pixel columns are: short ones are read cell by cell, and
    /// such as begin and end on entries of the envelope from one level.
    pub fn spans_of(&self, field: usize, runs: &[Range<usize>]) -> Vec<Option<(i32, i32)>> {
        let of = |rows: &Range<usize>| {
            if rows.is_empty() || rows.end > self.rows() {
                return self.span_of(field, rows.clone());
            }
            let fits = |size: &usize| (rows.start | rows.end).is_multiple_of(*size);
            match SIZES[..4].iter().rposition(fits) {
                Some(0) | None if rows.len() > FEW => self.span_of(field, rows.clone()),
                level => self.entries(field, level.unwrap_or(0), rows.clone()),
            }
        };
        runs.iter().map(of).collect()
    }

    /// Least and greatest over rows that begin and end on entries of a level of [`SIZES`].
    fn entries(&self, field: usize, level: usize, rows: Range<usize>) -> Option<(i32, i32)> {
        let mut found = None;
        let mut start = rows.start;
        let holds = if level < 2 { BLOCK_ROWS } else { SHELF_ROWS };
        while start < rows.end {
            let base = start / holds * holds;
            let end = rows.end.min(base + holds);
            let within = start - base..end - base;
            let part = match level {
                0 => self
                    .blocks()
                    .get(base / holds)
                    .and_then(|b| extremes(b.column(field).get(within)?)),
                1 => self.blocks().get(base / holds).and_then(|b| b.over(field, within)),
                _ => self.shelves().0.get(base / holds)?.over(field, level - 2, within),
            };
            found = part.into_iter().chain(found).reduce(joined);
            start = end;
        }
        found
    }

    /// The picture of a column: `rows` cut into `pixels` equal runs, least and greatest of each.
    ///
    /// With fewer rows than pixels there is one entry a row. Masks of unsettled base are drawn as
    /// they are kept. Cost: proportional to `pixels`, not to `rows`.
    pub fn min_max(&self, field: usize, rows: Range<usize>, pixels: usize) -> Vec<(i32, i32)> {
        let rows = rows.start.min(self.rows())..rows.end.min(self.rows());
        let runs = pixels.min(rows.len());
        let edge = |i: usize| rows.start + (rows.len() as u128 * i as u128 / runs as u128) as usize;
        (0..runs).filter_map(|i| self.span_of(field, edge(i)..edge(i + 1))).collect()
    }
}
