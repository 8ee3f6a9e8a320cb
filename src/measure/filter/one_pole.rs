//! The exponential filter y += α(x − y): noise gain, lag, corner, time constant.

/// An exponential filter by its share α of each new sample, 0 < α ≤ 1.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct OnePole {
    alpha: f64,
}

impl OnePole {
    /// A filter of the given share; `None` unless 0 < α ≤ 1.
    pub fn new(alpha: f64) -> Option<OnePole> {
        (alpha > 0.0 && alpha <= 1.0).then_some(OnePole { alpha })
    }

    /// The filter of a shift by `k` bits, sum += x − (sum >> k): α = 2⁻ᵏ. k = 0 passes everything.
    ///
    /// The sum needs k bits more than the codes: 16 bits hold 10-bit codes up to k = 6 and 12-bit
    /// codes up to k = 4. The other common form, y += (x − y) >> k, stops 2ᵏ − 1 counts short from
    /// below: a false hysteresis.
    pub fn of_shift(k: u8) -> OnePole {
        OnePole { alpha: 0.5f64.powi(i32::from(k)) }
    }

    /// The filter whose step response reaches 1 − 1/e after `tau_us` at `rate_hz`:
    /// α = 1 − exp(−1/(τ·rate)).
    ///
    /// `None` when τ or the rate is not finite and above zero; a τ of 0 gives α = 1.
    pub fn of_time_constant(tau_us: f64, rate_hz: f64) -> Option<OnePole> {
        let samples = tau_us * 1e-6 * rate_hz;
        if !(samples.is_finite() && samples >= 0.0 && rate_hz > 0.0) {
            return None;
        }
        OnePole::new(if samples == 0.0 { 1.0 } else { -(-1.0 / samples).exp_m1() })
    }

    /// Share α of each new sample.
    pub fn alpha(self) -> f64 {
        self.alpha
    }

    /// One step: y + α(x − y).
    pub fn step(self, y: f64, x: f64) -> f64 {
        y + self.alpha * (x - y)
    }

    /// Ratio of rms noise after to before: √(α/(2 − α)).
    ///
    /// White noise. By hand: α = ¼ gives √(0.25/1.75) = 0.378.
    pub fn noise_gain(self) -> f64 {
        (self.alpha / (2.0 - self.alpha)).sqrt()
    }

    /// Samples by which the output runs behind a steady ramp: (1 − α)/α. α = ¼ gives 3.
    pub fn lag_samples(self) -> f64 {
        (1.0 - self.alpha) / self.alpha
    }

    /// The same in ms at a rate in Hz.
    pub fn lag_ms(self, rate_hz: f64) -> f64 {
        1e3 * self.lag_samples() / rate_hz
    }

    /// Samples until the step response has covered `share` of the step: ln(1 − share)/ln(1 − α).
    ///
    /// `share` in 0..1; 0 for α = 1. By hand: α = ¼, share 1 − 1/e: −1/ln 0.75 = 3.476.
    pub fn step_samples(self, share: f64) -> f64 {
        if self.alpha >= 1.0 { 0.0 } else { (-share).ln_1p() / (-self.alpha).ln_1p() }
    }

    /// Time from 10 to 90 % of a step, ms at a rate in Hz.
    pub fn rise_ms(self, rate_hz: f64) -> f64 {
        1e3 * (self.step_samples(0.9) - self.step_samples(0.1)) / rate_hz
    }

    /// Time constant, µs: the step response has covered 1 − 1/e.
    pub fn time_constant_us(self, rate_hz: f64) -> f64 {
        1e6 * self.step_samples(-(-1f64).exp_m1()) / rate_hz
    }

    /// Frequency at which half of the power passes, in cycles a sample.
    ///
    /// cos 2πf = 1 − α²/(2(1 − α)); `None` for α above 2√2 − 2 = 0.828, where even half the rate
    /// passes with more. Times the rate it is in Hz: α = ¼ at 250 Hz gives 11.5 Hz.
    pub fn corner_cycles(self) -> Option<f64> {
        let cosine = 1.0 - self.alpha * self.alpha / (2.0 * (1.0 - self.alpha));
        (cosine >= -1.0).then(|| cosine.acos() / std::f64::consts::TAU)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_table_of_the_trade() {
        // k, noise gain, lag at 250 Hz, 10–90 % at 250 Hz, −3 dB at 250 Hz.
        for (k, gain, lag, rise, corner) in [
            (1, 0.58, 4.0, 13.0, 28.8),
            (2, 0.38, 12.0, 31.0, 11.5),
            (3, 0.26, 28.0, 66.0, 5.3),
            (4, 0.18, 60.0, 136.0, 2.6),
        ] {
            let f = OnePole::of_shift(k);
            assert!((f.noise_gain() - gain).abs() < 0.005, "{k}");
            assert!((f.lag_ms(250.0) - lag).abs() < 1e-9, "{k}");
            assert!((f.rise_ms(250.0) - rise).abs() < 0.7, "{k} {}", f.rise_ms(250.0));
            let hz = 250.0 * f.corner_cycles().expect("low enough");
            assert!((hz - corner).abs() < 0.06, "{k} {hz}");
        }
        assert_eq!(OnePole::of_shift(0).corner_cycles(), None);
        assert_eq!(OnePole::of_shift(0).step_samples(0.9), 0.0);
    }

    #[test]
    fn a_time_constant_is_kept_at_any_rate() {
        for rate_hz in [190.0, 250.0, 1000.0] {
            let f = OnePole::of_time_constant(12_000.0, rate_hz).expect("finite");
            assert!((f.time_constant_us(rate_hz) - 12_000.0).abs() < 1e-6);
        }
        assert_eq!(OnePole::of_time_constant(0.0, 250.0).map(OnePole::alpha), Some(1.0));
        for (tau, rate) in [(f64::NAN, 250.0), (-1.0, 250.0), (1.0, 0.0), (1.0, f64::INFINITY)] {
            assert_eq!(OnePole::of_time_constant(tau, rate), None, "{tau} {rate}");
        }
        assert_eq!(OnePole::new(0.0), None);
        assert_eq!(OnePole::new(1.5), None);
    }
}
