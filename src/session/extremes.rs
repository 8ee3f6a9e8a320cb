//! Least and greatest values of neighbouring runs of rows, kept so that many are read at once.
use std::ops::Range;

/// Least and greatest cell, run by run.
///
/// Two columns and not one of pairs: reading a stretch of either becomes vector instructions.
#[derive(Clone, Debug, Default)]
pub(super) struct Extremes {
    low: Vec<i32>,
    high: Vec<i32>,
}

impl Extremes {
    /// Keeps the first `runs` of them.
    pub(super) fn truncate(&mut self, runs: usize) {
        self.low.truncate(runs);
        self.high.truncate(runs);
    }

    /// Adds a run.
    pub(super) fn push(&mut self, (low, high): (i32, i32)) {
        self.low.push(low);
        self.high.push(high);
    }

    /// Least and greatest over some runs; `None` without any, or when not all are there.
    pub(super) fn over(&self, runs: Range<usize>) -> Option<(i32, i32)> {
        let (low, high) = (self.low.get(runs.clone())?, self.high.get(runs)?);
        (!low.is_empty()).then(|| (least(low), greatest(high)))
    }
}

/// Least and greatest of some cells; `None` of none.
pub(super) fn extremes(cells: &[i32]) -> Option<(i32, i32)> {
    (!cells.is_empty()).then(|| (least(cells), greatest(cells)))
}

/// Least and greatest of two pairs.
pub(super) fn joined(a: (i32, i32), b: (i32, i32)) -> (i32, i32) {
    (a.0.min(b.0), a.1.max(b.1))
}

fn least(cells: &[i32]) -> i32 {
    cells.iter().copied().fold(i32::MAX, i32::min)
}

fn greatest(cells: &[i32]) -> i32 {
    cells.iter().copied().fold(i32::MIN, i32::max)
}
