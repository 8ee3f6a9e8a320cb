//! The 2×2 correction that the data support: offered, never applied by itself.
use crate::survey::StickFigures;
use crate::trim::{Matrix2, MatrixOffer};

/// Angles below this are left alone, degrees (common practice).
const LEAST_DEG: f64 = 3.0;

/// Angles above this want a hand on the hardware, degrees; the correction's integers hold to here.
const MOST_DEG: f64 = 15.0;

/// A correction for a stick whose skew or rotation surely exceeds 3°, up to 15° each.
///
/// Skew alone is known from a roll on a round gate, not which axis leans: both are turned by half.
/// Rotation is known only from corners or prompted pushes, and is left alone without them.
pub(super) fn offer(figures: &StickFigures) -> Option<MatrixOffer> {
    let sure = |figure: &crate::measure::Measured| {
        let reading = figure.as_ref().ok()?;
        let beyond = reading.low > LEAST_DEG || reading.high < -LEAST_DEG;
        (beyond && reading.value.abs() <= MOST_DEG).then_some(reading.value)
    };
    let skew_deg = sure(&figures.orthogonality_deg);
    let rotation_deg = sure(&figures.rotation_deg);
    if skew_deg.is_none() && rotation_deg.is_none() {
        return None;
    }
    let (skew_deg, rotation_deg) = (skew_deg.unwrap_or(0.0), rotation_deg.unwrap_or(0.0));
    let matrix = matrix(skew_deg, rotation_deg);
    Some(MatrixOffer { half: figures.half, skew_deg, rotation_deg, matrix })
}

/// R(−rotation) · S⁻¹ with S = \[\[cos h, sin h\], \[sin h, cos h\]\], h = half the skew (the
/// symmetric form of two axes that stand 90° − skew apart); 14 fraction bits.
///
/// Degrees, each within ±15°: rows then sum to at most 1.43, so 32 signed bits hold the products.
fn matrix(skew_deg: f64, rotation_deg: f64) -> Matrix2 {
    let half = (0.5 * skew_deg).to_radians();
    let scale = 1.0 / (2.0 * half).cos();
    let (a, b) = (scale * half.cos(), -scale * half.sin());
    let (sin, cos) = rotation_deg.to_radians().sin_cos();
    let rows = [[cos * a + sin * b, cos * b + sin * a], [cos * b - sin * a, cos * a - sin * b]];
    Matrix2(rows.map(|row| row.map(|f| (f * 16384.0).round() as i16)))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn applied(m: Matrix2, p: [f64; 2]) -> [f64; 2] {
        m.0.map(|r| (f64::from(r[0]) * p[0] + f64::from(r[1]) * p[1]) / 16384.0)
    }

    #[test]
    fn a_skewed_and_turned_circle_becomes_round_and_straight() {
        for (skew, turn) in [(6.0f64, 0.0f64), (-15.0, 15.0), (0.0, -8.0), (15.0, 15.0)] {
            let m = matrix(skew, turn);
            for row in m.0 {
                assert!(row.iter().map(|f| i32::from(f.unsigned_abs())).sum::<i32>() < 32768);
            }
            let h = (skew / 2.0).to_radians();
            for deg in 0..72 {
                let t = (5.0 * f64::from(deg)).to_radians();
                // The push at t, seen by axes that lean and on a module turned by `turn`.
                let turned = t + turn.to_radians();
                let seen = [(turned - h).cos(), (turned + h).sin()];
                let out = applied(m, seen);
                assert!((out[0] - t.cos()).abs() < 2e-4 && (out[1] - t.sin()).abs() < 2e-4);
            }
        }
    }
}
