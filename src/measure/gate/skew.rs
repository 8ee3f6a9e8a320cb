//! Orthogonality of the two sensing axes, apart from their gains.
use super::profile::{Profile, SECTORS, TurnProfile, each_turn};
use super::uncovered;
use crate::measure::fit::dense::Normal;
use crate::measure::robust::{SIGMA_PER_MAD, mad};
use crate::measure::{Estimate, Measured};

/// Departure of the axes from 90° seen in a profile, degrees; `None` where no ellipse fits.
///
/// `radii[k]` is the reach at 5k°, NaN where unknown, in any unit. The ellipse
/// A·x² + B·xy + C·y² + D·x + E·y = 1 is fitted with equal weight a direction, sectors that depart
/// from it by more than four scaled MADs left out; asin(−B/(2√(AC))). On a round gate this is
/// asin of the correlation of x and y over the ring, and it does not depend on their gains.
/// Positive: a push toward +x raises y too (the axes stand less than 90° apart).
/// Needs ten sectors. Exact on an ellipse. Source: conic through a skewed circle,
/// x² + y² − 2xy·sin ε = cos² ε.
pub fn orthogonality_of_profile(radii: &[f64; SECTORS]) -> Option<f64> {
    let points: Vec<[f64; 2]> = crate::measure::roundness::points_of_profile(radii);
    if points.len() < 10 {
        return None;
    }
    let mean = points.iter().map(|p| p[0].hypot(p[1])).sum::<f64>() / points.len() as f64;
    let rows: Vec<[f64; 5]> = points
        .iter()
        .map(|p| [p[0] / mean, p[1] / mean])
        .map(|[x, y]| [x * x, x * y, y * y, x, y])
        .collect();
    let mut used = vec![true; rows.len()];
    let mut conic = vec![0.0; 5];
    for _ in 0..4 {
        let mut normal = Normal::new(5);
        rows.iter().zip(&used).filter(|(_, u)| **u).for_each(|(row, _)| normal.add(row, 1.0));
        conic = normal.solve();
        let off: Vec<f64> = rows
            .iter()
            .map(|r| r.iter().zip(&conic).map(|(a, c)| a * c).sum::<f64>() - 1.0)
            .collect();
        let limit = 4.0 * SIGMA_PER_MAD * mad(&off) + 1e-9;
        used = off.iter().map(|o| o.abs() <= limit).collect();
    }
    let (a, b, c) = (conic[0], conic[1], conic[2]);
    let sin = -0.5 * b / (a * c).sqrt();
    (a > 0.0 && c > 0.0 && sin.abs() < 1.0).then(|| sin.asin().to_degrees())
}

/// Orthogonality from the turns: value of the mean profile, interval from each turn by itself.
///
/// With one turn the interval follows from the departures of its sectors: 2·s·√(2/72) is the
/// standard error of sin ε. `departure` is that of an irregular gate from an ellipse, rms share: its own
/// form may have a second undulation of that size as well, which looks like 2·`departure` of sin ε and is the
/// same in every turn. A side of 120° or a lone flat one is such a form.
pub(super) fn orthogonality_deg(
    profile: &Profile,
    turns: &[TurnProfile],
    departure: f64,
) -> Measured<Estimate> {
    let refused = || uncovered(profile.samples.iter().filter(|&&n| n >= 2).count());
    let value = orthogonality_of_profile(&profile.reach).ok_or_else(refused)?;
    let each = each_turn(turns, orthogonality_of_profile).ok_or_else(refused)?;
    let half = if each.n >= 2 {
        0.5 * (each.high - each.low)
    } else {
        let rough: Vec<f64> = (0..SECTORS)
            .map(|k| profile.reach[k] - profile.reach[(k + 1) % SECTORS])
            .filter(|d| d.is_finite())
            .collect();
        let sigma = SIGMA_PER_MAD * mad(&rough) / std::f64::consts::SQRT_2;
        1.96 * (2.0 * sigma * (2.0 / SECTORS as f64).sqrt()).to_degrees()
    };
    let half = half + (2.0 * departure).min(1.0).asin().to_degrees();
    Ok(Estimate { value, low: value - half, high: value + half, n: each.n })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Radii of x = a·cos φ, y = b·sin(φ + ε) at the 72 directions, by bisection in φ.
    fn skewed(a: f64, b: f64, eps_deg: f64) -> [f64; SECTORS] {
        let eps = eps_deg.to_radians();
        std::array::from_fn(|k| {
            let (sin, cos) = (k as f64 * 5.0f64).to_radians().sin_cos();
            // (x/a)² + (y/b)² − 2(x/a)(y/b) sin ε = cos² ε along (cos, sin).
            let (u, v) = (cos / a, sin / b);
            eps.cos() / (u * u + v * v - 2.0 * u * v * eps.sin()).sqrt()
        })
    }

    #[test]
    fn skew_is_exact_whatever_the_gains() {
        for eps in [-10.0, -2.0, 0.0, 0.5, 6.0] {
            for (a, b) in [(1.0, 1.0), (400.0, 330.0)] {
                let found = orthogonality_of_profile(&skewed(a, b, eps)).expect("an ellipse");
                assert!((found - eps).abs() < 1e-9, "{eps} {found}");
            }
        }
    }

    #[test]
    fn a_missing_corner_does_not_bend_the_axes() {
        let mut radii = skewed(1.0, 1.0, 4.0);
        radii[7..12].iter_mut().for_each(|r| *r *= 0.82);
        let found = orthogonality_of_profile(&radii).expect("an ellipse");
        assert!((found - 4.0).abs() < 0.1, "{found}");
    }

    #[test]
    fn too_few_sectors_give_nothing() {
        assert_eq!(orthogonality_of_profile(&[f64::NAN; SECTORS]), None);
    }
}
