//! Health of the stream: what came, what was lost, how even the frames are.
use super::table::{Column, Table};
use super::{card, figure, figures, halves};
use crate::emit::chart;
use crate::emit::markup::{Html, tag};
use crate::emit::meta::Report;
use crate::measure::{DASH, number};
use crate::rig::Place;
use crate::survey::StreamFigures;

/// Counts of frames, a picture and a table of the intervals.
pub fn write(report: &Report<'_>, out: &mut Html) {
    let stream = &report.survey.stream;
    let table =
        figures::part(report, Place::Stream, "stream.", "Interval between frames and clocks");
    let both = [counts(report), table.finish()];
    let mut body = halves(both.map(|part| tag("div").line(part)));
    let ratio = report.limits.interval_ratio.good.high;
    if let Some(picture) = chart::intervals(stream, ratio) {
        body.push(figure(
            chart::svg(&picture, [840.0, 78.0]),
            "interval between frames: bar from the 1st to the 99th percentile, line the median; \
             dashes the limit of the 99th percentile",
        ));
    }
    card(out, "Stream", body);
}

fn counts(report: &Report<'_>) -> Html {
    let stream = &report.survey.stream;
    let heads = [(Column::Label, ""), (Column::Value, "count"), (Column::Note, "share")];
    let mut table = Table::new("Frames and lines", &heads);
    let frames = report.survey.frames;
    table.row([
        Column::Label.of("frames read"),
        Column::Value.of(frames.to_string()),
        Column::Note.of(Html::EMPTY),
    ]);
    match &stream.lost {
        Ok(lost) => {
            row(&mut table, "lost", *lost, frames);
            if *lost > 0 {
                table.words("in", &runs(stream));
            }
        }
        Err(short) => {
            let why = format!("{}; {}", short.what, short.advice);
            table.row([
                Column::Label.of("lost"),
                Column::Value.of(DASH.to_owned()),
                Column::Words.of(why),
            ]);
        }
    }
    if stream.lost_in_file > 0 {
        row(&mut table, "of them in damage of the recording", stream.lost_in_file, frames);
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
    table.row([
        Column::Label.of(label),
        Column::Value.of(count.to_string()),
        Column::Note.of(share),
    ]);
}
