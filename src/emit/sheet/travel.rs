//! Travel of every input on the converter's scale, and the figures of the triggers.
use super::{card, figure, figures, halves};
use crate::emit::figures::{Anchor, Scale, Svg, round_step};
use crate::emit::markup::{Html, tag};
use crate::emit::meta::Report;
use crate::measure::number;
use crate::rig::{AxisId, Half, Place};
use crate::survey::{AxisFigures, TriggerFigures, value};

/// One picture for all inputs; a table for each trigger.
pub fn write(report: &Report<'_>, out: &mut Html) {
    if report.survey.axes.is_empty() {
        return;
    }
    let mut body = figure(
        travel(report),
        "from the lowest to the highest reach; ochre the dead zone of each axis by itself, the \
         long tick the centre or released level, short ticks a trigger's on and off",
    );
    let triggers = &report.survey.triggers;
    if !triggers.is_empty() {
        body.push(halves(triggers.iter().map(|t| tag("div").line(trigger_table(report, t)))));
        let about = "Scatter: standard deviation of the levels. Hysteresis: down against up at \
             equal time; at ¼, ½ and ¾ of the stroke down − up. Time at full: share of a slow pull \
             spent at its end.";
        body.push(tag("p").class("small soft").line(about));
    }
    card(out, "Travel on the converter's scale", body);
}

fn trigger_table(report: &Report<'_>, trigger: &TriggerFigures) -> Html {
    let name = format!("{}, {} pulls", trigger.half.trigger().words(), trigger.pulls);
    let mut table = figures::part(report, Place::trigger(trigger.half), &name);
    let falls = match trigger.rests_high {
        Some(true) => "the reading falls",
        Some(false) => "the reading rises",
        None => "not seen pulled",
    };
    table.words("when pulled", falls);
    table.finish()
}

/// Class of an axis's colour.
pub fn colour(axis: AxisId) -> &'static str {
    match axis {
        AxisId::Lx | AxisId::Rx => "x",
        AxisId::Ly | AxisId::Ry => "y",
        AxisId::Lt | AxisId::Rt => "t",
    }
}

/// Colour and stroke of an axis: the right half is dashed.
pub fn stroke(axis: AxisId) -> String {
    match axis.half() {
        Half::Left => colour(axis).to_owned(),
        Half::Right => format!("{} right", colour(axis)),
    }
}

fn travel(report: &Report<'_>) -> Html {
    let full = (2f64.powi(i32::from(report.survey.raw_bits.clamp(1, 31))) - 1.0).max(1.0);
    let rows = report.survey.axes.len() as f64;
    let height = rows * 26.0;
    let mut svg = Svg::new([840.0, height + 34.0], "travel of every input in raw counts");
    let x = Scale { from: [0.0, 110.0], to: [full, 800.0] };
    let step = round_step(full, 9);
    let mut code = 0.0;
    while code <= full {
        svg.line([x.px(code), 4.0], [x.px(code), height + 6.0], "grid");
        svg.text([x.px(code), height + 24.0], Anchor::Middle, "", &number(code, 0));
        code += step;
    }
    for rail in [0.0, full] {
        svg.line([x.px(rail), 4.0], [x.px(rail), height + 6.0], "limit");
    }
    svg.text([100.0, height + 24.0], Anchor::End, "", "counts");
    for (row, axis) in report.survey.axes.iter().enumerate() {
        let y = 18.0 + row as f64 * 26.0;
        svg.text([100.0, y + 4.5], Anchor::End, "name", axis.axis.words());
        if axis.axis.is_trigger() {
            trigger_row(report, axis.axis.half(), x, y, &mut svg);
        } else {
            axis_row(report, axis, x, y, &mut svg);
        }
    }
    svg.finish()
}

fn axis_row(report: &Report<'_>, axis: &AxisFigures, x: Scale, y: f64, svg: &mut Svg) {
    let centre = value(&axis.centre).or(value(&axis.rest));
    if let Some((low, high)) = value(&axis.low).zip(value(&axis.high)) {
        let class = format!("{} thick", stroke(axis.axis));
        svg.line([x.held(low), y], [x.held(high), y], &class);
    }
    if let Some(solved) = report.solution.trim.axis(axis.axis) {
        let (middle, dead) = (f64::from(solved.centre), f64::from(solved.dead));
        svg.line([x.held(middle - dead), y], [x.held(middle + dead), y], "dead");
    }
    if let Some(centre) = centre {
        svg.line([x.held(centre), y - 8.0], [x.held(centre), y + 8.0], "curve");
    } else {
        svg.text([x.from[1] + 8.0, y + 4.5], Anchor::Start, "", "not enough data");
    }
}

fn trigger_row(report: &Report<'_>, half: Half, x: Scale, y: f64, svg: &mut Svg) {
    let Some(trigger) = report.survey.trigger(half) else { return };
    let Some((rest, full)) = value(&trigger.rest).zip(value(&trigger.full)) else {
        svg.text([x.from[1] + 8.0, y + 4.5], Anchor::Start, "", "not enough data");
        return;
    };
    let class = format!("{} thick", stroke(half.trigger()));
    svg.line([x.held(rest), y], [x.held(full), y], &class);
    if let Some(solved) = report.solution.trim.trigger(half) {
        let end = f64::from(solved.rest) + f64::from(solved.sign) * f64::from(solved.dead);
        svg.line([x.held(f64::from(solved.rest)), y], [x.held(end), y], "dead");
        for code in [solved.on, solved.off] {
            let at = x.held(f64::from(code));
            svg.line([at, y - 6.0], [at, y + 6.0], "");
        }
    }
    svg.line([x.held(rest), y - 8.0], [x.held(rest), y + 8.0], "curve");
}
