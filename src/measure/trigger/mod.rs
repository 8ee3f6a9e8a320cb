//! Triggers: rest and full, reversal of a one-way pull, up against down, plateaus; either polarity.
//!
//! What counts alone cannot show is not invented: travel before the sensor answers, and play that
//! merely delays both strokes, need an independent gauge of the lever.
mod stroke;

use std::ops::Range;

use super::bend::moving_noise;
use super::centre::location;
use super::distribution::{chi2_quantile, t_quantile};
use super::far_side::{band, far_side};
use super::moments::{mean, sd};
use super::robust::{median, quantile, quantile_sorted};
use super::{Estimate, Measured, Shortage};
use stroke::Stroke;

/// One pull of a trigger from rest to full and back, as row ranges.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Pull {
    /// From rest to full.
    pub up: Range<usize>,
    /// At full.
    pub hold: Range<usize>,
    /// From full to rest.
    pub down: Range<usize>,
    /// Settled after it, where it was left alone long enough; `None`: what lies between 150 ms after
    /// this pull and 20 ms before the next serves when it is 80 ms or longer.
    pub settled: Option<Range<usize>>,
    /// Pulled slowly (half a second or more each way).
    pub slow: bool,
}

/// What the pulls of one trigger come to.
#[derive(Clone, Debug)]
pub struct TriggerReadings {
    /// Released level, counts. n = settled releases.
    pub rest: Measured<Estimate>,
    /// Fully pulled level, counts: of the pulls that agree at the far side. n = those; below three the
    /// end was not surely seen.
    pub full: Measured<Estimate>,
    /// SD of the released levels, counts; interval by χ². n = settled releases, at least four.
    pub rest_scatter: Measured<Estimate>,
    /// SD of the fully pulled levels, counts, less what noise leaves in the mean of a hold; interval by χ².
    /// n = full pulls, at least four.
    pub full_scatter: Measured<Estimate>,
    /// Largest reversal in a one-way stroke, counts, median over strokes; 0 with the floor as upper
    /// end when noise hides it. n = slow strokes, up and down.
    pub reversal: Measured<Estimate>,
    /// |down − up| at equal shares of the time of the stroke, mean over 25, 50 and 75 %, counts; centre
    /// of the pulls as for rest and full. n = slow pulls.
    pub hysteresis: Measured<Estimate>,
    /// Down − up at 25, 50 and 75 %, counts, toward full positive.
    pub hysteresis_at: [Measured<Estimate>; 3],
    /// Share of a slow pull's time within 1 % of full (or three times the noise). A saturated sensor
    /// and a finger that waits look the same. n = slow pulls.
    pub end_plateau: Measured<Estimate>,
    /// The reading falls when the trigger is pulled.
    pub rests_high: Option<bool>,
    /// Noise while moving, counts rms.
    pub noise: f64,
}

