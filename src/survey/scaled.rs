//! Figures as their bands are written: a share of travel or span, a ratio, a clearance.
use super::{
    AxisFigures, ButtonFigures, StickFigures, StreamFigures, Survey, TriggerFigures, value,
};
use crate::measure::contact::SETTLE_MIN_US;
use crate::measure::gate::GateShape;
use crate::measure::{Estimate, Measured, Reading, Span, difference, interval, ratio};
use crate::rig::AxisId;
use crate::session::{Codes, TimeSource};
use crate::units::Unit;

/// A reading over a length that is taken as known: a share of travel.
fn share_of(reading: &Reading, length: f64) -> Option<Reading> {
    let share = |counts: f64| counts / length;
    let Reading { value, low, high, n, .. } = *reading;
    (length > 0.0).then(|| {
        let estimate = Estimate { value: share(value), low: share(low), high: share(high), n };
        estimate.over(reading.span, Unit::Fraction)
    })
}

/// The size of a signed reading; from zero where the interval holds zero.
fn size(reading: &Reading) -> Reading {
    let (low, high) = (reading.low.abs(), reading.high.abs());
    let least = if reading.low <= 0.0 && reading.high >= 0.0 { 0.0 } else { low.min(high) };
    Reading { value: reading.value.abs(), low: least, high: low.max(high), ..*reading }
}

impl AxisFigures {
    /// Mean travel to a side, counts: half of high end less low end.
    pub fn mean_travel(&self) -> Option<f64> {
        let travel = (value(&self.high)? - value(&self.low)?) * 0.5;
        (travel > 0.0).then_some(travel)
    }
}

impl TriggerFigures {
    /// Travel of a trigger of either polarity, counted upward.
    pub fn travel(&self) -> Option<Reading> {
        let (rest, full) = (self.rest.as_ref().ok()?, self.full.as_ref().ok()?);
        Some(if full.value >= rest.value { difference(full, rest) } else { difference(rest, full) })
    }
}

fn travel_of(survey: &Survey, axis: AxisId) -> Option<f64> {
    survey.axis(axis)?.mean_travel()
}

/// 99th percentile of the interval over its median, by the board's own clock: host times say when the
/// computer read, not what the loop did.
pub(crate) fn interval_ratio(s: &StreamFigures, _: usize, survey: &Survey) -> Option<Reading> {
    if survey.time_source != TimeSource::Board {
        return None;
    }
    let (p99, median) = (s.interval_p99_us.as_ref().ok()?, s.interval_median_us.as_ref().ok()?);
    // Gaps of lost frames lengthen intervals without the loop being slow.
    let lost = *s.lost.as_ref().unwrap_or(&0);
    if lost as f64 > 0.005 * survey.frames as f64 {
        return None;
    }
    ratio(p99, median, Unit::Number)
}

impl StreamFigures {
    /// Frames that went missing on the way: all but those in damage of the recording; `None` where
    /// neither counter nor clock tells.
    pub fn lost_on_the_way(&self) -> Option<u64> {
        Some(self.lost.as_ref().ok()?.saturating_sub(self.lost_in_file))
    }
}

/// Share of lost frames among those that should have come.
pub(super) fn loss_share(s: &StreamFigures, _: usize, survey: &Survey) -> Option<Reading> {
    let lost = s.lost_on_the_way()?;
    let due = survey.frames.saturating_add(lost);
    let share = match lost {
        // Frames are counted: none lost is none lost.
        0 => Estimate { value: 0.0, low: 0.0, high: 0.0, n: due as usize },
        _ => interval::share(lost as usize, due as usize).ok()?,
    };
    let span = s.rate_hz.as_ref().map_or(Span::default(), |rate| rate.span);
    Some(share.over(span, Unit::Fraction))
}

/// Restarts are counted exactly.
pub(super) fn resets(s: &StreamFigures, _: usize, survey: &Survey) -> Option<Reading> {
    let value = s.resets as f64;
    let n = survey.frames as usize;
    let span = s.rate_hz.as_ref().map_or(Span::default(), |rate| rate.span);
    (n > 0).then(|| Estimate { value, low: value, high: value, n }.over(span, Unit::Number))
}

/// From the lower rail to the low end of a stick's axis.
pub(super) fn clearance_below(a: &AxisFigures, _: usize, survey: &Survey) -> Option<Reading> {
    if survey.codes != Codes::Raw {
        return None;
    }
    a.low.as_ref().ok().filter(|_| !a.axis.is_trigger()).copied()
}

