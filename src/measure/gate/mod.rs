//! The gate of a stick as its rolls show it: reach by axis and direction, form, skew, rotation.
//!
//! Input are whole turns along the rim. Directions are those of the raw readings: counter-clockwise
//! from +x, x to the right and y up; one inverted axis mirrors them. A sector is 5° wide, sector k
//! centred on 5k°. What a roll on a round gate cannot show (its rotation) is a shortage.
mod deficit;
mod outline;
mod profile;
mod reach;
mod rim;
mod shape;
mod skew;
mod slips;

pub use deficit::Deficit;
pub use profile::{Profile, SECTORS, sector_of};
pub use reach::{Clipped, noise_lift};
pub use shape::{GateShape, Harmonic, harmonics};
pub use skew::orthogonality_of_profile;

use std::ops::Range;

use super::{Estimate, Measured, Shortage};
use rim::Rim;

/// One whole turn along the rim.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Turn {
    /// Its rows.
    pub rows: Range<usize>,
    /// It runs with the hands of a clock in the raw readings.
    pub clockwise: bool,
}

/// What the turns of one stick come to. Unless stated n = turns.
#[derive(Clone, Debug)]
pub struct GateFigures {
    /// Lower reach of x and y, counts: a high percentile of each turn, mean over the turns that agree
    /// at the far side. n = those; below three the end was not surely seen.
    pub low: [Estimate; 2],
    /// Upper reach of x and y, counts, likewise.
    pub high: [Estimate; 2],
    /// Share of the samples within a count of an extreme code, x and y.
    pub clipped: [Clipped; 2],
    /// Gate radius: mean raw distance of the rim from the centre over all directions, counts.
    pub radius: Estimate,
    /// Reach by direction.
    pub profile: Profile,
    /// Share of the 72 sectors that hold at least two samples.
    pub coverage: Estimate,
    /// RONt about the least-squares circle over the mean radius, of the scaled profile.
    pub roundness: Measured<Estimate>,
    /// Width of the minimum zone over the mean radius, of the same profile.
    pub mzci: Measured<Estimate>,
    /// Departure of the axes from 90°, degrees; takes the gate for round (or symmetric to both axes).
    pub orthogonality_deg: Measured<Estimate>,
    /// Rotation of the sensor against the gate, degrees, modulo the spacing of its corners.
    pub rotation_deg: Measured<Estimate>,
    /// Class of the gate by its form.
    pub shape: Measured<GateShape>,
    /// Directions in which the reach falls short of the form.
    pub deficits: Vec<Deficit>,
    /// Largest difference of reach between clockwise and counter-clockwise, share of the mean.
    pub direction_difference: Measured<Estimate>,
}

/// Sectors that must be seen for figures of form.
const SECTORS_MIN: usize = 68;

/// Measures the gate from whole turns.
///
/// `x` and `y` are whole columns of codes; `centre` is where the stick rests (from releases, else
/// from a quiet rest). Single wild samples are left out (further from the median of their five
/// neighbours than their noise explains), and so are slips off the rim. Needs one whole turn that surrounds the centre; intervals
/// come from the scatter over turns and are open with one turn. Of more than 48 turns as many,
/// evenly spread, are used. Cost: some 100 ns a sample of the
/// turns.
pub fn gate(x: &[i32], y: &[i32], turns: &[Turn], centre: [f64; 2]) -> Measured<GateFigures> {
    let rim = Rim::of(x, y, turns, centre);
    if rim.turns.is_empty() {
        return Err(Shortage {
            what: "whole turns along the gate".to_owned(),
            have: 0,
            need: 6,
            advice: "press outward and roll three slow turns each way".to_owned(),
        });
    }
    let halved = rim.halved();
    let reach = sampled(reach::axis_reach(&rim), reach::axis_reach(&halved));
    let sides = [0, 1].map(|i| {
        [(centre[i] - reach.low[i].value).max(1.0), (reach.high[i].value - centre[i]).max(1.0)]
    });
    let by_turn = profile::by_turn(&rim, sides);
    let profile = Profile::mean(&by_turn);
    let seen = profile.samples.iter().filter(|&&n| n >= 2).count();
    let whole = if seen < SECTORS_MIN { Err(uncovered(seen)) } else { Ok(()) };
    let form = whole.clone().map(|()| shape::form(&profile));
    Ok(GateFigures {
        clipped: [0, 1].map(|i| held(&rim, reach::clipped(&rim, i))),
        radius: opened(reach::radius(&rim), reach::radius(&halved).value),
        coverage: coverage(seen, rim.turns.len()),
        roundness: whole.clone().and_then(|()| profile::roundness(&profile, &by_turn)),
        mzci: whole.clone().and_then(|()| profile::minimum_zone(&profile, &by_turn)),
        orthogonality_deg: form
            .as_ref()
            .map_err(Clone::clone)
            .and_then(|form| skew::orthogonality_deg(&profile, &by_turn, form.departure(&profile))),
        rotation_deg: form.clone().and_then(|form| shape::rotation_deg(&form, &by_turn)),
        deficits: form.as_ref().map_or(Vec::new(), |form| deficit::deficits(&profile, form)),
        shape: form.map(|form| form.shape),
        direction_difference: whole
            .and_then(|()| dense(&rim))
            .and_then(|()| profile::direction_difference(&by_turn)),
        low: reach.low,
        high: reach.high,
        profile,
    })
}

