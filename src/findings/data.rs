//! What is missing: every figure that the data do not support, with what to do about it.
use super::centre::{SETTLED_RELEASES, far_ratio};
use super::{Bench, Code, Finding, Severity};
use crate::measure::Shortage;
use crate::measure::noise::is_below_floor;
use crate::rig::Place;
use crate::survey::StickFigures;
use crate::survey::catalogue::{Entry, Shown};

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
    push(found, Place::Stream, gaps(bench, Place::Stream));
    for axis in &survey.axes {
        push(found, axis.axis, gaps(bench, Place::Axis(axis.axis)));
    }
    for stick in &survey.sticks {
        let mut gaps = gaps(bench, Place::Stick(stick.half));
        gaps.extend(more_releases(stick));
        push(found, Place::Stick(stick.half), gaps);
    }
    buttons(bench, found);
}

type Gaps = Vec<(String, Shortage)>;

/// What the catalogue asks for of a part, and why it is not there.
fn gaps(bench: &Bench<'_>, place: Place) -> Gaps {
    let asked = |entry: &Entry<'_>| {
        let of_sticks = !matches!(place, Place::Axis(axis) if axis.is_trigger());
        entry.is_shown(Shown::Asked) || of_sticks && entry.is_shown(Shown::AskedOfSticks)
    };
    let entries = bench.survey.entries_at(place, bench.limits);
    entries
        .iter()
        .filter(|entry| asked(entry))
        // Noise below what the converter can show is a good sign and no lack of data.
        .filter_map(|entry| Some((entry.label(), entry.figure.shortage()?)))
        .filter(|(_, shortage)| !is_below_floor(shortage))
        .map(|(label, shortage)| (label, shortage.clone()))
        .collect()
}

/// A far rest among few releases is first a reason to release more often.
fn more_releases(stick: &StickFigures) -> Option<(String, Shortage)> {
    let have = stick.releases.len();
    let ratio = far_ratio(stick)?;
    (have < SETTLED_RELEASES).then(|| {
        let what = format!("releases, one of which rests {ratio:.1} times the RMS distance away");
        let advice = "release the stick from eight more directions".to_owned();
        ("a sure dead zone".to_owned(), Shortage { what, have, need: SETTLED_RELEASES, advice })
    })
}

/// Buttons that were never pressed share one finding.
fn buttons(bench: &Bench<'_>, found: &mut Vec<Finding>) {
    let buttons = &bench.survey.buttons;
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
        let place = Place::Button(button.index);
        push(found, place, gaps(bench, place));
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
            Some((names, _)) => names.push(name.as_str()),
            None => reasons.push((vec![name.as_str()], shortage)),
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
