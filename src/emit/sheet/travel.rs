//! Travel of every input on the converter's scale, and the figures of the triggers.
use super::{card, figure, figures, halves};
use crate::emit::chart;
use crate::emit::markup::{Html, tag};
use crate::emit::meta::Report;
use crate::rig::Place;
use crate::survey::TriggerFigures;

/// One picture for all inputs; a table for each trigger.
pub fn write(report: &Report<'_>, out: &mut Html) {
    if report.survey.axes.is_empty() {
        return;
    }
    let picture = chart::travel(report.survey, &report.solution.trim);
    let mut body = figure(
        chart::svg(&picture, [840.0, 62.0 + 26.0 * report.survey.axes.len() as f64]),
        "from the lowest to the highest reach; ochre the dead zone of each axis by itself, the \
         long tick the centre or released level, short ticks a trigger's on and off",
    );
    let triggers = &report.survey.triggers;
    if !triggers.is_empty() {
        body.push(halves(triggers.iter().map(|t| tag("div").line(trigger_table(report, t)))));
        let about = "Scatter: standard deviation of the levels. Strokes apart: down against up at \
             equal time, and at ¼, ½ and ¾ of the stroke down − up; play of the lever cannot be seen from \
             the reading alone. Time at full: share of a slow pull \
             spent at its end.";
        body.push(tag("p").class("small soft").line(about));
    }
    card(out, "Travel on the converter's scale", body);
}

fn trigger_table(report: &Report<'_>, trigger: &TriggerFigures) -> Html {
    let name = format!("{}, {} pulls", trigger.half.trigger().words(), trigger.pulls);
    let mut table = figures::part(report, Place::trigger(trigger.half), "triggers.", &name);
    let falls = match trigger.rests_high {
        Some(true) => "the reading falls",
        Some(false) => "the reading rises",
        None => "not seen pulled",
    };
    table.words("when pulled", falls);
    table.finish()
}
