//! Blocks of a few rows with a median and a spread an axis: what the finders look at.
//!
//! A cell is five rows: its median shrugs off two damaged ones, its spread (fourth minus second of
//! the five in order) one. Below 95 frames a second a cell is three rows. A block is as many cells as make
//! about 20 ms. Blocks never reach across
//! a gap in time or a restart.
use crate::rig::AxisId;
use crate::session::{TimeSource, Tracks};

/// Rows a cell.
const CELL: usize = 5;
/// The same where five rows would span much more than a block aims at: its median shrugs off one damaged row.
const SLOW_CELL: usize = 3;
/// Frames farther apart than this, µs (95 a second), are gathered in cells of [`SLOW_CELL`].
const SLOW_US: f64 = 10_500.0;
/// Range of three normal values over that of the second to the fourth of five: 1.693/0.990 (order statistics).
const RANGE_OF_THREE: f64 = 1.71;
/// Length that a block aims at, µs.
const BLOCK_US: f64 = 20_000.0;
/// Time between rows where nothing tells it, µs.
const ASSUMED_US: f64 = 4_000.0;
/// Least gap in time that ends a run, by the board's clock and by the host's, µs,
const GAP_US: [f64; 2] = [20_000.0, 100_000.0];
/// and in intervals.
const GAP_PERIODS: f64 = 6.0;
/// Most cells a block, however fast the stream.
const MAX_CELLS: usize = 64;
/// Blocks to each side that motion is judged over.
const REACH: usize = 2;

/// The reduced columns. Index = block.
pub(super) struct Blocks {
    /// First row of each block.
    first_row: Vec<usize>,
    /// True where a block begins a stretch without gap.
    opens_run: Vec<bool>,
    /// One past the last block of each run, in order.
    run_ends: Vec<usize>,
    rows_each: usize,
    breaks: Vec<usize>,
    block_us: f64,
    median: [Option<Vec<i32>>; 6],
    /// Mean spread of the block's cells, 1/16 counts; about σ for Gaussian noise.
    spread16: [Option<Vec<u32>>; 6],
}

impl Blocks {
    /// Reduces every axis of a session.
    pub(super) fn of(tracks: &Tracks) -> Blocks {
        let period_us = period_us(tracks);
        let cell = if period_us > SLOW_US { SLOW_CELL } else { CELL };
        let cells = (BLOCK_US / (cell as f64 * period_us)).round().clamp(1.0, MAX_CELLS as f64);
        let rows_each = cell * cells as usize;
        let breaks = breaks(tracks, period_us);
        let mut first_row = Vec::with_capacity(tracks.rows() / rows_each + 1);
        let mut opens_run = Vec::with_capacity(tracks.rows() / rows_each + 1);
        let mut run_ends = Vec::with_capacity(breaks.len() + 1);
        let mut start = 0;
        for &end in breaks.iter().chain(std::iter::once(&tracks.rows())) {
            let blocks = end.saturating_sub(start) / rows_each;
            first_row.extend((0..blocks).map(|k| start + k * rows_each));
            opens_run.extend((0..blocks).map(|k| k == 0));
            run_ends.push(first_row.len());
            start = end;
        }
        let mut median = [const { None }; 6];
        let mut spread16 = [const { None }; 6];
        for axis in AxisId::ALL {
            let Some(column) = tracks.axis(axis).filter(|c| c.len() == tracks.rows()) else {
                continue;
            };
            let (m, s) = if cell == CELL {
                reduce(column, &first_row, rows_each)
            } else {
                threes(column, &first_row)
            };
            median[axis.index()] = Some(m);
            spread16[axis.index()] = Some(s);
        }
        let block_us = period_us * rows_each as f64;
        Blocks { first_row, opens_run, run_ends, rows_each, breaks, block_us, median, spread16 }
    }

    /// Number of blocks.
    pub(super) fn len(&self) -> usize {
        self.first_row.len()
    }

    /// First row of a block; one past the last block gives the end of the last one.
    pub(super) fn row(&self, block: usize) -> usize {
        match self.first_row.get(block) {
            Some(&row) => row,
            None => self.first_row.last().map_or(0, |&row| row + self.rows_each),
        }
    }

    /// One past the last row of the block before `block` (an exclusive end).
    pub(super) fn end_row(&self, block: usize) -> usize {
        block.checked_sub(1).map_or(0, |last| self.row(last) + self.rows_each)
    }

    /// True when the block is the first after a gap, a restart, or of all.
    pub(super) fn opens_run(&self, block: usize) -> bool {
        self.opens_run.get(block).copied().unwrap_or(true)
    }

    /// One past the last block of the run without gap that holds `block`.
    pub(super) fn run_end(&self, block: usize) -> usize {
        let run = self.run_ends.partition_point(|&end| end <= block);
        self.run_ends.get(run).copied().unwrap_or(self.len())
    }

    /// First block of the run without gap that holds `block`.
    pub(super) fn run_first(&self, block: usize) -> usize {
        let run = self.run_ends.partition_point(|&end| end <= block);
        run.checked_sub(1).map_or(0, |before| self.run_ends[before])
    }

    /// First rows after gaps and restarts.
    pub(super) fn breaks(&self) -> &[usize] {
        &self.breaks
    }

    /// How many blocks make up a time, at least one.
    pub(super) fn count_in(&self, us: f64) -> usize {
        ((us / self.block_us).ceil() as usize).max(1)
    }

