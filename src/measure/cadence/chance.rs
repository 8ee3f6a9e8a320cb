//! The chance that two different samples of a moving half are equal all the same.
use std::ops::Range;

/// Oldest sample that counts as stale rather than hung, µs.
const OLDEST_US: f64 = 60_000.0;

/// Upper ends of the bins of displacement, counts.
const BINS: [f64; 15] =
    [0.125, 0.375, 0.625, 0.875, 1.25, 1.75, 2.5, 3.5, 5.0, 7.0, 10.0, 14.0, 20.0, 28.0, 40.0];

/// A block of a half's columns with running sums for smoothing.
pub(super) struct Motion<'a> {
    columns: Vec<&'a [i32]>,
    sums: Vec<Vec<i64>>,
    t_us: &'a [u64],
    period_us: f64,
    reach: usize,
}

impl<'a> Motion<'a> {
    /// `None` when the block is too short to smooth or has no time in it.
    pub(super) fn of(
        half: &[&'a [i32]],
        t_us: &'a [u64],
        rows: Range<usize>,
    ) -> Option<Motion<'a>> {
        let t_us = &t_us[rows.clone()];
        let period_us = usual_step(t_us)?;
        let reach = ((OLDEST_US / period_us) as usize).clamp(8, 120);
        let columns: Vec<&[i32]> = half.iter().map(|c| &c[rows.clone()]).collect();
        let sums = columns.iter().map(|c| running_sum(c)).collect();
        (t_us.len() > 5 * reach).then_some(Motion { columns, sums, t_us, period_us, reach })
    }

    pub(super) fn rows(&self) -> usize {
        self.t_us.len()
    }

    /// The row has its neighbourhood in the block, without a gap in time.
    pub(super) fn usable(&self, k: usize) -> bool {
        k >= self.reach
            && k + self.reach < self.rows()
            && self.even(k - self.reach, k + self.reach)
            && self.t_us[k] - self.t_us[k - 1] < (1.5 * self.period_us) as u64 + 1
    }

    /// The rows from a to b took no more than 1.3 times the usual time.
    fn even(&self, a: usize, b: usize) -> bool {
        (self.t_us[b] - self.t_us[a]) as f64 <= 1.3 * self.period_us * (b - a) as f64
    }

    /// Every channel equals the row before.
    pub(super) fn repeats(&self, k: usize) -> bool {
        self.columns.iter().all(|c| c[k] == c[k - 1])
    }

    fn mean(&self, channel: usize, rows: Range<usize>) -> f64 {
        let sums = &self.sums[channel];
        (sums[rows.end] - sums[rows.start]) as f64 / rows.len() as f64
    }

    /// Speed of a channel, counts a row: means after and before, their distance apart.
    fn speed(&self, channel: usize, k: usize) -> f64 {
        let m = self.reach;
        (self.mean(channel, k..k + m) - self.mean(channel, k - m..k)) / m as f64
    }

    /// Smoothed position.
    fn place(&self, channel: usize, k: usize) -> f64 {
        let h = self.reach / 2;
        self.mean(channel, k - h..k + h + 1)
    }
}

/// Median time from row to row, or the mean where most rows share their time; positive.
fn usual_step(t_us: &[u64]) -> Option<f64> {
    let mut steps: Vec<u64> = t_us.windows(2).map(|p| p[1] - p[0]).collect();
    let mean = (t_us.last()? - t_us.first()?) as f64 / steps.len() as f64;
    let middle = steps.len() / 2;
    let median = match steps.is_empty() {
        true => return None,
        false => *steps.select_nth_unstable(middle).1 as f64,
    };
    [median, mean].into_iter().find(|&step| step > 0.0)
}

/// Sums before each row and one past the last.
fn running_sum(column: &[i32]) -> Vec<i64> {
    let mut sum = 0;
    let later = column.iter().map(|&x| {
        sum += i64::from(x);
        sum
    });
    std::iter::once(0).chain(later).collect()
}

