//! The quiet rest: noise density by half, and the figures of every axis.
use super::table::{Column, Table, interval};
use super::{card, figure};
use crate::emit::chart::{self, strongest};
use crate::emit::escape::html;
use crate::emit::meta::Report;
use crate::measure::{Measured, decimals, number};
use crate::rig::Half;

/// Densities of both halves side by side, then one row an axis.
pub fn write(report: &Report<'_>, out: &mut String) {
    if report.survey.axes.is_empty() {
        return;
    }
    let drawn = Half::ALL.map(|half| (half, chart::in_quiet_rest(report.survey, half)));
    let mut body = String::new();
    if drawn.iter().any(|(_, chart)| chart.is_some()) {
        body.push_str("<div class=\"halves\">\n");
        for (half, chart) in drawn {
            let Some(chart) = chart else { continue };
            let words = format!(
                "{} half: noise density; dots: what rounding to whole counts adds by itself",
                half.key()
            );
            body.push_str(&figure(chart::svg(&chart, [420.0, 230.0]), &words));
        }
        body.push_str("</div>\n");
    }
    body.push_str(&figures(report));
    card(out, "Noise in the quiet rest", &body);
}

fn figures(report: &Report<'_>) -> String {
    let heads = [
        (Column::Name, "axis"),
        (Column::Value, "rms, counts"),
        (Column::Note, "95 % interval"),
        (Column::Note, "n"),
        (Column::Value, "pk-pk"),
        (Column::Value, "noise-free bits"),
        (Column::Value, "drift a minute"),
        (Column::Note, "95 % interval"),
        (Column::Note, "strongest line, Hz and counts"),
    ];
    let mut table = Table::new("", &heads);
    for axis in &report.survey.axes {
        let n = axis.noise_rms.as_ref().map_or("–".to_owned(), |r| r.n.to_string());
        let line = match strongest(axis) {
            Some(line) => {
                format!("{} · {}", number(line.hz, 1), number(line.amplitude, 2))
            }
            None => "none".to_owned(),
        };
        table.row(&[
            (Column::Name, axis.axis.words().to_owned()),
            (Column::Value, plain(&axis.noise_rms)),
            (Column::Note, interval_or_dash(&axis.noise_rms)),
            (Column::Note, n),
            (Column::Value, plain(&axis.noise_pp)),
            (Column::Value, plain(&axis.noise_free_bits)),
            (Column::Value, plain(&axis.drift_per_min)),
            (Column::Note, interval_or_dash(&axis.drift_per_min)),
            (Column::Note, html(&line)),
        ]);
    }
    table.finish()
}

/// A value without its unit, which the head names; a dash that says why on a pointer's rest.
pub(super) fn plain(figure: &Measured) -> String {
    match figure {
        Ok(r) => {
            let half = (r.high - r.low) * 0.5;
            number(r.value, decimals(r.value, half).min(if half > 0.0 { 3 } else { 1 }))
        }
        Err(short) => format!("<span title=\"{}\">–</span>", html(&short.to_string())),
    }
}

/// The 95 % interval, or a dash.
pub(super) fn interval_or_dash(figure: &Measured) -> String {
    figure.as_ref().map_or("–".to_owned(), interval)
}
