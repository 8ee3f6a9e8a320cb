//! Figures of an axis that need much of the record: Allan deviation, warm-up, steps of the converter.
use std::ops::Range;

use super::coupling::{self, Away};
use super::sticks::level;
use super::{Source, short};
use crate::measure::curve::{self, OddCode};
use crate::measure::distribution::t_quantile;
use crate::measure::histogram::CodeHistogram;
use crate::measure::stability::{self, AllanPoint, AllanSums};
use crate::measure::{Estimate, Measured, Reading};
use crate::rig::AxisId;
use crate::segment::Rows;
use crate::units::Unit;

/// Scaled MADs beyond which a code at rest is a wild sample and does not go into the deviations.
const WILD: f64 = 8.0;
/// Shortest time from the first rest to the last in which a warm-up is looked for, s.
const WARM_UP_S: f64 = 300.0;

/// Rows of a rest that go into the Allan deviation: 17 minutes at 1 kHz tell what there is to tell.
const ALLAN_ROWS: usize = 1 << 20;

/// Allan deviations of the longest quiet rest; wild codes are replaced by the median.
pub(super) fn allan(source: Source, axis: AxisId) -> Vec<AllanPoint> {
    let (Some(column), Some(rest)) = (source.tracks.axis(axis), source.segments.longest_rest())
    else {
        return Vec::new();
    };
    let codes = rest.rows.of(column);
    let codes = &codes[..codes.len().min(ALLAN_ROWS)];
    let (Some(tally), Some(rate_hz)) = (CodeHistogram::of(codes), source.tracks.rate_hz()) else {
        return Vec::new();
    };
    let (middle, way) = (tally.median(), WILD * tally.sigma().max(0.5));
    let tame = |&code: &i32| {
        let code = f64::from(code);
        if (code - middle).abs() <= way { code } else { middle }
    };
    AllanSums::of(&codes.iter().map(tame).collect::<Vec<f64>>()).octaves(rate_hz)
}

/// Rise and time constant of a warm-up over all quiet rests, from levels of about a second.
pub(super) fn warm_up(source: Source, axis: AxisId) -> Measured<[Reading; 2]> {
    let too_short = |seconds: f64| {
        let what = format!("seconds of rest of the {} from cold", axis.words());
        short(&what, seconds as usize, 900, "switch on cold, hands off, and log fifteen minutes")
    };
    let Some(column) = source.tracks.axis(axis) else { return Err(too_short(0.0)) };
    let rests = source.segments.rests.iter().map(|rest| rest.rows);
    let span = source.span_of(rests.clone());
    if source.segments.rests.is_empty() || span.seconds() < WARM_UP_S {
        return Err(too_short(if source.segments.rests.is_empty() { 0.0 } else { span.seconds() }));
    }
    let second = source.tracks.rate_hz().map_or(250, |hz| (hz as usize).clamp(1, 8192));
    let blocks = rests.flat_map(|rest| {
        let whole = rest.len() / second;
        (0..whole).map(move |k| Rows {
            first: rest.first + k * second,
            end: rest.first + (k + 1) * second,
        })
    });
    let (t_s, levels): (Vec<f64>, Vec<f64>) = blocks
        .filter_map(|rows| {
            let at = source.span(rows);
            let middle_us = 0.5 * (at.start_us as f64 + at.end_us as f64);
            Some((1e-6 * middle_us, level(rows.of(column))?))
        })
        .unzip();
    let found = stability::warm_up(&t_s, &levels)?;
    Ok([found.rise.over(span, Unit::Counts), found.tau_s.over(span, Unit::Seconds)])
}

/// Shortest stay of an untouched part that a drift is read from, µs.
const IDLE_US: u64 = 8_000_000;
/// Levels of a second that an idle drift needs beyond one for each stay.
const IDLE_FREEDOM: usize = 6;

/// Drift of an axis while its own part is left alone, whatever is done to the others: counts a minute.
///
/// Minutes of triggers and buttons tell a slope some twenty times as finely as eight seconds of quiet
/// rest. Robust levels of a second, a level of its own for each stay, one common slope by least squares;
/// interval by t over what is left. Needs stays of 8 s.
pub(super) fn idle_drift(source: Source, axis: AxisId, away: &Away) -> Measured<Reading> {
    let part = AxisId::ALL.into_iter().filter(|&other| coupling::same_part(axis, other));
    let watched = part.fold(0u8, |bits, axis| bits | 1 << axis.index());
    let t_us = &source.tracks.t_us;
    let second = source.tracks.rate_hz().map_or(250, |hz| (hz as usize).clamp(1, 8192));
    let (mut stays, mut n, mut across, mut along) = (Vec::new(), 0, 0.0, 0.0);
    let mut left: Vec<[f64; 2]> = Vec::new();
    for stay in away.home(source, watched) {
        let rows = Rows { first: stay.start, end: stay.end };
        let span = source.span(rows);
        let column = source.tracks.axis(axis).unwrap_or(&[]);
        if span.end_us - span.start_us < IDLE_US {
            continue;
        }
        let points: Vec<[f64; 2]> = rows
            .of(column)
            .chunks_exact(second)
            .zip(rows.of(t_us).chunks_exact(second))
            .filter_map(|(codes, times)| Some([times[second / 2] as f64 / 6e7, level(codes)?]))
            .collect();
        let count = points.len() as f64;
        let middle = [0, 1].map(|k| points.iter().map(|p| p[k]).sum::<f64>() / count.max(1.0));
        for p in &points {
            let (t, y) = (p[0] - middle[0], p[1] - middle[1]);
            across += t * t;
            along += t * y;
            left.push([t, y]);
        }
        n += points.len();
        stays.push(rows);
    }
    let freedom = n.saturating_sub(stays.len() + 1);
    if freedom < IDLE_FREEDOM || across <= 0.0 {
        let what = format!("stays of 8 s in which the {} is left alone", axis.words());
        let advice = "leave it alone for a minute while other controls are used";
        return Err(short(&what, stays.len(), 1.max(stays.len()), advice));
    }
    let slope = along / across;
    let squares: f64 = left.iter().map(|[t, y]| (y - slope * t).powi(2)).sum();
    let freedom = freedom as f64;
    let half = t_quantile(0.975, freedom) * (squares / freedom / across).sqrt();
    let found = Estimate { value: slope, low: slope - half, high: slope + half, n };
    Ok(found.over(source.span_of(stays), Unit::CountsPerMinute))
}

/// Wide and missing codes, from the rolls of the stick or the pulls of the trigger.
pub(super) fn odd_codes(source: Source, axis: AxisId) -> Measured<Vec<OddCode>> {
    let half = axis.half();
    let range = |rows: Rows| -> Range<usize> { rows.first..rows.end };
    let sweeps: Vec<Range<usize>> = if axis.is_trigger() {
        source.segments.pulls(half).iter().flat_map(|p| [range(p.up), range(p.down)]).collect()
    } else {
        source.segments.rolls(half).iter().map(|roll| range(roll.rows)).collect()
    };
    let widths = source.tracks.axis(axis).and_then(|codes| curve::code_widths(codes, &sweeps));
    match widths {
        Some(widths) => curve::odd_codes(&widths),
        None => {
            let what = format!("slow sweeps of the {}", axis.words());
            Err(short(&what, 0, 1, "sweep it slowly from end to end several times"))
        }
    }
}
