//! What the constants do to every raw code: outputs that occur, largest step, stalls.
use super::table::{Column, Table};
use super::{card, figure, halves};
use crate::emit::chart::{self, Output};
use crate::emit::markup::{Html, tag};
use crate::emit::meta::Report;
use crate::rig::{AxisId, Half};
use crate::trim::check::{Check, Settled, Sweep, check};

/// The card of the mappings, where anything was solved.
pub fn write(report: &Report<'_>, out: &mut Html) {
    let check = check(&report.solution.trim);
    if check.axes.is_empty() && check.triggers.is_empty() {
        return;
    }
    let about = "Every raw code run through the firmware's own integers. A converter has fewer \
         codes than the output has values, so most outputs never occur; the largest step is what one \
         count more can change.";
    let mut body =
        tag("p").class("small soft").line(about).then(pictures(report)).then(sweeps(&check));
    for field in &check.sticks {
        body.push(tag("p").class("small").line(format!(
            "{} stick: at the ends of travel every direction gives at least {} of 32767.",
            if field.half == Half::Left { "Left" } else { "Right" },
            field.least_magnitude
        )));
    }
    for settled in &check.smoothing {
        body.push(tag("p").class("small").line(words(settled)));
    }
    card(out, "Mapping", body);
}

/// Raw code to output of the inputs of each half.
fn pictures(report: &Report<'_>) -> Html {
    let trim = &report.solution.trim;
    halves(Half::ALL.into_iter().filter_map(|half| {
        let axes = AxisId::ALL.into_iter().filter(|axis| axis.half() == half);
        let inputs: Vec<Output> = axes.filter_map(|axis| Output::of(trim, axis)).collect();
        let title = format!("Output by raw code, {} half", half.key());
        let picture = chart::output(title, &inputs, [0, trim.full_scale()]);
        let words =
            format!("{} half: raw code to output, a stick's other axis at rest", half.key());
        (!inputs.is_empty()).then(|| figure(chart::svg(&picture, [420.0, 240.0]), &words))
    }))
}

fn sweeps(check: &Check) -> Html {
    let heads = [
        (Column::Label, ""),
        (Column::Value, "outputs"),
        (Column::Note, "missing"),
        (Column::Value, "largest step"),
        (Column::Note, "stalls"),
        (Column::Note, "zero at codes"),
        (Column::Words, "ends, order"),
    ];
    let mut table = Table::new("", &heads);
    let sticks = check.sticks.iter().flat_map(|f| &f.sweeps);
    let groups: [(&str, Vec<&Sweep>); 3] = [
        ("In the form that the firmware uses, the other axis at rest", sticks.collect()),
        ("One axis by itself", check.axes.iter().collect()),
        ("Triggers", check.triggers.iter().collect()),
    ];
    for (title, sweeps) in groups.iter().filter(|(_, sweeps)| !sweeps.is_empty()) {
        table.part(title);
        sweeps.iter().for_each(|s| row(&mut table, s));
    }
    table.finish()
}

fn row(table: &mut Table, s: &Sweep) {
    let ends = if s.ends_reached { "both reached" } else { "an end is not reached" };
    let order = if s.monotonic { "never turns back" } else { "turns back" };
    let zero = s.zero_codes.map_or("none".to_owned(), |(first, last)| format!("{first}–{last}"));
    table.row([
        Column::Label.of(s.input.words()),
        Column::Value.of(s.distinct.to_string()),
        Column::Note.of(s.missing.to_string()),
        Column::Value.of(s.largest_step.to_string()),
        Column::Note.of(s.stalls.to_string()),
        Column::Note.of(zero),
        Column::Words.of(format!("{ends}, {order}")),
    ]);
}

fn words(s: &Settled) -> String {
    let rests = match s.residue {
        0 => "comes to every held code exactly".to_owned(),
        residue => format!("stays {residue} counts short of a held code"),
    };
    format!(
        "Smoothing of {}, shift {}: {rests}; 90 % of a step in {} scans.",
        s.input.words(),
        s.shift,
        s.rise_scans
    )
}
