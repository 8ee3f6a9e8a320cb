//! The radial zone: output 0 up to the inner radius, rescaled from its rim, full at the outer one.
//!
//! A component m at radius r becomes m·K·(1 − D/r), K = 32767/(R − D), D and R the inner and outer
//! radius. Only 1/r is needed, and its error counts D-fold, not r-fold: a small table does.
use super::reciprocal::{normalised, reciprocal_root};
use crate::trim::FULL_OUTPUT;

/// Least distance between inner and outer radius, output units: a little over half of full, so that
/// K with its correction fits 16 bits.
pub const SMALLEST_TRAVEL: u16 = 16640;

/// The inner and outer radius leave less than half of full output between them.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
#[error(
    "inner radius {inner} and outer radius {outer} leave less than half of the travel between them"
)]
pub struct NoZone {
    /// Inner radius, output units.
    pub inner: u16,
    /// Outer radius, output units.
    pub outer: u16,
}

/// The constants of a radial zone, as the header carries them.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Radial {
    /// Squares of half magnitudes up to this sum give 0.
    pub inner_square: u32,
    /// K with 15 fraction bits, rounded up until the outer radius gives full output.
    pub slope: u16,
    /// K·D, normalised to the reciprocal root just outside the inner radius.
    pub pull: u16,
    /// Pairs of bits by which the square just outside the inner radius is shifted up.
    pub pairs: u8,
}

impl Radial {
    /// Constants for an inner and an outer radius in output units (32767 = full).
    ///
    /// Errors: [`NoZone`] when they lie less than [`SMALLEST_TRAVEL`] apart.
    pub fn new(inner: u16, outer: u16) -> Result<Radial, NoZone> {
        if outer < inner || outer - inner < SMALLEST_TRAVEL {
            return Err(NoZone { inner, outer });
        }
        let full = u32::from(FULL_OUTPUT) << 15;
        let first = full.div_ceil(u32::from(outer - inner)).min(65535) as u16;
        // Rounding in the reciprocal may cost the last unit at the outer radius.
        (first..=u16::MAX)
            .map(|slope| Radial::with_slope(inner, slope))
            .find(|zone| zone.rescaled(outer, 0).0 == FULL_OUTPUT)
            .ok_or(NoZone { inner, outer })
    }

    /// The zone of an inner radius with a slope chosen elsewhere.
    pub(super) fn with_slope(inner: u16, slope: u16) -> Radial {
        let half = u32::from(inner.div_ceil(2));
        let inner_square = half * half;
        let pairs = normalised(inner_square + 1).1;
        let lifted = (half << pairs).min(65535);
        let pull = (u32::from(slope) * lifted / 65535) as u16;
        Radial { inner_square, slope, pull, pairs }
    }

    /// What a magnitude is multiplied by, for a reciprocal root as normalised at the inner radius.
    pub(super) fn factor(&self, reciprocal: u16) -> u16 {
        let pulled = (u32::from(self.pull) * u32::from(reciprocal)) >> 15;
        u32::from(self.slope).saturating_sub(pulled) as u16
    }

    /// Both magnitudes after the zone, each clamped to 32767.
    ///
    /// Output units in (0…65535, not clamped before) and out. Never falls when a magnitude rises.
    /// Within 7 of 32767 of the exact rescale for inner radii up to 15 % of full (measured 6.3).
    pub fn rescaled(&self, x: u16, y: u16) -> (u16, u16) {
        let (half_x, half_y) = (u32::from(x >> 1), u32::from(y >> 1));
        let square = half_x * half_x + half_y * half_y;
        if square <= self.inner_square {
            return (0, 0);
        }
        let (lifted, pairs) = normalised(square);
        let factor = self.factor(reciprocal_root(lifted) >> (self.pairs - pairs));
        (component(x, factor), component(y, factor))
    }
}

/// A magnitude times a factor with 15 fraction bits, at most 32767.
pub(super) fn component(magnitude: u16, factor: u16) -> u16 {
    ((u32::from(magnitude) * u32::from(factor)) >> 15).min(FULL_OUTPUT.into()) as u16
}

#[cfg(test)]
mod tests {
    use super::*;

    fn zones() -> impl Iterator<Item = (u16, u16)> {
        [0u16, 1, 2, 3, 200, 655, 1024, 1639, 3001, 4915, 8191]
            .into_iter()
            .flat_map(|d| [SMALLEST_TRAVEL + d, 28000, 31001, 32766, 32767].map(|r| (d, r)))
            .filter(|(d, r)| r - d >= SMALLEST_TRAVEL)
    }

    #[test]
    fn output_is_zero_within_and_full_from_the_outer_radius_on_each_axis() {
        for (inner, outer) in zones() {
            let zone = Radial::new(inner, outer).expect("room");
            for m in 0..=inner {
                assert_eq!(zone.rescaled(m, 0), (0, 0), "{inner} {outer} {m}");
            }
            for m in (outer..=u16::MAX).step_by(17) {
                assert_eq!(zone.rescaled(0, m), (0, FULL_OUTPUT), "{inner} {outer} {m}");
            }
        }
    }

    #[test]
    fn output_never_falls_when_a_magnitude_rises() {
        for (inner, outer) in zones() {
            let zone = Radial::new(inner, outer).expect("room");
            for other in [0u16, 77, 1500, 20_000, 65535] {
                let mut last = (0, 0);
                for m in 0..=u16::MAX {
                    let out = zone.rescaled(m, other);
                    assert!(out.0 >= last.0 && out.1 >= last.1, "{inner} {outer} {m} {other}");
                    last = out;
                }
            }
        }
    }

    #[test]
    fn it_follows_the_exact_rescale() {
        for (inner, outer) in zones().filter(|z| z.0 <= 4915) {
            let zone = Radial::new(inner, outer).expect("room");
            let mut worst: f64 = 0.0;
            for x in (0..=36_000u16).step_by(211) {
                for y in (0..=36_000u16).step_by(307) {
                    let r = f64::from(x).hypot(f64::from(y));
                    let k = 32767.0 / f64::from(outer - inner);
                    let exact = |m: u16| {
                        (f64::from(m) * k * (1.0 - f64::from(inner) / r)).clamp(0.0, 32767.0)
                    };
                    let out = zone.rescaled(x, y);
                    if r > f64::from(inner) {
                        worst = worst.max((f64::from(out.0) - exact(x)).abs());
                        worst = worst.max((f64::from(out.1) - exact(y)).abs());
                    }
                }
            }
            assert!(worst <= 7.0, "inner {inner}, outer {outer}: {worst}");
        }
    }

    #[test]
    fn a_zone_that_eats_half_the_travel_is_refused() {
        assert!(Radial::new(16128, 32767).is_err());
        assert!(Radial::new(30000, 20000).is_err());
        assert!(Radial::new(16127, 32767).is_ok());
    }
}
