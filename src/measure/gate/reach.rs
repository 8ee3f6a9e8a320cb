//! Reach of each axis, radius of the gate, and the share of samples at an extreme code.
use super::over_turns;
use super::profile::{PERCENTILE, SECTORS, by_sector, sector_of};
use super::rim::{Rim, RimTurn};
use crate::measure::Estimate;
use crate::measure::distribution::normal_quantile;
use crate::measure::far_side::{AGREE_MIN, band, far_side};
use crate::measure::robust::{median, quantile, quantile_in_place};

/// Half-width of what rounding to whole codes leaves open at 95 %: 1.96/√12, counts.
const ROUNDING: f64 = 0.566;

/// Lower and upper reach of both axes.
pub(super) struct AxisReach {
    pub(super) low: [Estimate; 2],
    pub(super) high: [Estimate; 2],
}

/// How much a high percentile of `n` equal readings lies above them by noise alone, in σ.
///
/// Expected 98th percentile (type 7) of n standard normal values, order statistics by Blom's
/// Φ⁻¹((i − 3/8)/(n + 1/4)). 0 below two values; 2.05 for many.
pub fn noise_lift(n: usize) -> f64 {
    if n < 2 {
        return 0.0;
    }
    let expected = |rank: f64| normal_quantile((rank + 0.625) / (n as f64 + 0.25));
    let h = (n - 1) as f64 * PERCENTILE;
    let (low, share) = (h.floor(), h - h.floor());
    expected(low) + share * (expected((low + 1.0).min((n - 1) as f64)) - expected(low))
}

/// Reach of each axis over the turns.
///
/// For each end the sector in which the axis reaches furthest is found from all turns together; each
/// turn's reach is the 98th percentile of its samples there, less what noise lifts it by; the reach
/// is the mean over the turns that agree at the far side ([`far_side`]): a slip can only shorten.
/// n = those; with fewer than three of three or more, the farthest and an open interval. Interval: t·s/√n, and with it 1.96/√12 for the rounding to whole codes, to
/// which all turns may be subject alike. The time spent in a direction plays no part.
pub(super) fn axis_reach(rim: &Rim) -> AxisReach {
    let end = |axis: usize, sign: f64| {
        let sector = furthest_sector(rim, axis, sign);
        let values: Vec<f64> = rim
            .turns
            .iter()
            .filter_map(|turn| turn_reach(turn, axis, sign, sector, rim.noise[axis]))
            .collect();
        let farthest = values.iter().copied().fold(0.0, f64::max);
        let far = far_side(&values, band(farthest));
        let reach = over_turns(&far.kept);
        let unsure = far.short > 0 && far.kept.len() < AGREE_MIN;
        let half = match unsure {
            true => f64::INFINITY,
            false => (0.5 * (reach.high - reach.low)).hypot(ROUNDING),
        };
        let code = |offset: f64| rim.centre[axis] + sign * offset;
        let (a, b) = (code(reach.value - half), code(reach.value + half));
        Estimate { value: code(reach.value), low: a.min(b), high: a.max(b), n: reach.n }
    };
    AxisReach { low: [0, 1].map(|axis| end(axis, -1.0)), high: [0, 1].map(|axis| end(axis, 1.0)) }
}

/// The sector whose 98th percentile along an axis is furthest, over all turns.
fn furthest_sector(rim: &Rim, axis: usize, sign: f64) -> usize {
    let mut along = vec![Vec::new(); SECTORS];
    for o in rim.turns.iter().flat_map(|t| &t.offsets) {
        along[sector_of(o[1].atan2(o[0]))].push(sign * o[axis]);
    }
    let reach = along.iter_mut().map(|values| {
        let lift = noise_lift(values.len());
        quantile_in_place(values, PERCENTILE) - rim.noise[axis] * lift
    });
    let best = reach.enumerate().filter(|(_, r)| r.is_finite()).max_by(|a, b| a.1.total_cmp(&b.1));
    best.map_or(0, |(k, _)| k)
}

/// One turn's reach toward a sector, counts from the centre; its neighbours help where it is thin.
fn turn_reach(turn: &RimTurn, axis: usize, sign: f64, sector: usize, noise: f64) -> Option<f64> {
    let within = |width: usize| -> Vec<f64> {
        let near = |o: &&[f64; 2]| {
            let off = (sector_of(o[1].atan2(o[0])) + SECTORS - sector) % SECTORS;
            off.min(SECTORS - off) <= width
        };
        turn.offsets.iter().filter(near).map(|o| sign * o[axis]).collect()
    };
    let own = within(0);
    let values = if own.len() < 3 { within(1) } else { own };
    // The rim falls away to both sides: about half of the samples are as far out as its end.
    let reach = quantile(&values, PERCENTILE) - noise * noise_lift(values.len().div_ceil(2));
    reach.is_finite().then_some(reach)
}

