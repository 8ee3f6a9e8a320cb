//! The dead zones: what each is made of, what it promises, what a smaller one would cost.
use super::table::{Column, Table};
use super::{card, figure, halves};
use crate::emit::figures::{Anchor, Scale, Svg, round_step};
use crate::emit::markup::{Html, tag};
use crate::emit::meta::Report;
use crate::measure::number;
use crate::rig::Half;
use crate::trim::{DeadZone, Doubt, DriftKnown, ZonePlace};

/// Lowest leak bound drawn, as a power of ten.
const LEAST_DECADE: f64 = -4.0;

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
    let caption = "The larger of spread (tolerance factor × standard deviation) and farthest \
        (1.25 × the farthest rest), plus noise (3.3 × rms), drift and the centre's rounding";
    let mut table = Table::new(caption, &heads);
    for zone in zones {
        let drift = match zone.drift {
            DriftKnown::Measured => number(zone.drift_term, 1),
            DriftKnown::Unmeasured => "not measured".to_owned(),
        };
        table.row([
            Column::Label.of(name(zone)),
            Column::Note.of(zone.n.to_string()),
            Column::Note.of(format!("{} × {}", number(zone.k2, 2), number(zone.scatter, 2))),
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
                "{}: share of releases that leak, upper bound 95 % sure, against the zone in \
                 counts and in per cent of travel; ochre the zone chosen",
                name(zone)
            );
            figure(cost(zone), &words)
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
                 leak, 95 % sure, n = {}.",
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

fn cost(zone: &DeadZone) -> Html {
    let mut svg = Svg::new([420.0, 196.0], "leaking releases against the dead zone");
    let top = zone.leak.last().map_or(1.0, |p| p.radius_counts);
    let x = Scale { from: [0.0, 58.0], to: [top, 388.0] };
    let y = Scale { from: [LEAST_DECADE, 150.0], to: [0.0, 12.0] };
    for (decade, words) in [
        (0.0, "100\u{a0}%"),
        (-1.0, "10\u{a0}%"),
        (-2.0, "1\u{a0}%"),
        (-3.0, "0.1\u{a0}%"),
        (-4.0, "0.01\u{a0}%"),
    ] {
        svg.line([58.0, y.px(decade)], [388.0, y.px(decade)], "grid");
        svg.text([52.0, y.px(decade) + 4.5], Anchor::End, "", words);
    }
    let step = round_step(top, 6);
    let mut at = 0.0;
    while at <= top {
        svg.line([x.px(at), 12.0], [x.px(at), 150.0], "grid");
        svg.text([x.px(at), 168.0], Anchor::Middle, "", &number(at, usize::from(step < 1.0)));
        let near = zone.leak.iter().find(|p| (p.radius_counts - at).abs() < 0.5 * step);
        if let Some(point) = near.filter(|_| at > 0.0) {
            // Lost travel is proportional to the radius.
            let lost = point.lost_travel * at / point.radius_counts;
            let share = format!("{}\u{a0}%", number(lost * 100.0, 1));
            svg.text([x.px(at), 186.0], Anchor::Middle, "", &share);
        }
        at += step;
    }
    let wanted = (1.0 - zone.coverage).max(1e-9).log10();
    svg.line([58.0, y.held(wanted)], [388.0, y.held(wanted)], "limit");
    let curve: Vec<[f64; 2]> = zone
        .leak
        .iter()
        .take_while(|p| p.leak_upper > 10f64.powf(LEAST_DECADE))
        .map(|p| [x.px(p.radius_counts), y.held(p.leak_upper.log10())])
        .collect();
    let class = match zone.place {
        ZonePlace::Stick(Half::Right) => "curve right",
        _ => "curve",
    };
    svg.curve(&curve, class);
    svg.line([x.held(zone.radius_counts), 12.0], [x.held(zone.radius_counts), 150.0], "mark");
    svg.finish()
}