/// Reads the figures off the pulls of one trigger.
///
/// `codes` and `t_us` are whole columns; `rests` are further stretches with the trigger let go
/// (ranges outside the columns are ignored). Rest and full are Hodges–Lehmann centres of the robust
/// levels of each stretch (from four on; below, their mean with t·s/√n). Cost: linear in the rows of
/// the pulls.
pub fn trigger(
    codes: &[i32],
    t_us: &[u64],
    pulls: &[Pull],
    rests: &[Range<usize>],
) -> TriggerReadings {
    let let_go: Vec<Range<usize>> =
        (0..pulls.len()).filter_map(|k| at_rest(pulls, k, (codes, t_us))).collect();
    let released = levels(codes, let_go.iter().chain(rests));
    let rest = place(&released).ok_or_else(|| let_go_needed(released.len()));
    let from = rest.as_ref().map_or_else(|_| edge(codes, pulls), |rest| rest.value);
    let whole = full_pulls(codes, pulls, from);
    let pulled: Vec<f64> = whole.iter().map(|(_, way)| from + way).collect();
    let full = full_level(&whole, from).ok_or_else(|| pulls_needed(0, 1));
    let slow: Vec<&Pull> = whole.iter().map(|(pull, _)| *pull).filter(|p| p.slow).collect();
    let moving = slow.iter().flat_map(|p| [&p.up, &p.down]).filter_map(|r| codes.get(r.clone()));
    let noise = moving_noise(moving);
    let way = rest.as_ref().ok().zip(full.as_ref().ok()).map(|(r, f)| (r.value, f.value));
    let strokes: Vec<[Stroke; 2]> = way
        .filter(|(rest, full)| rest != full)
        .map(|way| slow.iter().filter_map(|p| Stroke::pair(codes, t_us, p, way, noise)).collect())
        .unwrap_or_default();
    let hysteresis_at = [0, 1, 2].map(|k| up_against_down(&strokes, |h| h[k]));
    TriggerReadings {
        rest_scatter: scatter(&released).ok_or_else(|| let_go_needed(released.len())),
        full_scatter: full_scatter(codes, &whole, &pulled)
            .ok_or_else(|| pulls_needed(pulled.len(), 4)),
        reversal: reversal(&strokes),
        hysteresis: up_against_down(&strokes, |h| (h[0] + h[1] + h[2]) / 3.0).map(folded),
        hysteresis_at,
        end_plateau: end_plateau(&strokes),
        rests_high: way.map(|(rest, full)| rest > full),
        noise,
        rest,
        full,
    }
}

/// Wait after the end of a pull when no settled stretch is known, µs: a lever on a spring swings at 5 to
/// 25 Hz with a damping of 0.2 to 0.6 (common practice of thumbsticks, from memory); against its stop half a
/// swing of the slowest, 100 ms, and half as much again for what creeps.
const WAIT_US: u64 = 150_000;

/// Left out before the next pull, µs: a finger takes up the play of the lever in a touch of some 20 ms
/// (physiology: the rise of a muscle's twitch takes 20 to 80 ms, from memory) before the pull is seen.
const LEAD_US: u64 = 20_000;

/// Shortest stretch taken for a rest between two pulls, µs: four periods of 50 Hz, so that hum averages out,
/// and five frames of the slowest usual loop (60 Hz).
const REST_MIN_US: u64 = 80_000;

/// Where the trigger rested after a pull: as found, else what lies between its end and the next.
///
/// A stretch that spans more than [`STILL`] of the pull before it holds a touch and is no rest.
fn at_rest(pulls: &[Pull], k: usize, (codes, t_us): (&[i32], &[u64])) -> Option<Range<usize>> {
    if let Some(found) = &pulls[k].settled {
        return Some(found.clone());
    }
    let (end, next) = (t_us.get(pulls[k].down.end)?, t_us.get(pulls.get(k + 1)?.up.start)?);
    let (from_us, to_us) = (end + WAIT_US, next.saturating_sub(LEAD_US));
    if to_us < from_us + REST_MIN_US {
        return None;
    }
    let rows = t_us.partition_point(|&t| t < from_us)..t_us.partition_point(|&t| t < to_us);
    let values: Vec<f64> = codes.get(rows.clone())?.iter().map(|&c| f64::from(c)).collect();
    let spans = quantile(&values, 0.95) - quantile(&values, 0.05);
    let level = |rows: &Range<usize>| codes.get(rows.clone()).filter(|s| !s.is_empty()).map(level);
    let way = (level(&pulls[k].hold)? - median(&values)).abs();
    let noise = moving_noise([codes.get(rows.clone())?].into_iter());
    (spans <= (STILL * way).max(PEAK_TO_PEAK * noise)).then_some(rows)
}

/// A rest between two pulls spans no more than this share of the pull: half of the dead travel that
/// common practice leaves at a trigger's start (5 %).
const STILL: f64 = 0.025;

/// Peak to peak over σ, rounded down: 6.6 in converters' data sheets, less what the quantiles at 5 and 95 % leave.
const PEAK_TO_PEAK: f64 = 6.0;

/// Least share of the farthest pull that counts as a full one: a rubber stop gives by tenths of a millimetre
/// of some 7 mm of travel (common practice, from memory), 3 %; a finger that stops half way does not come so near.
const FULL_SHARE: f64 = 0.97;

