//! Samples of whole turns as offsets from the centre, wild ones left out, with their noise.
use super::{Turn, slips};
use crate::measure::bend::moving_noise;

/// Most turns used, evenly spread: more tell nothing new of the gate.
const TURNS_MAX: usize = 48;

/// Fewest samples of a turn.
const SAMPLES_MIN: usize = 36;

/// One turn's samples.
pub(super) struct RimTurn {
    /// Offsets from the centre, counts (x, y).
    pub(super) offsets: Vec<[f64; 2]>,
    /// It runs clockwise.
    pub(super) clockwise: bool,
}

/// All turns.
pub(super) struct Rim {
    /// In time order.
    pub(super) turns: Vec<RimTurn>,
    /// Noise of a code while moving, quantisation included, counts rms (x, y).
    pub(super) noise: [f64; 2],
    /// Where the stick rests, counts.
    pub(super) centre: [f64; 2],
}

impl Rim {
    /// Turns that lie in the columns, hold enough samples and surround the centre.
    pub(super) fn of(x: &[i32], y: &[i32], turns: &[Turn], centre: [f64; 2]) -> Rim {
        let columns = |turn: &Turn| Some([x.get(turn.rows.clone())?, y.get(turn.rows.clone())?]);
        let pairs: Vec<([&[i32]; 2], bool)> = turns
            .iter()
            .filter_map(|turn| Some((columns(turn)?, turn.clockwise)))
            .filter(|(pair, _)| pair[0].len() >= SAMPLES_MIN)
            .collect();
        // A step of odd length takes from both directions, which come by threes.
        let step = (pairs.len().div_ceil(TURNS_MAX)) | 1;
        let pairs: Vec<([&[i32]; 2], bool)> = pairs.into_iter().step_by(step).collect();
        let noise = [0, 1].map(|i| moving_noise(pairs.iter().map(|(pair, _)| pair[i])));
        let mut turns: Vec<RimTurn> = pairs
            .iter()
            .map(|&(pair, clockwise)| RimTurn { offsets: offsets(pair, noise, centre), clockwise })
            .filter(|turn| surrounds(&turn.offsets))
            .collect();
        slips::take_out(&mut turns, noise);
        Rim { turns, noise, centre }
    }

    /// The same turns with every second sample: what a stream of half the rate would have shown.
    pub(super) fn halved(&self) -> Rim {
        let half = |turn: &RimTurn| RimTurn {
            offsets: turn.offsets.iter().step_by(2).copied().collect(),
            clockwise: turn.clockwise,
        };
        let turns = self.turns.iter().map(half).collect();
        Rim { turns, noise: self.noise, centre: self.centre }
    }
}

/// Samples without wild ones: further from the median of the five round them than six times the
/// noise and four counts.
fn offsets(pair: [&[i32]; 2], noise: [f64; 2], centre: [f64; 2]) -> Vec<[f64; 2]> {
    let rows = pair[0].len();
    let limits = noise.map(|sigma| (6.0 * sigma).max(4.0));
    let calm = |i: usize, k: usize| {
        let from = k.saturating_sub(2).min(rows - 5);
        let mut five = [0; 5];
        five.copy_from_slice(&pair[i][from..from + 5]);
        five.sort_unstable();
        // A fast roll at a low rate moves far between samples: half of what the five span is motion.
        let moving = 0.5 * f64::from(five[3] - five[1]);
        f64::from((pair[i][k] - five[2]).abs()) <= limits[i] + 2.0 * moving
    };
    (0..rows)
        .filter(|&k| calm(0, k) && calm(1, k))
        .map(|k| [f64::from(pair[0][k]) - centre[0], f64::from(pair[1][k]) - centre[1]])
        .collect()
}

/// Every quadrant is seen.
fn surrounds(offsets: &[[f64; 2]]) -> bool {
    let mut seen = [false; 4];
    for o in offsets {
        seen[usize::from(o[0] < 0.0) + 2 * usize::from(o[1] < 0.0)] = true;
    }
    seen == [true; 4]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_wild_sample_is_left_out_and_motion_is_not() {
        let mut x: Vec<i32> = (0..60).map(|k| 10 * k).collect();
        let y = vec![0; 60];
        x[30] = 1000;
        let kept = offsets([&x, &y], [0.5, 0.5], [0.0, 0.0]);
        assert_eq!(kept.len(), 59);
    }
}
