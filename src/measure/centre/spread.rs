//! How far rests scatter about their centre: covariance, principal axes, rms distance, heavy tails.
use super::{Rested, too_few};
use crate::measure::distribution::chi2_quantile;
use crate::measure::{Estimate, Measured};

/// Covariance of a set of points, counts².
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Covariance {
    /// Variance of x.
    pub xx: f64,
    /// Covariance of x and y.
    pub xy: f64,
    /// Variance of y.
    pub yy: f64,
}

/// A covariance in its own axes.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PrincipalAxes {
    /// Larger eigenvalue, counts².
    pub large: f64,
    /// Smaller eigenvalue, counts².
    pub small: f64,
    /// Direction of the larger one, degrees in (−90, 90], counter-clockwise from +x.
    pub angle_deg: f64,
}

impl Covariance {
    /// Eigenvalues and direction of a symmetric 2×2 matrix, in closed form.
    pub fn principal(&self) -> PrincipalAxes {
        let (middle, half) = (0.5 * (self.xx + self.yy), 0.5 * (self.xx - self.yy));
        let reach = half.hypot(self.xy);
        PrincipalAxes {
            large: middle + reach,
            small: (middle - reach).max(0.0),
            angle_deg: 0.5 * self.xy.atan2(half).to_degrees(),
        }
    }
}

/// Sample covariance (denominator n − 1) of points about their own mean; `None` below two points.
pub fn covariance(points: &[[f64; 2]]) -> Option<Covariance> {
    let n = points.len() as f64;
    if points.len() < 2 {
        return None;
    }
    let mean = [0, 1].map(|i| points.iter().map(|p| p[i]).sum::<f64>() / n);
    let sum = |i: usize, j: usize| {
        points.iter().map(|p| (p[i] - mean[i]) * (p[j] - mean[j])).sum::<f64>() / (n - 1.0)
    };
    Some(Covariance { xx: sum(0, 0), xy: sum(0, 1), yy: sum(1, 1) })
}

/// RMS distance of the rests from their centre, counts. n = releases.
///
/// √(s_x² + s_y²) with s² over n − 1. The interval is χ² with (n − 1)(λ₁ + λ₂)²/(λ₁² + λ₂²) degrees
/// of freedom, λ being the eigenvalues of the covariance (Satterthwaite 1946); it takes the rests
/// for normal. Needs four releases.
pub fn scatter(rests: &[Rested]) -> Measured<Estimate> {
    let n = rests.len();
    let points: Vec<[f64; 2]> = rests.iter().map(|r| r.at).collect();
    let spread = covariance(&points).filter(|_| n >= 4).ok_or_else(|| too_few(n, 4))?;
    let axes = spread.principal();
    let total = spread.xx + spread.yy;
    let value = total.sqrt();
    let squares = axes.large.powi(2) + axes.small.powi(2);
    if squares <= 0.0 {
        return Ok(Estimate { value, low: 0.0, high: f64::INFINITY, n });
    }
    let nu = (n - 1) as f64 * total.powi(2) / squares;
    let limit = |p: f64| value * (nu / chi2_quantile(p, nu)).sqrt();
    Ok(Estimate { value, low: limit(0.975), high: limit(0.025), n })
}

/// Largest distance from `centre` over the rms distance, when that exceeds 2.5.
///
/// Such a set is not normal: a sticky return or a heavy tail, to be answered with eight more
/// releases first. `None` for ordinary sets, without scatter and below four releases. A round
/// normal set of 16 exceeds the limit in about 2 % of cases.
pub fn heavy_tail(rests: &[Rested], centre: [f64; 2]) -> Option<f64> {
    let squares: Vec<f64> = rests.iter().map(|r| r.distance(centre).powi(2)).collect();
    let most = squares.iter().copied().fold(0.0, f64::max);
    let mean = squares.iter().sum::<f64>() / squares.len().max(1) as f64;
    let ratio = (most / mean).sqrt();
    (squares.len() >= 4 && ratio > 2.5).then_some(ratio)
}

#[cfg(test)]
mod tests {
    use super::super::draws::releases;
    use super::*;

    #[test]
    fn principal_axes_of_a_diagonal_line() {
        let spread = covariance(&[[0.0, 0.0], [1.0, 1.0], [2.0, 2.0]]).expect("three");
        assert_eq!(spread, Covariance { xx: 1.0, xy: 1.0, yy: 1.0 });
        let axes = spread.principal();
        assert_eq!((axes.large, axes.small), (2.0, 0.0));
        assert!((axes.angle_deg - 45.0).abs() < 1e-12);
        assert_eq!(covariance(&[[1.0, 2.0]]), None);
    }

    #[test]
    fn scatter_of_four_corners() {
        let rests = [[1.0, 1.0], [-1.0, 1.0], [-1.0, -1.0], [1.0, -1.0]]
            .map(|at| Rested { at, from_deg: 0.0 });
        // Each axis: 4/3.
        assert!((scatter(&rests).expect("four").value - (8.0f64 / 3.0).sqrt()).abs() < 1e-12);
        assert_eq!(scatter(&rests[..3]).expect_err("three").need, 4);
    }

    #[test]
    fn the_interval_of_scatter_holds_the_truth() {
        let truth = 2.5 * 2.0f64.sqrt();
        let held = (0..1000).filter(|&seed| {
            let s = scatter(&releases(16, 2.5, 0.0, seed)).expect("sixteen");
            s.low <= truth && s.high >= truth
        });
        let share = held.count() as f64 / 1000.0;
        assert!((0.93..=0.97).contains(&share), "{share}");
    }

    #[test]
    fn heavy_tails_are_flagged_and_round_sets_seldom() {
        let flagged = |pull_one: f64| {
            (0..1000)
                .filter(|&seed| {
                    let mut rests = releases(16, 2.5, 0.0, seed);
                    rests[0].at[0] += pull_one;
                    heavy_tail(&rests, [518.0, 503.0]).is_some()
                })
                .count()
        };
        assert!(flagged(0.0) < 40, "{}", flagged(0.0));
        assert!(flagged(30.0) > 950, "{}", flagged(30.0));
    }
}
