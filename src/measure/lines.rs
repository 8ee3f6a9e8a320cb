//! Spectral lines in noise: found with a false-alarm probability, measured at the true sample
//! times, named after what could cause them.
use std::fmt;

use realfft::RealFftPlanner;

use super::Estimate;
use super::fit::dense::Normal;
use super::robust;
use super::sine::{Refine, refined_hz};

/// A line is accepted when noise alone would show one as strong anywhere in the band with at most
/// this probability.
pub const FALSE_ALARM: f64 = 1e-3;

/// Most lines looked for.
const MOST: usize = 8;

/// Most samples looked at: beyond this, mains frequency wanders within the record.
const LONGEST: usize = 1 << 15;

/// A frequency is refined far below what noise leaves certain; what is no line takes no longer.
const CLOSE_ENOUGH: Refine = Refine { tolerance: 1e-4, most_steps: 8 };

/// One line of a spectrum.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Line {
    /// Frequency as seen in the samples, Hz.
    pub hz: f64,
    /// Amplitude (peak), unit of the samples; n = samples used.
    pub amplitude: Estimate,
    /// Probability that noise alone shows such a line anywhere in the band.
    pub false_alarm: f64,
}

/// Finds up to eight lines, strongest first, in samples with their mean and drift taken off.
///
/// Method: periodogram on the grid of sample slots, floor from its median (global or local,
/// whichever is higher), strongest peak accepted by [`false_alarm`], its frequency refined by a
/// four-parameter fit at the true times, all lines fitted together and taken off, again.
/// `t_s` in seconds, ascending; finite values; at most 32 768 samples are used. Empty below 64
/// samples. Lines slower than three cycles a record are drift and are not looked for.
/// Cost: one transform and some 10 passes a line. Source: Baluev 2008 for the false-alarm level.
pub fn find(t_s: &[f64], values: &[f64]) -> Vec<Line> {
    let n = t_s.len().min(values.len()).min(LONGEST);
    let (t_s, values) = (&t_s[..n], &values[..n]);
    let Some(grid) = Grid::of(t_s) else { return Vec::new() };
    let mut frequencies: Vec<f64> = Vec::new();
    let mut alarms: Vec<f64> = Vec::new();
    let mut avoid: Vec<f64> = Vec::new();
    let mut residual = values.to_vec();
    while frequencies.len() < MOST && avoid.len() < 2 * MOST {
        let peak = grid.strongest(&residual, &avoid);
        let alarm = false_alarm(peak.over_floor, n);
        if alarm > FALSE_ALARM {
            break;
        }
        let hz = match refined_hz(t_s, &residual, peak.hz, CLOSE_ENOUGH) {
            Ok(hz) if (hz - peak.hz).abs() * grid.length_s < 1.0 => hz,
            _ => peak.hz,
        };
        avoid.push(peak.hz);
        // What remains within two cycles of a line already taken is its own wander.
        if frequencies.iter().any(|f| (f - hz).abs() * grid.length_s < 2.0) {
            continue;
        }
        frequencies.push(hz);
        alarms.push(alarm);
        residual = without(t_s, values, &frequencies);
    }
    let sigma = grid.floor_sigma(&residual);
    let mut lines: Vec<Line> = amplitudes(t_s, values, &frequencies)
        .into_iter()
        .zip(frequencies.iter().zip(alarms))
        .map(|(a, (hz, false_alarm))| {
            let half = 1.96 * sigma * (2.0 / n as f64).sqrt();
            let amplitude = Estimate { value: a, low: (a - half).max(0.0), high: a + half, n };
            Line { hz: *hz, amplitude, false_alarm }
        })
        .collect();
    lines.sort_by(|a, b| b.amplitude.value.total_cmp(&a.amplitude.value));
    lines
}

/// Probability that the highest peak of white noise stands `over_floor` times above its mean power,
/// for `n` samples and any frequency in the band.
///
/// Formula: 1 − (1 − e^{−z}) exp(−W √z e^{−z}), W = (n/2)√(π/3). Source: Baluev 2008, equation 6.
/// Negative or NaN input gives 1.
pub fn false_alarm(over_floor: f64, n: usize) -> f64 {
    if over_floor.is_nan() || over_floor <= 0.0 {
        return 1.0;
    }
    let z = over_floor;
    let band = 0.5 * n as f64 * (std::f64::consts::PI / 3.0).sqrt();
    let crossings = band * z.sqrt() * (-z).exp();
    // 1 − (1 − a) e^{−b} = a e^{−b} − (e^{−b} − 1), which keeps its digits when both are small.
    (-z).exp() * (-crossings).exp() - (-crossings).exp_m1()
}

