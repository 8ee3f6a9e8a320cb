//! What a quiet rest says of one axis: level, noise, lines, drift, resolution.
//!
//! Noise is what stays when drift, spectral lines, spikes, bursts and quantisation are taken away,
//! each of which is reported on its own.
mod blocks;
mod sigma;
mod stretch;

pub use sigma::{FLOOR_COUNTS, is_below_floor};

use super::distribution::t_quantile;
use super::lines::{self, Line};
use super::moments;
use super::spectrum::{Density, Detrend, WelchPlan, Window, welch};
use super::{Estimate, Measured, Shortage, Span};
use blocks::Block;
use stretch::Stretch;

/// Fewest samples from which noise is told.
const FEWEST: usize = 100;

/// Fewest blocks from which a drift is told.
const FEWEST_BLOCKS: usize = 4;

/// Samples taken while nobody touched the control, with their times.
#[derive(Clone, Copy, Debug)]
pub struct Quiet<'a> {
    /// Codes of the axis.
    pub codes: &'a [i32],
    /// Board time of each, µs, never decreasing, as many as codes.
    pub t_us: &'a [u64],
}

impl Quiet<'_> {
    fn len(&self) -> usize {
        self.codes.len().min(self.t_us.len())
    }
}

/// Level and noise of one axis at rest. All in counts unless named otherwise.
#[derive(Clone, Debug)]
pub struct RestNoise {
    /// The stretch that level, lines, drift and peak-to-peak were taken from: the longest.
    pub span: Span,
    /// Samples a second in it.
    pub rate_hz: f64,
    /// Level of the rest. n = samples.
    pub level: Estimate,
    /// Standard deviation of the noise. n = samples. A shortage with [`is_below_floor`] when the
    /// noise is too small for the converter to show.
    pub rms: Measured<Estimate>,
    /// Largest minus smallest code, spikes and bursts left out; grows with n. It has no interval.
    pub peak_to_peak: Estimate,
    /// log₂(full scale/(6.6 σ)), bits.
    pub noise_free_bits: Measured<Estimate>,
    /// Effective bits by the noise at rest, IEEE Std 1241 (from memory): N − log₂(√(σ² + 1/12)·√12), N the bits
    /// of full scale. Rounding is in it, so that an N-bit converter has N at most; its steps are not.
    pub effective_bits: Measured<Estimate>,
    /// Change of the level, counts a minute. n = blocks behind it.
    pub drift_per_min: Measured<Estimate>,
    /// Lines found, strongest first.
    pub lines: Vec<Line>,
    /// Spectral density for drawing, counts²/Hz, lines included; empty for a short stretch.
    pub density: Density,
    /// Spikes of the longest stretch, left out of everything above.
    pub spikes: usize,
    /// Blocks of about a second that were looked at.
    pub blocks: usize,
    /// Of these, blocks left out because they were far noisier or far quieter than the rest of
    /// them: a bump of the table, a motor, a frozen half.
    pub blocks_left_out: usize,
}

