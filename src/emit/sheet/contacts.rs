//! The bounce table: presses, bounce of both edges as sampled and at most, doubles, window.
use super::card;
use super::table::{Cell, Column, Table, interval_or_dash, or_why};
use crate::emit::figures::{Scale, Svg};
use crate::emit::markup::Html;
use crate::emit::meta::Report;
use crate::emit::summary::bounce;
use crate::measure::{Measured, number};
use crate::survey::{ButtonFigures, value};

/// Right end of the bounce bars, ms.
const BARS_MS: f64 = 25.0;

/// One row a button.
pub fn write(report: &Report<'_>, out: &mut Html) {
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
    let mut table = Table::new(&caption, &heads);
    for button in &report.survey.buttons {
        table.row([
            name(report, button),
            Column::Note.of(presses(button)),
            Column::Value.of(bounce(&button.bounce_press_ms, &button.looked)),
            Column::Note.of(millis(&button.bounce_press_max_ms)),
            Column::Value.of(bounce(&button.bounce_release_ms, &button.looked)),
            Column::Note.of(millis(&button.bounce_release_max_ms)),
            Column::Note.of(button.doubles.to_string()),
            Column::Value.of(millis(&button.window_ms)),
            Column::Words.of(bars(report, button)),
        ]);
    }
    card(out, "Contacts", table.finish().then(pulses(report)));
}

/// Pulses within and outside presses, and the window of each edge.
fn pulses(report: &Report<'_>) -> Html {
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
        table.row([
            name(report, button),
            Column::Note.of(edges.join(" · ")),
            Column::Note.of(Html::joined(wrong, " · ")),
            Column::Value.of(millis(&button.press_window_ms)),
            Column::Note.of(interval_or_dash(&button.press_window_ms)),
            Column::Value.of(millis(&button.release_window_ms)),
            Column::Note.of(interval_or_dash(&button.release_window_ms)),
            Column::Note.of(share(&button.double_share)),
            Column::Note.of(button.dropouts.to_string()),
            Column::Note.of(button.closures.to_string()),
            Column::Note.of(most_an_hour(&button.idle_edges_per_hour)),
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

fn name(report: &Report<'_>, button: &ButtonFigures) -> Cell {
    let given = report.facts.button_names.get(usize::from(button.index)).map_or("", String::as_str);
    Column::given(format!("b{} {given}", button.index).trim_end())
}

fn presses(button: &ButtonFigures) -> String {
    if button.stuck { "held".to_owned() } else { button.presses.to_string() }
}

fn millis(figure: &Measured) -> Html {
    or_why(figure, |r| number(r.value, 1))
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
