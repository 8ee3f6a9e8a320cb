//! Travel of every input on the converter's scale, and the figures of the triggers.
use super::table::{FIGURE_HEADS, Table};
use super::{card, figure};
use crate::emit::chart;
use crate::emit::meta::Report;

/// One picture for all inputs; a table for each trigger.
pub fn write(report: &Report<'_>, out: &mut String) {
    if report.survey.axes.is_empty() {
        return;
    }
    let picture = chart::travel(report.survey, &report.solution.trim);
    let mut body = figure(
        chart::svg(&picture, [840.0, 62.0 + 26.0 * report.survey.axes.len() as f64]),
        "from the lowest to the highest reach; ochre the dead zone of each axis by itself, the \
         long tick the centre or released level, short ticks a trigger's on and off",
    );
    if !report.survey.triggers.is_empty() {
        body.push_str("<div class=\"halves\">\n");
        for trigger in &report.survey.triggers {
            let name = format!("{}, {} pulls", trigger.half.trigger().words(), trigger.pulls);
            let mut table = Table::new(&name, &FIGURE_HEADS);
            table.figure("released", &trigger.rest);
            table.figure("full", &trigger.full);
            table.figure("released scatter", &trigger.rest_scatter);
            table.figure("full scatter", &trigger.full_scatter);
            table.figure("largest reversal", &trigger.reversal);
            table.figure("hysteresis", &trigger.hysteresis);
            for (quarter, at) in ["¼", "½", "¾"].iter().zip(&trigger.hysteresis_at) {
                table.figure(&format!("hysteresis at {quarter}"), at);
            }
            table.figure("time at full", &trigger.end_plateau);
            let falls = match trigger.rests_high {
                Some(true) => "the reading falls",
                Some(false) => "the reading rises",
                None => "not seen pulled",
            };
            table.words("when pulled", falls);
            body.push_str(&format!("<div>{}</div>\n", table.finish()));
        }
        body.push_str(
            "</div>\n<p class=\"small soft\">Scatter: standard deviation of the levels. Hysteresis: \
             down against up at equal time; at ¼, ½ and ¾ of the stroke down − up. Time at full: \
             share of a slow pull spent at its end.</p>\n",
        );
    }
    card(out, "Travel on the converter's scale", &body);
}
