//! Sticks whose scatter is known: where they come to rest, and the radius that truly holds a share.
use rand::{Rng, SeedableRng};
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, StandardNormal};

/// How a stick's rests scatter, counts.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Shape {
    /// The same normal scatter on both axes.
    Round(f64),
    /// Unequal normal scatter, askew to the axes.
    Elongated(f64, f64),
    /// Out on the side that it was pushed to, with normal scatter.
    Ring { radius: f64, sd: f64 },
    /// Any direction, the distance lognormal with σ = 0.5 about its median.
    Lognormal(f64),
    /// Each axis lognormal with σ = 0.5 less its median: one side reaches farther.
    Skewed(f64),
    /// Any direction, the distance exponential.
    Exponential(f64),
    /// Each axis Laplace.
    Laplace(f64),
    /// Student's t in the plane with so many degrees of freedom.
    Student { free: u8, scale: f64 },
}

/// A standard normal number.
pub(super) fn normal(rng: &mut ChaCha8Rng) -> f64 {
    StandardNormal.sample(rng)
}

/// A standard exponential number.
fn exponential(rng: &mut ChaCha8Rng) -> f64 {
    -(1.0 - rng.random::<f64>()).ln()
}

impl Shape {
    /// Where the stick rests after a push in a direction, from its centre.
    pub(super) fn offset(self, from_deg: f64, rng: &mut ChaCha8Rng) -> [f64; 2] {
        let round = |sd: f64, rng: &mut ChaCha8Rng| [sd * normal(rng), sd * normal(rng)];
        let anywhere = |distance: f64, rng: &mut ChaCha8Rng| {
            let (sin, cos) = (std::f64::consts::TAU * rng.random::<f64>()).sin_cos();
            [distance * cos, distance * sin]
        };
        match self {
            Self::Round(sd) => round(sd, rng),
            Self::Elongated(a, b) => {
                let (u, v) = (a * normal(rng), b * normal(rng));
                [0.8 * u - 0.6 * v, 0.6 * u + 0.8 * v]
            }
            Self::Ring { radius, sd } => {
                let (sin, cos) = from_deg.to_radians().sin_cos();
                let [x, y] = round(sd, rng);
                [radius * cos + x, radius * sin + y]
            }
            Self::Lognormal(middle) => anywhere(middle * (0.5 * normal(rng)).exp(), rng),
            Self::Skewed(scale) => [0; 2].map(|_| 2.0 * scale * ((0.5 * normal(rng)).exp() - 1.0)),
            Self::Exponential(scale) => anywhere(scale * exponential(rng), rng),
            Self::Laplace(scale) => [0; 2].map(|_| {
                let side = if rng.random::<bool>() { scale } else { -scale };
                side * exponential(rng)
            }),
            Self::Student { free, scale } => {
                let square: f64 = (0..free).map(|_| normal(rng).powi(2)).sum();
                round(scale * (f64::from(free) / square).sqrt(), rng)
            }
        }
    }

    /// Rests to come from the eight directions in turn, the same ones for every caller.
    pub(super) fn to_come(self, n: usize) -> Vec<[f64; 2]> {
        let mut rng = ChaCha8Rng::seed_from_u64(4_711);
        (0..n).map(|k| self.offset(45.0 * (k % 8) as f64, &mut rng)).collect()
    }

    /// Radius about the centre that holds the share of `places`.
    pub(super) fn ideal(places: &[[f64; 2]], share: f64) -> f64 {
        let mut far: Vec<f64> = places.iter().map(|p| p[0].hypot(p[1])).collect();
        far.sort_unstable_by(f64::total_cmp);
        far[((share * far.len() as f64) as usize).min(far.len() - 1)]
    }
}
