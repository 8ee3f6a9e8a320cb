//! The bounce table: presses, bounce of both edges as sampled and at most, doubles, window.
use super::card;
use super::table::{Column, Table};
use crate::emit::escape::html;
use crate::emit::figures::{Scale, Svg};
use crate::emit::meta::Report;
use crate::emit::summary::bounce;
use crate::measure::{Measured, number};
use crate::survey::{ButtonFigures, value};

/// Right end of the bounce bars, ms.
const BARS_MS: f64 = 25.0;

/// One row a button.
pub fn write(report: &Report<'_>, out: &mut String) {
    if report.survey.buttons.is_empty() {
        return;
    }
    let heads = [
        (Column::Name, "button"),
        (Column::Note, "presses"),
        (Column::Value, "press bounce"),
        (Column::Note, "at most"),
        (Column::Value, "release bounce"),
        (Column::Note, "at most"),
        (Column::Note, "doubles"),
        (Column::Value, "window"),
        (Column::Words, "0 to 25\u{a0}ms"),
    ];
    let caption = match value(&report.survey.stream.interval_median_us) {
        Some(us) => format!(
            "Milliseconds. At an interval of {}\u{a0}ms a bounce shorter than that can pass \
             unseen: “at most” adds two intervals. Bars: upper the press, lower the release; thick \
             as sampled, thin at most; dashes the limit of a good contact",
            number(us * 1e-3, 2)
        ),
        None => "Milliseconds".to_owned(),
    };
    let mut table = Table::new(&caption, &heads);
    for button in &report.survey.buttons {
        table.row(&[
            (Column::Name, name(report, button)),
            (Column::Note, presses(button)),
            (Column::Value, html(&bounce(&button.bounce_press_ms, report))),
            (Column::Note, millis(&button.bounce_press_max_ms)),
            (Column::Value, html(&bounce(&button.bounce_release_ms, report))),
            (Column::Note, millis(&button.bounce_release_max_ms)),
            (Column::Note, button.doubles.to_string()),
            (Column::Value, button.window_ms.as_ref().map_or("–".to_owned(), |w| number(*w, 0))),
            (Column::Words, bars(report, button)),
        ]);
    }
    card(out, "Contacts", &table.finish());
}

fn name(report: &Report<'_>, button: &ButtonFigures) -> String {
    let given = report.facts.button_names.get(usize::from(button.index));
    match given.filter(|name| !name.is_empty()) {
        Some(name) => format!("b{} {}", button.index, html(name)),
        None => format!("b{}", button.index),
    }
}

fn presses(button: &ButtonFigures) -> String {
    if button.stuck { "held".to_owned() } else { button.presses.to_string() }
}

fn millis(figure: &Measured) -> String {
    match figure {
        Ok(r) => number(r.value, 1),
        Err(short) => format!("<span title=\"{}\">–</span>", html(&short.to_string())),
    }
}

fn bars(report: &Report<'_>, button: &ButtonFigures) -> String {
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
