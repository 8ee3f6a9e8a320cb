//! Rate of a stream and the distribution of the intervals between its frames.
use crate::measure::distribution::t_quantile;
use crate::measure::{Estimate, Measured, Shortage};

/// Blocks that the mean interval is taken over for its interval.
const BATCHES: usize = 20;

/// Intervals up to this many µs are counted in a table, longer ones kept one by one.
const TABLE_US: usize = 1 << 16;

/// Percentiles of the interval between consecutive frames, µs. n = intervals.
#[derive(Clone, Debug, PartialEq)]
pub struct Intervals {
    /// Median.
    pub median: Estimate,
    /// 1st percentile.
    pub p01: Estimate,
    /// 95th percentile.
    pub p95: Estimate,
    /// 99th percentile.
    pub p99: Estimate,
    /// Longest time between two frames received, those around lost frames too. Its interval is open
    /// above: a longer one may yet come.
    pub max: Estimate,
}

/// Frames a second: frames that the board sent over the time that they took. n = intervals.
///
/// (rows − 1 + missing − cuts) / Σ(t_{i+1} − t_i), pairs across a row in `cuts` (restarts of the
/// board) left out; `missing` holds (row, frames lost before it). The interval is t·s/√20 over 20
/// blocks of equal length, so that slow wander and stalls widen it. Needs 2 rows for the value, 41
/// for the interval. Cost: O(rows). Rows of `cuts` and `missing` in ascending order.
pub fn rate_hz(t_us: &[u64], missing: &[(usize, u64)], cuts: &[usize]) -> Measured<Estimate> {
    let rows = t_us.len();
    let whole = frames_and_time(t_us, 1, rows, missing, cuts);
    let Some(value) = whole.rate() else {
        return Err(too_few(rows.saturating_sub(1), 1));
    };
    let batches: Vec<f64> = (0..BATCHES)
        .filter_map(|k| {
            let (from, to) = (1 + k * (rows - 1) / BATCHES, 1 + (k + 1) * (rows - 1) / BATCHES);
            frames_and_time(t_us, from, to, missing, cuts).rate()
        })
        .collect();
    let half = if rows > 2 * BATCHES { half_width(&batches) } else { f64::INFINITY };
    Ok(Estimate { value, low: (value - half).max(0.0), high: value + half, n: rows - 1 })
}

/// Frames sent and the time that they took.
struct Sent {
    frames: u64,
    us: u64,
}

impl Sent {
    fn rate(&self) -> Option<f64> {
        (self.frames > 0 && self.us > 0).then(|| self.frames as f64 / self.us as f64 * 1e6)
    }
}

/// Sums over the pairs (row − 1, row) for row in from..to.
fn frames_and_time(
    t_us: &[u64],
    from: usize,
    to: usize,
    missing: &[(usize, u64)],
    cuts: &[usize],
) -> Sent {
    if to <= from {
        return Sent { frames: 0, us: 0 };
    }
    let mut sent = Sent { frames: (to - from) as u64, us: t_us[to - 1] - t_us[from - 1] };
    let cut_rows = &cuts[cuts.partition_point(|&r| r < from)..cuts.partition_point(|&r| r < to)];
    for &row in cut_rows {
        sent.frames -= 1;
        sent.us -= t_us[row] - t_us[row - 1];
    }
    let first = missing.partition_point(|&(r, _)| r < from);
    for &(row, lost) in missing[first..].iter().take_while(|&&(r, _)| r < to) {
        if cut_rows.binary_search(&row).is_err() {
            sent.frames = sent.frames.saturating_add(lost);
        }
    }
    sent
}

/// t·s/√n of the blocks' means, two-sided 95 %.
fn half_width(batches: &[f64]) -> f64 {
    let n = batches.len() as f64;
    if n < 2.0 {
        return f64::INFINITY;
    }
    let mean = batches.iter().sum::<f64>() / n;
    let var = batches.iter().map(|b| (b - mean).powi(2)).sum::<f64>() / (n - 1.0);
    t_quantile(0.975, n - 1.0) * (var / n).sqrt()
}

/// Percentiles of the interval between consecutive frames.
///
/// Pairs with frames lost between them, `missing`, are no intervals and only count for the longest;
/// pairs across a row in `cuts` count for nothing. Percentiles are Hyndman–Fan type 7 of the whole
/// microseconds, their intervals the order statistics at n·p ± 1.96·√(n·p·(1 − p)), which takes the
/// intervals for independent. Needs 2 rows. Cost: one pass and a table of 65 536 counts.
pub fn intervals(t_us: &[u64], missing: &[(usize, u64)], cuts: &[usize]) -> Measured<Intervals> {
    let mut table = Table::new();
    let mut longest = 0;
    let (mut cuts, mut missing) = (cuts.iter().peekable(), missing.iter().peekable());
    for (k, pair) in t_us.windows(2).enumerate() {
        let row = k + 1;
        let dt = pair[1].saturating_sub(pair[0]);
        if cuts.next_if(|&&r| r <= row).is_some_and(|&r| r == row) {
            missing.next_if(|m| m.0 <= row);
            continue;
        }
        longest = longest.max(dt);
        if missing.next_if(|m| m.0 <= row).is_none_or(|m| m.0 != row || m.1 == 0) {
            table.add(dt);
        }
    }
    if table.n == 0 {
        return Err(too_few(0, 1));
    }
    table.long.sort_unstable();
    let max = longest as f64;
    Ok(Intervals {
        median: table.percentile(0.5),
        p01: table.percentile(0.01),
        p95: table.percentile(0.95),
        p99: table.percentile(0.99),
        max: Estimate { value: max, low: max, high: f64::INFINITY, n: table.n },
    })
}

