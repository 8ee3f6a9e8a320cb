//! From a wish to the points of a response curve.
use super::FULL_OUTPUT;
use crate::rig::AT_HALF;

/// Output at half of the push lies outside 0.24…0.76: the slope would leave 0.3…3 somewhere.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
#[error("output at half of the push is {0}; it must be 0.24 to 0.76, 0.5 is straight")]
pub struct AtHalf(pub f64);

/// Points of the curve a·u + (1 − a)·u³ that gives `at_half` of full output at half of the push,
/// or of its mirror image when that is above a half.
///
/// a = (8·at_half − 1)/3, so that slopes stay within 0.3…3 (common practice). `points` is 33 or
/// 65. Errors: [`AtHalf`], also for not-a-number.
pub fn curve_points(at_half: f64, points: usize) -> Result<Vec<u16>, AtHalf> {
    if !AT_HALF.contains(&at_half) {
        return Err(AtHalf(at_half));
    }
    let a = (8.0 * at_half.min(1.0 - at_half) - 1.0) / 3.0;
    let bent = |u: f64| a * u + (1.0 - a) * u.powi(3);
    let cells = points.saturating_sub(1).max(1) as f64;
    let point = |i: usize| {
        let u = i as f64 / cells;
        let share = if at_half > 0.5 { 1.0 - bent(1.0 - u) } else { bent(u) };
        (share * f64::from(FULL_OUTPUT)).round() as u16
    };
    Ok((0..points).map(point).collect())
}
