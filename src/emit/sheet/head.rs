//! Title, facts of the session and the verdict.
use super::found::State;
use crate::emit::markup::{Html, tag};
use crate::emit::meta::{Report, SessionFacts};
use crate::emit::origin::SHOWN;
use crate::findings::Severity;
use crate::measure::number;

/// Name of the controller and the board, or that there is none.
pub fn title(facts: &SessionFacts) -> String {
    match (facts.rig_name.is_empty(), facts.board_id.is_empty()) {
        (false, false) => format!("{}, board {}", facts.rig_name, facts.board_id),
        (false, true) => facts.rig_name.clone(),
        (true, false) => format!("Board {}", facts.board_id),
        (true, true) => "Controller without a name".to_owned(),
    }
}

/// The head of the page and the card with the verdict.
pub fn write(report: &Report<'_>, out: &mut Html) {
    let (facts, survey) = (report.facts, report.survey);
    let mut head = Html::markup("\n").then(tag("h1").line(title(facts)));
    let mut line = Vec::new();
    if !facts.created.is_empty() {
        line.push(format!("recorded {}", facts.created));
    }
    line.push(match survey.duration_s.is_finite() {
        true => format!("{} frames in {}\u{a0}s", survey.frames, number(survey.duration_s, 1)),
        false => format!("{} frames, nothing tells their time", survey.frames),
    });
    if let Ok(rate) = &survey.stream.rate_hz {
        line.push(format!("{} frames a second", number(rate.value, 1)));
    }
    let guess = if survey.raw_bits_guessed { ", guessed from the samples" } else { "" };
    line.push(format!("raw width {}\u{a0}bits{guess}", survey.raw_bits));
    line.push(format!("from {}", facts.origin.source));
    line.push(facts.origin.tool.clone());
    head.push(tag("p").class("soft").line(line.join(" · ")));
    let sum = facts.origin.sum_words();
    if !sum.is_empty() {
        head.push(tag("p").class("small soft").line(sum));
    }
    for note in &facts.notes {
        head.push(tag("p").line(format!("Note: {note}")));
    }
    for damage in facts.origin.harms(SHOWN) {
        let text = tag("strong").with("Damage:").then(format!(" {damage}"));
        head.push(tag("p").line(text));
    }
    out.push(tag("header").line(head));
    verdict(report, out);
}

fn verdict(report: &Report<'_>, out: &mut Html) {
    let count = |s: Severity| report.findings.iter().filter(|f| f.severity == s).count();
    let [faults, warnings, notes] = [Severity::Fault, Severity::Warning, Severity::Note].map(count);
    let refused = report.solution.trim.refusals.len();
    let (state, headline) = if faults > 0 {
        (State::Fault, format!("{}: mend before the constants are used", plural(faults, "fault")))
    } else if warnings > 0 {
        (State::Warning, format!("No fault, {} to look at", plural(warnings, "warning")))
    } else if refused > 0 {
        (State::Note, "No fault; some constants are refused for want of data".to_owned())
    } else {
        (State::Done, "No fault, no warning".to_owned())
    };
    let trim = &report.solution.trim;
    let mut parts = vec![
        plural(faults, "fault"),
        plural(warnings, "warning"),
        plural(notes, "note"),
        format!(
            "constants for {}, {}, {} and {}",
            plural(trim.axes.len(), "stick axis").replace("axiss", "axes"),
            plural(trim.sticks.len(), "stick"),
            plural(trim.triggers.len(), "trigger"),
            plural(trim.buttons.len(), "button"),
        ),
    ];
    if refused > 0 {
        parts.push(format!("{} refused", plural(refused, "part")));
    }
    let counts = tag("span").class("soft").with(parts.join(" · "));
    let words = tag("div").with(tag("strong").with(headline).then(counts));
    let verdict = tag("div").class("verdict").line(state.shape().then(words));
    out.push(tag("section").line(Html::markup("\n").then(verdict)));
}

/// "1 fault", "2 faults", "no fault".
fn plural(n: usize, one: &str) -> String {
    match n {
        0 => format!("no {one}"),
        1 => format!("1 {one}"),
        _ => format!("{n} {one}s"),
    }
}