/// Equality of each channel against displacement, learned beyond the age of any sample.
pub(super) struct Chance {
    /// For each channel: (displacement, share equal), ascending, never rising.
    curves: Vec<Vec<(f64, f64)>>,
    /// Most rows that a sample can be old.
    pub(super) oldest: f64,
}

impl Chance {
    pub(super) fn learn(motions: &[Motion], channels: usize) -> Chance {
        let curves = (0..channels).map(|c| curve(motions, c)).collect();
        let oldest = motions.iter().map(|m| m.reach as f64).fold(1.0, f64::max);
        Chance { curves, oldest }
    }

    /// Chance of equality of all channels with a sample `apart` rows before.
    pub(super) fn of(&self, motion: &Motion, k: usize, apart: f64) -> f64 {
        let one = |c: usize| interpolate(&self.curves[c], motion.speed(c, k).abs() * apart);
        (0..self.curves.len()).map(one).product()
    }
}

/// Share of equal pairs by displacement for one channel.
fn curve(motions: &[Motion], channel: usize) -> Vec<(f64, f64)> {
    let mut bins = [(0.0, 0.0, 0.0); BINS.len()];
    for motion in motions {
        let m = motion.reach;
        for lag in [m + 1, m * 7 / 5, m * 19 / 10] {
            for k in lag + m / 2..motion.rows() - m / 2 - 1 {
                let moved = (motion.place(channel, k) - motion.place(channel, k - lag)).abs();
                let bin = BINS.partition_point(|&end| end <= moved);
                if bin < BINS.len() && motion.even(k - lag, k) {
                    let column = motion.columns[channel];
                    let equal = f64::from(u8::from(column[k] == column[k - lag]));
                    let (n, sum, hits) = bins[bin];
                    bins[bin] = (n + 1.0, sum + moved, hits + equal);
                }
            }
        }
    }
    let shares =
        bins.iter().filter(|b| b.0 >= 20.0).map(|&(n, sum, hits)| (n, sum / n, hits / n)).collect();
    never_rising(shares)
}

/// Pools neighbours until the shares fall with displacement (pool adjacent violators).
fn never_rising(shares: Vec<(f64, f64, f64)>) -> Vec<(f64, f64)> {
    let mut pooled: Vec<(f64, f64, f64)> = Vec::new();
    for mut bin in shares {
        while let Some(last) = pooled.last().copied()
            && last.2 < bin.2
        {
            pooled.pop();
            let n = last.0 + bin.0;
            let join = |a: f64, b: f64| (a * last.0 + b * bin.0) / n;
            bin = (n, join(last.1, bin.1), join(last.2, bin.2));
        }
        pooled.push(bin);
    }
    pooled.into_iter().map(|(_, moved, share)| (moved, share)).collect()
}

/// Linear between points, level before the first, falling to 0 beyond the last.
fn interpolate(curve: &[(f64, f64)], x: f64) -> f64 {
    let next = curve.partition_point(|p| p.0 < x);
    match (next.checked_sub(1).map(|k| curve[k]), curve.get(next)) {
        (Some(a), Some(b)) => a.1 + (b.1 - a.1) * (x - a.0) / (b.0 - a.0),
        (None, Some(b)) => b.1,
        (Some(a), None) => a.1 * (1.0 - (x - a.0) / (a.0 + 1.0)).max(0.0),
        // Nothing was learned of this channel: no promise, so nothing is counted.
        (None, None) => 1.0,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn curves_are_level_before_and_fall_beyond() {
        let curve = [(1.0, 0.8), (3.0, 0.4)];
        assert_eq!(
            [0.0, 2.0, 3.0, 5.0, 7.5].map(|x| (interpolate(&curve, x) * 1e9).round() / 1e9),
            [0.8, 0.6, 0.4, 0.2, 0.0]
        );
        assert_eq!(interpolate(&[], 1.0), 1.0);
    }

    #[test]
    fn rising_neighbours_are_pooled() {
        let pooled = never_rising(vec![(1.0, 0.0, 0.5), (3.0, 1.0, 0.9), (1.0, 2.0, 0.1)]);
        assert_eq!(pooled, [(0.75, 0.8), (2.0, 0.1)]);
    }
}