/// The samples without sines of the given frequencies, fitted together with an offset.
pub(super) fn without(t_s: &[f64], values: &[f64], hz: &[f64]) -> Vec<f64> {
    let coefficients = fit(t_s, values, hz);
    let mut row = vec![0.0; coefficients.len()];
    t_s.iter()
        .zip(values)
        .map(|(t, y)| {
            fill_row(&mut row, *t, hz);
            y - row.iter().zip(&coefficients).map(|(x, c)| x * c).sum::<f64>()
        })
        .collect()
}

/// Row of the linear model: 1, then cosine and sine of each frequency.
pub(super) fn fill_row(row: &mut [f64], t_s: f64, hz: &[f64]) {
    row[0] = 1.0;
    for (pair, hz) in row[1..].chunks_exact_mut(2).zip(hz) {
        let (sin, cos) = (std::f64::consts::TAU * hz * t_s).sin_cos();
        pair.copy_from_slice(&[cos, sin]);
    }
}

fn fit(t_s: &[f64], values: &[f64], hz: &[f64]) -> Vec<f64> {
    let mut normal = Normal::new(1 + 2 * hz.len());
    let mut row = vec![0.0; 1 + 2 * hz.len()];
    for (t, y) in t_s.iter().zip(values) {
        fill_row(&mut row, *t, hz);
        normal.add(&row, *y);
    }
    normal.solve()
}

fn amplitudes(t_s: &[f64], values: &[f64], hz: &[f64]) -> Vec<f64> {
    fit(t_s, values, hz)[1..].chunks_exact(2).map(|pair| pair[0].hypot(pair[1])).collect()
}

/// Samples laid on evenly spaced slots; lost samples leave empty slots.
struct Grid {
    slots: Vec<usize>,
    /// Length of the zero-padded transform.
    padded: usize,
    /// Width of one of its bins, Hz.
    bin_hz: f64,
    /// First to last sample plus one interval, s.
    length_s: f64,
}

struct Peak {
    hz: f64,
    over_floor: f64,
}

impl Grid {
    fn of(t_s: &[f64]) -> Option<Grid> {
        if t_s.len() < 64 {
            return None;
        }
        let steps: Vec<f64> = t_s.windows(2).map(|w| w[1] - w[0]).collect();
        let typical = robust::median(&steps);
        if typical.is_nan() || typical <= 0.0 {
            return None;
        }
        let whole_steps = |step: &f64| (step / typical).round().clamp(0.0, 1e6) as usize;
        let count: usize = steps.iter().map(whole_steps).sum();
        // With more gap than samples a periodogram says little.
        if count == 0 || count > 4 * t_s.len() {
            return None;
        }
        // Each sample by its own time: rounding step by step adds up where some come early or late, and smears
        // a line.
        let interval = (t_s[t_s.len() - 1] - t_s[0]) / count as f64;
        let slots: Vec<usize> =
            t_s.iter().map(|t| ((t - t_s[0]) / interval).round().max(0.0) as usize).collect();
        let slot = slots.iter().copied().max().unwrap_or(0);
        let padded = 2 * (slot + 1).next_power_of_two();
        let bin_hz = 1.0 / (interval * padded as f64);
        Some(Grid { slots, padded, bin_hz, length_s: interval * (slot + 1) as f64 })
    }

    /// Periodogram |X|²/n of the zero-padded samples.
    fn periodogram(&self, values: &[f64]) -> Vec<f64> {
        let plan = RealFftPlanner::<f64>::new().plan_fft_forward(self.padded);
        let mut input = plan.make_input_vec();
        for (slot, value) in self.slots.iter().zip(values) {
            input[*slot] += value;
        }
        let mut output = plan.make_output_vec();
        if plan.process(&mut input, &mut output).is_err() {
            return Vec::new();
        }
        let n = values.len() as f64;
        output.iter().map(|bin| bin.norm_sqr() / n).collect()
    }

    /// Bins of the band: above three cycles a record, below the last bin.
    fn band(&self) -> std::ops::Range<usize> {
        let slowest = (3.0 / (self.length_s * self.bin_hz)).ceil() as usize;
        slowest..(self.padded / 2).max(slowest)
    }

    fn strongest(&self, values: &[f64], avoid: &[f64]) -> Peak {
        let power = self.periodogram(values);
        let floor = self.floor(&power);
        let mut best = Peak { hz: 0.0, over_floor: 0.0 };
        for k in self.band() {
            let hz = k as f64 * self.bin_hz;
            let near = |f: &f64| (f - hz).abs() * self.length_s < 1.0;
            let over_floor = power[k] / floor[k];
            if over_floor > best.over_floor && !avoid.iter().any(near) {
                best = Peak { hz, over_floor };
            }
        }
        best
    }

