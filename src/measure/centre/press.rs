//! Shift of a stick's reading while its own switch is pressed.
use super::location::location;
use crate::measure::{Estimate, Measured, Shortage};

/// Shift of the reading during a press.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PressShift {
    /// Shift of x, counts. n = presses.
    pub x: Estimate,
    /// Shift of y, counts.
    pub y: Estimate,
    /// Longest shift of a single press, counts.
    pub worst: f64,
}

/// Mean readings before and during each press of the stick's switch, in pairs, to a shift.
///
/// The shift of an axis is the Hodges–Lehmann estimate of the differences, with its interval (see
/// [`location`]). Needs four presses; the shorter slice decides.
pub fn press_shift(before: &[[f64; 2]], during: &[[f64; 2]]) -> Measured<PressShift> {
    let moved: Vec<[f64; 2]> =
        before.iter().zip(during).map(|(b, d)| [d[0] - b[0], d[1] - b[1]]).collect();
    let axis = |i: usize| location(&moved.iter().map(|m| m[i]).collect::<Vec<_>>());
    let (Some(x), Some(y)) = (axis(0), axis(1)) else {
        return Err(Shortage {
            what: "presses of the stick at rest".to_owned(),
            have: moved.len(),
            need: 4,
            advice: "press the stick straight down five times without pushing it aside".to_owned(),
        });
    };
    let worst = moved.iter().map(|m| m[0].hypot(m[1])).fold(0.0, f64::max);
    Ok(PressShift { x, y, worst })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_steady_shift_is_found() {
        let before = [[500.0, 510.0]; 5];
        let during = [35.0, 34.0, 36.0, 35.0, 35.0].map(|d| [500.0 + d, 508.0]);
        let shift = press_shift(&before, &during).expect("five");
        assert_eq!((shift.x.value, shift.y.value), (35.0, -2.0));
        assert!((shift.worst - 36.0f64.hypot(2.0)).abs() < 1e-12);
        assert_eq!(press_shift(&before[..3], &during).expect_err("three").have, 3);
    }
}
