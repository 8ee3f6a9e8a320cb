//! Seeded rolls for the tests of this module.
use std::f64::consts::TAU;

use rand::{Rng, SeedableRng};
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, Normal};

use super::Turn;
use super::outline::Outline;

/// A stick that is rolled.
#[derive(Clone)]
pub(super) struct Roller {
    pub centre: [f64; 2],
    /// Counts a unit of travel: [axis][below, above].
    pub gains: [[f64; 2]; 2],
    pub skew_deg: f64,
    pub sigma: f64,
    pub outline: Option<Outline>,
    pub rails: [f64; 2],
    pub turns: usize,
    pub rate_hz: f64,
}

impl Default for Roller {
    fn default() -> Self {
        Roller {
            centre: [518.0, 503.0],
            gains: [[400.0, 390.0], [385.0, 410.0]],
            skew_deg: 0.0,
            sigma: 0.7,
            outline: None,
            rails: [0.0, 1023.0],
            turns: 6,
            rate_hz: 250.0,
        }
    }
}

/// Columns and turns, half of them each way, 2.3–2.7 s a turn with an uneven pace.
pub(super) fn rolled(roller: &Roller, seed: u64) -> (Vec<i32>, Vec<i32>, Vec<Turn>) {
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    let noise = Normal::new(0.0, roller.sigma).expect("finite");
    let (mut x, mut y, mut turns) = (Vec::new(), Vec::new(), Vec::new());
    let (skew_sin, skew_cos) = roller.skew_deg.to_radians().sin_cos();
    for turn in 0..roller.turns {
        let clockwise = turn < roller.turns / 2;
        let rows = (roller.rate_hz * rng.random_range(2.3..2.7)) as usize;
        let (start, uneven) = (rng.random_range(0.0..TAU), rng.random_range(0.0..TAU));
        let first = x.len();
        for k in 0..rows {
            let share = k as f64 / rows as f64 * TAU;
            let way = share + 0.3 * ((share + uneven).sin() - uneven.sin());
            let angle = start + if clockwise { -way } else { way };
            let r = roller.outline.map_or(1.0, |o| o.radius(angle));
            let at = [r * angle.cos(), r * (angle.cos() * skew_sin + angle.sin() * skew_cos)];
            let code = [0, 1].map(|i| {
                let gain = roller.gains[i][usize::from(at[i] >= 0.0)];
                let level =
                    (roller.centre[i] + gain * at[i]).clamp(roller.rails[0], roller.rails[1]);
                (level + noise.sample(&mut rng)).round() as i32
            });
            x.push(code[0]);
            y.push(code[1]);
        }
        turns.push(Turn { rows: first..x.len(), clockwise });
    }
    (x, y, turns)
}
