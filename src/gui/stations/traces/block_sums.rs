//! Sums of what is worked out of the codes, block by block, so that a long stretch costs its blocks.
use std::ops::Range;

use super::outputs::BLOCK;
use crate::session::Sums;

/// Sums of full blocks, as far as they have been worked out.
#[derive(Clone, Debug, Default)]
pub struct BlockSums {
    /// `n` = 0: not worked out.
    blocks: Vec<Sums>,
}

impl BlockSums {
    /// True when a block need not be worked out (again) for its sums.
    pub fn has(&self, block: usize) -> bool {
        self.blocks.get(block).is_some_and(|sums| sums.n == BLOCK as u64)
    }

    /// Number of blocks up to the last that was worked out.
    pub fn len(&self) -> usize {
        self.blocks.len()
    }

    /// Keeps the sums of a block; one that is not full yet is not worth keeping.
    pub fn keep(&mut self, block: usize, sums: Sums) {
        if sums.n != BLOCK as u64 {
            return;
        }
        if self.blocks.len() <= block {
            self.blocks.resize(block + 1, Sums::default());
        }
        self.blocks[block] = sums;
    }

    /// Over any rows: `some` gives those of the begun blocks at either end. `None` when a part is
    /// not worked out yet.
    ///
    /// Cost: less than two blocks of `some`, and about a nanosecond a whole block.
    pub fn over(
        &self,
        rows: Range<usize>,
        some: impl Fn(Range<usize>) -> Option<Sums>,
    ) -> Option<Sums> {
        let (first, last) = (rows.start.div_ceil(BLOCK), rows.end / BLOCK);
        if first >= last {
            return some(rows);
        }
        let mut sums = some(rows.start..first * BLOCK)?;
        for block in self.blocks.get(first..last)? {
            if block.n != BLOCK as u64 {
                return None;
            }
            sums += *block;
        }
        sums += some(last * BLOCK..rows.end)?;
        Some(sums)
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn made(row: usize) -> i32 {
        ((row * 7_919) % 60_001) as i32 - 30_000
    }

    fn plain(rows: Range<usize>) -> Sums {
        Sums::of(&rows.map(made).collect::<Vec<i32>>())
    }

    fn six_blocks() -> BlockSums {
        let mut sums = BlockSums::default();
        for block in (0..6).rev() {
            sums.keep(block, plain(block * BLOCK..(block + 1) * BLOCK));
        }
        sums
    }

    #[test]
    fn a_block_that_is_missing_makes_no_sum() {
        let mut sums = BlockSums::default();
        sums.keep(0, plain(0..BLOCK));
        sums.keep(2, plain(2 * BLOCK..3 * BLOCK));
        sums.keep(3, plain(0..BLOCK - 1));
        assert!(sums.has(0) && !sums.has(1) && sums.has(2) && !sums.has(3));
        assert_eq!(sums.over(0..3 * BLOCK, |rows| Some(plain(rows))), None);
        assert_eq!(sums.over(0..2 * BLOCK, |_| None), None, "an end that is not known");
    }

    proptest! {
        #[test]
        fn sums_over_any_rows_are_those_of_the_rows(
            a in 0..6 * BLOCK,
            b in 0..6 * BLOCK,
            whole in any::<bool>(),
        ) {
            let mut rows = a.min(b)..a.max(b);
            if whole {
                rows = rows.start / BLOCK * BLOCK..rows.end / BLOCK * BLOCK;
            }
            let read = std::cell::Cell::new(0);
            let found = six_blocks().over(rows.clone(), |part| {
                read.set(read.get() + part.len());
                Some(plain(part))
            });
            prop_assert_eq!(found, Some(plain(rows)));
            prop_assert!(read.get() < 2 * BLOCK, "{} rows read", read.get());
        }
    }
}