/// From the high end of a stick's axis to the upper rail.
pub(super) fn clearance_above(a: &AxisFigures, _: usize, survey: &Survey) -> Option<Reading> {
    if survey.codes != Codes::Raw {
        return None;
    }
    let full = 2f64.powi(i32::from(survey.raw_bits)) - 1.0;
    let high = a.high.as_ref().ok().filter(|_| !a.axis.is_trigger())?;
    let (low, top) = (full - high.high, full - high.low);
    Some(Reading { value: full - high.value, low, high: top, ..*high })
}

/// Hysteresis at the centre as a share of that axis's travel.
pub(super) fn hysteresis(s: &StickFigures, k: usize, survey: &Survey) -> Option<Reading> {
    let travel = travel_of(survey, s.half.stick()[k.min(1)])?;
    share_of(s.hysteresis[k.min(1)].as_ref().ok()?, travel)
}

/// Shift under a press as a share of that axis's travel, whichever way it goes.
pub(super) fn press_shift(s: &StickFigures, k: usize, survey: &Survey) -> Option<Reading> {
    let travel = travel_of(survey, s.half.stick()[k.min(1)])?;
    share_of(&size(s.press_shift[k.min(1)].as_ref().ok()?), travel)
}

/// Roundness where the gate is round: other forms are not held against a circle. One sector alone is
/// where a thumb fell short: the profile is judged by the medians of three neighbours where those say less.
pub(super) fn roundness(s: &StickFigures, _: usize, _: &Survey) -> Option<Reading> {
    let round = matches!(s.shape, Ok(GateShape::Circle | GateShape::Ellipse));
    let reading = s.roundness.as_ref().ok().filter(|_| round)?;
    let less = (reading.value - without_lone_sectors(&s.profile.reach)).max(0.0);
    let Reading { value, low, high, .. } = *reading;
    Some(Reading { value: value - less, low: (low - less).max(0.0), high: high - less, ..*reading })
}

/// Largest less smallest of the running medians of three, share of the mean; infinite for a profile with
/// holes.
fn without_lone_sectors(reach: &[f64]) -> f64 {
    let n = reach.len();
    if n == 0 || reach.iter().any(|r| !r.is_finite()) {
        return f64::INFINITY;
    }
    let middle = |k: usize| {
        let mut three = [reach[(k + n - 1) % n], reach[k], reach[(k + 1) % n]];
        three.sort_by(f64::total_cmp);
        three[1]
    };
    let middles: Vec<f64> = (0..n).map(middle).collect();
    let most = middles.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let least = middles.iter().copied().fold(f64::INFINITY, f64::min);
    (most - least) * n as f64 / reach.iter().sum::<f64>()
}

/// Scatter of a trigger's rest as a share of its travel.
pub(super) fn trigger_scatter(t: &TriggerFigures, _: usize, _: &Survey) -> Option<Reading> {
    share_of(t.rest_scatter.as_ref().ok()?, t.travel()?.value)
}

/// A reversal beyond what noise alone shows, about 4 σ.
pub(super) fn reversal(t: &TriggerFigures, _: usize, survey: &Survey) -> Option<Reading> {
    let noise = survey.axis(t.half.trigger()).and_then(|a| value(&a.noise_rms)).unwrap_or(0.0);
    t.reversal.as_ref().ok().filter(|r| r.low > 4.0 * noise).copied()
}

/// A bounce from what it surely lasted to two looks more than it was seen to last, which hold in 95 of 100
/// cases as every judged interval does; the bound beside it holds in 999 of 1 000. Closer looks narrow it,
/// more presses do not, so it counts none.
pub(crate) fn bounce(b: &ButtonFigures, bound: &Measured) -> Option<Reading> {
    let bound = bound.as_ref().ok()?;
    // The first change came up to a look before it was seen. Looks farther apart than the time after which a
    // contact counts as settled do not tell a bounce from a second press or a drop-out.
    let tells = b.looked.every_ms <= 1.05e-3 * SETTLE_MIN_US as f64;
    let surely = if tells { bound.low - b.looked.every_ms } else { 0.0 };
    let high = bound.low + 2.0 * b.looked.every_ms;
    Some(Reading { low: surely.max(0.0), high, n: 0, ..*bound })
}

/// Fewest second closures that are judged: none in a few presses proves nothing, and one is a finger's, as
/// a quick one strikes twice within 80 ms now and then.
pub(crate) const DOUBLES_MIN: usize = 2;

/// The share of second closures, once there are enough of them.
pub(super) fn doubles(b: &ButtonFigures, _: usize, _: &Survey) -> Option<Reading> {
    b.double_share
        .as_ref()
        .ok()
        .filter(|_| b.doubles.as_ref().is_ok_and(|n| *n >= DOUBLES_MIN))
        .copied()
}
