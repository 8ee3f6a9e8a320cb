//! What stands out: each finding with its shape, evidence, remedy and caution.
use crate::emit::markup::{Html, tag};
use crate::emit::meta::Report;
use crate::emit::places::{Group, grouped};
use crate::findings::Severity;

/// A state that is told by its shape: tick, triangle, square or diamond.
#[derive(Clone, Copy)]
pub enum State {
    /// Nothing to do.
    Done,
    /// To look at.
    Warning,
    /// To mend.
    Fault,
    /// To know.
    Note,
}

impl State {
    /// The shape as a picture.
    pub fn shape(self) -> Html {
        let (name, shape) = match self {
            State::Done => (
                "done",
                "<circle cx=\"10\" cy=\"10\" r=\"8\"/><path d=\"M6 10.5 L9 13.5 L14 7.5\"/>",
            ),
            State::Warning => ("warning", "<path d=\"M10 2.5 L18 17 L2 17 Z\"/>"),
            State::Fault => ("fault", "<rect x=\"3\" y=\"3\" width=\"14\" height=\"14\"/>"),
            State::Note => ("note", "<path d=\"M10 1.5 L16 10 L10 18.5 L4 10 Z\"/>"),
        };
        let svg = tag("svg").class(format!("state {name}")).attr("viewBox", "0 0 20 20");
        svg.attr("role", "img").attr("aria-label", name).with(Html::markup(shape))
    }
}

impl From<Severity> for State {
    fn from(severity: Severity) -> State {
        match severity {
            Severity::Fault => State::Fault,
            Severity::Warning => State::Warning,
            Severity::Note => State::Note,
        }
    }
}

/// The card of findings, gravest first.
pub fn write(report: &Report<'_>, out: &mut Html) {
    if report.findings.is_empty() {
        return;
    }
    let body = grouped(report.findings).iter().map(entry).collect();
    super::long_card(out, "What stands out", body);
}

fn entry(group: &Group<'_>) -> Html {
    let finding = group.first;
    let about = [&group.places(), finding.severity.word(), finding.code.key()].join(" · ");
    let mut text = heading(finding.code.title(), &about);
    for (evidence, _) in &group.evidence {
        text.push(tag("p").line(sentence(evidence)));
    }
    if !finding.remedy.is_empty() {
        text.push(to_do("To do", &sentence(&finding.remedy)));
    }
    if let Some(caution) = &finding.caution {
        text.push(to_do("Caution", &sentence(caution)));
    }
    beside(finding.severity.into(), text)
}

/// What it is in bold, softly where and how grave.
pub fn heading(title: &str, about: &str) -> Html {
    let title = tag("strong").with(title).then(" ");
    tag("p").line(title.then(tag("span").class("soft").with(about)))
}

/// One thing to do or to mind.
pub fn to_do(what: &'static str, text: &str) -> Html {
    tag("p").class("soft").line(format!("{what}: {text}"))
}

/// Text with the shape of a state on its left.
pub fn beside(state: State, text: Html) -> Html {
    let text = tag("div").with(Html::markup("\n").then(text));
    tag("div").class("found").line(state.shape().then(text))
}

/// First letter large, a full stop at its end.
fn sentence(text: &str) -> String {
    let mut chars = text.chars();
    let Some(first) = chars.next() else { return String::new() };
    let stop = if text.ends_with(['.', '!', '?']) { "" } else { "." };
    format!("{}{}{stop}", first.to_uppercase(), chars.as_str())
}
