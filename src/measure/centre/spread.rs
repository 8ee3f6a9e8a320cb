//! How far rests scatter about their centre: covariance, principal axes, rms distance, heavy tails.
use super::{Rested, too_few};
use crate::measure::distribution::{chi2_quantile, f_quantile};
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

/// Largest distance from `centre` over the rms distance, when one normal set of as many rests in a hundred
/// shows no more.
///
/// Such a set is not normal: a sticky return or a heavy tail, to be answered with eight more releases first.
/// `None` for ordinary sets, without scatter and below four releases. The limit is √(n·b), b such that
/// n·P(B > b) = 1 %: the share B of one squared distance in the sum of n follows the beta law of
/// ν/2 and (n − 1)ν/2 with ν = 2/(1 + e²) (Satterthwaite 1946), e = (λ₁ − λ₂)/(λ₁ + λ₂). Round, by hand:
/// b = 1 − (0.01/n)^(1/(n − 1)), for 16 a ratio of 2.49; on a line 2.93.
/// Source: Fisher 1929 for the round law (largest of n exponentials over their sum).
pub fn heavy_tail(rests: &[Rested], centre: [f64; 2]) -> Option<f64> {
    let n = rests.len() as f64;
    if n < 4.0 {
        return None;
    }
    let sum = |i: usize, j: usize| {
        rests.iter().map(|r| (r.at[i] - centre[i]) * (r.at[j] - centre[j])).sum::<f64>() / n
    };
    let axes = Covariance { xx: sum(0, 0), xy: sum(0, 1), yy: sum(1, 1) }.principal();
    let total = axes.large + axes.small;
    let most = rests.iter().map(|r| r.distance(centre)).fold(0.0, f64::max);
    let ratio = most / total.sqrt();
    let nu = total * total / (axes.large.powi(2) + axes.small.powi(2));
    let f = f_quantile(1.0 - 0.01 / n, nu, (n - 1.0) * nu);
    let limit = (n * f / (f + n - 1.0)).sqrt();
    (total > 0.0 && ratio > limit).then_some(ratio)
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
    fn heavy_tails_are_flagged_and_normal_sets_seldom() {
        // By eight, sixteen or 48 releases, round or eight times as long as wide.
        for (n, seeds) in [(8, 1000), (16, 1000), (48, 400)] {
            for narrow in [1.0, 0.125] {
                let flagged = |pull_one: f64| {
                    let far = (0..seeds).filter(|&seed| {
                        let mut rests = releases(n, 2.5, 0.0, seed);
                        rests.iter_mut().for_each(|r| r.at[1] = 503.0 + narrow * (r.at[1] - 503.0));
                        rests[0].at[0] += pull_one;
                        heavy_tail(&rests, [518.0, 503.0]).is_some()
                    });
                    far.count() as f64 / seeds as f64
                };
                assert!(flagged(0.0) < 0.02, "{n} {narrow}: {}", flagged(0.0));
                let least = if n == 8 { 0.6 } else { 0.95 };
                assert!(flagged(40.0) > least, "{n} {narrow}: {}", flagged(40.0));
            }
        }
    }
}
