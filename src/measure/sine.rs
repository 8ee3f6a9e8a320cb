//! Sine fits with known or unknown frequency, at any sample times, and the resolution they imply.
use super::fit::dense::Normal;
use super::{Measured, Shortage};

/// A fitted sine: `cosine`·cos 2πft + `sine`·sin 2πft + `offset`.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SineFit {
    /// Frequency, Hz.
    pub hz: f64,
    /// Cosine part, in the unit of the samples.
    pub cosine: f64,
    /// Sine part.
    pub sine: f64,
    /// Offset.
    pub offset: f64,
    /// Root mean square of the residuals, √(Σe²/n).
    pub rms: f64,
    /// Number of samples.
    pub n: usize,
}

impl SineFit {
    /// Amplitude (peak): √(cosine² + sine²).
    pub fn amplitude(self) -> f64 {
        self.cosine.hypot(self.sine)
    }

    /// Phase φ of amplitude·sin(2πft + φ), radians in (−π, π].
    pub fn phase(self) -> f64 {
        self.cosine.atan2(self.sine)
    }

    /// Signal to noise and distortion, dB: 20 log₁₀(amplitude/(√2·rms)). Source: IEEE Std 1241.
    pub fn sinad_db(self) -> f64 {
        20.0 * (self.amplitude() / (std::f64::consts::SQRT_2 * self.rms)).log10()
    }
}

/// Sine of known frequency by linear least squares (three parameters).
///
/// `t_s` in seconds (subtract a start near the data: phases lose digits for large t), `values` in
/// any unit, both finite and equally long. A [`Shortage`] below four samples. Cost: one pass,
/// about 30 ns a sample. Source: IEEE Std 1057, three-parameter fit.
pub fn three_parameter(t_s: &[f64], values: &[f64], hz: f64) -> Measured<SineFit> {
    let n = usable(t_s, values, 4)?;
    let mut normal = Normal::new(3);
    for (t, y) in t_s.iter().zip(values) {
        let (sin, cos) = (std::f64::consts::TAU * hz * t).sin_cos();
        normal.add(&[1.0, cos, sin], *y);
    }
    let c = normal.solve();
    let fit = SineFit { hz, cosine: c[1], sine: c[2], offset: c[0], rms: 0.0, n };
    Ok(with_rms(fit, t_s, values))
}

/// Sine of unknown frequency by Gauss–Newton steps from a start (four parameters).
///
/// The start must lie within about half a cycle over the record, 0.5/(last − first) Hz, of the
/// truth. A [`Shortage`] below five samples or when the steps run away. Cost: two passes a step, at
/// most 30 steps, usually 5. Source: IEEE Std 1057, four-parameter fit.
pub fn four_parameter(t_s: &[f64], values: &[f64], start_hz: f64) -> Measured<SineFit> {
    let hz = refined_hz(t_s, values, start_hz, Refine { tolerance: 1e-10, most_steps: 30 })?;
    three_parameter(t_s, values, hz)
}

/// When a refinement ends.
#[derive(Clone, Copy, Debug)]
pub(super) struct Refine {
    /// A step moves the frequency by less than this, cycles over the record.
    pub(super) tolerance: f64,
    /// So many steps were made.
    pub(super) most_steps: usize,
}

/// The frequency of a four-parameter fit.
pub(super) fn refined_hz(
    t_s: &[f64],
    values: &[f64],
    start_hz: f64,
    until: Refine,
) -> Measured<f64> {
    let n = usable(t_s, values, 5)?;
    let length = t_s.last().zip(t_s.first()).map_or(0.0, |(b, a)| b - a);
    let mut fit = three_parameter(t_s, values, start_hz)?;
    for _ in 0..until.most_steps {
        let mut normal = Normal::new(4);
        for (t, y) in t_s.iter().zip(values) {
            let (sin, cos) = (std::f64::consts::TAU * fit.hz * t).sin_cos();
            let slope = std::f64::consts::TAU * t * (fit.sine * cos - fit.cosine * sin);
            normal.add(&[1.0, cos, sin, slope], *y);
        }
        let c = normal.solve();
        let step = c[3];
        fit = SineFit { hz: fit.hz + step, offset: c[0], cosine: c[1], sine: c[2], ..fit };
        let away = (fit.hz - start_hz).abs() * length;
        if away.is_nan() || away > 2.0 {
            return Err(runaway(n));
        }
        if step.abs() * length <= until.tolerance {
            break;
        }
    }
    Ok(fit.hz)
}

/// Effective number of bits from a SINAD in dB: (SINAD − 10 log₁₀ 1.5)/(20 log₁₀ 2).
/// Source: IEEE Std 1241.
pub fn effective_bits(sinad_db: f64) -> f64 {
    (sinad_db - 10.0 * 1.5_f64.log10()) / (20.0 * 2.0_f64.log10())
}

fn with_rms(fit: SineFit, t_s: &[f64], values: &[f64]) -> SineFit {
    let squares: f64 = t_s
        .iter()
        .zip(values)
        .map(|(t, y)| {
            let (sin, cos) = (std::f64::consts::TAU * fit.hz * t).sin_cos();
            (y - fit.offset - fit.cosine * cos - fit.sine * sin).powi(2)
        })
        .sum();
    SineFit { rms: (squares / fit.n as f64).sqrt(), ..fit }
}

fn usable(t_s: &[f64], values: &[f64], need: usize) -> Measured<usize> {
    let have = t_s.len().min(values.len());
    if have >= need {
        return Ok(have);
    }
    Err(Shortage {
        what: "samples for a sine".to_owned(),
        have,
        need,
        advice: "record a longer stretch".to_owned(),
    })
}

fn runaway(n: usize) -> Shortage {
    Shortage {
        what: "samples that hold one clear sine".to_owned(),
        have: 0,
        need: n,
        advice: "start nearer to the true frequency".to_owned(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn wave(hz: f64) -> (Vec<f64>, Vec<f64>) {
        let t: Vec<f64> =
            (0..500).map(|i| f64::from(i) * 0.004 + f64::from(i % 3) * 1e-4).collect();
        let y = t.iter().map(|t| 5.0 + 2.0 * (std::f64::consts::TAU * hz * t + 0.6).sin());
        let y = y.collect();
        (t, y)
    }

    #[test]
    fn recovers_an_exact_sine_at_uneven_times() {
        let (t, y) = wave(9.77);
        let fit = four_parameter(&t, &y, 9.6).unwrap();
        assert!((fit.hz - 9.77).abs() < 1e-9 && (fit.amplitude() - 2.0).abs() < 1e-9);
        assert!((fit.phase() - 0.6).abs() < 1e-7 && (fit.offset - 5.0).abs() < 1e-9);
        assert!(fit.rms < 1e-9);
    }

    #[test]
    fn a_bad_start_or_too_little_is_said() {
        let (t, y) = wave(9.77);
        assert!(four_parameter(&t[..4], &y[..4], 9.7).is_err());
        assert!(three_parameter(&[], &[], 1.0).is_err());
        assert!(four_parameter(&t, &y, f64::NAN).is_err());
    }
}
