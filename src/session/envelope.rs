//! What a window draws of a column: least and greatest cell for each pixel.
use std::ops::Range;

use super::Session;
use super::block::{BLOCK_ROWS, Block};

/// Least and greatest cell of every column of every block: field by field, block after block.
///
/// A stretch of hours costs one look into memory a thousand blocks, not three a block.
#[derive(Clone, Debug, Default)]
pub(super) struct Hulls(Vec<Vec<(i32, i32)>>);

impl Hulls {
    /// Notes the extremes of the block at a place, which is the last one or new.
    pub(super) fn note(&mut self, at: usize, block: &Block) {
        self.0.resize(block.fields(), Vec::new());
        for (field, hulls) in self.0.iter_mut().enumerate() {
            hulls.truncate(at);
            hulls.extend(block.min_max(field, 0..block.rows()));
        }
    }

    /// Forgets everything.
    pub(super) fn clear(&mut self) {
        self.0.clear();
    }

    fn of(&self, field: usize, blocks: Range<usize>) -> Option<(i32, i32)> {
        let hulls = self.0.get(field)?.get(blocks)?;
        hulls.iter().copied().reduce(|a, b| (a.0.min(b.0), a.1.max(b.1)))
    }
}

impl Session {
    /// Least and greatest cell of a field over `rows`; `None` when there are none.
    ///
    /// Cost: a bounded number of steps, and a whole block adds less than a nanosecond.
    pub fn span_of(&self, field: usize, rows: Range<usize>) -> Option<(i32, i32)> {
        let rows = rows.start..rows.end.min(self.rows());
        if rows.is_empty() {
            return None;
        }
        let part = |block: usize, rows: Range<usize>| {
            self.blocks().get(block).and_then(|b| b.min_max(field, rows))
        };
        let (first, last) = (rows.start / BLOCK_ROWS, rows.end / BLOCK_ROWS);
        let (from, to) = (rows.start % BLOCK_ROWS, rows.end % BLOCK_ROWS);
        if first == last {
            return part(first, from..to);
        }
        let whole = self.hulls().of(field, first + usize::from(from > 0)..last);
        let head = if from > 0 { part(first, from..BLOCK_ROWS) } else { None };
        let found = [head, whole, part(last, 0..to)];
        found.into_iter().flatten().reduce(|a, b| (a.0.min(b.0), a.1.max(b.1)))
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
