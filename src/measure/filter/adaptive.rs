//! A low-pass whose corner rises with speed: calm at rest, quick in motion.
use super::OnePole;

/// Speed-adaptive low-pass.
///
/// Formula: the speed (x − ŷ₋₁)·rate passes a low-pass of corner `speed_corner_hz`; the corner of the
/// output's low-pass is `corner_hz` + `slope`·|speed|; α = 1/(1 + rate/(2π·corner)). The speed is
/// taken against the last *output*, not the last input. Units: of the samples, Hz. Source: Casiez,
/// Roussel & Vogel, "1 € filter", CHI 2012; doi 10.1145/2207676.2208639.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SpeedAdaptive {
    /// Corner at rest, Hz; above zero.
    pub corner_hz: f64,
    /// Rise of the corner with speed, Hz a unit a second.
    pub slope: f64,
    /// Corner of the speed's own low-pass, Hz.
    pub speed_corner_hz: f64,
    state: Option<(f64, f64)>,
}

impl SpeedAdaptive {
    /// A filter before its first sample.
    pub fn new(corner_hz: f64, slope: f64, speed_corner_hz: f64) -> SpeedAdaptive {
        SpeedAdaptive { corner_hz, slope, speed_corner_hz, state: None }
    }

    /// One sample at the current rate in Hz; the first passes as it is.
    ///
    /// By hand, corner 1 Hz, no slope, at 100 Hz: α = 1/(1 + 100/2π) = 0.0591; from 0 an input of 1
    /// gives 0.0591. A non-finite sample stays in the state for good: leave it out before.
    pub fn step(&mut self, x: f64, rate_hz: f64) -> f64 {
        let Some((y, speed)) = self.state else {
            self.state = Some((x, 0.0));
            return x;
        };
        let speed = low_pass(self.speed_corner_hz, rate_hz).step(speed, (x - y) * rate_hz);
        let corner_hz = self.corner_hz + self.slope * speed.abs();
        let y = low_pass(corner_hz, rate_hz).step(y, x);
        self.state = Some((y, speed));
        y
    }
}

/// The exponential filter of a corner; one that passes everything where there is none.
fn low_pass(corner_hz: f64, rate_hz: f64) -> OnePole {
    let alpha = 1.0 / (1.0 + rate_hz / (std::f64::consts::TAU * corner_hz));
    OnePole::new(alpha).unwrap_or(OnePole::of_shift(0))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn calm_at_rest_and_quick_in_motion() {
        let mut slow = SpeedAdaptive::new(1.0, 0.0, 1.0);
        let mut quick = SpeedAdaptive::new(1.0, 0.01, 1.0);
        assert_eq!((slow.step(0.0, 100.0), quick.step(0.0, 100.0)), (0.0, 0.0));
        let first = slow.step(1.0, 100.0);
        assert!((first - 1.0 / (1.0 + 100.0 / std::f64::consts::TAU)).abs() < 1e-15);
        assert!(quick.step(1.0, 100.0) > first);
    }

    #[test]
    fn no_corner_passes_everything() {
        let mut none = SpeedAdaptive::new(f64::NAN, 0.0, 1.0);
        none.step(1.0, 100.0);
        assert_eq!(none.step(5.0, 100.0), 5.0);
    }
}