/// Share of sectors seen; no interval, it is a count.
fn coverage(seen: usize, turns: usize) -> Estimate {
    let value = seen as f64 / SECTORS as f64;
    Estimate { value, low: value, high: value, n: turns }
}

/// Whether a turn has a sample a sector: of fewer, the two ways round show each other's holes.
fn dense(rim: &Rim) -> Result<(), Shortage> {
    let samples: Vec<f64> = rim.turns.iter().map(|t| t.offsets.len() as f64).collect();
    let have = super::robust::median(&samples) as usize;
    if have >= SECTORS {
        return Ok(());
    }
    Err(Shortage {
        what: "samples a turn to compare the two ways round".to_owned(),
        have,
        need: SECTORS,
        advice: "roll more slowly, or print more often".to_owned(),
    })
}

/// A held share, open where the turns have too few samples to tell a level that is held from chance.
fn held(rim: &Rim, clipped: Clipped) -> Clipped {
    match dense(rim) {
        Ok(()) => clipped,
        Err(_) => Clipped { share: Estimate { low: 0.0, high: 1.0, ..clipped.share }, ..clipped },
    }
}

/// An estimate whose interval holds besides what few samples leave open: the rim's visits are rare where the
/// stream is slow or the turn quick. What half of the samples gives lies about as far from what all of them
/// give as that lies from what more would give; the two parts add in squares.
fn opened(all: Estimate, of_half: f64) -> Estimate {
    let open = if of_half.is_finite() { all.value - of_half } else { f64::INFINITY };
    let (below, above) = ((all.value - all.low).hypot(open), (all.high - all.value).hypot(open));
    Estimate { low: all.value - below, high: all.value + above, ..all }
}

/// [`opened`] for all four ends.
fn sampled(all: reach::AxisReach, half: reach::AxisReach) -> reach::AxisReach {
    let ends = |all: [Estimate; 2], half: [Estimate; 2]| {
        [opened(all[0], half[0].value), opened(all[1], half[1].value)]
    };
    reach::AxisReach { low: ends(all.low, half.low), high: ends(all.high, half.high) }
}

/// Mean over turns with t·s/√n; open with one turn. `values` must not be empty.
fn over_turns(values: &[f64]) -> Estimate {
    let n = values.len();
    let value = super::moments::mean(values);
    let half = if n < 2 {
        f64::INFINITY
    } else {
        let t = super::distribution::t_quantile(0.975, (n - 1) as f64);
        t * super::moments::sd(values) / (n as f64).sqrt()
    };
    Estimate { value, low: value - half, high: value + half, n }
}

/// Too few directions were seen.
fn uncovered(seen: usize) -> Shortage {
    Shortage {
        what: "directions of the gate seen twice".to_owned(),
        have: seen,
        need: SECTORS,
        advice: "roll another slow turn each way, pressing outward all the time".to_owned(),
    }
}

#[cfg(test)]
mod draws;
#[cfg(test)]
mod tests;
