//! What stands out: each finding with its shape, evidence, remedy and caution.
use crate::emit::escape::html;
use crate::emit::meta::Report;
use crate::emit::places::{Group, grouped};
use crate::findings::Severity;

/// The shape of a state: tick = done, triangle = warning, square = fault, diamond = note.
pub fn state(name: &str) -> String {
    let shape = match name {
        "done" => "<circle cx=\"10\" cy=\"10\" r=\"8\"/><path d=\"M6 10.5 L9 13.5 L14 7.5\"/>",
        "warning" => "<path d=\"M10 2.5 L18 17 L2 17 Z\"/>",
        "fault" => "<rect x=\"3\" y=\"3\" width=\"14\" height=\"14\"/>",
        _ => "<path d=\"M10 1.5 L16 10 L10 18.5 L4 10 Z\"/>",
    };
    format!(
        "<svg class=\"state {name}\" viewBox=\"0 0 20 20\" role=\"img\" aria-label=\"{name}\">\
         {shape}</svg>"
    )
}

/// The card of findings, gravest first.
pub fn write(report: &Report<'_>, out: &mut String) {
    if report.findings.is_empty() {
        return;
    }
    let body: String = grouped(report.findings).iter().map(entry).collect();
    super::long_card(out, "What stands out", &body);
}

fn entry(group: &Group<'_>) -> String {
    let finding = group.first;
    let mut text = format!(
        "<p><strong>{}</strong> <span class=\"soft\">{} · {} · {}</span></p>\n",
        html(finding.code.title()),
        html(&group.places()),
        finding.severity.word(),
        html(finding.code.key()),
    );
    for (evidence, _) in &group.evidence {
        text.push_str(&format!("<p>{}</p>\n", html(&sentence(evidence))));
    }
    if !finding.remedy.is_empty() {
        let remedy = html(&sentence(&finding.remedy));
        text.push_str(&format!("<p class=\"soft\">To do: {remedy}</p>\n"));
    }
    if let Some(caution) = &finding.caution {
        text.push_str(&format!("<p class=\"soft\">Caution: {}</p>\n", html(&sentence(caution))));
    }
    let state = state(match finding.severity {
        Severity::Fault => "fault",
        Severity::Warning => "warning",
        Severity::Note => "note",
    });
    format!("<div class=\"found\">{state}<div>\n{text}</div></div>\n")
}

/// First letter large, a full stop at its end.
fn sentence(text: &str) -> String {
    let mut chars = text.chars();
    let Some(first) = chars.next() else { return String::new() };
    let stop = if text.ends_with(['.', '!', '?']) { "" } else { "." };
    format!("{}{}{stop}", first.to_uppercase(), chars.as_str())
}
