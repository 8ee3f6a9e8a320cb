//! The quiet rest: noise density by half, and the figures of every axis.
use super::{card, figure, figures, halves};
use crate::emit::chart::{self, strongest};
use crate::emit::markup::{Html, tag};
use crate::emit::meta::Report;
use crate::measure::number;
use crate::rig::Half;

/// Densities of both halves side by side, then one row an axis.
pub fn write(report: &Report<'_>, out: &mut Html) {
    if report.survey.axes.is_empty() {
        return;
    }
    let mut body = halves(Half::ALL.into_iter().filter_map(|half| of_half(report, half)));
    body.push(axes(report));
    card(out, "Noise in the quiet rest", body);
}

/// The densities of a half in one picture, where it has any.
fn of_half(report: &Report<'_>, half: Half) -> Option<Html> {
    let picture = chart::in_quiet_rest(report.survey, half)?;
    let words = format!(
        "{} half: noise density; dots: what rounding to whole counts adds by itself",
        half.key()
    );
    Some(figure(chart::svg(&picture, [420.0, 230.0]), &words))
}

fn axes(report: &Report<'_>) -> Html {
    let axes = &report.survey.axes;
    let names: Vec<(String, String)> =
        axes.iter().map(|a| (a.axis.key().to_owned(), a.axis.words().to_owned())).collect();
    let lines = axes.iter().filter_map(|a| Some((a, strongest(a)?))).map(|(a, line)| {
        let (hz, amplitude) = (number(line.hz, 1), number(line.amplitude, 2));
        format!("{} {hz}\u{a0}Hz with {amplitude}\u{a0}counts", a.axis.words())
    });
    let lines: Vec<String> = lines.collect();
    let about = match lines.as_slice() {
        [] => "No axis has a line that noise alone would hardly show.".to_owned(),
        found => format!("Strongest lines: {}.", found.join("; ")),
    };
    figures::grid(report, "axes", &names, "Every axis")
        .then(tag("p").class("small soft").line(about))
}
