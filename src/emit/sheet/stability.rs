//! How finely each axis can be read and how steadily it stays: resolution, averaging, warm-up, codes.
use super::table::{Column, Table, or_why};
use super::{card, figure, halves};
use crate::emit::chart;
use crate::emit::markup::Html;
use crate::emit::meta::Report;
use crate::measure::curve::OddCode;
use crate::measure::stability::AllanPoint;
use crate::measure::{DASH, decimals, number};
use crate::rig::{AxisId, Half};
use crate::survey::AxisFigures;

/// Averaging time that every axis is told for, s.
const SHORT_S: f64 = 0.1;

/// One row an axis; nothing without axes.
pub fn write(report: &Report<'_>, out: &mut Html) {
    if report.survey.axes.is_empty() {
        return;
    }
    let heads = [
        (Column::Name, "axis"),
        (Column::Note, "Allan deviation at 0.1 s"),
        (Column::Note, "least, at"),
        (Column::Note, "codes wide or missing"),
    ];
    let caption = "Allan deviation, counts: how far neighbouring averages \
        differ; the least tells how long averaging still helps. Odd codes need slow \
        sweeps.";
    let mut table = Table::new(caption, &heads);
    for axis in &report.survey.axes {
        table.row([
            Column::Name.of(axis.axis.words()),
            Column::Note.of(at_short(&axis.allan)),
            Column::Note.of(least(&axis.allan)),
            Column::Note.of(odd_codes(axis)),
        ]);
    }
    card(out, "Steadiness and codes", pictures(report).then(table.finish()));
}

/// Allan deviations of each half, where a rest was long enough.
fn pictures(report: &Report<'_>) -> Html {
    halves(Half::ALL.into_iter().filter_map(|half| {
        let axes = report.survey.axes.iter().filter(|a| a.axis.half() == half);
        let axes: Vec<(AxisId, &[AllanPoint])> =
            axes.filter(|a| a.allan.len() > 1).map(|a| (a.axis, &a.allan[..])).collect();
        let picture = chart::allan(format!("Allan deviation, {} half", half.key()), &axes);
        let words = format!("{} half: how far averages that follow one another differ", half.key());
        (!axes.is_empty()).then(|| figure(chart::svg(&picture, [420.0, 230.0]), &words))
    }))
}

/// The deviation at the averaging time nearest to [`SHORT_S`], by ratio; with its own time if that
/// is another.
fn at_short(points: &[AllanPoint]) -> String {
    let ratio = |p: &&AllanPoint| (p.tau_s / SHORT_S).ln().abs();
    match points.iter().min_by(|a, b| ratio(a).total_cmp(&ratio(b))) {
        Some(point) => with_time(point),
        None => DASH.to_owned(),
    }
}

/// The least deviation and its averaging time; a curve that still falls at its end says so.
fn least(points: &[AllanPoint]) -> String {
    let by = |a: &&AllanPoint, b: &&AllanPoint| a.deviation.value.total_cmp(&b.deviation.value);
    let Some(point) = points.iter().min_by(by) else { return DASH.to_owned() };
    let last = points.last().is_some_and(|end| end.tau_s == point.tau_s);
    format!("{}{}", with_time(point), if last { ", still falling" } else { "" })
}

fn with_time(point: &AllanPoint) -> String {
    let d = point.deviation;
    let half = 0.5 * (d.high - d.low);
    let text = number(d.value, decimals(d.value, half).min(4));
    let time = number(point.tau_s, if point.tau_s < 1.0 { 3 } else { 1 });
    format!("{text} at {time}\u{a0}s")
}

/// "37 (0.2), 512 (missing)" or that there are none.
fn odd_codes(axis: &AxisFigures) -> Html {
    or_why(&axis.odd_codes, |codes| named(codes))
}

fn named(codes: &[OddCode]) -> String {
    /// Codes named before the rest is only counted.
    const NAMED: usize = 4;
    if codes.is_empty() {
        return "none".to_owned();
    }
    let mut text = codes
        .iter()
        .take(NAMED)
        .map(|c| match c.width {
            0.0 => format!("{} missing", c.code),
            width => format!("{} ×{}", c.code, number(width, 1)),
        })
        .collect::<Vec<_>>()
        .join(", ");
    if codes.len() > NAMED {
        text.push_str(&format!(" and {} more", codes.len() - NAMED));
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::measure::Estimate;

    fn point(tau_s: f64, value: f64) -> AllanPoint {
        let deviation = Estimate { value, low: value * 0.9, high: value * 1.1, n: 100 };
        AllanPoint { tau_s, deviation }
    }

    #[test]
    fn the_least_deviation_names_its_time_and_whether_it_still_falls() {
        let turned = [point(0.004, 0.7), point(0.128, 0.13), point(4.096, 0.4)];
        assert_eq!(least(&turned), "0.130 at 0.128\u{a0}s");
        assert_eq!(at_short(&turned), "0.130 at 0.128\u{a0}s");
        assert!(least(&turned[..2]).ends_with("still falling"));
        assert_eq!((least(&[]), at_short(&[])), ("–".to_owned(), "–".to_owned()));
    }

    #[test]
    fn odd_codes_are_named_and_the_rest_is_counted() {
        assert_eq!(named(&[OddCode { code: 511, width: 0.0 }]), "511 missing");
        let many: Vec<OddCode> = (0..6).map(|code| OddCode { code, width: 2.5 }).collect();
        assert!(named(&many).ends_with("3 ×2.5 and 2 more"), "{}", named(&many));
        assert_eq!(named(&[]), "none");
    }
}
