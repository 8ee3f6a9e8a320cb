//! Health of the stream: what came, what was lost, how even the frames are.
use super::table::{Column, FIGURE_HEADS, Table};
use super::{card, figure};
use crate::emit::chart;
use crate::emit::escape::html;
use crate::emit::meta::Report;
use crate::measure::number;
use crate::survey::StreamFigures;

/// Counts of frames, a picture and a table of the intervals.
pub fn write(report: &Report<'_>, out: &mut String) {
    let stream = &report.survey.stream;
    let mut body = String::from("<div class=\"halves\">\n<div>");
    body.push_str(&counts(report));
    body.push_str("</div>\n<div>");
    let mut table = Table::new("Interval between frames and clocks", &FIGURE_HEADS);
    table.figure("rate", &stream.rate_hz);
    table.figure("median interval", &stream.interval_median_us);
    table.figure("1st percentile", &stream.interval_p01_us);
    table.figure("95th percentile", &stream.interval_p95_us);
    table.figure("99th percentile", &stream.interval_p99_us);
    table.figure("longest", &stream.interval_max_us);
    table.figure("clock to host", &stream.clock_ppm);
    table.figure("jitter of arrival", &stream.jitter_us);
    table.figure("right behind left", &stream.half_skew_ms);
    table.figure("stale, left half", &stream.stale[0]);
    table.figure("stale, right half", &stream.stale[1]);
    body.push_str(&table.finish());
    body.push_str("</div>\n</div>\n");
    let ratio = report.limits.interval_ratio.good.high;
    if let Some(picture) = chart::intervals(stream, ratio) {
        body.push_str(&figure(
            chart::svg(&picture, [840.0, 78.0]),
            "interval between frames: bar from the 1st to the 99th percentile, line the median; \
             dashes the limit of the 99th percentile",
        ));
    }
    card(out, "Stream", &body);
}

fn counts(report: &Report<'_>) -> String {
    let stream = &report.survey.stream;
    let heads = [(Column::Label, ""), (Column::Value, "count"), (Column::Note, "share")];
    let mut table = Table::new("Frames and lines", &heads);
    let frames = report.survey.frames;
    table.row(&[
        (Column::Label, "frames read".to_owned()),
        (Column::Value, frames.to_string()),
        (Column::Note, String::new()),
    ]);
    match &stream.lost {
        Ok(lost) => {
            row(&mut table, "lost", *lost, frames);
            if *lost > 0 {
                table.words("in", &runs(stream));
            }
        }
        Err(short) => {
            let why = html(&format!("{}; {}", short.what, short.advice));
            table.row(&[
                (Column::Label, "lost".to_owned()),
                (Column::Value, "–".to_owned()),
                (Column::Words, why),
            ]);
        }
    }
    row(&mut table, "malformed lines", stream.malformed, frames);
    row(&mut table, "duplicated", stream.duplicated, frames);
    row(&mut table, "lines not for frames", stream.foreign, frames);
    row(&mut table, "restarts of the board", stream.resets, 0);
    table.finish()
}

/// How the losses lie: one by one or in bursts.
fn runs(stream: &StreamFigures) -> String {
    let runs = &stream.loss_runs;
    let how = if runs.bursts() { "in bursts" } else { "one by one" };
    let places = if runs.runs == 1 { "place" } else { "places" };
    format!(
        "{} {places}, {} frames the longest, {} on the mean: {how}",
        runs.runs,
        runs.longest,
        number(runs.mean, 1)
    )
}

/// A count with its share of all that should have come; no share where `frames` is 0.
fn row(table: &mut Table, label: &str, count: u64, frames: u64) {
    let share = if frames > 0 && count > 0 {
        let share = count as f64 / (frames as f64 + count as f64) * 100.0;
        format!("{}\u{a0}%", number(share, if share < 0.1 { 3 } else { 2 }))
    } else {
        String::new()
    };
    table.row(&[
        (Column::Label, label.to_owned()),
        (Column::Value, count.to_string()),
        (Column::Note, share),
    ]);
}
