//! How far normally scattered places lie from a point: share beyond a radius, radius of a share.
//!
//! One axis is a line, two equal ones give Rayleigh's law, unequal ones Hoyt's, a mean off the point
//! Rice's; several laws together are a mixture with weights.
use super::distribution::{normal_cdf, normal_quantile};
use super::quadrature::{integrate, root};

/// A normal law in its own axes; no correlation is left between them.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PlaneLaw {
    /// Share of all places that follow this law.
    pub weight: f64,
    /// Mean, from the point that distances are taken from.
    pub mean: [f64; 2],
    /// Standard deviations; the first is the larger one, the second may be 0.
    pub sd: [f64; 2],
}

impl PlaneLaw {
    /// Share of this law that lies farther than `radius` from the point.
    ///
    /// Formula: P(|x| > R) + ∫ f(x)·P(|y| > √(R² − x²)) dx over |x| < R, with x = R·sin t.
    /// By hand, both σ = 1 about the point: exp(−R²/2). Absolute error below 1e-9 for σ ratios to 100.
    pub fn beyond(&self, radius: f64) -> f64 {
        let [m, n] = self.mean;
        let [s, t] = self.sd;
        if radius < 0.0 || s <= 0.0 {
            return f64::from(u8::from(radius < m.hypot(n)));
        }
        let outside = |mean: f64, sd: f64, half: f64| {
            if sd <= 0.0 {
                return f64::from(u8::from(mean.abs() > half));
            }
            normal_cdf((mean - half) / sd) + normal_cdf((-mean - half) / sd)
        };
        if t <= 0.0 {
            let half = (radius * radius - n * n).max(0.0).sqrt();
            return if n.abs() > radius { 1.0 } else { outside(m, s, half) };
        }
        // Beyond nine standard deviations nothing is left to add.
        let edge = |x: f64| (x / radius).clamp(-1.0, 1.0).asin();
        let (low, high) = (edge(m - 9.0 * s), edge(m + 9.0 * s));
        let within = integrate(low, high, 6, |angle| {
            let (sin, cos) = angle.sin_cos();
            let z = (radius * sin - m) / s;
            let density = (-0.5 * z * z).exp() / (s * std::f64::consts::TAU.sqrt());
            density * outside(n, t, radius * cos) * radius * cos
        });
        outside(m, s, radius) + within
    }
}

/// Radius that holds the share `coverage` of a mixture of laws; 0 without any.
///
/// By hand, both σ = 1 about the point: √(−2 ln(1 − coverage)), 3.035 for 99 %. Cost: some ten calls of
/// [`PlaneLaw::beyond`] a law.
/// Source: laws of Rayleigh 1880, Rice 1944 and Hoyt 1947, here by numerical integration.
pub fn radius(laws: &[PlaneLaw], coverage: f64) -> f64 {
    let far = |sigmas: f64| {
        let reach = |l: &PlaneLaw| l.mean[0].hypot(l.mean[1]) + sigmas * l.sd[0].hypot(l.sd[1]);
        laws.iter().map(reach).fold(0.0, f64::max)
    };
    if far(1.0) <= 0.0 || laws.iter().all(|l| l.sd[0] <= 0.0) {
        return far(0.0);
    }
    let weights: f64 = laws.iter().map(|l| l.weight).sum();
    let missed = |radius: f64| {
        laws.iter().map(|l| l.weight * l.beyond(radius)).sum::<f64>() / weights - (1.0 - coverage)
    };
    root(0.0, far(1.0 + normal_quantile(0.5 + 0.5 * coverage)), missed)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn law(mean: [f64; 2], sd: [f64; 2]) -> PlaneLaw {
        PlaneLaw { weight: 1.0, mean, sd }
    }

    #[test]
    fn round_and_flat_laws_have_closed_forms() {
        for coverage in [0.5, 0.9, 0.99, 0.999] {
            let round = radius(&[law([0.0; 2], [2.0, 2.0])], coverage);
            let rayleigh = 2.0 * (-2.0 * (1.0f64 - coverage).ln()).sqrt();
            assert!((round / rayleigh - 1.0).abs() < 1e-9, "{round} {rayleigh}");
            let flat = radius(&[law([0.0; 2], [3.0, 0.0])], coverage);
            assert!((flat - 3.0 * normal_quantile(0.5 + 0.5 * coverage)).abs() < 1e-9);
            let thin = radius(&[law([0.0; 2], [3.0, 0.01])], coverage);
            assert!((thin / flat - 1.0).abs() < 1e-4, "{thin} {flat}");
        }
        assert_eq!(radius(&[law([3.0, 4.0], [0.0; 2])], 0.99), 5.0);
        assert_eq!(radius(&[], 0.99), 0.0);
    }

    #[test]
    fn far_from_the_point_the_law_is_that_of_one_axis() {
        // Rice's law far out: mean √(a² + σ²), nearly, and the normal quantile of one side.
        let far = radius(&[law([100.0, 0.0], [1.0, 1.0])], 0.99);
        assert!((far - (100.005 + normal_quantile(0.99))).abs() < 1e-3, "{far}");
        // Turned into the other axis it is the same.
        let turned = radius(&[law([0.0, 100.0], [1.0, 1.0])], 0.99);
        assert!((far - turned).abs() < 1e-6, "{far} {turned}");
    }

    #[test]
    fn a_mixture_holds_its_share_together() {
        let laws = [law([5.0, 0.0], [2.0, 1.0]), law([0.0, -3.0], [1.5, 0.5])];
        let r = radius(&laws, 0.95);
        let outside = 0.5 * (laws[0].beyond(r) + laws[1].beyond(r));
        assert!((outside - 0.05).abs() < 1e-9, "{outside}");
    }
}
