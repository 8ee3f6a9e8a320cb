//! Roundness by the four reference circles of ISO 12181 and the peak-to-valley deviation RONt.
//!
//! A profile is a set of points round a centre, such as the reach of a stick by direction. All
//! results are in the unit of the points, which must be finite. Names and definitions (least
//! squares, minimum zone, minimum circumscribed, maximum inscribed) are those of ISO 12181-1:2011,
//! quoted from memory.
mod enclosing;
mod zone;

pub use enclosing::enclosing_circle;
pub use zone::{Zone, minimum_zone};

use super::fit::circle::{Circle, geometric};
use super::{Measured, Shortage};

/// A profile against a reference circle.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Roundness {
    /// The reference circle.
    pub circle: Circle,
    /// Largest departure outwards, RONp; negative if every point lies inside.
    pub peak: f64,
    /// Largest departure inwards, RONv, as a positive depth.
    pub valley: f64,
}

impl Roundness {
    /// A profile against any circle. Cost: one pass.
    pub fn against(points: &[[f64; 2]], circle: Circle) -> Roundness {
        let (mut low, mut high) = (f64::INFINITY, f64::NEG_INFINITY);
        for point in points {
            let e = circle.departure(*point);
            low = low.min(e);
            high = high.max(e);
        }
        Roundness { circle, peak: high, valley: -low }
    }

    /// Peak-to-valley roundness deviation RONt = RONp + RONv.
    pub fn ront(self) -> f64 {
        self.peak + self.valley
    }
}

/// Roundness about the least-squares circle (LSCI), the default of ISO 12181.
///
/// A [`Shortage`] as for [`geometric`]. Cost: that of the fit and one pass.
pub fn least_squares(points: &[[f64; 2]]) -> Measured<Roundness> {
    Ok(Roundness::against(points, geometric(points)?.circle))
}

/// Roundness about the minimum circumscribed circle (MCCI): the smallest circle round the profile.
///
/// A [`Shortage`] below three points. Cost: see [`enclosing_circle`].
pub fn minimum_circumscribed(points: &[[f64; 2]]) -> Measured<Roundness> {
    let circle = enclosing_circle(points).filter(|_| points.len() >= 3);
    Ok(Roundness::against(points, circle.ok_or_else(|| too_few(points.len()))?))
}

/// Roundness about the maximum inscribed circle (MICI): the largest empty circle that three points
/// of the profile surround. Where several are equally large, one of them.
///
/// A [`Shortage`] if no three points surround an empty circle. Cost: n² clips of a small polygon,
/// 1 ms for 72 points. Method: vertices of the nearest-point cells (Voronoi).
pub fn maximum_inscribed(points: &[[f64; 2]]) -> Measured<Roundness> {
    let circle = zone::largest_empty_circle(points).ok_or_else(|| too_few(points.len()))?;
    Ok(Roundness::against(points, circle))
}

/// Points of a profile given as radii at evenly spaced directions: radius k at 360°·k/n,
/// counter-clockwise from +x. Radii that are not finite are left out.
pub fn points_of_profile(radii: &[f64]) -> Vec<[f64; 2]> {
    let step = std::f64::consts::TAU / radii.len().max(1) as f64;
    let point = |(k, r): (usize, &f64)| {
        let (sin, cos) = (step * k as f64).sin_cos();
        [r * cos, r * sin]
    };
    radii.iter().enumerate().filter(|(_, r)| r.is_finite()).map(point).collect()
}

fn too_few(have: usize) -> Shortage {
    Shortage {
        what: "points round the centre".to_owned(),
        have,
        need: 4.max(have + 1),
        advice: "turn the stick once round its gate".to_owned(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// r = 100 + 2 cos 3θ: every reference circle is known on paper.
    fn three_lobes(n: usize) -> Vec<[f64; 2]> {
        let radii: Vec<f64> = (0..n)
            .map(|k| 100.0 + 2.0 * (3.0 * std::f64::consts::TAU * k as f64 / n as f64).cos())
            .collect();
        points_of_profile(&radii)
    }

    #[test]
    fn three_lobes_have_known_circles() {
        let points = three_lobes(72);
        let near = |got: f64, want: f64| assert!((got - want).abs() < 1e-7, "{got} {want}");
        let ls = least_squares(&points).unwrap();
        near(ls.circle.r, 100.0);
        near(ls.ront(), 4.0);
        let outer = minimum_circumscribed(&points).unwrap();
        near(outer.circle.r, 102.0);
        near(outer.peak, 0.0);
        let inner = maximum_inscribed(&points).unwrap();
        near(inner.circle.r, 98.0);
        near(inner.valley, 0.0);
        let zone = minimum_zone(&points).unwrap();
        near(zone.width(), 4.0);
    }

    #[test]
    fn moving_the_profile_moves_nothing_else() {
        let mut points = three_lobes(72);
        points[10][0] += 3.0;
        let before = minimum_zone(&points).unwrap();
        for p in &mut points {
            *p = [p[0] * 4.0 + 2048.0, p[1] * 4.0 - 300.0];
        }
        let after = minimum_zone(&points).unwrap();
        assert!((after.width() / before.width() - 4.0).abs() < 1e-9);
        assert!((after.x - (4.0 * before.x + 2048.0)).abs() < 1e-6);
    }

    #[test]
    fn minimum_zone_is_never_wider_than_any_other() {
        for seed in 0..20_u32 {
            let radii: Vec<f64> = (0..72_u32)
                .map(|k| 400.0 + f64::from((k * k * 31 + seed * 977 * k + seed) % 101) * 0.1)
                .collect();
            let points = points_of_profile(&radii);
            let zone = minimum_zone(&points).unwrap().width();
            for other in [
                least_squares(&points).unwrap(),
                minimum_circumscribed(&points).unwrap(),
                maximum_inscribed(&points).unwrap(),
            ] {
                assert!(zone <= other.ront() + 1e-9, "{zone} {}", other.ront());
            }
        }
    }

    #[test]
    fn lines_and_spots_are_refused() {
        assert!(minimum_zone(&[[0.0, 0.0], [1.0, 0.0], [2.0, 0.0], [3.0, 0.0]]).is_err());
        assert!(maximum_inscribed(&[[1.0, 1.0]; 5]).is_err());
        assert!(minimum_circumscribed(&[[0.0, 0.0], [1.0, 0.0]]).is_err());
        assert!(minimum_zone(&[]).is_err());
    }
}