/// Level, noise, lines and drift of an axis at rest, from one or more quiet stretches.
///
/// Method: the stretches are cut into blocks of a second (a quarter to one, at most 128 blocks evenly
/// spread), the same at every rate. Lines are found in the longest stretch without its spikes and its
/// straight drift. In every block these lines are fitted at the true sample times together with
/// the block's level and slope; what lies beyond 4.5 σ goes, and the rest is noise. Blocks whose
/// variance strays far from that of the median block are left out. σ is the maximum-likelihood
/// value for normal noise rounded to whole codes, which above one count is Sheppard's correction
/// s² − 1/12; below 0.3 counts it is not told. Wander slower than a block counts as drift.
///
/// `full_scale` in counts (1 024 for ten bits). Intervals: σ by χ² with the information in the
/// likelihood; level and drift by t from the scatter of the blocks. A [`Shortage`] below 100
/// samples. Odd data (times that stand still, one repeated code, gaps) give shortages, no panic.
/// Cost: about 0.5 µs for each of the samples in at most 128 blocks, plus 3 ns for every sample.
/// Source: Sheppard 1898; Kulldorff 1961 for rounded normal data.
pub fn at_rest(stretches: &[Quiet<'_>], full_scale: i32) -> Measured<RestNoise> {
    let total: usize = stretches.iter().map(Quiet::len).sum();
    let longest = stretches.iter().max_by_key(|q| q.len());
    let Some(longest) = longest.filter(|_| total >= FEWEST) else {
        return Err(quiet_needed(total));
    };
    let stretch = Stretch::of(longest);
    let lines = lines::find(&stretch.t_s, &stretch.values);
    let hz: Vec<f64> = lines.iter().map(|l| l.hz).collect();
    let all = blocks::fit(stretches, longest, &hz);
    let kept = blocks::steady(&all);
    let rms = sigma::of(&kept);
    let bits = |factor: f64| rms.clone().map(|s| bits_of(s, full_scale, factor));
    Ok(RestNoise {
        span: stretch.span,
        rate_hz: stretch.rate_hz,
        level: level(&kept, &stretch, &rms),
        peak_to_peak: stretch.peak_to_peak,
        noise_free_bits: bits(6.6),
        effective_bits: rms.clone().map(|s| effective_bits(s, full_scale)),
        drift_per_min: drift(&kept),
        density: density(&stretch),
        spikes: stretch.spikes,
        blocks: all.len(),
        blocks_left_out: all.len() - kept.len(),
        lines,
        rms,
    })
}

/// Noise-free steps of a travel: travel/(6.6 σ), what a person can place apart.
///
/// Travel and σ in counts. The interval turns over: more noise, fewer steps.
pub fn noise_free_steps(travel_counts: f64, rms: Estimate) -> Estimate {
    let steps = |sigma: f64| travel_counts / (6.6 * sigma);
    Estimate { value: steps(rms.value), low: steps(rms.high), high: steps(rms.low), n: rms.n }
}

fn effective_bits(rms: Estimate, full_scale: i32) -> Estimate {
    let bits =
        |sigma: f64| f64::from(full_scale).log2() - 0.5 * (12.0 * sigma * sigma + 1.0).log2();
    Estimate { value: bits(rms.value), low: bits(rms.high), high: bits(rms.low), n: rms.n }
}

fn bits_of(rms: Estimate, full_scale: i32, factor: f64) -> Estimate {
    let bits = |sigma: f64| (f64::from(full_scale) / (factor * sigma)).log2();
    Estimate { value: bits(rms.value), low: bits(rms.high), high: bits(rms.low), n: rms.n }
}

/// Mean of the block levels of the longest stretch, at its middle.
fn level(kept: &[&Block], stretch: &Stretch, rms: &Measured<Estimate>) -> Estimate {
    let own: Vec<&Block> = kept.iter().copied().filter(|b| b.in_longest).collect();
    let n = own.iter().map(|b| b.residuals.len()).sum::<usize>();
    // Rounding to codes bends the mean by at most e^{−2π²σ²}/π, half a count without noise.
    let slack = match rms {
        Ok(s) => (-2.0 * (std::f64::consts::PI * s.low).powi(2)).exp() / std::f64::consts::PI,
        Err(_) => 0.5,
    };
    let (value, half) = match straight(&own) {
        Some(line) => (line.middle, line.t * line.middle_se),
        None => match own.first() {
            Some(_) => {
                let levels: Vec<f64> = own.iter().map(|b| b.level).collect();
                let spread: f64 = own.iter().map(|b| b.squares).sum();
                let freedom: f64 = own.iter().map(|b| b.freedom).sum();
                (moments::mean(&levels), 1.96 * (spread / freedom / n as f64).sqrt())
            }
            None => (stretch.median, f64::INFINITY),
        },
    };
    Estimate { value, low: value - half - slack, high: value + half + slack, n }
}

fn drift(kept: &[&Block]) -> Measured<Estimate> {
    let own: Vec<&Block> = kept.iter().copied().filter(|b| b.in_longest).collect();
    let line = straight(&own).ok_or_else(|| Shortage {
        what: "quiet seconds for a drift".to_owned(),
        have: own.len(),
        need: FEWEST_BLOCKS,
        advice: "leave the controller alone for ten seconds".to_owned(),
    })?;
    let (value, half) = (60.0 * line.slope, 60.0 * line.t * line.slope_se);
    Ok(Estimate { value, low: value - half, high: value + half, n: own.len() })
}

/// The line through the block levels.
struct Straight {
    middle: f64,
    middle_se: f64,
    slope: f64,
    slope_se: f64,
    t: f64,
}

fn straight(own: &[&Block]) -> Option<Straight> {
    if own.len() < FEWEST_BLOCKS {
        return None;
    }
    let n = own.len() as f64;
    let t_mean = own.iter().map(|b| b.t_s).sum::<f64>() / n;
    let middle = own.iter().map(|b| b.level).sum::<f64>() / n;
    let (mut tt, mut ty, mut yy) = (0.0, 0.0, 0.0);
    for block in own {
        let (t, y) = (block.t_s - t_mean, block.level - middle);
        tt += t * t;
        ty += t * y;
        yy += y * y;
    }
    let slope = ty / tt;
    let s = ((yy - slope * ty).max(0.0) / (n - 2.0)).sqrt();
    slope.is_finite().then(|| Straight {
        middle,
        middle_se: s / n.sqrt(),
        slope,
        slope_se: s / tt.sqrt(),
        t: t_quantile(0.975, n - 2.0),
    })
}

fn density(stretch: &Stretch) -> Density {
    let quarter = (stretch.even.len() / 4).max(1);
    let segment = (1_usize << quarter.ilog2()).min(1024);
    if segment < 32 {
        return Density::default();
    }
    let overlap = segment / 2;
    let plan = WelchPlan { segment, overlap, window: Window::Hann, detrend: Detrend::Mean };
    welch(&stretch.even, stretch.rate_hz, plan).unwrap_or_default()
}

fn quiet_needed(have: usize) -> Shortage {
    Shortage {
        what: "samples of a quiet rest".to_owned(),
        have,
        need: FEWEST,
        advice: "take both hands off for eight seconds".to_owned(),
    }
}

#[cfg(test)]
mod tests;