/// Gate radius: mean distance of the rim from the centre, each direction counting the same, counts.
///
/// Each sample is carried to the middle of its sector along the slope of the profile. Samples within
/// six times the noise of the sector's 98th percentile (median over turns) are at the rim; their mean
/// distance is free of the lift that noise gives a percentile. Sectors that a turn missed take the
/// mean of the others. Mean over turns, with t·s/√n.
pub(super) fn radius(rim: &Rim) -> Estimate {
    let noise = (0.5 * (rim.noise[0].powi(2) + rim.noise[1].powi(2))).sqrt();
    let reach = (6.0 * noise).max(1.0);
    let slopes = slopes(rim);
    let distances: Vec<Vec<Vec<f64>>> =
        rim.turns.iter().map(|turn| carried(turn, &slopes)).collect();
    let rims: [f64; SECTORS] = std::array::from_fn(|k| {
        let seen = distances.iter().map(|turn| quantile(&turn[k], PERCENTILE));
        median(&seen.filter(|r| r.is_finite()).collect::<Vec<_>>())
    });
    let turns: Vec<[f64; SECTORS]> = distances
        .iter()
        .map(|turn| {
            std::array::from_fn(|k| {
                let at_rim = turn[k].iter().filter(|&&r| (r - rims[k]).abs() <= reach);
                at_rim.clone().sum::<f64>() / at_rim.count() as f64
            })
        })
        .collect();
    let mean = |k: usize| {
        let seen = turns.iter().map(|t| t[k]).filter(|r| r.is_finite());
        seen.clone().sum::<f64>() / seen.count() as f64
    };
    let middle: [f64; SECTORS] = std::array::from_fn(mean);
    let whole = super::profile::mean_of(&middle);
    let values: Vec<f64> = turns
        .iter()
        .map(|turn| {
            let off: [f64; SECTORS] = std::array::from_fn(|k| turn[k] - middle[k]);
            whole + super::profile::mean_of(&off)
        })
        .collect();
    over_turns(&values)
}

/// Slope of the profile in each sector, counts a sector, from the medians of its neighbours; 0 where
/// one of them was not seen.
fn slopes(rim: &Rim) -> [f64; SECTORS] {
    let mut distances = vec![Vec::new(); SECTORS];
    let all = rim.turns.iter().flat_map(|turn| turn.offsets.iter().copied());
    by_sector(all, |k, r| distances[k].push(r));
    let middle: [f64; SECTORS] = std::array::from_fn(|k| quantile_in_place(&mut distances[k], 0.5));
    std::array::from_fn(|k| {
        let slope = 0.5 * (middle[(k + 1) % SECTORS] - middle[(k + SECTORS - 1) % SECTORS]);
        if slope.is_finite() { slope } else { 0.0 }
    })
}

/// Distances of one turn's samples by sector, carried to the sectors' middles.
fn carried(turn: &RimTurn, slopes: &[f64; SECTORS]) -> Vec<Vec<f64>> {
    let mut distances = vec![Vec::new(); SECTORS];
    for [x, y] in &turn.offsets {
        let place = y.atan2(*x) / std::f64::consts::TAU * SECTORS as f64;
        let k = sector_of(y.atan2(*x));
        distances[k].push(x.hypot(*y) - slopes[k] * (place - place.round()));
    }
    distances
}

/// Share of a roll that is held at an end of an axis.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Clipped {
    /// Share of the samples that stand at the worse end, beyond what a curved rim leaves there; 0 without
    /// any. n = turns.
    pub share: Estimate,
    /// The worse end is the upper one.
    pub upper: bool,
}

/// Within d counts of its end a curved rim spends √d of a turn: twice as far takes √2 of it, so that the
/// nearer half has 1/(√2 − 1) times the samples of the farther one at most (noise evens them out).
const NEARER: f64 = std::f64::consts::SQRT_2 + 1.0;

/// How far below its extreme a level that is held reaches, in σ: three above it and three below.
const HELD_SIGMAS: f64 = 6.0;

/// Share of the samples of the turns that stand at an end of an axis without the rim's curve.
///
/// The level of an end is the third farthest sample of all turns. Held is what lies within w = 1 count + 6 σ of
/// it, less [`NEARER`] times what lies within w + 1 counts beyond that: a round rim of any curvature gives 0
/// or less, a reading that stands still at one level while the stick goes round gives the share of the turn for
/// which it stands. For each end the mean over turns; the end with the larger share is told. A straight side
/// of the gate across an axis does the same as a sensor that saturates.
pub(super) fn clipped(rim: &Rim, axis: usize) -> Clipped {
    let width = 1.0 + HELD_SIGMAS * rim.noise[axis];
    let end = |sign: f64| {
        let along = |o: &[f64; 2]| sign * o[axis];
        let mut farthest = [f64::NEG_INFINITY; 3];
        for place in rim.turns.iter().flat_map(|t| &t.offsets).map(along) {
            if place > farthest[2] {
                farthest[2] = place;
                farthest.sort_by(|a, b| b.total_cmp(a));
            }
        }
        let level = farthest[2];
        let share = |turn: &RimTurn| {
            let within = |far: f64, near: f64| {
                let inside = |o: &&[f64; 2]| (far..near).contains(&(level - along(o)));
                turn.offsets.iter().filter(inside).count() as f64
            };
            let held = within(f64::NEG_INFINITY, width.next_up());
            let beyond = within(width.next_up(), 2.0 * width + 1.0);
            (held - NEARER * beyond) / turn.offsets.len() as f64
        };
        over_turns(&rim.turns.iter().map(share).collect::<Vec<_>>())
    };
    let (low, high) = (end(-1.0), end(1.0));
    let upper = high.value >= low.value;
    let share = if upper { high } else { low };
    let kept = |share: f64| share.clamp(0.0, 1.0);
    Clipped {
        share: Estimate {
            value: kept(share.value),
            low: kept(share.low),
            high: kept(share.high),
            n: share.n,
        },
        upper,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lift_of_small_and_large_sets() {
        // Two values: 0.98 of the way from −0.564 to 0.564 (expected extremes of two normals).
        assert!((noise_lift(2) - 0.96 * 0.564).abs() < 0.03, "{}", noise_lift(2));
        assert!((noise_lift(100_000) - 2.0537).abs() < 0.002);
        assert_eq!(noise_lift(1), 0.0);
    }
}
