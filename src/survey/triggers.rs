//! Triggers: rest, full, reversal and hysteresis from the pulls.
use std::ops::Range;

use super::why::said;
use super::{Source, TriggerFigures, short};
use crate::measure::trigger::{Pull, trigger};
use crate::measure::{Estimate, Measured, Shortage};
use crate::rig::Half;
use crate::segment::{Kind, Pace, Part, Rows};
use crate::units::Unit;

pub(super) fn figures(source: Source, half: Half) -> TriggerFigures {
    let pulls = source.segments.pulls(half);
    let Some(codes) = source.tracks.axis(half.trigger()) else { return none(half) };
    let strokes: Vec<Pull> = pulls
        .iter()
        .map(|pull| Pull {
            up: range(pull.up),
            hold: range(pull.hold),
            down: range(pull.down),
            settled: pull.settled.map(range),
            slow: pull.pace == Pace::Slow,
        })
        .collect();
    // Before the first pull the trigger rests where it was last let go; later rests are the pulls'.
    let first = pulls.first().map_or(usize::MAX, |pull| pull.up.first);
    let before = source.segments.rests.iter().filter(|rest| rest.rows.end <= first);
    let rests: Vec<Range<usize>> = before.map(|rest| range(rest.rows)).take(1).collect();
    let found = trigger(codes, &source.tracks.t_us, &strokes, &rests);
    let whole = |pull: &crate::segment::Pull| {
        let end = pull.settled.map_or(pull.down.end, |rows| rows.end);
        Rows { first: pull.up.first, end }
    };
    let span = source.span_of(pulls.iter().map(whole));
    let counts = |figure: Measured<Estimate>| {
        figure.map(|e| e.over(span, Unit::Counts)).map_err(|s| {
            said(source, (Kind::Pull, Part::Trigger(half)), pulls.len(), of_trigger(s, half))
        })
    };
    TriggerFigures {
        half,
        rest: counts(found.rest),
        full: counts(found.full),
        rest_scatter: counts(found.rest_scatter),
        reversal: counts(found.reversal),
        hysteresis: counts(found.hysteresis),
        hysteresis_at: found.hysteresis_at.map(counts),
        full_scatter: counts(found.full_scatter),
        end_plateau: found
            .end_plateau
            .map(|e| e.over(span, Unit::Fraction))
            .map_err(|s| of_trigger(s, half)),
        rests_high: found.rests_high,
        pulls: pulls.len(),
    }
}

fn range(rows: Rows) -> Range<usize> {
    rows.first..rows.end
}

/// The shortage with the trigger named.
fn of_trigger(mut shortage: Shortage, half: Half) -> Shortage {
    let named = format!("the {}", half.trigger().words());
    shortage.what = match shortage.what.contains("this trigger") {
        true => shortage.what.replace("this trigger", &named),
        false => format!("{} of {named}", shortage.what),
    };
    shortage
}

fn none(half: Half) -> TriggerFigures {
    let need: fn() -> Measured = || Err(short("readings of a trigger", 0, 1, "send its column"));
    TriggerFigures {
        half,
        rest: need(),
        full: need(),
        rest_scatter: need(),
        reversal: need(),
        hysteresis: need(),
        hysteresis_at: [need(), need(), need()],
        full_scatter: need(),
        end_plateau: need(),
        rests_high: None,
        pulls: 0,
    }
}
