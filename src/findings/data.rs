//! What is missing: every figure that the data do not support, with what to do about it.
use super::centre::{SETTLED_RELEASES, far_ratio};
use super::{Bench, Code, Finding, Severity};
use crate::measure::noise::is_below_floor;
use crate::measure::{Measured, Shortage};
use crate::rig::Place;
use crate::survey::{AxisFigures, ButtonFigures, StickFigures, StreamFigures, TriggerFigures};

/// Figures that could not be given.
pub(super) fn not_enough_data(bench: &Bench<'_>, found: &mut Vec<Finding>) {
    let survey = bench.survey;
    if survey.frames == 0 {
        let remedy = "Check that the board prints its raw readings and that the baud rate agrees";
        let evidence = "no frame was read".to_owned();
        found.push(Finding::new(
            Code::NotEnoughData,
            Place::Stream,
            Severity::Warning,
            evidence,
            remedy,
        ));
        return;
    }
    push(found, Place::Stream, of_stream(&survey.stream));
    for axis in &survey.axes {
        push(found, axis.axis, of_axis(axis));
    }
    for stick in &survey.sticks {
        let mut gaps = of_stick(stick);
        gaps.extend(more_releases(stick));
        push(found, Place::Stick(stick.half), gaps);
    }
    for trigger in &survey.triggers {
        push(found, trigger.half.trigger(), of_trigger(trigger));
    }
    buttons(&survey.buttons, found);
}

type Gaps = Vec<(&'static str, Shortage)>;

fn gaps<'a>(figures: impl IntoIterator<Item = (&'static str, &'a Measured)>) -> Gaps {
    figures.into_iter().filter_map(|(name, f)| Some((name, f.as_ref().err()?.clone()))).collect()
}

fn of_stream(stream: &StreamFigures) -> Gaps {
    let mut gaps = gaps([
        ("rate", &stream.rate_hz),
        ("interval", &stream.interval_median_us),
        ("clock ratio", &stream.clock_ppm),
        ("staleness of the left half", &stream.stale[0]),
        ("staleness of the right half", &stream.stale[1]),
    ]);
    gaps.extend(stream.lost.as_ref().err().map(|s| ("lost frames", s.clone())));
    gaps
}

fn of_axis(axis: &AxisFigures) -> Gaps {
    let mut named = vec![
        ("rest level", &axis.rest),
        ("peak-to-peak noise", &axis.noise_pp),
        ("drift", &axis.drift_per_min),
    ];
    // Noise below what the converter can show is a good sign and no lack of data.
    if !axis.noise_rms.as_ref().is_err_and(is_below_floor) {
        named.push(("noise", &axis.noise_rms));
    }
    if !axis.axis.is_trigger() {
        named.extend([
            ("low end", &axis.low),
            ("high end", &axis.high),
            ("clipped share", &axis.clipped),
            ("centre", &axis.centre),
        ]);
    }
    gaps(named)
}

fn of_stick(stick: &StickFigures) -> Gaps {
    gaps([
        ("scatter of the rests", &stick.scatter),
        ("hysteresis in x", &stick.hysteresis[0]),
        ("hysteresis in y", &stick.hysteresis[1]),
        ("reach", &stick.outer_reach),
        ("roundness", &stick.roundness),
        ("angle of the axes", &stick.orthogonality_deg),
        ("rotation", &stick.rotation_deg),
        ("coverage", &stick.coverage),
    ])
}

/// A far rest among few releases is first a reason to release more often.
fn more_releases(stick: &StickFigures) -> Option<(&'static str, Shortage)> {
    let have = stick.releases.len();
    let ratio = far_ratio(stick)?;
    (have < SETTLED_RELEASES).then(|| {
        let what = format!("releases, one of which rests {ratio:.1} times the RMS distance away");
        let advice = "release the stick from eight more directions".to_owned();
        ("a sure dead zone", Shortage { what, have, need: SETTLED_RELEASES, advice })
    })
}

fn of_trigger(trigger: &TriggerFigures) -> Gaps {
    gaps([
        ("released level", &trigger.rest),
        ("full level", &trigger.full),
        ("scatter of the rest", &trigger.rest_scatter),
        ("reversal", &trigger.reversal),
        ("hysteresis", &trigger.hysteresis),
    ])
}

/// Buttons that were never pressed share one finding.
fn buttons(buttons: &[ButtonFigures], found: &mut Vec<Finding>) {
    let idle: Vec<String> = buttons
        .iter()
        .filter(|b| b.presses == 0 && !b.stuck)
        .map(|b| b.index.to_string())
        .collect();
    if !idle.is_empty() {
        let evidence = format!("never pressed: b{}", idle.join(", b"));
        let remedy = "Press each of them five times and let go";
        let severity = Severity::Note;
        found.push(Finding::new(Code::NotEnoughData, Place::Buttons, severity, evidence, remedy));
    }
    for button in buttons.iter().filter(|b| b.presses > 0) {
        let mut lacking = gaps([
            ("press bounce", &button.bounce_press_ms),
            ("release bounce", &button.bounce_release_ms),
        ]);
        lacking.extend(button.window_ms.as_ref().err().map(|s| ("debounce window", s.clone())));
        push(found, Place::Button(button.index), lacking);
    }
}

/// One note for a place: each lack is named, its advice said once.
fn push(found: &mut Vec<Finding>, place: impl Into<Place>, gaps: Gaps) {
    if gaps.is_empty() {
        return;
    }
    let mut reasons: Vec<(Vec<&str>, &Shortage)> = Vec::new();
    for (name, shortage) in &gaps {
        match reasons.iter_mut().find(|(_, seen)| *seen == shortage) {
            Some((names, _)) => names.push(name),
            None => reasons.push((vec![name], shortage)),
        }
    }
    let evidence: Vec<String> = reasons
        .iter()
        .map(|(names, s)| {
            format!("no {}: {} {}, {} needed", names.join(", no "), s.have, s.what, s.need)
        })
        .collect();
    let mut advice: Vec<&str> = Vec::new();
    for (_, shortage) in &reasons {
        if !shortage.advice.is_empty() && !advice.contains(&shortage.advice.as_str()) {
            advice.push(&shortage.advice);
        }
    }
    found.push(Finding::new(
        Code::NotEnoughData,
        place,
        Severity::Note,
        evidence.join("; "),
        &advice.join("; "),
    ));
}
