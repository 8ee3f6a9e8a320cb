//! Reach by direction: 72 sectors, a high percentile a turn, mean over turns.
use super::over_turns;
use super::rim::Rim;
use crate::measure::distribution::t_quantile;
use crate::measure::robust::{SIGMA_PER_MAD, median, quantile_in_place};
use crate::measure::roundness::{least_squares, points_of_profile};
use crate::measure::{Estimate, Measured, Shortage};

/// Sectors of 5°.
pub const SECTORS: usize = 72;

/// Percentile of a sector's samples that stands for its reach in one turn.
pub(super) const PERCENTILE: f64 = 0.98;

/// The sector of a direction in radians: k is centred on 5k°.
pub fn sector_of(angle_rad: f64) -> usize {
    let k = (angle_rad / std::f64::consts::TAU * SECTORS as f64).round();
    k.rem_euclid(SECTORS as f64) as usize % SECTORS
}

/// Reach of one turn by sector; NaN where it was not seen.
pub(super) struct TurnProfile {
    /// After per-side scaling: 1 = the side's reach.
    pub(super) scaled: [f64; SECTORS],
    /// Raw counts from the centre, by raw direction.
    pub(super) raw: [f64; SECTORS],
    /// Samples by scaled direction.
    pub(super) samples: [u32; SECTORS],
    /// It runs clockwise.
    pub(super) clockwise: bool,
}

/// Reach by direction over all turns.
#[derive(Clone, Debug, PartialEq)]
pub struct Profile {
    /// Reach after per-side scaling over its mean; NaN where never seen.
    pub reach: [f64; SECTORS],
    /// SD over turns, same unit; NaN with fewer than two turns in the sector.
    pub spread: [f64; SECTORS],
    /// Reach in raw counts from the centre, by raw direction; NaN where never seen.
    pub raw_counts: [f64; SECTORS],
    /// Samples by scaled direction, all turns.
    pub samples: [u32; SECTORS],
    /// Turns.
    pub turns: usize,
}

/// How far one turn's reach may lie from the median over turns: six scaled deviations of all sectors
/// together. Beyond it a damaged sample slipped through; no limit with fewer than three turns.
fn wild_limit(turns: &[&TurnProfile]) -> f64 {
    if turns.len() < 3 {
        return f64::INFINITY;
    }
    let away: Vec<f64> = (0..SECTORS)
        .flat_map(|k| {
            let values: Vec<f64> =
                turns.iter().map(|t| t.scaled[k]).filter(|v| v.is_finite()).collect();
            let usual = median(&values);
            values.into_iter().map(move |v| (v - usual).abs())
        })
        .collect();
    6.0 * SIGMA_PER_MAD * median(&away)
}

/// Distances by sector of some offsets.
pub(super) fn by_sector(offsets: impl Iterator<Item = [f64; 2]>, mut put: impl FnMut(usize, f64)) {
    for [x, y] in offsets {
        put(sector_of(y.atan2(x)), x.hypot(y));
    }
}

/// Each turn's profile; `sides` are the reaches to scale by: [axis][below, above the centre].
pub(super) fn by_turn(rim: &Rim, sides: [[f64; 2]; 2]) -> Vec<TurnProfile> {
    let scale = |o: &[f64; 2]| [0, 1].map(|i| o[i] / sides[i][usize::from(o[i] >= 0.0)]);
    rim.turns
        .iter()
        .map(|turn| {
            let (scaled, samples) = high_percentiles(turn.offsets.iter().map(scale));
            let (raw, _) = high_percentiles(turn.offsets.iter().copied());
            TurnProfile { scaled, raw, samples, clockwise: turn.clockwise }
        })
        .collect()
}

