//! The exponential filter in a controller's integers, and the shift that keeps its time constant at
//! the rate where it will run.
use super::OnePole;
use crate::measure::{Measured, Shortage};

/// Largest shift offered: α = 1/256 is slower than any stick.
const SHIFT_MAX: u8 = 8;

/// acc += x − (acc >> k); y = acc >> k, as a firmware runs it.
///
/// In the long run acc stands at 2ᵏ·x exactly, so that a constant input is reached from above and
/// from below; the plain form [`shift_step`] stops short. Inputs are unsigned codes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Accumulator {
    acc: u32,
    k: u8,
}

impl Accumulator {
    /// A filter of shift `k` (0 to 8; more is taken as 8) that already stands at `code`.
    pub fn at(code: u16, k: u8) -> Accumulator {
        let k = k.min(SHIFT_MAX);
        Accumulator { acc: u32::from(code) << k, k }
    }

    /// One sample in, the filtered code out.
    ///
    /// acc stays within 0..=2ᵏ·65 535 + 2ᵏ − 1 for any input: nothing overflows. By hand, k = 2 from
    /// 0 with input 4: acc = 4, 7, 10, 12, 13, 14, 15, 16 and there it stays; y = 1, 1, 2, 3, 3, 3,
    /// 3, 4.
    pub fn step(&mut self, code: u16) -> u16 {
        self.acc = self.acc + u32::from(code) - (self.acc >> self.k);
        // acc >> k is at most the largest input.
        (self.acc >> self.k) as u16
    }
}

/// One step of the plain form y += (x − y) >> k with an arithmetic shift.
///
/// It stops 2ᵏ − 1 counts short from below and not at all from above: a false hysteresis of 1, 3, 7
/// or 15 counts for k = 1 to 4. Here to show it; no firmware should use it.
pub fn shift_step(y: i32, code: u16, k: u8) -> i32 {
    y + ((i32::from(code) - y) >> k.min(SHIFT_MAX))
}

/// Bits that the accumulator needs for codes of `raw_bits`: raw bits + k.
///
/// Held in 16 bits it takes 10-bit codes up to k = 6 and 12-bit codes up to k = 4.
pub fn bits_needed(raw_bits: u8, k: u8) -> u8 {
    raw_bits.saturating_add(k)
}

/// A shift for a rate, with what it really gives.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ShiftChoice {
    /// Shift k, α = 2⁻ᵏ.
    pub k: u8,
    /// Time constant that it gives at the rate, µs.
    pub tau_us: f64,
    /// Ratio of rms noise after to before.
    pub noise_gain: f64,
    /// Lag behind a ramp, ms.
    pub lag_ms: f64,
    /// Bits of the accumulator.
    pub bits: u8,
}

/// The shift whose time constant comes nearest, in ratio, to the wanted one at the deployed rate.
///
/// `tau_us` ≥ 0 µs; `rate_hz` > 0 is that of the loop that will run it, not of the debug print: a
/// shift chosen at 250 Hz is four times as fast at 1 kHz. k runs from 0 (no filter, taken when τ is
/// below half of that of k = 1) to 8. By hand: τ = 13.9 ms is 3.476 samples at 250 Hz, k = 2, and
/// 13.9 samples at 1 kHz, k = 4 (15.5 samples). A [`Shortage`] for a τ or rate that is not finite or
/// not positive, or a τ of more than twice that of k = 8.
pub fn shift_for(tau_us: f64, rate_hz: f64, raw_bits: u8) -> Measured<ShiftChoice> {
    let valid = tau_us.is_finite() && tau_us >= 0.0 && rate_hz.is_finite() && rate_hz > 0.0;
    let of = |k: u8| OnePole::of_shift(k).time_constant_us(rate_hz);
    if !valid || tau_us > 2.0 * of(SHIFT_MAX) {
        return Err(Shortage {
            what: "loop rate for that time constant".to_owned(),
            have: if valid { rate_hz as usize } else { 0 },
            need: 1,
            advice: "choose a shorter time constant or average several frames first".to_owned(),
        });
    }
    let apart = |k: u8| (tau_us / of(k)).ln().abs();
    let k = if tau_us < 0.5 * of(1) {
        0
    } else {
        (1..=SHIFT_MAX).min_by(|&a, &b| apart(a).total_cmp(&apart(b))).unwrap_or(1)
    };
    let filter = OnePole::of_shift(k);
    Ok(ShiftChoice {
        k,
        tau_us: of(k),
        noise_gain: filter.noise_gain(),
        lag_ms: filter.lag_ms(rate_hz),
        bits: bits_needed(raw_bits, k),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_example_by_hand() {
        let mut filter = Accumulator::at(0, 2);
        let out: Vec<u16> = (0..10).map(|_| filter.step(4)).collect();
        assert_eq!(out, [1, 1, 2, 3, 3, 3, 3, 4, 4, 4]);
    }

    #[test]
    fn every_code_is_reached_from_both_sides() {
        for k in 0..=SHIFT_MAX {
            for code in (0..1024).step_by(if k > 4 { 31 } else { 1 }) {
                for start in [0, 1023] {
                    let mut filter = Accumulator::at(start, k);
                    let steps = 24 << k;
                    let last = (0..steps).map(|_| filter.step(code)).last();
                    assert_eq!(last, Some(code), "k {k} from {start}");
                }
            }
        }
    }

    #[test]
    fn the_plain_form_stops_short_from_below() {
        for k in 1..=4 {
            let settle = |from: i32| (0..2000).fold(from, |y, _| shift_step(y, 500, k));
            assert_eq!(500 - settle(0), (1 << k) - 1);
            assert_eq!(settle(1023), 500);
        }
    }

    #[test]
    fn the_widest_code_and_shift_do_not_overflow() {
        let mut filter = Accumulator::at(u16::MAX, 200);
        for k in 0..4000 {
            let _ = filter.step(if k % 3 == 0 { 0 } else { u16::MAX });
        }
        assert!(filter.step(u16::MAX) > 0);
        assert_eq!((bits_needed(10, 6), bits_needed(12, 4)), (16, 16));
    }

    #[test]
    fn the_shift_follows_the_deployed_rate() {
        let at = |rate| shift_for(13_900.0, rate, 10).expect("finite");
        assert_eq!((at(250.0).k, at(1000.0).k), (2, 4));
        assert!((at(250.0).lag_ms - 12.0).abs() < 1e-9 && at(1000.0).bits == 14);
        assert_eq!(shift_for(0.0, 250.0, 10).expect("none").k, 0);
        for (tau, rate) in [(f64::NAN, 250.0), (1e3, 0.0), (1e9, 250.0), (-1.0, 250.0)] {
            assert!(shift_for(tau, rate, 10).is_err(), "{tau} {rate}");
        }
    }
}
