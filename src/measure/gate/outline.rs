//! Outlines that gates have, as radius by direction, circumscribed circle 1.
use std::f64::consts::{PI, TAU};
use std::sync::LazyLock;

use super::profile::SECTORS;

/// Places looked at across a sector.
const ACROSS: usize = 11;

/// Of those, from the nearest up, the one that a high percentile of some eight to thirty samples
/// shows on average.
const SHOWN: usize = 9;

/// An outline to compare a profile with.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Outline {
    /// Regular polygon with a corner at an angle.
    Polygon {
        /// Number of corners.
        sides: u32,
        /// Direction of one corner, radians.
        corner_rad: f64,
    },
    /// A circle cut off by each axis at a share of its radius.
    AxisClip {
        /// Share of the radius at which the axes stop.
        level: f64,
    },
}

impl Outline {
    /// Radius in a direction.
    pub(super) fn radius(self, angle_rad: f64) -> f64 {
        match self {
            Outline::Polygon { sides, corner_rad } => {
                let side = TAU / f64::from(sides);
                let off = (angle_rad - corner_rad).rem_euclid(side) - 0.5 * side;
                (PI / f64::from(sides)).cos() / off.cos()
            }
            Outline::AxisClip { level } => {
                let (sin, cos) = angle_rad.sin_cos();
                (level / sin.abs().max(cos.abs())).min(1.0)
            }
        }
    }

    /// Reach by sector as a profile shows it: near the farthest place of each sector.
    pub(super) fn profile(self) -> [f64; SECTORS] {
        let step = TAU / SECTORS as f64;
        std::array::from_fn(|k| {
            let mut radii: [f64; ACROSS] = std::array::from_fn(|i| {
                let off = (i as f64 + 0.5) / ACROSS as f64 - 0.5;
                self.radius((k as f64 + off) * step)
            });
            radii.sort_unstable_by(f64::total_cmp);
            radii[SHOWN]
        })
    }

    /// All that are tried: polygons of 4, 6, 8 and 12 corners in steps of 1°, clips in steps of 1 %.
    fn candidates() -> impl Iterator<Item = Outline> {
        let polygons = [4u32, 6, 8, 12].into_iter().flat_map(|sides| {
            (0..360 / sides)
                .map(move |deg| Outline::Polygon { sides, corner_rad: f64::from(deg).to_radians() })
        });
        let clips = (75..99).map(|p| Outline::AxisClip { level: f64::from(p) / 100.0 });
        polygons.chain(clips)
    }

    /// The same turned by some radians; a clip stays with its axes.
    pub(super) fn turned(self, by_rad: f64) -> Outline {
        match self {
            Outline::Polygon { sides, corner_rad } => {
                Outline::Polygon { sides, corner_rad: corner_rad + by_rad }
            }
            clip => clip,
        }
    }
}

/// Every outline that is tried, with its profile.
pub(super) static CANDIDATES: LazyLock<Vec<(Outline, [f64; SECTORS])>> =
    LazyLock::new(|| Outline::candidates().map(|o| (o, o.profile())).collect());

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn inscribed_over_circumscribed_radii() {
        for (sides, ratio) in [(4, 0.5f64.sqrt()), (8, 0.923_879_532_5), (12, 0.965_925_826_3)] {
            let polygon = Outline::Polygon { sides, corner_rad: 0.3 };
            assert!((polygon.radius(0.3) - 1.0).abs() < 1e-12);
            assert!((polygon.radius(0.3 + PI / f64::from(sides)) - ratio).abs() < 1e-9);
        }
        let clip = Outline::AxisClip { level: 0.9 };
        assert_eq!([clip.radius(0.0), clip.radius(PI / 4.0)], [0.9, 1.0]);
    }
}
