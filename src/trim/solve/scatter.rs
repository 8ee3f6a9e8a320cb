//! How the rests of a stick or an axis scatter, and the radius that holds a share of those to come.
//!
//! Model: rest = centre + a·push + normal scatter. The slopes a (a stick stays out on the side that it
//! came from) are taken in where they are sure (F test, 1 in 1 000); they leave a ring of places, and
//! the scatter about it is all that is uncertain. The scatter's covariance has mean variance T and
//! ellipticity e = (λ₁ − λ₂)/(λ₁ + λ₂). Both axes are pooled where they do not surely differ:
//! e² is taken as e²·(1 − p)⁴, p = (1 − e²)^((ν − 1)/2) the chance that two equal axes look as unlike
//! (Mauchly 1940, exact for two). The radius that holds the share is that of the
//! mixture of normal laws round the ring (`measure::plane`), with all standard deviations times
//!
//! √(f·(1 + l/n)/χ²₀.₀₅(f)),  f = ν·Q²/(g₁² + g₂²),  gᵢ = λᵢ·∂Q/∂λᵢ
//!
//! Q(λ₁, λ₂) the square of the radius without ring, ν = n − 1 less one where a slope is in, l = 1, or 2
//! with slopes. On one axis this is Howe's two-sided factor (1969), for equal axes the χ² bound of
//! Rayleigh's radius with 2ν degrees of freedom; in between f is Satterthwaite's (1946) by the delta
//! method. Sources, from memory but for Howe's: Krishnamoorthy & Mathew, Statistical Tolerance Regions,
//! 2009, ch. 2; Eaton, Muirhead & Pickett 2006 for Rayleigh's law. The pooling weight is our own, chosen
//! by drawing sticks.
use crate::measure::centre::Covariance;
use crate::measure::distribution::{chi2_quantile, f_tail};
use crate::measure::plane::{PlaneLaw, radius};

/// Confidence of every promise, as the share that is given away.
const RISK: f64 = 0.05;

/// A slope is taken in when chance alone would show it less often than this.
const SURE: f64 = 0.001;

/// Rests told apart into their slopes on the push and what is left.
pub(super) struct Scatter {
    n: usize,
    /// Mean of the rests, in the axes of the scatter.
    offset: [f64; 2],
    /// Share and place of each direction's rests about that mean, in the same axes; one place at 0
    /// without slopes.
    ring: Vec<(f64, [f64; 2])>,
    /// Variances along these axes, pooled as far as they do not differ surely.
    large: f64,
    small: f64,
    /// Degrees of freedom of each axis.
    free: f64,
    /// Farthest rest: from the point without slopes, from its own place with them.
    farthest: f64,
}

/// Slope of one axis on the push, and what is left.
struct Slope {
    value: f64,
    sure: bool,
}

impl Scatter {
    /// From at least three rests about a point and the unit vectors of the pushes before them.
    pub(super) fn of(points: &[[f64; 2]], pushes: &[[f64; 2]]) -> Self {
        let (mean, push) = (middle(points), middle(pushes));
        let slopes = [0, 1].map(|i| slope(points, pushes, i, mean[i], push[i]));
        let any = slopes.iter().any(|s| s.sure);
        let lean = |u: [f64; 2]| {
            [0, 1].map(|i| if slopes[i].sure { slopes[i].value * (u[i] - push[i]) } else { 0.0 })
        };
        let left: Vec<[f64; 2]> = (points.iter().zip(pushes))
            .map(|(p, u)| [0, 1].map(|i| p[i] - mean[i] - lean(*u)[i]))
            .collect();
        let free = (points.len() as f64 - 1.0 - f64::from(u8::from(any))).max(1.0);
        let sum = |i: usize, j: usize| left.iter().map(|r| r[i] * r[j]).sum::<f64>() / free;
        let axes = Covariance { xx: sum(0, 0), xy: sum(0, 1), yy: sum(1, 1) }.principal();
        let (sin, cos) = axes.angle_deg.to_radians().sin_cos();
        let turned = |p: [f64; 2]| [cos * p[0] + sin * p[1], cos * p[1] - sin * p[0]];
        let far = |set: &[[f64; 2]]| set.iter().map(|p| p[0].hypot(p[1])).fold(0.0, f64::max);
        let ring = if any {
            directions(pushes).into_iter().map(|(w, u)| (w, turned(lean(u)))).collect()
        } else {
            vec![(1.0, [0.0; 2])]
        };
        let (large, small) = pooled(axes.large, axes.small, free);
        let farthest = if any { far(&left) } else { far(points) };
        Self { n: points.len(), offset: turned(mean), ring, large, small, free, farthest }
    }

    /// Standard deviation along the longer axis.
    pub(super) fn sd(&self) -> f64 {
        self.large.sqrt()
    }

    /// Radius about the rests' own mean that holds the share, 95 % sure, and what the same costs more
    /// about the point.
    pub(super) fn spread(&self, coverage: f64) -> (f64, f64) {
        let caution = self.caution(coverage);
        let about = |mean: [f64; 2]| radius(&self.laws(mean, caution), coverage);
        let own = about([0.0; 2]);
        (own, (about(self.offset) - own).max(0.0))
    }