    /// Mean noise power at each bin: median over ln 2, of the whole band or of the neighbourhood,
    /// whichever is higher, so that slow wander raises no alarm.
    fn floor(&self, power: &[f64]) -> Vec<f64> {
        let band = self.band();
        let global = robust::median(&power[band.clone()]);
        let width = (band.len() / 8).clamp(64, 1024);
        let mut floor = vec![global; power.len()];
        for start in band.clone().step_by(width) {
            let end = (start + width).min(band.end);
            let from = end.saturating_sub(width).max(band.start);
            let local = robust::median(&power[from..end]);
            floor[start..end].fill(global.max(local));
        }
        let least = f64::MIN_POSITIVE;
        floor.iter().map(|p| (p / std::f64::consts::LN_2).max(least)).collect()
    }

    /// Standard deviation of white noise with the floor of these samples.
    fn floor_sigma(&self, values: &[f64]) -> f64 {
        let power = self.periodogram(values);
        (robust::median(&power[self.band()]) / std::f64::consts::LN_2).sqrt()
    }
}

/// What could cause a line.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Source {
    /// Mains, or a harmonic of it.
    Mains {
        /// Mains frequency, Hz: 50 or 60.
        mains_hz: f64,
        /// 1 for the fundamental.
        harmonic: u8,
    },
    /// A default pulse-width modulator of a 16 MHz eight-bit controller.
    Pwm {
        /// True frequency, Hz.
        pwm_hz: f64,
    },
}

impl Source {
    /// True frequency, Hz.
    pub fn hz(self) -> f64 {
        match self {
            Source::Mains { mains_hz, harmonic } => mains_hz * f64::from(harmonic),
            Source::Pwm { pwm_hz } => pwm_hz,
        }
    }

    /// How far the true frequency may be off, Hz: mains ±0.2 Hz a harmonic, a resonator ±0.1 %
    /// (common practice).
    fn slack_hz(self) -> f64 {
        match self {
            Source::Mains { harmonic, .. } => 0.2 * f64::from(harmonic),
            Source::Pwm { pwm_hz } => 1e-3 * pwm_hz,
        }
    }
}

impl fmt::Display for Source {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Source::Mains { mains_hz, harmonic: 1 } => write!(f, "{mains_hz} Hz mains"),
            Source::Mains { mains_hz, harmonic } => {
                write!(f, "{} Hz, harmonic {harmonic} of {mains_hz} Hz mains", self.hz())
            }
            Source::Pwm { pwm_hz } => write!(f, "{pwm_hz:.1} Hz pulse-width modulation"),
        }
    }
}

/// Frequency at which a true frequency appears in samples taken at `rate_hz`.
///
/// Formula: |f − rate·round(f/rate)|. `folded(490.2, 250.0)` = 9.8. NaN for a rate that is not
/// positive.
pub fn folded(hz: f64, rate_hz: f64) -> f64 {
    if rate_hz > 0.0 { (hz - rate_hz * (hz / rate_hz).round()).abs() } else { f64::NAN }
}

/// The usual suspects: mains with four harmonics, the two default PWM frequencies 16 MHz/64/510
/// and 16 MHz/64/256.
pub fn suspects() -> impl Iterator<Item = Source> {
    let mains = [50.0, 60.0]
        .into_iter()
        .flat_map(|mains_hz| (1..=4).map(move |harmonic| Source::Mains { mains_hz, harmonic }));
    let pwm = [16e6 / 64.0 / 510.0, 16e6 / 64.0 / 256.0].map(|pwm_hz| Source::Pwm { pwm_hz });
    mains.chain(pwm)
}

/// Which of the [`suspects`] a line at `hz` could be, nearest first, when samples come at
/// `rate_hz` and frequencies are known to `resolution_hz` (one over the length of the record).
///
/// Folding makes several answers possible: 9.8 Hz at 250 Hz is the 490 Hz modulator, or a true
/// 9.8 Hz. Another sampling rate tells them apart.
pub fn could_be(hz: f64, rate_hz: f64, resolution_hz: f64) -> Vec<Source> {
    let miss = |s: &Source| (folded(s.hz(), rate_hz) - hz).abs();
    let mut found: Vec<Source> =
        suspects().filter(|s| miss(s) <= s.slack_hz() + resolution_hz).collect();
    found.sort_by(|a, b| miss(a).total_cmp(&miss(b)));
    found
}

#[cfg(test)]
mod tests {
    use super::*;
    use rand::SeedableRng;
    use rand_distr::{Distribution, Normal as Gauss};

