//! Title, facts of the session and the verdict.
use crate::emit::escape::html;
use crate::emit::meta::{Report, SessionFacts};
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
pub fn write(report: &Report<'_>, out: &mut String) {
    let (facts, survey) = (report.facts, report.survey);
    out.push_str(&format!("<header>\n<h1>{}</h1>\n", html(&title(facts))));
    let mut line = Vec::new();
    if !facts.created.is_empty() {
        line.push(format!("recorded {}", facts.created));
    }
    line.push(format!("{} frames in {}\u{a0}s", survey.frames, number(survey.duration_s, 1)));
    if let Ok(rate) = &survey.stream.rate_hz {
        line.push(format!("{} frames a second", number(rate.value, 1)));
    }
    let guess = if survey.raw_bits_guessed { ", guessed from the samples" } else { "" };
    line.push(format!("raw width {}\u{a0}bits{guess}", survey.raw_bits));
    line.push(format!("from {}", facts.source));
    line.push(format!("trimbench {}", facts.tool_version));
    let line: Vec<String> = line.iter().map(|piece| html(piece)).collect();
    out.push_str(&format!("<p class=\"soft\">{}</p>\n", line.join(" · ")));
    for note in &facts.notes {
        out.push_str(&format!("<p>Note: {}</p>\n", html(note)));
    }
    for damage in &facts.damage {
        out.push_str(&format!("<p><strong>Damage:</strong> {}</p>\n", html(damage)));
    }
    out.push_str("</header>\n");
    verdict(report, out);
}

fn verdict(report: &Report<'_>, out: &mut String) {
    let count = |s: Severity| report.findings.iter().filter(|f| f.severity == s).count();
    let [faults, warnings, notes] = [Severity::Fault, Severity::Warning, Severity::Note].map(count);
    let refused = report.solution.trim.refusals.len();
    let (state, headline) = if faults > 0 {
        ("fault", format!("{}: mend before the constants are used", plural(faults, "fault")))
    } else if warnings > 0 {
        ("warning", format!("No fault, {} to look at", plural(warnings, "warning")))
    } else if refused > 0 {
        ("note", "No fault; some constants are refused for want of data".to_owned())
    } else {
        ("done", "No fault, no warning".to_owned())
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
    out.push_str(&format!(
        "<section>\n<div class=\"verdict\">{}<div><strong>{}</strong>\
         <span class=\"soft\">{}</span></div></div>\n</section>\n",
        super::found::state(state),
        html(&headline),
        html(&parts.join(" · ")),
    ));
}

/// "1 fault", "2 faults", "no fault".
fn plural(n: usize, one: &str) -> String {
    match n {
        0 => format!("no {one}"),
        1 => format!("1 {one}"),
        _ => format!("{n} {one}s"),
    }
}