    /// Radius about the point if the scatter were known: what endless releases would ask for.
    pub(super) fn endless(&self, coverage: f64) -> f64 {
        radius(&self.laws(self.offset, 1.0), coverage)
    }

    /// The farthest rest carried on to the share, 95 % sure, with a tail that falls as Rayleigh's.
    ///
    /// With that confidence the farthest of n holds the share 0.05^(1/n) (Wilks 1941), and
    /// exp(−r²/2σ²) is left beyond r: the factor is √(ln(1 − coverage)/ln(1 − 0.05^(1/n))).
    pub(super) fn carried(&self, coverage: f64) -> f64 {
        let held = RISK.powf(1.0 / self.n.max(1) as f64);
        let factor = ((1.0 - coverage).ln() / (1.0 - held).ln()).sqrt();
        let out = self.ring.iter().map(|(_, at)| (at[0] + self.offset[0], at[1] + self.offset[1]));
        let place = if self.ring.len() > 1 {
            out.map(|(x, y)| x.hypot(y)).fold(0.0, f64::max)
        } else {
            0.0
        };
        place + factor * self.farthest
    }

    /// The laws of rests to come, with the mean at a place and `caution` times the scatter.
    fn laws(&self, mean: [f64; 2], caution: f64) -> Vec<PlaneLaw> {
        let sd = [self.large, self.small].map(|v| caution * v.sqrt());
        let law = |(weight, at): &(f64, [f64; 2])| PlaneLaw {
            weight: *weight,
            mean: [0, 1].map(|i| at[i] + mean[i]),
            sd,
        };
        self.ring.iter().map(law).collect()
    }

    /// By how much the scatter is taken wider than seen.
    fn caution(&self, coverage: f64) -> f64 {
        let mean = 0.5 * (self.large + self.small);
        if mean <= 0.0 {
            return 1.0;
        }
        let square = |e: f64| {
            let sd = [(1.0 + e).sqrt(), (1.0 - e).max(0.0).sqrt()];
            radius(&[PlaneLaw { weight: 1.0, mean: [0.0; 2], sd }], coverage).powi(2)
        };
        let e = 0.5 * (self.large - self.small) / mean;
        let (low, high) = ((e - 0.01).max(0.0), (e + 0.01).min(1.0));
        let (q, slope) = (square(e), (square(high) - square(low)) / (high - low));
        let g =
            [0.5 * (q + slope * (1.0 - e)) * (1.0 + e), 0.5 * (q - slope * (1.0 + e)) * (1.0 - e)];
        let free = self.free * q * q / (g[0] * g[0] + g[1] * g[1]);
        let known = if self.ring.len() > 1 { 2.0 } else { 1.0 };
        (free * (1.0 + known / self.n as f64) / chi2_quantile(RISK, free)).sqrt()
    }
}

/// Both variances, drawn together as far as they do not surely differ.
fn pooled(large: f64, small: f64, free: f64) -> (f64, f64) {
    let mean = 0.5 * (large + small);
    if mean <= 0.0 {
        return (0.0, 0.0);
    }
    let e = (0.5 * (large - small) / mean).clamp(0.0, 1.0);
    let chance = (1.0 - e * e).powf(0.5 * (free - 1.0));
    let kept = e * (1.0 - chance).powi(2);
    (mean * (1.0 + kept), mean * (1.0 - kept))
}

/// Slope of one axis on the push, by least squares.
fn slope(points: &[[f64; 2]], pushes: &[[f64; 2]], i: usize, mean: f64, push: f64) -> Slope {
    let n = points.len() as f64;
    let sum = |of: &dyn Fn(f64, f64) -> f64| {
        points.iter().zip(pushes).map(|(p, u)| of(p[i] - mean, u[i] - push)).sum::<f64>()
    };
    let (xx, xu, uu) = (sum(&|x, _| x * x), sum(&|x, u| x * u), sum(&|_, u| u * u));
    if uu < 0.1 * n || n < 5.0 {
        return Slope { value: 0.0, sure: false };
    }
    let value = xu / uu;
    let left = (xx - value * xu).max(0.0) / (n - 2.0);
    let sure = left > 0.0 && f_tail(value * xu / left, 1.0, n - 2.0) < SURE;
    Slope { value, sure }
}

fn middle(points: &[[f64; 2]]) -> [f64; 2] {
    let n = points.len().max(1) as f64;
    [0, 1].map(|i| points.iter().map(|p| p[i]).sum::<f64>() / n)
}

/// The pushes by the nearest of eight directions: how many, and their mean.
fn directions(pushes: &[[f64; 2]]) -> Vec<(f64, [f64; 2])> {
    let eighth = |u: &[f64; 2]| {
        (u[1].atan2(u[0]) / std::f64::consts::FRAC_PI_4).round().rem_euclid(8.0) as usize % 8
    };
    (0..8)
        .filter_map(|k| {
            let set: Vec<[f64; 2]> = pushes.iter().filter(|u| eighth(u) == k).copied().collect();
            (!set.is_empty()).then(|| (set.len() as f64, middle(&set)))
        })
        .collect()
}