    /// Length of a block, s.
    pub(super) fn block_s(&self) -> f64 {
        self.block_us * 1e-6
    }

    /// Time from row to row, µs.
    pub(super) fn row_us(&self) -> f64 {
        self.block_us / self.rows_each as f64
    }

    /// The block that holds a row; a row between runs counts to the block before it.
    pub(super) fn block_at(&self, row: usize) -> usize {
        self.first_row.partition_point(|&first| first <= row).saturating_sub(1)
    }

    /// Medians of an axis.
    pub(super) fn median(&self, axis: AxisId) -> Option<&[i32]> {
        self.median[axis.index()].as_deref()
    }

    /// Spreads of an axis, 1/16 counts.
    pub(super) fn spread16(&self, axis: AxisId) -> Option<&[u32]> {
        self.spread16[axis.index()].as_deref()
    }

    /// Which axes move in each block (bit = place in [`AxisId::ALL`]): the medians of the blocks
    /// within two to each side differ by more than the axis' limit, in counts.
    pub(super) fn motion(&self, limits: &[i32; 6]) -> Vec<u8> {
        let mut moves = vec![0u8; self.len()];
        for axis in AxisId::ALL {
            let Some(median) = self.median(axis) else { continue };
            let (bit, limit) = (1u8 << axis.index(), limits[axis.index()]);
            let mut start = 0;
            while start < self.len() {
                let end = self.run_end(start);
                for (b, flag) in moves[start..end].iter_mut().enumerate() {
                    let window = &median[(start + b).saturating_sub(REACH).max(start)
                        ..(start + b + REACH + 1).min(end)];
                    let (low, high) = window
                        .iter()
                        .fold((i32::MAX, i32::MIN), |(low, high), &m| (low.min(m), high.max(m)));
                    if high.saturating_sub(low) > limit {
                        *flag |= bit;
                    }
                }
                start = end;
            }
        }
        moves
    }
}

/// Time between rows, µs: the tracks' own, else the mean, else 4 ms.
pub(super) fn period_us(tracks: &Tracks) -> f64 {
    if tracks.period_us > 0.0 {
        return tracks.period_us;
    }
    match (tracks.t_us.first(), tracks.t_us.last()) {
        (Some(first), Some(last)) if last > first => {
            (last - first) as f64 / (tracks.rows() - 1) as f64
        }
        _ => ASSUMED_US,
    }
}

/// Rows before which time jumps, the board restarted or the link had been away.
fn breaks(tracks: &Tracks, period_us: f64) -> Vec<usize> {
    let floor_us = GAP_US[usize::from(tracks.time_source != TimeSource::Board)];
    let limit_us = (GAP_PERIODS * period_us).max(floor_us) as u64;
    let mut rows: Vec<usize> = tracks
        .t_us
        .windows(2)
        .enumerate()
        .filter(|(_, pair)| pair[1].saturating_sub(pair[0]) > limit_us)
        .map(|(row, _)| row + 1)
        .collect();
    rows.extend(tracks.stream.cuts().iter().filter(|&&row| row > 0 && row < tracks.rows()));
    rows.sort_unstable();
    rows.dedup();
    rows
}

fn reduce(column: &[i32], first_row: &[usize], rows_each: usize) -> (Vec<i32>, Vec<u32>) {
    let cells = rows_each / CELL;
    let mut medians = Vec::with_capacity(first_row.len());
    let mut spreads = Vec::with_capacity(first_row.len());
    let mut of_cells = [0i32; MAX_CELLS];
    for &row in first_row {
        let mut sum = 0u32;
        for (cell, slot) in column[row..row + rows_each].chunks_exact(CELL).zip(of_cells.iter_mut())
        {
            let [_, second, third, fourth, _] =
                in_order([cell[0], cell[1], cell[2], cell[3], cell[4]]);
            *slot = third;
            sum = sum.saturating_add(fourth.abs_diff(second));
        }
        let of_cells = &mut of_cells[..cells];
        of_cells.sort_unstable();
        medians.push(of_cells[cells / 2]);
        spreads.push(sum.saturating_mul(16) / cells as u32);
    }
    (medians, spreads)
}

/// As [`reduce`] for blocks of one cell of three.
fn threes(column: &[i32], first_row: &[usize]) -> (Vec<i32>, Vec<u32>) {
    let of = |&row: &usize| {
        let mut cell = [column[row], column[row + 1], column[row + 2]];
        cell.sort_unstable();
        let range = 16.0 * f64::from(cell[2].abs_diff(cell[0])) / RANGE_OF_THREE;
        (cell[1], range.round() as u32)
    };
    first_row.iter().map(of).unzip()
}

/// Five values in order, by nine comparisons without a branch.
fn in_order(mut v: [i32; 5]) -> [i32; 5] {
    for (a, b) in [(0, 1), (3, 4), (2, 4), (2, 3), (1, 4), (0, 3), (0, 2), (1, 3), (1, 2)] {
        (v[a], v[b]) = (v[a].min(v[b]), v[a].max(v[b]));
    }
    v
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_order_of_five_is_sorted() {
        for code in 0..3125 {
            let v = [code % 5, code / 5 % 5, code / 25 % 5, code / 125 % 5, code / 625];
            let mut expect = v;
            expect.sort_unstable();
            assert_eq!(in_order(v), expect);
        }
    }
}
