//! What a window draws of a column: least and greatest cell for each pixel.
use std::ops::Range;

use super::Session;
use super::block::BLOCK_ROWS;

impl Session {
    /// Least and greatest cell of a field over `rows`; `None` when there are none.
    ///
    /// Cost: a bounded number of steps and one a whole block.
    pub fn span_of(&self, field: usize, rows: Range<usize>) -> Option<(i32, i32)> {
        let rows = rows.start..rows.end.min(self.rows());
        let mut found: Option<(i32, i32)> = None;
        let mut at = rows.start;
        while at < rows.end {
            let base = at / BLOCK_ROWS * BLOCK_ROWS;
            let end = rows.end.min(base + BLOCK_ROWS);
            let part = self.blocks()[at / BLOCK_ROWS].min_max(field, at - base..end - base)?;
            found = Some(found.map_or(part, |f| (f.0.min(part.0), f.1.max(part.1))));
            at = end;
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