/// 98th percentile (type 7) of the distances of each sector, and how many there are.
fn high_percentiles(offsets: impl Iterator<Item = [f64; 2]>) -> ([f64; SECTORS], [u32; SECTORS]) {
    let mut distances = vec![Vec::new(); SECTORS];
    by_sector(offsets, |k, r| distances[k].push(r));
    let samples = std::array::from_fn(|k| distances[k].len() as u32);
    (std::array::from_fn(|k| quantile_in_place(&mut distances[k], PERCENTILE)), samples)
}

/// Mean over the finite values, and their SD (NaN below two).
fn mean_and_sd(values: impl Iterator<Item = f64> + Clone) -> (f64, f64) {
    let seen = values.filter(|v| v.is_finite());
    let n = seen.clone().count() as f64;
    let mean = seen.clone().sum::<f64>() / n;
    let var = seen.map(|v| (v - mean).powi(2)).sum::<f64>() / (n - 1.0);
    (mean, if n >= 2.0 { var.sqrt() } else { f64::NAN })
}

/// Mean of the finite values; NaN without.
pub(super) fn mean_of(values: &[f64]) -> f64 {
    mean_and_sd(values.iter().copied()).0
}

impl Profile {
    /// Mean over turns, a turn's wild sectors left out.
    pub(super) fn mean(turns: &[TurnProfile]) -> Profile {
        Profile::of(&turns.iter().collect::<Vec<_>>())
    }

    fn of(turns: &[&TurnProfile]) -> Profile {
        let limit = wild_limit(turns);
        let cells: [(f64, f64); SECTORS] = std::array::from_fn(|k| {
            let values: Vec<f64> =
                turns.iter().map(|t| t.scaled[k]).filter(|v| v.is_finite()).collect();
            let usual = median(&values);
            let kept = values.iter().copied().filter(|v| (v - usual).abs() <= limit);
            mean_and_sd(kept)
        });
        let middle = mean_of(&cells.map(|c| c.0));
        Profile {
            reach: cells.map(|c| c.0 / middle),
            spread: cells.map(|c| c.1 / middle),
            raw_counts: std::array::from_fn(|k| mean_and_sd(turns.iter().map(|t| t.raw[k])).0),
            samples: std::array::from_fn(|k| turns.iter().map(|t| t.samples[k]).sum()),
            turns: turns.len(),
        }
    }

    /// RONt about the least-squares circle over its radius.
    fn ront(&self) -> Measured<f64> {
        let fit = least_squares(&points_of_profile(&self.reach))?;
        Ok(fit.ront() / mean_of(&self.reach))
    }

    /// Mean standard error of a sector over the turns; 0 where the turns do not tell.
    pub(super) fn sector_error(&self) -> f64 {
        let sd = mean_of(&self.spread);
        if sd.is_finite() { sd / (self.turns as f64).sqrt() } else { 0.0 }
    }
}

/// Roundness deviation RONt over the mean radius.
///
/// Of the mean profile, about its least-squares circle (ISO 12181). The interval joins the jackknife
/// over turns with the standard errors of two sectors; noise alone spreads 72 sectors over 4.8 of their standard errors, which is taken off
/// the lower end.
pub(super) fn roundness(profile: &Profile, turns: &[TurnProfile]) -> Measured<Estimate> {
    Ok(with_jackknife(profile.ront()?, profile, turns))
}

/// Minimum-zone roundness over the mean radius, with the interval of [`roundness`].
pub(super) fn minimum_zone(profile: &Profile, turns: &[TurnProfile]) -> Measured<Estimate> {
    let zone = crate::measure::roundness::minimum_zone(&points_of_profile(&profile.reach))?;
    Ok(with_jackknife(zone.width() / mean_of(&profile.reach), profile, turns))
}