    fn noise(n: usize, seed: u64) -> Vec<f64> {
        let mut rng = rand_chacha::ChaCha8Rng::seed_from_u64(seed);
        let gauss = Gauss::new(0.0, 1.0).unwrap();
        (0..n).map(|_| gauss.sample(&mut rng)).collect()
    }

    fn times(n: usize) -> Vec<f64> {
        (0..n).map(|i| i as f64 * 0.004).collect()
    }

    #[test]
    fn default_modulators_fold_as_they_should() {
        let fold = |hz: f64, rate: f64| (folded(hz, rate) * 10.0).round() / 10.0;
        for rate in [100.0, 125.0, 250.0, 500.0] {
            assert_eq!(fold(490.196, rate), 9.8);
            assert_eq!(fold(976.5625, rate), 23.4);
        }
        assert_eq!(fold(490.196, 200.0), 90.2);
        assert_eq!((fold(100.0, 100.0), fold(120.0, 100.0)), (0.0, 20.0));
        assert_eq!(could_be(9.8, 250.0, 0.125)[0].to_string(), "490.2 Hz pulse-width modulation");
        assert_eq!(could_be(50.05, 250.0, 0.125)[0].to_string(), "50 Hz mains");
        assert!(could_be(37.0, 250.0, 0.125).is_empty());
    }

    #[test]
    fn a_line_is_found_where_every_tenth_interval_is_half_as_long() {
        let mut rng = rand_chacha::ChaCha8Rng::seed_from_u64(8);
        let gauss = Gauss::new(0.0, 1.0).unwrap();
        let mut now = 0.0;
        let t: Vec<f64> = (0..4000)
            .map(|i| {
                now += if i % 10 == 3 { 0.00201 } else { 0.00408 };
                now
            })
            .collect();
        let y: Vec<f64> = t
            .iter()
            .map(|t| 20.0 * (std::f64::consts::TAU * 50.0 * t).sin() + gauss.sample(&mut rng))
            .collect();
        let lines = find(&t, &y);
        assert_eq!(lines.len(), 1, "{lines:?}");
        assert!((lines[0].hz - 50.0).abs() < 0.01, "{lines:?}");
        assert!((lines[0].amplitude.value - 20.0).abs() < 0.2, "{lines:?}");
    }

    #[test]
    fn two_lines_are_found_with_their_amplitudes() {
        let t = times(2000);
        let y: Vec<f64> = noise(2000, 1)
            .iter()
            .zip(&t)
            .map(|(e, t)| {
                let turn = std::f64::consts::TAU * t;
                e + 3.0 * (50.02 * turn).sin() + 0.5 * (9.8 * turn + 1.0).cos()
            })
            .collect();
        let lines = find(&t, &y);
        assert_eq!(lines.len(), 2, "{lines:?}");
        assert!((lines[0].hz - 50.02).abs() < 0.01 && (lines[1].hz - 9.8).abs() < 0.03);
        assert!((lines[0].amplitude.value - 3.0).abs() < 0.1);
        assert!(lines[1].amplitude.low < 0.5 && lines[1].amplitude.high > 0.5);
    }

    #[test]
    fn noise_alone_rarely_shows_a_line() {
        let t = times(1024);
        let alarms = (0..500).filter(|s| !find(&t, &noise(1024, *s)).is_empty()).count();
        // 0.5 expected; six or more has probability 1e-5.
        assert!(alarms < 6, "{alarms}");
    }

    #[test]
    fn gaps_do_not_hide_a_line() {
        let y: Vec<f64> = noise(3000, 7)
            .iter()
            .enumerate()
            .map(|(i, e)| e + 0.6 * (std::f64::consts::TAU * 60.0 * i as f64 * 0.004).sin())
            .collect();
        let kept: Vec<usize> =
            (0..3000).filter(|i| i % 50 != 7 && !(900..975).contains(i)).collect();
        let t: Vec<f64> = kept.iter().map(|i| *i as f64 * 0.004).collect();
        let y: Vec<f64> = kept.iter().map(|i| y[*i]).collect();
        let lines = find(&t, &y);
        assert_eq!(lines.len(), 1, "{lines:?}");
        assert!((lines[0].hz - 60.0).abs() < 0.02 && (lines[0].amplitude.value - 0.6).abs() < 0.1);
    }

    #[test]
    fn nothing_and_nonsense() {
        assert!(find(&[], &[]).is_empty());
        assert!(find(&[1.0; 100], &[0.0; 100]).is_empty());
        assert!(find(&times(100), &[0.0; 100]).is_empty());
        assert_eq!(false_alarm(f64::NAN, 100), 1.0);
        assert!(false_alarm(700.0, 100) < 1e-290);
    }
}
