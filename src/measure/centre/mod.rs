//! Where a stick comes to rest when it is let go: centre, scatter, hysteresis, clusters, settling.
//!
//! Input are the settled means of releases with the direction of the push before each; one release
//! is read off its samples by [`settled`] and [`return_motion`].
mod clusters;
mod hysteresis;
mod location;
mod press;
mod settle;
mod spread;

pub use clusters::{Grouping, grouping};
pub use hysteresis::{Hysteresis, hysteresis, within_direction_sd};
pub use location::{Centre, centre, location};
pub use press::{PressShift, press_shift};
pub use settle::{ReturnMotion, SettleRule, Settled, Unsettled, return_motion, settled};
pub use spread::{Covariance, PrincipalAxes, covariance, heavy_tail, scatter};

use super::Shortage;

/// One release: where the stick came to rest and where it had been pushed.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Rested {
    /// Settled mean, counts (x, y).
    pub at: [f64; 2],
    /// Direction of the push before it, degrees, counter-clockwise, 0 = +x of the raw readings.
    pub from_deg: f64,
}

impl Rested {
    /// Distance from a point, counts.
    pub fn distance(&self, from: [f64; 2]) -> f64 {
        (self.at[0] - from[0]).hypot(self.at[1] - from[1])
    }
}

/// Not enough releases.
fn too_few(have: usize, need: usize) -> Shortage {
    Shortage {
        what: "releases of this stick".to_owned(),
        have,
        need,
        advice: "push the stick to its gate and let go cleanly, in eight directions, twice each"
            .to_owned(),
    }
}

#[cfg(test)]
mod draws {
    //! Seeded sets of releases for the tests of this module.
    use rand::SeedableRng;
    use rand::seq::SliceRandom;
    use rand_chacha::ChaCha8Rng;
    use rand_distr::{Distribution, Normal};

    use super::Rested;

    /// `n` releases round (518, 503) from the eight directions in turn, `sd` counts an axis, pulled
    /// `pull` counts toward the side pushed from.
    pub(super) fn releases(n: usize, sd: f64, pull: f64, seed: u64) -> Vec<Rested> {
        let mut rng = ChaCha8Rng::seed_from_u64(seed);
        let noise = Normal::new(0.0, sd).expect("finite");
        let mut rests: Vec<Rested> = (0..n)
            .map(|k| {
                let from_deg = (k % 8) as f64 * 45.0;
                let (sin, cos) = from_deg.to_radians().sin_cos();
                let x = 518.0 + pull * cos + noise.sample(&mut rng);
                let y = 503.0 + pull * sin + noise.sample(&mut rng);
                Rested { at: [x, y], from_deg }
            })
            .collect();
        rests.shuffle(&mut rng);
        rests
    }
}