fn with_jackknife(value: f64, profile: &Profile, turns: &[TurnProfile]) -> Estimate {
    let n = turns.len();
    let without: Vec<f64> = (0..n)
        .filter_map(|k| {
            let left: Vec<&TurnProfile> =
                turns.iter().enumerate().filter(|(i, _)| *i != k).map(|(_, t)| t).collect();
            Profile::of(&left).ront().ok()
        })
        .collect();
    let m = without.len() as f64;
    if n < 2 || without.len() < n {
        return Estimate { value, low: 0.0, high: f64::INFINITY, n };
    }
    let mean = without.iter().sum::<f64>() / m;
    let spread: f64 = without.iter().map(|v| (v - mean).powi(2)).sum();
    let jackknife = t_quantile(0.975, m - 1.0) * (spread * (m - 1.0) / m).sqrt();
    // The highest and the lowest of 72 sectors each waver by about a standard error.
    let half = jackknife.hypot(1.96 * std::f64::consts::SQRT_2 * profile.sector_error());
    let by_noise = 4.8 * profile.sector_error();
    Estimate { value, low: (value - half - by_noise).max(0.0), high: value + half, n }
}

/// Largest difference of reach between the two senses of turning, over the mean reach.
///
/// Of the mean profiles, each smoothed over three sectors. Interval: two standard errors of such a
/// difference, four below because the largest of 72 is taken. Needs a turn each way.
/// Source: circular hysteresis, ISO 230-4.
pub(super) fn direction_difference(turns: &[TurnProfile]) -> Measured<Estimate> {
    let way = |clockwise: bool| -> Vec<&TurnProfile> {
        turns.iter().filter(|t| t.clockwise == clockwise).collect()
    };
    let (with, against) = (way(true), way(false));
    if with.is_empty() || against.is_empty() {
        return Err(Shortage {
            what: "turns in both directions".to_owned(),
            have: usize::from(!with.is_empty()) + usize::from(!against.is_empty()),
            need: 2,
            advice: "roll three slow turns in the other direction too".to_owned(),
        });
    }
    // The median over turns: one damaged reading in one turn must not pass for a difference.
    let profile = |turns: &[&TurnProfile]| -> [f64; SECTORS] {
        std::array::from_fn(|k| {
            let seen = turns.iter().map(|t| t.scaled[k]).filter(|r| r.is_finite());
            median(&seen.collect::<Vec<f64>>())
        })
    };
    let (a, b) = (profile(&with), profile(&against));
    let off: [f64; SECTORS] = std::array::from_fn(|k| {
        mean_of(&[SECTORS - 1, 0, 1].map(|d| a[(k + d) % SECTORS] - b[(k + d) % SECTORS]))
    });
    let size = mean_of(&a);
    let value = off.iter().filter(|v| v.is_finite()).fold(0.0f64, |m, v| m.max(v.abs())) / size;
    let sd = mean_of(&std::array::from_fn::<f64, SECTORS, _>(|k| {
        let one = mean_and_sd(with.iter().map(|t| t.scaled[k])).1;
        if one.is_finite() { one } else { mean_and_sd(against.iter().map(|t| t.scaled[k])).1 }
    }));
    let shares = 1.0 / with.len() as f64 + 1.0 / against.len() as f64;
    let error = if sd.is_finite() { sd * (shares / 3.0).sqrt() / size } else { f64::INFINITY };
    Ok(Estimate {
        value,
        low: (value - 4.0 * error).max(0.0),
        high: value + 2.0 * error,
        n: turns.len(),
    })
}

/// Estimates of each turn by itself, joined: mean with t·s/√n. `None` without a turn that gives one.
pub(super) fn each_turn(
    turns: &[TurnProfile],
    one: impl Fn(&[f64; SECTORS]) -> Option<f64>,
) -> Option<Estimate> {
    let values: Vec<f64> = turns.iter().filter_map(|t| one(&t.scaled)).collect();
    (!values.is_empty()).then(|| over_turns(&values))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sectors_are_centred_on_whole_steps() {
        let at = |deg: f64| sector_of(deg.to_radians());
        assert_eq!([0.0, 2.4, 2.6, 357.6, -2.4, 90.0, -90.0].map(at), [0, 0, 1, 0, 0, 18, 54]);
        assert_eq!(at(357.4), 71);
    }
}