/// Where the pulls begin, when no rest is known.
fn edge(codes: &[i32], pulls: &[Pull]) -> f64 {
    let first = |pull: &Pull| codes.get(pull.up.start).map(|&c| f64::from(c));
    median(&pulls.iter().filter_map(first).collect::<Vec<_>>())
}

/// The pulls that went all the way, with their way from the rest, counts (signed).
///
/// The farthest way is where three agree, else the farthest of all.
fn full_pulls<'a>(codes: &[i32], pulls: &'a [Pull], from: f64) -> Vec<(&'a Pull, f64)> {
    let held = |pull: &'a Pull| {
        let stretch = codes.get(pull.hold.clone()).filter(|stretch| !stretch.is_empty())?;
        Some((pull, level(stretch) - from))
    };
    let mut ways: Vec<(&Pull, f64)> = pulls.iter().filter_map(held).collect();
    let sizes: Vec<f64> = ways.iter().map(|(_, way)| way.abs()).collect();
    let farthest = sizes.iter().copied().fold(0.0, f64::max);
    let best = far_side(&sizes, band(farthest)).level().unwrap_or(farthest);
    ways.retain(|(_, way)| way.abs() >= FULL_SHARE * best);
    ways
}

/// The level that the full pulls agree on at the far side.
fn full_level(whole: &[(&Pull, f64)], from: f64) -> Option<Estimate> {
    let sign = median(&whole.iter().map(|(_, way)| way.signum()).collect::<Vec<_>>()).signum();
    let sizes: Vec<f64> = whole.iter().map(|(_, way)| sign * way).collect();
    let farthest = sizes.iter().copied().fold(0.0, f64::max);
    let far = far_side(&sizes, band(farthest));
    let levels: Vec<f64> = far.kept.iter().map(|way| from + sign * way).collect();
    place(&levels)
}

/// Robust level of each stretch that lies in the column and is not empty.
fn levels<'a>(codes: &[i32], stretches: impl Iterator<Item = &'a Range<usize>>) -> Vec<f64> {
    stretches
        .filter_map(|range| codes.get(range.clone()))
        .filter(|stretch| !stretch.is_empty())
        .map(level)
        .collect()
}

/// Mean of the samples near the median.
fn level(stretch: &[i32]) -> f64 {
    mean(&near_level(stretch))
}

/// The samples within 2.5 counts or five scaled deviations (7.5 = 5 × 1.483, rounded up) of the median.
///
/// Five σ leave out 6 in 10 million of a normal law. 2.5 counts are the two of an ATmega32U4's absolute accuracy
/// (data sheet, from memory) and the half that a converter rounds by: nearer to the median nothing is wild.
fn near_level(stretch: &[i32]) -> Vec<f64> {
    let values: Vec<f64> = stretch.iter().map(|&c| f64::from(c)).collect();
    let middle = median(&values);
    let away: Vec<f64> = values.iter().map(|v| (v - middle).abs()).collect();
    let limit = (7.5 * median(&away)).max(2.5);
    values.into_iter().filter(|v| (v - middle).abs() <= limit).collect()
}

/// Centre of levels; below four their mean, open below two.
fn place(levels: &[f64]) -> Option<Estimate> {
    location(levels).or_else(|| mean_of_few(levels))
}

fn mean_of_few(values: &[f64]) -> Option<Estimate> {
    let n = values.len();
    if n == 0 {
        return None;
    }
    let half = if n < 2 {
        f64::INFINITY
    } else {
        t_quantile(0.975, (n - 1) as f64) * sd(values) / (n as f64).sqrt()
    };
    let value = mean(values);
    Some(Estimate { value, low: value - half, high: value + half, n })
}

/// SD of at least four levels.
fn scatter(levels: &[f64]) -> Option<Estimate> {
    let n = levels.len();
    if n < 4 {
        return None;
    }
    let (value, nu) = (sd(levels), (n - 1) as f64);
    let limit = |p: f64| value * (nu / chi2_quantile(p, nu)).sqrt();
    Some(Estimate { value, low: limit(0.975), high: limit(0.025), n })
}

