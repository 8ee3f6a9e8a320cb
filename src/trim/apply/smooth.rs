//! Smoothing of raw codes with a sum that converges exactly: sum += code − (sum >> k).
use crate::trim::SmoothTrim;

/// A smoother and its state; the first code fills it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Smoother {
    shift: u8,
    sum: u32,
    begun: bool,
}

impl Smoother {
    /// A smoother that has seen nothing.
    pub fn new(smooth: &SmoothTrim) -> Smoother {
        Smoother { shift: smooth.shift.min(8), sum: 0, begun: false }
    }

    /// One code a scan in; the smoothed code out. Held still, it comes to the code itself.
    pub fn sample(&mut self, raw: u16) -> u16 {
        if !self.begun {
            self.begun = true;
            self.sum = u32::from(raw) << self.shift;
        }
        self.sum = self.sum + u32::from(raw) - (self.sum >> self.shift);
        (self.sum >> self.shift) as u16
    }
}

/// The shift whose time constant at that rate comes nearest, 0 (no smoothing) to 8; `None` when
/// 8 is far too short.
///
/// Time constant of a shift: −T / ln(1 − 2^−k), T = 1/rate. Nearest by ratio; k = 0 below half of
/// that of k = 1, `None` above twice that of k = 8. Seconds and Hz, both above 0.
pub fn shift_for(time_constant_s: f64, rate_hz: f64) -> Option<u8> {
    let scans = time_constant_s * rate_hz;
    if scans.is_nan() || scans <= 0.0 {
        return None;
    }
    let of = |k: i32| -1.0 / (1.0 - 2f64.powi(-k)).ln();
    if scans < 0.5 * of(1) {
        return Some(0);
    }
    if scans > 2.0 * of(8) {
        return None;
    }
    let off = |k: i32| (of(k) / scans).ln().abs();
    (1..=8).min_by(|a, b| off(*a).total_cmp(&off(*b))).map(|k| k as u8)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::rig::AxisId;

    #[test]
    fn it_comes_to_every_code_exactly_from_both_sides() {
        for shift in 1..=8u8 {
            let smooth = SmoothTrim { axis: AxisId::Lx, shift, time_constant_us: 0 };
            for target in (0..=65535u16).step_by(997).chain([65535]) {
                for from in [0u16, 65535] {
                    let mut smoother = Smoother::new(&smooth);
                    assert_eq!(smoother.sample(from), from, "the first code fills it");
                    let last = (0..20 << shift).map(|_| smoother.sample(target)).last();
                    assert_eq!(last, Some(target), "k {shift} from {from}");
                }
            }
        }
    }

    #[test]
    fn the_shift_follows_time_constant_and_rate() {
        // 1/(1 - e^(-1/n)) scans: k = 2 is 3.48, k = 3 is 7.49, k = 4 is 15.5.
        assert_eq!(shift_for(0.0075, 1000.0), Some(3));
        assert_eq!(shift_for(0.0075, 250.0), Some(1));
        assert_eq!(shift_for(0.0155, 1000.0), Some(4));
        assert_eq!(shift_for(0.0005, 1000.0), Some(0));
        assert_eq!(shift_for(2.0, 1000.0), None);
        assert_eq!(shift_for(f64::NAN, 1000.0), None);
    }
}
