//! Each stick: reach by direction unrolled, outline in counts, rests with their pushes, figures.
use super::{card, figure, halves, stick_figures};
use crate::emit::chart;
use crate::emit::markup::{Html, tag};
use crate::emit::meta::Report;
use crate::measure::number;
use crate::rig::Half;
use crate::survey::{StickFigures, value};
use crate::trim::{DeadZone, ZonePlace};

/// Size of the unrolled reach, px.
const WIDE: [f64; 2] = [420.0, 206.0];
/// Size of a picture beside another, px.
const SMALL: [f64; 2] = [200.0, 208.0];

/// Two cards side by side, one a stick.
pub fn write(report: &Report<'_>, out: &mut Html) {
    if report.survey.sticks.is_empty() {
        return;
    }
    let mut pair = Html::markup("\n");
    for stick in &report.survey.sticks {
        let zone = zone_of(report, stick.half);
        let limit = report.limits.roundness.good.high.map(|l| l / 2.0);
        let names = ["x+", "y+", "x−", "y−"];
        let mut body = figure(
            chart::svg(&chart::reach(&stick.profile, stick.half, limit, names), WIDE),
            "reach by direction; grey ± 1 SD over turns, dashes the limit of a round gate",
        );
        let share = report.limits.dead_zone_share.good.high.unwrap_or(0.0) * 100.0;
        let words = format!(
            "rests, tails toward the push before; ochre the dead zone, dashes {}\u{a0}% of travel",
            number(share, 0)
        );
        body.push(halves([
            figure(
                chart::svg(&chart::outline(&stick.profile, stick.half), SMALL),
                "reach, counts from the centre",
            ),
            figure(rests(report, stick, zone), &words),
        ]));
        body.push(stick_figures::rows(report, stick));
        card(&mut pair, &format!("{} stick", title(stick.half)), body);
    }
    out.push(tag("div").class("pair").line(pair));
}

fn title(half: Half) -> &'static str {
    match half {
        Half::Left => "Left",
        Half::Right => "Right",
    }
}

/// The dead zone of a stick, where one was solved.
fn zone_of<'a>(report: &Report<'a>, half: Half) -> Option<&'a DeadZone> {
    report.solution.zones.iter().find(|z| z.place == ZonePlace::Stick(half))
}

/// The limit of the dead zone in counts: its good share of the mean reach.
fn limit_counts(report: &Report<'_>, stick: &StickFigures) -> Option<f64> {
    let share = report.limits.dead_zone_share.good.high;
    value(&stick.outer_reach).zip(share).map(|(travel, share)| travel * share)
}

/// Where the releases ended, about their centre.
fn rests(report: &Report<'_>, stick: &StickFigures, zone: Option<&DeadZone>) -> Html {
    let [x, y] = [0, 1].map(|k| value(&stick.centre[k]));
    let centre = x.zip(y).map(|(x, y)| [x, y]);
    // Without a centre there is nothing to draw them about.
    let releases = if centre.is_some() { &stick.releases[..] } else { &[] };
    let dead = zone.map(|z| z.radius_counts);
    let limit = limit_counts(report, stick);
    chart::svg(&chart::rests(stick.half, releases, centre.unwrap_or_default(), dead, limit), SMALL)
}
