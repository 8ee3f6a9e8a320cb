//! Health of the stream: what came, what was lost, how even the frames are.
use super::table::{Column, Table};
use super::{card, figure, figures, halves};
use crate::emit::figures::{Anchor, Scale, Svg, round_step};
use crate::emit::markup::{Html, tag};
use crate::emit::meta::Report;
use crate::measure::{DASH, Measured, number};
use crate::rig::Place;
use crate::survey::{StreamFigures, value};

/// Counts of frames, a picture and a table of the intervals.
pub fn write(report: &Report<'_>, out: &mut Html) {
    let stream = &report.survey.stream;
    let table = figures::part(report, Place::Stream, "Interval between frames and clocks");
    let both = [counts(report), table.finish()];
    let mut body = halves(both.map(|part| tag("div").line(part)));
    if let Some(svg) = intervals(report, stream) {
        body.push(figure(
            svg,
            "interval between frames: thick from the 1st to the 99th percentile, long tick the \
             median, short tick the longest; dashes the limit of the 99th percentile",
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

fn intervals(report: &Report<'_>, stream: &StreamFigures) -> Option<Html> {
    let ms = |figure: &Measured| value(figure).map(|us| us * 1e-3).filter(|ms| ms.is_finite());
    let (median, p01) = (ms(&stream.interval_median_us)?, ms(&stream.interval_p01_us)?);
    let (p99, max) = (ms(&stream.interval_p99_us)?, ms(&stream.interval_max_us)?);
    let limit = report.limits.interval_ratio.good.high.map(|ratio| ratio * median);
    // A single stall of seconds must not shrink the rest to a line.
    let top = (1.6 * median).max(1.2 * p99).max(limit.unwrap_or(0.0) * 1.1);
    if !(top > 0.0 && top.is_finite()) {
        return None;
    }
    let mut svg = Svg::new([840.0, 62.0], "spread of the interval between frames");
    let x = Scale { from: [0.0, 20.0], to: [top, 760.0] };
    let step = round_step(top, 8);
    let mut at = 0.0;
    while at <= top {
        svg.line([x.px(at), 6.0], [x.px(at), 40.0], "grid");
        let decimals = if step < 0.1 { 2 } else { usize::from(step < 1.0) };
        svg.text([x.px(at), 57.0], Anchor::Middle, "", &number(at, decimals));
        at += step;
    }
    svg.text([820.0, 57.0], Anchor::End, "", "ms");
    svg.line([x.held(p01), 22.0], [x.held(p99).max(x.held(p01) + 1.0), 22.0], "curve thick");
    svg.line([x.held(median), 8.0], [x.held(median), 36.0], "curve");
    svg.line([x.held(max), 15.0], [x.held(max), 29.0], "");
    if max > top {
        let words = format!("longest {}\u{a0}ms →", number(max, 1));
        svg.text([754.0, 15.0], Anchor::End, "name", &words);
    }
    if let Some(limit) = limit {
        svg.line([x.held(limit), 6.0], [x.held(limit), 40.0], "limit");
    }
    Some(svg.finish())
}
