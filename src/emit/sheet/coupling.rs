//! What motors, lights, other inputs and the supply do to each axis at home.
use super::{card, figures};
use crate::emit::forms::cause;
use crate::emit::markup::{Html, tag};
use crate::emit::meta::Report;
use crate::survey::{Common, Driven, Followed};

/// Up to three tables; nothing when no axis was looked at.
pub fn write(report: &Report<'_>, out: &mut Html) {
    let survey = report.survey;
    if survey.driven.is_empty() && survey.followed.is_empty() {
        return;
    }
    let body = driven(report).then(followed(report)).then(common(report));
    card(out, "Coupling into axes at home", body);
}

fn driven(report: &Report<'_>) -> Html {
    let survey = report.survey;
    if survey.driven.is_empty() {
        let text = "Motors and lights: the stream tells of none; send their drive in a column to \
                    have them measured.";
        return tag("p").class("small soft").line(text);
    }
    let name = |(k, d): (usize, &Driven)| {
        (k.to_string(), format!("{} by {}", d.axis.words(), d.by.words()))
    };
    let names: Vec<(String, String)> = survey.driven.iter().enumerate().map(name).collect();
    let caption = "Motors and lights at their largest drive against none";
    figures::grid(report, "coupling.driven", &names, caption)
}

fn followed(report: &Report<'_>) -> Html {
    let name = |(k, f): (usize, &Followed)| {
        let before = if f.scanned_before { ", scanned before" } else { "" };
        (k.to_string(), format!("{} by {}{before}", f.axis.words(), f.by.words()))
    };
    let names: Vec<(String, String)> =
        report.survey.followed.iter().enumerate().map(name).collect();
    let caption = "Other inputs: counts of the axis a count of the moved one";
    figures::grid(report, "coupling.followed", &names, caption)
}

fn common(report: &Report<'_>) -> Html {
    let name = |c: &Common| (c.half.key().to_owned(), format!("{}: {}", c.half.key(), cause(c)));
    let names: Vec<(String, String)> = report.survey.common.iter().map(name).collect();
    let caption = "Motion that the channels of a half share at rest";
    figures::grid(report, "coupling.common", &names, caption)
}
