//! The longest quiet stretch, cleaned for the search for lines: spikes and bursts out, straight drift off.
use super::Quiet;
use crate::measure::histogram::CodeHistogram;
use crate::measure::{Estimate, Span, robust};

/// Samples given to the search for lines and to the density.
const LOOKED_AT: usize = 1 << 15;

/// A cleaned stretch.
pub(super) struct Stretch {
    pub(super) span: Span,
    pub(super) rate_hz: f64,
    /// Median code.
    pub(super) median: f64,
    pub(super) peak_to_peak: Estimate,
    pub(super) spikes: usize,
    /// Seconds from the start of each sample that is no spike and in no burst.
    pub(super) t_s: Vec<f64>,
    /// Their codes less the straight drift.
    pub(super) values: Vec<f64>,
    /// The same with what was left out as zeros, one value a sample.
    pub(super) even: Vec<f64>,
}

impl Stretch {
    pub(super) fn of(quiet: &Quiet<'_>) -> Stretch {
        let n = quiet.len();
        let (codes, t_us) = (&quiet.codes[..n], &quiet.t_us[..n]);
        let at = |i: usize| t_us.get(i).copied().unwrap_or(0);
        let span = Span { start_us: at(0), end_us: at(n.saturating_sub(1)) };
        let screen = Screen::of(codes, block_length(t_us));
        let (mut low, mut high, mut spikes, mut rough) = (i32::MAX, i32::MIN, 0, 0);
        for (i, code) in codes.iter().enumerate() {
            match screen.judge(i, *code) {
                Judged::Spike => spikes += 1,
                Judged::Rough => rough += 1,
                Judged::Quiet => {
                    low = low.min(*code);
                    high = high.max(*code);
                }
            }
        }
        let peak_to_peak = Estimate {
            value: (f64::from(high) - f64::from(low)).max(0.0),
            low: f64::NEG_INFINITY,
            high: f64::INFINITY,
            n: n - spikes - rough,
        };
        let looked_at = n.min(LOOKED_AT);
        let line = Line::through(codes, t_us, &screen, looked_at);
        let mut stretch = Stretch {
            span,
            rate_hz: rate_hz(t_us),
            median: robust::median(&screen.medians),
            peak_to_peak,
            spikes,
            t_s: Vec::with_capacity(looked_at),
            values: Vec::with_capacity(looked_at),
            even: Vec::with_capacity(looked_at),
        };
        for (i, code) in codes.iter().enumerate().take(looked_at) {
            let t_s = (t_us[i] - span.start_us.min(t_us[i])) as f64 * 1e-6;
            let value = f64::from(*code) - line.at(t_s);
            if screen.judge(i, *code) != Judged::Quiet {
                stretch.even.push(0.0);
                continue;
            }
            stretch.t_s.push(t_s);
            stretch.values.push(value);
            stretch.even.push(value);
        }
        stretch
    }
}

/// Samples of a second; of an eighth of a stretch shorter than eight seconds, but not of less than a
/// quarter of a second. In time, so that the same wander counts as drift at every rate.
pub(super) fn block_length(t_us: &[u64]) -> usize {
    let rate_hz = rate_hz(t_us);
    let part_s = (t_us.len() as f64 / rate_hz / FEWEST_PARTS).clamp(SHORTEST_S, 1.0);
    ((rate_hz * part_s).round() as usize).clamp(SHORTEST, LONGEST)
}

/// A stretch shorter than this many seconds is cut into this many blocks all the same.
const FEWEST_PARTS: f64 = 8.0;

/// No block is shorter than this, s.
const SHORTEST_S: f64 = 0.25;

/// Nor than this, in samples: level, slope and a line or two leave something over.
const SHORTEST: usize = 16;

/// Nor longer than this, in samples.
const LONGEST: usize = 4096;

/// Samples a second, from the median interval when there are gaps; 1 if time stands still.
fn rate_hz(t_us: &[u64]) -> f64 {
    let mut steps: Vec<f64> =
        t_us.windows(2).take(LOOKED_AT).map(|w| w[1].saturating_sub(w[0]) as f64).collect();
    let typical = robust::quantile_in_place(&mut steps, 0.5);
    if typical.is_nan() || typical <= 0.0 {
        return 1.0;
    }
    // The median is a whole number of microseconds; the mean of the steps near it is finer.
    let near = steps.iter().filter(|s| (0.5 * typical..1.5 * typical).contains(*s));
    let (sum, count) = near.fold((0.0, 0.0), |(sum, count), s| (sum + s, count + 1.0));
    1e6 * count / sum
}

/// A block this many times rougher than the typical one was disturbed as a whole (common practice).
const ROUGH: f64 = 2.0;

/// Tells spikes and disturbed blocks by the median of the block and the typical spread of all.
struct Screen {
    length: usize,
    medians: Vec<f64>,
    rough: Vec<bool>,
    limit: f64,
}

#[derive(Clone, Copy, PartialEq, Eq)]
enum Judged {
    Quiet,
    Spike,
    /// In a block that was disturbed as a whole.
    Rough,
}

impl Screen {
    fn of(codes: &[i32], length: usize) -> Screen {
        let (mut medians, mut sigmas) = (Vec::new(), Vec::new());
        for block in codes.chunks(length) {
            if let Some(histogram) = CodeHistogram::of(block) {
                medians.push(histogram.median());
                sigmas.push(histogram.sigma());
            }
        }
        let typical = robust::median(&sigmas);
        let rough = sigmas.iter().map(|s| *s > ROUGH * typical).collect();
        Screen { length, medians, rough, limit: 6.0 * typical }
    }

    fn judge(&self, index: usize, code: i32) -> Judged {
        let block = index / self.length;
        if self.rough.get(block).copied().unwrap_or(false) {
            return Judged::Rough;
        }
        let median = self.medians.get(block).copied().unwrap_or(f64::NAN);
        if (f64::from(code) - median).abs() > self.limit { Judged::Spike } else { Judged::Quiet }
    }
}

/// Least-squares line through the samples that are no spikes.
struct Line {
    level: f64,
    slope: f64,
    t_mean: f64,
}

impl Line {
    fn through(codes: &[i32], t_us: &[u64], screen: &Screen, count: usize) -> Line {
        let start = t_us.first().copied().unwrap_or(0);
        let usable = || {
            (0..count)
                .filter(|i| screen.judge(*i, codes[*i]) == Judged::Quiet)
                .map(|i| (t_us[i].saturating_sub(start) as f64 * 1e-6, f64::from(codes[i])))
        };
        let (mut n, mut t_sum, mut y_sum) = (0.0, 0.0, 0.0);
        for (t, y) in usable() {
            n += 1.0;
            t_sum += t;
            y_sum += y;
        }
        let (t_mean, level) = (t_sum / f64::max(n, 1.0), y_sum / f64::max(n, 1.0));
        let (mut tt, mut ty) = (0.0, 0.0);
        for (t, y) in usable() {
            tt += (t - t_mean) * (t - t_mean);
            ty += (t - t_mean) * (y - level);
        }
        Line { level, slope: if tt > 0.0 { ty / tt } else { 0.0 }, t_mean }
    }

    fn at(&self, t_s: f64) -> f64 {
        self.level + self.slope * (t_s - self.t_mean)
    }
}
