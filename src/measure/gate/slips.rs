//! Stretches in which a thumb left the rim: they fall short in one turn and not in the others.
use super::profile::{PERCENTILE, SECTORS, by_sector, sector_of};
use super::rim::RimTurn;
use crate::measure::far_side::far_side;
use crate::measure::robust::quantile_in_place;

/// A turn falls short in a direction below this share of where the others agree.
const SHORT: f64 = 0.03;

/// Sectors in a row that make a slip. A thumb needs 100 ms or more to notice and come back, some 15°
/// of the quickest turn asked for (two seconds).
const IN_A_ROW: usize = 3;

/// Takes slips out of the turns.
///
/// A turn's high percentile in a sector is short when it is more than 3 % and three times the noise
/// below the far side that at least three turns agree on; three short sectors in a row are a slip, and
/// their samples go. What is short in every turn is the gate's own and stays. No change below three
/// turns. Cost: n·log n in the samples.
pub(super) fn take_out(turns: &mut [RimTurn], noise: [f64; 2]) {
    let seen: Vec<[f64; SECTORS]> = turns.iter().map(reach_of).collect();
    let limit: [f64; SECTORS] = std::array::from_fn(|k| {
        let values: Vec<f64> = seen.iter().map(|turn| turn[k]).collect();
        let farthest = values.iter().copied().fold(0.0, f64::max);
        let level = far_side(&values, SHORT * farthest).level();
        level.map_or(0.0, |level| (1.0 - SHORT) * level - 3.0 * noise[0].max(noise[1]))
    });
    for (turn, seen) in turns.iter_mut().zip(&seen) {
        let short: [bool; SECTORS] = std::array::from_fn(|k| seen[k] < limit[k]);
        let slipped: [bool; SECTORS] = std::array::from_fn(|k| {
            (0..IN_A_ROW)
                .any(|back| (0..IN_A_ROW).all(|i| short[(k + SECTORS - back + i) % SECTORS]))
        });
        turn.offsets.retain(|o| !slipped[sector_of(o[1].atan2(o[0]))]);
    }
}

/// High percentile of a turn by sector, counts; NaN where it has no sample.
fn reach_of(turn: &RimTurn) -> [f64; SECTORS] {
    let mut distances = vec![Vec::new(); SECTORS];
    by_sector(turn.offsets.iter().copied(), |k, r| distances[k].push(r));
    std::array::from_fn(|k| quantile_in_place(&mut distances[k], PERCENTILE))
}