/// Counts of intervals by whole microsecond.
struct Table {
    counts: Vec<u32>,
    long: Vec<u64>,
    n: usize,
}

impl Table {
    fn new() -> Table {
        Table { counts: vec![0; TABLE_US], long: Vec::new(), n: 0 }
    }

    fn add(&mut self, dt: u64) {
        self.n += 1;
        match self.counts.get_mut(dt as usize) {
            Some(count) => *count += 1,
            None => self.long.push(dt),
        }
    }

    /// The value of the given rank from 0.
    fn at(&self, rank: usize) -> f64 {
        let mut below = 0;
        for (us, &count) in self.counts.iter().enumerate() {
            below += count as usize;
            if below > rank {
                return us as f64;
            }
        }
        self.long.get(rank - below).or(self.long.last()).map_or(f64::NAN, |&us| us as f64)
    }

    fn percentile(&self, p: f64) -> Estimate {
        let n = self.n as f64;
        let h = (n - 1.0) * p;
        let (lower, upper) = (self.at(h.floor() as usize), self.at(h.ceil() as usize));
        let value = lower + (h - h.floor()) * (upper - lower);
        let half = 1.96 * (n * p * (1.0 - p)).sqrt();
        let low = n * p - half;
        let high = n * p + half;
        Estimate {
            value,
            low: if low < 1.0 { 0.0 } else { self.at(low.floor() as usize - 1) }.min(value),
            high: if high >= n - 1.0 {
                f64::INFINITY
            } else {
                self.at(high.ceil() as usize).max(value)
            },
            n: self.n,
        }
    }
}

/// Not enough frames.
fn too_few(have: usize, need: usize) -> Shortage {
    Shortage {
        what: "intervals between frames".to_owned(),
        have,
        need,
        advice: "record a few seconds of the stream".to_owned(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn even(rows: u64, step: u64) -> Vec<u64> {
        (0..rows).map(|i| 1_000_000 + i * step).collect()
    }

    #[test]
    fn an_even_stream_has_its_rate_without_spread() {
        let rate = rate_hz(&even(1001, 4000), &[], &[]).expect("enough");
        assert_eq!((rate.value, rate.low, rate.high, rate.n), (250.0, 250.0, 250.0, 1000));
    }

    #[test]
    fn lost_frames_and_restarts_do_not_bend_the_rate() {
        let mut t_us = even(1001, 4000);
        t_us.remove(500);
        t_us.remove(500);
        t_us[700..].iter_mut().for_each(|t| *t += 1_200_000);
        let rate = rate_hz(&t_us, &[(500, 2)], &[700]).expect("enough");
        assert!((rate.value - 250.0).abs() < 1e-9);
    }

    #[test]
    fn a_stall_widens_the_interval_enough_to_hold_the_rate() {
        let mut t_us = even(5000, 4000);
        t_us[2500..].iter_mut().for_each(|t| *t += 300_000);
        let rate = rate_hz(&t_us, &[], &[]).expect("enough");
        assert!(rate.low < 250.0 && rate.high > 250.0);
    }

    #[test]
    fn one_row_has_no_rate() {
        assert_eq!(rate_hz(&[5], &[], &[]).expect_err("one row").have, 0);
        assert!(rate_hz(&[], &[], &[]).is_err() && intervals(&[], &[], &[]).is_err());
    }

    #[test]
    fn percentiles_of_a_hundred_and_one_intervals_are_plain_ranks() {
        // Intervals 1 000, 1 010, …, 2 000 µs: type 7 percentiles fall on ranks.
        let mut t = 0;
        let mut t_us = vec![0];
        for k in 0..=100 {
            t += 1000 + 10 * k;
            t_us.push(t);
        }
        let f = intervals(&t_us, &[], &[]).expect("enough");
        assert_eq!(
            [f.p01.value, f.median.value, f.p95.value, f.p99.value],
            [1010.0, 1500.0, 1950.0, 1990.0]
        );
        assert_eq!(f.max.value, 2000.0);
        assert!(f.median.low < 1500.0 && f.median.high > 1500.0);
    }

    #[test]
    fn a_pair_around_lost_frames_is_only_the_longest() {
        let mut t_us = even(300, 4000);
        t_us.remove(100);
        let f = intervals(&t_us, &[(100, 1)], &[]).expect("enough");
        assert_eq!((f.p99.value, f.max.value), (4000.0, 8000.0));
        assert_eq!(f.median.n, 297);
    }

    #[test]
    fn intervals_beyond_the_table_are_kept() {
        let t_us = even(40, 100_000);
        assert_eq!(intervals(&t_us, &[], &[]).expect("enough").median.value, 100_000.0);
    }
}
