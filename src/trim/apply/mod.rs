//! The firmware's arithmetic, bit for bit: what the generated header computes, in the same steps
//! and widths. Previews, checks and the sheet use it; there is no floating-point twin.
//!
//! Shaped for a processor of 8 bits that multiplies 16 × 16 → 32: magnitudes are unsigned, the
//! sign comes last, nothing is divided at run time, long shifts are by whole bytes.
//!
//! Order: subtract the centre → gain of that side → optional 2×2 → zone with rescale → clamp to
//! ±32767 → sign of the destination. Nothing is clamped before the zone; a magnitude saturates
//! at 65535, twice the travel.
//!
//! Cost of the C twin, emulated ATmega32U4, avr-gcc 5.4 -Os, 10 bits, constants compiled in, the
//! empty call taken off, worst case: axial 73 cycles an axis, radial 618 a stick (a grid of 42 025
//! pairs), with the 2×2 968; the table of reciprocal roots is 194 bytes of flash.
mod axis;
mod curve;
mod debounce;
mod guard;
mod motor;
mod radial;
mod reciprocal;
mod shape;
mod smooth;
mod stick;
mod trigger;

pub use axis::Axis;
pub use curve::{Curve, Gains};
pub use debounce::Debouncer;
pub use guard::Guard;
pub use motor::Motor;
pub use radial::{NoZone, Radial, SMALLEST_TRAVEL};
pub use reciprocal::TABLE as RECIPROCAL_ROOTS;
pub use shape::{ROOT_TWO, Shape, node_angle};
pub use smooth::{Smoother, shift_for};
pub use stick::Stick;
pub use trigger::Trigger;

/// `offset · gain >> frac`, saturated at 65535.
///
/// `offset` counts, `gain` output units a count with `frac` fraction bits (0–31); result in output
/// units (32767 = full). Any input is allowed: 65535 · 65535 fits 32 bits.
fn scaled(offset: u16, gain: u16, frac: u8) -> u16 {
    let product = u32::from(offset) * u32::from(gain);
    u16::try_from(product >> frac.min(31)).unwrap_or(u16::MAX)
}

/// A magnitude clamped to 32767 with its sign, the last step of every path.
fn signed(magnitude: u16, negative: bool) -> i16 {
    let clamped = i16::try_from(magnitude).unwrap_or(i16::MAX);
    if negative { -clamped } else { clamped }
}

/// Smallest gain that lifts `span` counts to full output: ⌈32767·2^frac / span⌉.
///
/// Errors: `None` when it does not fit 16 bits or `span` is 0; with `frac = bits − 2` it fits for
/// every span from an eighth of full scale, 2^(bits−3).
pub fn gain(span: u16, frac: u8) -> Option<u16> {
    let full = u32::from(super::FULL_OUTPUT) << frac.min(14);
    if span == 0 {
        return None;
    }
    u16::try_from(full.div_ceil(u32::from(span))).ok()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_gain_exists_from_an_eighth_of_full_scale_and_reaches_full_exactly() {
        for bits in [8u8, 10, 12, 14, 16] {
            let shortest = 1u16 << (bits - 3);
            let longest = u16::MAX >> (16 - bits);
            for span in shortest..=longest {
                let g = gain(span, bits - 2).expect("fits 16 bits");
                assert!(scaled(span, g, bits - 2) >= 32767, "{bits} bits, span {span}");
                assert!(scaled(span, g - 1, bits - 2) < 32767, "{bits} bits, span {span}");
            }
            assert_eq!(gain(shortest / 2, bits - 2), None, "{bits} bits");
        }
    }

    #[test]
    fn the_clamp_never_gives_the_value_that_cannot_be_negated() {
        assert_eq!(signed(65535, true), -32767);
        assert_eq!(signed(32768, false), 32767);
        assert_eq!(signed(0, true), 0);
    }
}
