//! Extremes of a million rows in steps of 256, 1 024 and 65 536, each field's in one piece.
use std::ops::Range;

use super::block::{BLOCK_ROWS, Block};
use super::extremes::Extremes;

/// Rows under one entry of each level.
pub(super) const STEPS: [usize; 3] = [256, SPAN_ROWS, BLOCK_ROWS];
/// Rows under one entry of the middle level.
pub const SPAN_ROWS: usize = 1_024;
/// Blocks of a full shelf.
const BLOCKS: usize = 16;
/// Rows of a full shelf.
pub(super) const SHELF_ROWS: usize = BLOCKS * BLOCK_ROWS;

/// The extremes of up to 16 blocks.
///
/// They stand apart from the blocks so that a stretch of hours is read from few places in memory.
#[derive(Clone, Debug, Default)]
pub(super) struct Shelf {
    fields: Vec<[Extremes; 3]>,
}

impl Shelf {
    /// Takes in the rows of its `at`-th block from `from` on; it is the last one.
    pub(super) fn note(&mut self, at: usize, block: &Block, from: usize) {
        self.fields.resize(block.fields(), <[Extremes; 3]>::default());
        let base = at * BLOCK_ROWS;
        for (field, levels) in self.fields.iter_mut().enumerate() {
            for (k, step) in STEPS.into_iter().enumerate() {
                let (below, rest) = levels.split_at_mut(k);
                let entries = &mut rest[0];
                let first = (base + from) / step;
                entries.truncate(first);
                // Begun runs have an entry, too.
                for entry in first..(base + block.rows()).div_ceil(step) {
                    let rows = entry * step..((entry + 1) * step).min(base + block.rows());
                    let made = match below.last() {
                        None => block.min_max(field, rows.start - base..rows.end - base),
                        Some(below) => {
                            below.over(rows.start / STEPS[k - 1]..rows.end.div_ceil(STEPS[k - 1]))
                        }
                    };
                    made.into_iter().for_each(|made| entries.push(made));
                }
            }
        }
    }

    /// Least and greatest cell of a field over rows of the shelf that begin and end on entries of a
    /// level; `None` when they are not all there.
    pub(super) fn over(
        &self,
        field: usize,
        level: usize,
        rows: Range<usize>,
    ) -> Option<(i32, i32)> {
        let step = STEPS[level];
        self.fields.get(field)?[level].over(rows.start / step..rows.end / step)
    }
}
