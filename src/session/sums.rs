//! Sums over any run of rows at one cost: what mean and deviation of a stretch are made from.
use std::ops::{AddAssign, Range, Sub};

use super::Session;
use super::block::BLOCK_ROWS;

/// Number, sum and sum of squares of cells, exact: no digit is lost however many there are.
///
/// 2³² cells of any size fit with room to spare.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Sums {
    /// How many cells.
    pub n: u64,
    /// Their sum.
    pub sum: i128,
    /// The sum of their squares.
    pub squares: i128,
}

impl Sums {
    /// Of some cells. Cost: proportional to their number.
    pub fn of(cells: &[i32]) -> Sums {
        // Halves of the squares in sums of their own: none overflows below 2³² cells.
        let (mut sum, mut low, mut high) = (0_i64, 0_u64, 0_u64);
        for cell in cells {
            let size = u64::from(cell.unsigned_abs());
            let square = size * size;
            sum += i64::from(*cell);
            low += square & 0xFFFF_FFFF;
            high += square >> 32;
        }
        let squares = i128::from(low) + (i128::from(high) << 32);
        Sums { n: cells.len() as u64, sum: i128::from(sum), squares }
    }
}

/// Cells between two sums that are kept: a sum is never further than that from a kept one.
const RUN: usize = 1_024;

/// Sums along a column of a block, each over everything before a place, earlier blocks included.
///
/// Kept are 48 bytes for 4 096 bytes of cells.
#[derive(Clone, Debug, Default)]
pub(super) struct SumsAlong {
    /// Before the first cell.
    first: Sums,
    /// Behind each full run of cells.
    kept: Vec<Sums>,
    /// Behind the last cell.
    end: Sums,
}

impl From<Sums> for SumsAlong {
    fn from(first: Sums) -> SumsAlong {
        SumsAlong { first, kept: Vec::new(), end: first }
    }
}

impl SumsAlong {
    /// Takes in cells that follow the `have` that are there.
    pub(super) fn extend(&mut self, have: usize, cells: &[i32]) {
        let (head, rest) = cells.split_at((RUN - have % RUN).min(cells.len()));
        for run in std::iter::once(head).chain(rest.chunks(RUN)) {
            self.end += Sums::of(run);
            if (self.end.n - self.first.n).is_multiple_of(RUN as u64) && !run.is_empty() {
                self.kept.push(self.end);
            }
        }
    }

    /// Of everything there is.
    pub(super) fn end(&self) -> Sums {
        self.end
    }

    /// Of everything before a row of the block whose cells these are.
    pub(super) fn before(&self, row: usize, cells: &[i32]) -> Sums {
        if row >= cells.len() {
            return self.end;
        }
        let run = row / RUN;
        let mut sums = if run == 0 { self.first } else { self.kept[run - 1] };
        sums += Sums::of(&cells[run * RUN..row]);
        sums
    }
}

impl AddAssign for Sums {
    fn add_assign(&mut self, more: Sums) {
        self.n += more.n;
        self.sum += more.sum;
        self.squares += more.squares;
    }
}

impl Sub for Sums {
    type Output = Sums;

    /// What is left of a run when its beginning is taken away.
    fn sub(self, less: Sums) -> Sums {
        Sums { n: self.n - less.n, sum: self.sum - less.sum, squares: self.squares - less.squares }
    }
}

impl Session {
    /// Sums of a field over `rows`, as far as they are there; `None` when there is no such field.
    ///
    /// Masks of unsettled base count as they are kept. Cost: at most two runs of 1 024 cells,
    /// however many rows.
    pub fn sums_of(&self, field: usize, rows: Range<usize>) -> Option<Sums> {
        let end = rows.end.min(self.rows());
        let start = rows.start.min(end);
        Some(self.sums_before(field, end)? - self.sums_before(field, start)?)
    }

    /// Sums of a field over all rows before `row`.
    fn sums_before(&self, field: usize, row: usize) -> Option<Sums> {
        if field >= self.roles().len() {
            return None;
        }
        // The end of a full block is asked of that block: the next one may not be there.
        let Some(last) = row.checked_sub(1) else { return Some(Sums::default()) };
        let block = self.blocks().get(last / BLOCK_ROWS)?;
        block.sums_before(field, last % BLOCK_ROWS + 1)
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    /// One cell after another, with nothing clever.
    fn plain(cells: &[i32]) -> Sums {
        let mut sums = Sums::default();
        for cell in cells {
            let cell = i128::from(*cell);
            sums += Sums { n: 1, sum: cell, squares: cell * cell };
        }
        sums
    }

    #[test]
    fn the_largest_cells_do_not_overflow() {
        for cell in [i32::MIN, i32::MAX] {
            let cells = vec![cell; 100_000];
            assert_eq!(Sums::of(&cells), plain(&cells));
        }
    }

    proptest! {
        #[test]
        fn sums_along_agree_with_plain_ones(
            cells in prop::collection::vec(any::<i32>(), 0..5_000),
            step in 1_usize..2_500,
            at in 0_usize..5_000,
            earlier in prop::collection::vec(any::<i32>(), 0..3),
        ) {
            let before = plain(&earlier);
            let mut along = SumsAlong::from(before);
            for (k, part) in cells.chunks(step).enumerate() {
                along.extend(k * step, part);
            }
            let row = at.min(cells.len());
            let mut want = plain(&cells[..row]);
            want += before;
            prop_assert_eq!(along.before(row, &cells), want);
            let mut all = plain(&cells);
            all += before;
            prop_assert_eq!(along.end(), all);
        }
    }
}
