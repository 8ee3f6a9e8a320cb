//! A radial zone whose reach depends on the direction, or whose output follows a curve, or both.
//!
//! The reach is a factor looked up by the sine to the nearer axis, in eighths of the circle; the
//! curve is a gain looked up by the radius after the zone. Both only scale the pair: its direction
//! is kept.
use super::curve::{Curve, Gains};
use super::radial::{NoZone, Radial, SMALLEST_TRAVEL, component};
use super::reciprocal::{normalised, reciprocal_root};
use crate::trim::{FULL_OUTPUT, REACH_NODES};

/// Words of a reach table: five for each eighth of the circle, ends shared with the neighbours.
pub const REACH_WORDS: usize = 40;

/// √2 with 15 fraction bits.
pub const ROOT_TWO: u16 = 46341;

/// A magnitude and whether it lies below the centre.
type Side = (u16, bool);

/// The constants of a shaped zone, as the header carries them.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Shape {
    /// The zone; its slope is 1 (32768) when the reach depends on the direction.
    pub zone: Radial,
    /// 32767/(R − D) with 15 fraction bits by direction. Row = 1 when x is below its centre + 2
    /// when y is + 4 when y is the larger; in it, from the axis to the diagonal.
    pub reach: Option<[u16; REACH_WORDS]>,
    /// Gains of the curve.
    pub gains: Option<Gains>,
}

impl Shape {
    /// The zone with `radii` by direction instead of `outer`, and with a curve.
    ///
    /// Slopes are raised until the outer radius on each axis gives full output. Errors: [`NoZone`]
    /// for radii too near to `inner`, a table of another size, or a curve whose gain falls.
    pub fn new(
        inner: u16,
        outer: u16,
        radii: Option<&[u16]>,
        curve: Option<&Curve>,
    ) -> Result<Shape, NoZone> {
        let refuse = |outer| NoZone { inner, outer };
        let gains = match curve {
            Some(curve) => Some(curve.gains().ok_or(refuse(outer))?),
            None => None,
        };
        let Some(radii) = radii else {
            let first = Radial::new(inner, outer)?;
            return (first.slope..=u16::MAX)
                .map(|slope| Shape { zone: Radial::with_slope(inner, slope), reach: None, gains })
                .find(|s| s.rescaled((outer, false), (0, false)).0 == FULL_OUTPUT)
                .ok_or(refuse(outer));
        };
        if radii.len() != REACH_NODES {
            return Err(refuse(outer));
        }
        let zone = Radial::with_slope(inner, 32768);
        let mut slopes = [0u16; REACH_NODES];
        for (slope, &radius) in slopes.iter_mut().zip(radii) {
            let travel = radius.checked_sub(inner).filter(|t| *t >= SMALLEST_TRAVEL);
            let travel = u32::from(travel.ok_or(refuse(radius))?);
            let least = (u32::from(FULL_OUTPUT) << 15).div_ceil(travel);
            // The rounding of the reciprocal, a 4096th, and twice that through a curve's gain.
            let raised = least + (least >> if gains.is_some() { 10 } else { 12 });
            *slope = u16::try_from(raised).map_err(|_wide| refuse(radius))?;
        }
        let mut shape = Shape { zone, reach: Some(words(&slopes)), gains };
        for (node, &radius) in radii.iter().enumerate().step_by(REACH_NODES / 4) {
            while shape.on_axis(node, radius) < FULL_OUTPUT {
                slopes[node] = slopes[node].checked_add(1).ok_or(refuse(radius))?;
                shape.reach = Some(words(&slopes));
            }
        }
        Ok(shape)
    }

    /// Output at a radius on the axis of a node.
    fn on_axis(&self, node: usize, radius: u16) -> u16 {
        let below = node >= REACH_NODES / 2;
        if node.is_multiple_of(REACH_NODES / 2) {
            self.rescaled((radius, below), (0, false)).0
        } else {
            self.rescaled((0, false), (radius, below)).1
        }
    }

    /// Both magnitudes after the zone, each clamped to 32767; as [`Radial::rescaled`].
    ///
    /// Along an axis, and without a reach table also at any fixed other component, output never
    /// falls when a magnitude rises.
    pub fn rescaled(&self, x: Side, y: Side) -> (u16, u16) {
        let (half_x, half_y) = (x.0 >> 1, y.0 >> 1);
        let square = u32::from(half_x) * u32::from(half_x) + u32::from(half_y) * u32::from(half_y);
        if square <= self.zone.inner_square {
            return (0, 0);
        }
        let (lifted, pairs) = normalised(square);
        let root = reciprocal_root(lifted);
        let mut factor = self.zone.factor(root >> (self.zone.pairs - pairs));
        if let Some(reach) = &self.reach {
            let row = usize::from(x.1) + 2 * usize::from(y.1) + 4 * usize::from(half_x < half_y);
            let slope = slope(&reach[5 * row..5 * row + 5], half_x.min(half_y) << pairs, root);
            factor = ((u32::from(factor) * u32::from(slope)) >> 15) as u16;
        }
        if let (Some(gains), Some(lower)) = (&self.gains, pairs.checked_sub(1)) {
            // The radius on the same grid as the reciprocal root, so that it never falls.
            let top = (lifted >> 16) as u16 & 0xFFF8;
            let radius = ((u32::from(top) * u32::from(root)) >> 16) as u16 >> lower;
            let radius = (u32::from(radius) * u32::from(factor)) >> 14;
            if radius < FULL_OUTPUT.into() {
                factor = gains.bent(factor, radius as u16);
            }
        }
        (component(x.0, factor), component(y.0, factor))
    }
}

