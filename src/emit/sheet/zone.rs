//! The dead zones: what each is made of, what it promises, what a smaller one would cost.
use super::table::{Column, Table};
use super::{card, figure, halves};
use crate::emit::chart;
use crate::emit::markup::{Html, tag};
use crate::emit::meta::Report;
use crate::measure::number;
use crate::rig::Half;
use crate::trim::{DeadZone, Doubt, DriftKnown, ZonePlace};

/// One table of terms, one picture a stick.
pub fn write(report: &Report<'_>, out: &mut Html) {
    let zones = &report.solution.zones;
    if zones.is_empty() {
        return;
    }
    let heads = [
        (Column::Label, "counts"),
        (Column::Note, "n"),
        (Column::Note, "spread"),
        (Column::Note, "farthest"),
        (Column::Note, "noise"),
        (Column::Note, "drift"),
        (Column::Note, "rounding"),
        (Column::Value, "dead zone"),
        (Column::Note, "of travel"),
    ];
    let caption = "The larger of spread (tolerance factor × standard deviation) with the centre's \
        rounding and of the farthest rest carried on to the promised share, plus noise (3.3 × rms) and drift";
    let mut table = Table::new(caption, &heads);
    for zone in zones {
        let drift = match zone.drift {
            DriftKnown::Measured => number(zone.drift_term, 1),
            DriftKnown::Unmeasured => "not measured".to_owned(),
        };
        table.row([
            Column::Label.of(name(zone)),
            Column::Note.of(zone.n.to_string()),
            Column::Note.of(format!("{} × {}", number(zone.factor, 2), number(zone.scatter, 2))),
            Column::Note.of(number(zone.farthest_term, 1)),
            Column::Note.of(number(zone.noise_term, 1)),
            Column::Note.of(drift),
            Column::Note.of(number(zone.centre_term, 1)),
            Column::Value.of(number(zone.radius_counts, 0)),
            Column::Note.of(format!("{}\u{a0}%", number(zone.radius_fraction * 100.0, 1))),
        ]);
    }
    let mut body = Html::EMPTY;
    let sticks: Vec<&DeadZone> =
        zones.iter().filter(|z| matches!(z.place, ZonePlace::Stick(_))).collect();
    for zone in &sticks {
        body.push(tag("p").line(promise(zone)));
    }
    body.push(table.finish());
    let drawn: Vec<&&DeadZone> = sticks.iter().filter(|z| z.leak.len() > 1).collect();
    if !drawn.is_empty() {
        body.push(tag("h3").line("What another dead zone would cost"));
        body.push(halves(drawn.into_iter().map(|zone| {
            let words = format!(
                "{}: share of releases that leak, upper bound 95 % sure, over the zone in counts \
                 and in per cent of travel; ochre the zone in the constants",
                name(zone)
            );
            figure(chart::svg(&chart::leak(zone, zone.radius_counts), [420.0, 240.0]), &words)
        })));
    }
    card(out, "Dead zones", body);
}

fn name(zone: &DeadZone) -> &'static str {
    match zone.place {
        ZonePlace::Stick(Half::Left) => "left stick",
        ZonePlace::Stick(Half::Right) => "right stick",
        ZonePlace::Axis(axis) => axis.words(),
    }
}

/// What the zone promises, or why it does not.
fn promise(zone: &DeadZone) -> String {
    let place = name(zone);
    match zone.doubt {
        None => {
            let leaks = (1.0 - zone.coverage) * 100.0;
            format!(
                "With {} counts on the {place}, fewer than {} in 100 releases like those captured \
                 leak, 95 % sure, n = {}, as long as they scatter normally.",
                number(zone.radius_counts, 0),
                number(leaks, usize::from(leaks < 0.95)),
                zone.n,
            )
        }
        Some(Doubt::FarRest { ratio }) => format!(
            "No promise for the {place}: the farthest of {} rests lies {} times the RMS distance \
             away, so they are not normally spread. Release it from eight more directions.",
            zone.n,
            number(ratio, 1),
        ),
        Some(Doubt::TwoGroups { gap }) => format!(
            "No promise for the {place}: its {} rests fall into two groups, {} standard deviations \
             apart. Look for friction before trusting any zone.",
            zone.n,
            number(gap, 1),
        ),
    }
}
