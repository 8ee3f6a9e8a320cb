//! The bounce table: presses, bounce of both edges as sampled and at most, doubles, window.
use super::table::{Column, Table};
use super::{card, figures};
use crate::emit::chart;
use crate::emit::markup::Html;
use crate::emit::meta::Report;
use crate::measure::number;
use crate::survey::{ButtonFigures, value};

/// One row a button.
pub fn write(report: &Report<'_>, out: &mut Html) {
    if report.survey.buttons.is_empty() {
        return;
    }
    let mut caption = match value(&report.survey.stream.interval_median_us) {
        Some(us) => format!(
            "Milliseconds. At an interval of {}\u{a0}ms a bounce shorter than that can pass \
             unseen: “at most” adds two intervals. Bars: upper the press, lower the release; thick \
             as sampled, thin at most; dashes the limit of a good contact",
            number(us * 1e-3, 2)
        ),
        None => "Milliseconds".to_owned(),
    };
    caption.push_str(&by_log(report));
    let buttons = &report.survey.buttons;
    let limit = report.limits.bounce_ms.good.high;
    let mut table =
        Table::new(&caption, &[(Column::Name, "button"), (Column::Words, "0 to 25\u{a0}ms")]);
    for button in buttons {
        table.row([Column::Name.of(name(report, button)), Column::Words.of(bars(button, limit))]);
    }
    let about = "Windows: an eager press is believed at once and then locked, a release must hold. \
        Longest at the old level: as sampled, within a press and within a release.";
    let names: Vec<(String, String)> =
        buttons.iter().map(|b| (format!("b{}", b.index), name(report, b))).collect();
    let grid = figures::grid(report, "buttons", &names, about);
    card(out, "Contacts", grid.then(table.finish()));
}

/// Which buttons were looked at more closely than the frames could, and how often.
fn by_log(report: &Report<'_>) -> String {
    let logged = || report.survey.buttons.iter().filter(|b| b.looked.by_log);
    let most = logged().map(|b| b.looked.every_ms).fold(0.0, f64::max);
    if logged().next().is_none() {
        return String::new();
    }
    let names: Vec<String> = logged().map(|b| format!("b{}", b.index)).collect();
    format!(
        ". {}: by the board’s own log of changes, looked at every {}\u{a0}ms or more often, whatever \
         the interval of the frames",
        names.join(", "),
        number(most, 2)
    )
}

fn name(report: &Report<'_>, button: &ButtonFigures) -> String {
    let given = report.facts.button_names.get(usize::from(button.index));
    match given.filter(|name| !name.is_empty()) {
        Some(name) => format!("b{} {}", button.index, name),
        None => format!("b{}", button.index),
    }
}

/// The bounce in a cell, whose column names the ends and whose caption the rows.
fn bars(button: &ButtonFigures, limit_ms: Option<f64>) -> Html {
    let mut picture = chart::bounce(button, limit_ms);
    picture.x.label.clear();
    picture.y.label.clear();
    chart::svg(&picture, [180.0, 20.0])
}
