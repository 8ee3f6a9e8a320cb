//! A trigger after the flash: zero when released, full with every pull, in order, one switch a pull.
use super::sticks::reversal;
use super::{Check, Evidence, Judged};
use crate::limits::Decision;
use crate::rig::{AxisId, Half, Place};
use crate::segment::Rows;
use crate::trim::FULL_OUTPUT;
use crate::trim::apply::Trigger;

/// Fewest pulls that say something.
const PULLS: usize = 3;

/// All checks of a trigger.
pub(super) fn checks(e: &Evidence<'_>, half: Half) -> Vec<Check> {
    let axis = half.trigger();
    let place = Place::Axis(axis);
    let Some(output) = e.outputs.axis(axis) else {
        let why = "its output is not in the stream".to_owned();
        let advice = "print the trigger's output (out_lt and the like)";
        return vec![Check::new("zero-released", place).undecided(0, why, advice)];
    };
    vec![
        released(e, half, output),
        pulled(e, half, output),
        order(e, half, output),
        switch(e, half),
        equal_columns(e, &[axis], e.trim.options.smoothing.iter().any(|s| s.axis == axis), place),
    ]
}

/// Output 0 in every row of every rest and of every settled release.
fn released(e: &Evidence<'_>, half: Half, output: &[i32]) -> Check {
    let check = Check::new("zero-released", half.trigger());
    let pulls = e.segments.pulls(half);
    let settled = pulls.iter().filter_map(|p| p.settled);
    let stretches: Vec<Rows> = settled.chain(e.segments.rests.iter().map(|r| r.rows)).collect();
    let rows: usize = stretches.iter().map(|r| r.len()).sum();
    let leaking: usize =
        stretches.iter().map(|r| r.of(output).iter().filter(|o| **o != 0).count()).sum();
    if stretches.len() < PULLS && leaking == 0 {
        let figures = format!("{} releases and rests; {PULLS} are needed", stretches.len());
        let advice = "pull the trigger and let go a few times, half a second in between";
        return check.undecided(stretches.len(), figures, advice);
    }
    let share = leaking as f64 / rows.max(1) as f64;
    let figures = format!("{leaking} of {rows} rows leak in {} stretches", stretches.len());
    let advice = "a longer dead travel is needed: measure this board again";
    check.judged(share, &e.limits.proof_leak_share, stretches.len(), figures, advice)
}

/// Exactly 32767 held by every pull.
fn pulled(e: &Evidence<'_>, half: Half, output: &[i32]) -> Check {
    let check = Check::new("full-pulled", half.trigger());
    let pulls = e.segments.pulls(half);
    let mosts = pulls.iter().map(|p| {
        let rows = Rows { first: p.up.first, end: p.down.end };
        rows.of(output).iter().max().copied().unwrap_or(0)
    });
    let least = mosts.clone().min().unwrap_or(0);
    let full = mosts.filter(|m| *m == i32::from(FULL_OUTPUT)).count();
    let n = pulls.len();
    let figures = format!("{full} of {n} pulls give {FULL_OUTPUT}, the least {least}");
    if n < PULLS {
        let advice = "pull the trigger all the way a few times";
        return check.undecided(n, format!("{n} pulls; {PULLS} are needed"), advice);
    }
    let share = f64::from(least) / f64::from(FULL_OUTPUT);
    let advice = "pull all the way; if it stays short, measure the trigger again";
    check.judged(share, &e.limits.proof_end_share, n, figures, advice)
}

/// The output never turns back as the travel grows.
fn order(e: &Evidence<'_>, half: Half, output: &[i32]) -> Check {
    let axis = half.trigger();
    let check = Check::new("monotonic", axis);
    let Some(raw) = e.tracks.axis(axis) else {
        return check.left_out("the raw codes are not in the stream");
    };
    let smoothed = e.trim.options.smoothing.iter().any(|s| s.axis == axis);
    if smoothed && e.outputs.judged == Judged::Board {
        return check.left_out("smoothed outputs lag behind their raw codes");
    }
    let sign = e.trim.trigger(half).map_or(1, |t| i32::from(t.sign));
    let (codes, reversal) = reversal(raw.iter().zip(output).map(|(r, o)| (*r * sign, *o)));
    let figures = format!("turns back by {reversal} at most; {codes} codes");
    if codes < 40 {
        let figures = format!("{codes} different codes; 40 are needed");
        return check.undecided(codes, figures, "pull the trigger slowly all the way");
    }
    let advice = "flash the header that belongs to the record";
    check.judged(f64::from(reversal), &e.limits.proof_leak_share, codes, figures, advice)
}

/// The two thresholds on the raw codes: on once and off once a pull.
fn switch(e: &Evidence<'_>, half: Half) -> Check {
    let check = Check::new("one-switch-a-pull", half.trigger());
    let (Some(raw), Some(trigger)) = (e.tracks.axis(half.trigger()), Trigger::of(e.trim, half))
    else {
        return check.left_out("the raw codes are not in the stream");
    };
    let mut before = false;
    let turned_on: Vec<usize> = raw
        .iter()
        .enumerate()
        .filter_map(|(row, code)| {
            let was = before;
            before = trigger.pressed((*code).clamp(0, 65535) as u16, was);
            (before && !was).then_some(row)
        })
        .collect();
    let pulls = e.segments.pulls(half);
    let wrong = pulls.iter().filter(|p| {
        let rows = Rows { first: p.up.first, end: p.down.end };
        turned_on.iter().filter(|row| rows.contains(**row)).count() != 1
    });
    let wrong = wrong.count();
    let n = pulls.len();
    if n < PULLS {
        let figures = format!("{n} pulls; {PULLS} are needed");
        return check.undecided(n, figures, "pull the trigger all the way a few times");
    }
    let figures = format!("{} of {n} pulls switch exactly once, by the record", n - wrong);
    let advice = "find the source of the noise, then measure the trigger again";
    check.judged(wrong as f64, &e.limits.resets, n, figures, advice)
}

/// The board's outputs against the record's for the same frames' raw codes.
pub(super) fn equal_columns(
    e: &Evidence<'_>,
    axes: &[AxisId],
    smoothed: bool,
    place: Place,
) -> Check {
    let check = Check::new("equal-to-record", place);
    if e.outputs.judged == Judged::Record {
        return check.left_out("the outputs are the record's own");
    }
    if smoothed {
        return check.left_out("smoothed outputs lag behind their raw codes");
    }
    let (mut rows, mut differ, mut worst) = (0usize, 0usize, 0u32);
    for axis in axes {
        let pair = (e.outputs.axis(*axis), e.outputs.expected[axis.index()].as_deref());
        let (Some(have), Some(want)) = pair else {
            return check.left_out("the raw codes are not in the stream");
        };
        rows += have.len();
        for (have, want) in have.iter().zip(want).filter(|(have, want)| have != want) {
            differ += 1;
            worst = worst.max(have.abs_diff(*want));
        }
    }
    let figures = format!("{differ} of {rows} outputs differ, by {worst} at most");
    let advice = "print raw and processed values of the same scan; else other constants run on the \
                  board than in the record";
    let judged = check.judged(differ as f64, &e.limits.resets, rows, figures, advice);
    match judged.decision {
        // Values of two scans differ without anything being wrong.
        Some(Decision::Fail) => Check { decision: Some(Decision::CannotTell), ..judged },
        _ => judged,
    }
}
