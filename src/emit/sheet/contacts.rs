//! The bounce table: presses, bounce of both edges as sampled and at most, doubles, window.
use super::table::{Column, Table};
use super::{card, figures};
use crate::emit::figures::{Scale, Svg};
use crate::emit::markup::Html;
use crate::emit::meta::Report;
use crate::measure::number;
use crate::survey::{ButtonFigures, value};

/// Right end of the bounce bars, ms.
const BARS_MS: f64 = 25.0;

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
    let mut table =
        Table::new(&caption, &[(Column::Name, "button"), (Column::Words, "0 to 25\u{a0}ms")]);
    for button in buttons {
        table.row([Column::Name.of(name(report, button)), Column::Words.of(bars(report, button))]);
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

fn bars(report: &Report<'_>, button: &ButtonFigures) -> Html {
    let mut svg = Svg::new([180.0, 18.0], "bounce of press and release");
    let x = Scale { from: [0.0, 0.0], to: [BARS_MS, 180.0] };
    svg.line([0.0, 0.0], [0.0, 18.0], "rule");
    svg.line([0.0, 17.5], [180.0, 17.5], "grid");
    if let Some(limit) = report.limits.bounce_ms.good.high {
        svg.line([x.held(limit), 0.0], [x.held(limit), 18.0], "limit");
    }
    let edges = [
        (3.0, &button.bounce_press_ms, &button.bounce_press_max_ms),
        (11.0, &button.bounce_release_ms, &button.bounce_release_max_ms),
    ];
    for (y, seen, most) in edges {
        if let Some(most) = value(most) {
            svg.rectangle([0.0, y + 1.5], [x.held(most), 1.0], "bar");
        }
        if let Some(seen) = value(seen) {
            svg.rectangle([0.0, y], [x.held(seen), 4.0], "bar");
        }
    }
    svg.finish()
}