/// The slope at a direction: `small` = the smaller half magnitude, normalised like `root`.
fn slope(row: &[u16], small: u16, root: u16) -> u16 {
    let sine = (u32::from(small) * u32::from(root)) >> 16;
    let place = ((sine * u32::from(ROOT_TWO)) >> 14).min(65535);
    let cell = (place >> 14) as usize;
    let within = (place >> 6) & 255;
    let (here, next) = (row[cell], row[cell + 1]);
    let change = ((u32::from(here.abs_diff(next)) * within) >> 8) as u16;
    if next < here { here - change } else { here + change }
}

/// Nodes once round, laid out by eighths.
fn words(nodes: &[u16; REACH_NODES]) -> [u16; REACH_WORDS] {
    let mut words = [0; REACH_WORDS];
    for (at, word) in words.iter_mut().enumerate() {
        let (row, k) = (at / 5, at % 5);
        let node = match row {
            0 => k,
            1 => 16 - k,
            2 => 32 - k,
            3 => 16 + k,
            4 => 8 - k,
            5 => 8 + k,
            6 => 24 + k,
            _ => 24 - k,
        };
        *word = nodes[node % REACH_NODES];
    }
    words
}

/// Direction of a node, radians from x above its centre towards y above.
pub fn node_angle(node: usize) -> f64 {
    let (quarter, k) = (node / 8, node % 8);
    let sine = |k: usize| (k as f64 / 4.0 * std::f64::consts::FRAC_1_SQRT_2).asin();
    let within = if k <= 4 { sine(k) } else { std::f64::consts::FRAC_PI_2 - sine(8 - k) };
    std::f64::consts::FRAC_PI_2 * quarter as f64 + within
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::rig::Half;
    use crate::trim::{CurveOf, CurveTrim, curve_points};

    fn convex(at_half: f64) -> Curve {
        let points = curve_points(at_half, 33).expect("allowed");
        Curve::new(&CurveTrim { of: CurveOf::Stick(Half::Left), points }).expect("rises")
    }

    /// A gate of eight corners with one of them missing.
    fn gate() -> Vec<u16> {
        (0..REACH_NODES)
            .map(|n| 30_000 + 900 * (n % 8).min(8 - n % 8) as u16)
            .enumerate()
            .map(|(n, r)| if (3..=5).contains(&n) { r - 5000 } else { r })
            .collect()
    }

    #[test]
    fn every_node_is_full_at_its_own_radius_and_not_far_before() {
        let (radii, curve) = (gate(), convex(0.3));
        for (curve, slack) in [(None, 0.999), (Some(&curve), 0.996)] {
            let shape = Shape::new(1500, 30_000, Some(&radii), curve).expect("room");
            for (node, &radius) in radii.iter().enumerate() {
                let (sin, cos) = node_angle(node).sin_cos();
                let out = |share: f64| {
                    let side =
                        |v: f64| ((v.abs() * share * f64::from(radius)).round() as u16, v < 0.0);
                    let (x, y) = shape.rescaled(side(cos), side(sin));
                    f64::from(x).hypot(f64::from(y))
                };
                assert!(out(1.0) >= 32_750.0, "node {node}: {}", out(1.0));
                assert!(out(0.99) < 32_767.0 * slack, "node {node}: {}", out(0.99));
            }
            for node in [0, 8, 16, 24] {
                assert_eq!(shape.on_axis(node, radii[node]), FULL_OUTPUT);
            }
        }
    }

    #[test]
    fn a_curve_never_turns_a_component_back_and_keeps_the_ends() {
        for (inner, outer) in [(0u16, 32767u16), (1500, 31_000), (4915, 32_000), (8191, 28_000)] {
            for at_half in [0.25, 0.4, 0.5] {
                let curve = convex(at_half);
                let shape = Shape::new(inner, outer, None, Some(&curve)).expect("room");
                assert_eq!(shape.rescaled((inner, false), (0, false)), (0, 0));
                assert_eq!(shape.rescaled((0, false), (outer, true)), (0, FULL_OUTPUT));
                for other in [0u16, 300, 9000, 40_000] {
                    let mut last = (0, 0);
                    for m in (0..=65_535u16).step_by(3) {
                        let out = shape.rescaled((m, false), (other, false));
                        assert!(out.0 >= last.0, "{inner} {outer} {at_half} {m} {other}");
                        last = out;
                    }
                }
            }
        }
    }

    #[test]
    fn a_curve_follows_its_points_along_every_direction() {
        let curve = convex(0.35);
        let shape = Shape::new(1500, 31_000, None, Some(&curve)).expect("room");
        for deg in (0..360).step_by(7) {
            let (sin, cos) = f64::from(deg).to_radians().sin_cos();
            for share in [0.1, 0.3, 0.5, 0.8, 0.95] {
                let r = 1500.0 + share * 29_500.0;
                let side = |v: f64| ((v.abs() * r).round() as u16, v < 0.0);
                let (x, y) = shape.rescaled(side(cos), side(sin));
                let wanted = f64::from(curve.bent((share * 32767.0) as u16));
                let have = f64::from(x).hypot(f64::from(y));
                assert!((have - wanted).abs() < 60.0, "{deg} {share}: {have} for {wanted}");
            }
        }
    }

    #[test]
    fn what_does_not_fit_is_refused() {
        let mut radii = gate();
        assert!(Shape::new(1500, 30_000, Some(&radii[1..]), None).is_err());
        radii[9] = 17_000;
        assert!(Shape::new(1500, 30_000, Some(&radii), None).is_err());
        assert!(Shape::new(1500, 30_000, None, Some(&convex(0.6))).is_err());
    }
}
