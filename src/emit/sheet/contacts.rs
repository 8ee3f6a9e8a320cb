//! The bounce table: presses, bounce of both edges as sampled and at most, doubles, window.
use super::card;
use super::noise::interval_or_dash;
use super::table::{Column, Table};
use crate::emit::chart;
use crate::emit::escape::html;
use crate::emit::meta::Report;
use crate::emit::summary::bounce;
use crate::measure::{Measured, number};
use crate::survey::{ButtonFigures, value};

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
    let limit = report.limits.bounce_ms.good.high;
    let mut table = Table::new(&caption, &heads);
    for button in &report.survey.buttons {
        table.row(&[
            (Column::Name, name(report, button)),
            (Column::Note, presses(button)),
            (Column::Value, html(&bounce(&button.bounce_press_ms, &button.looked))),
            (Column::Note, millis(&button.bounce_press_max_ms)),
            (Column::Value, html(&bounce(&button.bounce_release_ms, &button.looked))),
            (Column::Note, millis(&button.bounce_release_max_ms)),
            (Column::Note, button.doubles.to_string()),
            (Column::Value, millis(&button.window_ms)),
            (Column::Words, bars(button, limit)),
        ]);
    }
    let mut body = table.finish();
    body.push_str(&pulses(report));
    card(out, "Contacts", &body);
}

/// Pulses within and outside presses, and the window of each edge.
fn pulses(report: &Report<'_>) -> String {
    let heads = [
        (Column::Name, "button"),
        (Column::Note, "most changes, press · release"),
        (Column::Note, "longest wrong, press · release"),
        (Column::Value, "lock-out of a press"),
        (Column::Note, "95 % interval"),
        (Column::Value, "hold of a release"),
        (Column::Note, "95 % interval"),
        (Column::Note, "doubles of releases"),
        (Column::Note, "openings while held"),
        (Column::Note, "closures while free"),
        (Column::Note, "idle changes an hour"),
    ];
    let caption = "Windows, ms: an eager press is believed at once and then locked, a release must \
        hold. Longest wrong, ms as sampled: the longest stretch at the level that was left.";
    let mut table = Table::new(caption, &heads);
    for button in &report.survey.buttons {
        let edges = button.edges_max.each_ref().map(|e| match e {
            Ok(edges) => edges.to_string(),
            Err(_) => "–".to_owned(),
        });
        let wrong = button.longest_wrong_ms.each_ref().map(millis);
        table.row(&[
            (Column::Name, name(report, button)),
            (Column::Note, edges.join(" · ")),
            (Column::Note, wrong.join(" · ")),
            (Column::Value, millis(&button.press_window_ms)),
            (Column::Note, interval_or_dash(&button.press_window_ms)),
            (Column::Value, millis(&button.release_window_ms)),
            (Column::Note, interval_or_dash(&button.release_window_ms)),
            (Column::Note, share(&button.double_share)),
            (Column::Note, button.dropouts.to_string()),
            (Column::Note, button.closures.to_string()),
            (Column::Note, most_an_hour(&button.idle_edges_per_hour)),
        ]);
    }
    table.finish()
}

/// "0 %, at most 52 %".
fn share(figure: &Measured) -> String {
    figure.as_ref().map_or("–".to_owned(), |r| {
        let [value, high] = [r.value, r.high].map(|s| number(s * 100.0, 0));
        format!("{value}\u{a0}%, at most {high}\u{a0}%")
    })
}

/// "0, at most 340": the upper end is what a quiet minute can promise.
fn most_an_hour(figure: &Measured) -> String {
    figure.as_ref().map_or("–".to_owned(), |r| {
        format!("{}, at most {}", number(r.value, 0), number(r.high, 0))
    })
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

/// The bounce in a cell, whose column names the ends and whose caption the rows.
fn bars(button: &ButtonFigures, limit_ms: Option<f64>) -> String {
    let mut picture = chart::bounce(button, limit_ms);
    picture.x.label.clear();
    picture.y.label.clear();
    chart::svg(&picture, [180.0, 20.0])
}