/// SD of the fully pulled levels, √(s² − mean of σ²/rows): the same however many rows a hold has. Both ends
/// of the interval are freed of the noise alike.
fn full_scatter(codes: &[i32], whole: &[(&Pull, f64)], pulled: &[f64]) -> Option<Estimate> {
    let found = scatter(pulled)?;
    let of_mean = |(pull, _): &(&Pull, f64)| {
        let held = near_level(codes.get(pull.hold.clone())?);
        // Rounding is noise of 1/12 where nothing else moves the code.
        let variance = if held.len() < 2 { 0.0 } else { sd(&held).powi(2) };
        Some(variance.max(1.0 / 12.0) / held.len().max(1) as f64)
    };
    let noise = mean(&whole.iter().filter_map(of_mean).collect::<Vec<f64>>());
    let freed = |s: f64| (s * s - noise).max(0.0).sqrt();
    Some(Estimate {
        value: freed(found.value),
        low: freed(found.low),
        high: found.high,
        n: found.n,
    })
}

/// Median over strokes, so that a finger that hesitates once does not count; interval: the range of
/// the middle half widened by the floor.
fn reversal(strokes: &[[Stroke; 2]]) -> Measured<Estimate> {
    let all: Vec<&Stroke> = strokes.iter().flatten().collect();
    if all.is_empty() {
        return Err(pulls_needed(0, 4));
    }
    let mut sizes: Vec<f64> = all.iter().map(|s| s.reversal).collect();
    sizes.sort_by(f64::total_cmp);
    let floors: Vec<f64> = all.iter().map(|s| s.floor).collect();
    let floor = median(&floors);
    let value = quantile_sorted(&sizes, 0.5);
    let (low, high) = (quantile_sorted(&sizes, 0.25), quantile_sorted(&sizes, 0.75));
    Ok(Estimate { value, low: (low - floor).max(0.0), high: high + floor, n: all.len() })
}

/// Down against up over the slow pulls.
fn up_against_down(strokes: &[[Stroke; 2]], pick: impl Fn([f64; 3]) -> f64) -> Measured<Estimate> {
    let apart: Vec<f64> = strokes
        .iter()
        .map(|[up, down]| pick([0, 1, 2].map(|k| down.quarters[k] - up.quarters[k])))
        .collect();
    place(&apart).filter(|_| apart.len() >= 2).ok_or_else(|| pulls_needed(apart.len(), 4))
}

/// Size of a signed figure: never negative, 0 in its interval when the sign is open.
fn folded(signed: Estimate) -> Estimate {
    let half = 0.5 * (signed.high - signed.low);
    let value = signed.value.abs();
    Estimate { value, low: (value - half).max(0.0), high: value + half, n: signed.n }
}

fn end_plateau(strokes: &[[Stroke; 2]]) -> Measured<Estimate> {
    let shares: Vec<f64> = strokes.iter().map(|[up, _]| up.plateau).collect();
    let found = place(&shares).ok_or_else(|| pulls_needed(0, 4))?;
    // Half a row at either end of the time at full, in all pulls alike.
    let row = median(&strokes.iter().map(|[up, _]| 1.0 / up.rows as f64).collect::<Vec<_>>());
    Ok(Estimate { low: (found.low - row).max(0.0), high: (found.high + row).min(1.0), ..found })
}

fn pulls_needed(have: usize, need: usize) -> Shortage {
    Shortage {
        what: "slow pulls of this trigger".to_owned(),
        have,
        need: need.max(have + 1),
        advice: "pull it four times slowly to the stop, a second and a half each way".to_owned(),
    }
}

fn let_go_needed(have: usize) -> Shortage {
    Shortage {
        what: "undisturbed releases of this trigger".to_owned(),
        have,
        need: 4.max(have + 1),
        advice: "let it snap back eight times and wait a second after each".to_owned(),
    }
}

#[cfg(test)]
mod tests;
