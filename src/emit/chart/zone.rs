//! The cost of a dead zone: how many releases leak against the travel that it takes.
use super::{Also, Axis, Chart, Dash, Ink, Item, Line, On};
use crate::measure::number;
use crate::trim::{DeadZone, ZonePlace};

/// Smallest share of leaks in the picture, per cent.
pub const LEAST_LEAK: f64 = 0.01;

/// Upper bound of the releases that leak over the radius, in counts and in per cent of travel lost, with
/// the promise, the proposed radius and the one shown (`radius`, counts).
///
/// The axes depend on the data alone: they stay while a radius is chosen. Cost: O(points of the curve).
pub fn leak(zone: &DeadZone, radius: f64) -> Chart {
    let far = zone.leak.last().map_or(1.0, |l| l.radius_counts).max(zone.proposed_counts * 1.2);
    let lost = 100.0 * zone.radius_fraction / zone.radius_counts;
    let also =
        (lost.is_finite() && lost > 0.0).then_some(Also { factor: lost, unit: "% of travel" });
    let x = Axis { also, ..Axis::new("dead zone", "counts", [0.0, far]) };
    let y = Axis::log("upper bound of leaking releases", "%", [LEAST_LEAK, 100.0]);
    let place = match zone.place {
        ZonePlace::Stick(half) => format!("{} stick", half.key()),
        ZonePlace::Axis(axis) => axis.words().to_owned(),
    };
    let mut chart = Chart::new(format!("Cost of a dead zone, {place}"), x, y);
    let cost = zone.cost_of(radius);
    chart.words = format!(
        "Dead zone {} counts loses {} % of travel, at most {} % of releases leak; {} counts are \
         proposed",
        number(radius, 1),
        number(cost.lost_travel * 100.0, 1),
        number(cost.leak_upper * 100.0, 1),
        number(zone.proposed_counts, 1),
    );
    let half = match zone.place {
        ZonePlace::Stick(half) => half,
        ZonePlace::Axis(axis) => axis.half(),
    };
    let promised = Some((1.0 - zone.coverage) * 100.0).filter(|_| zone.doubt.is_none());
    let other = (radius - zone.proposed_counts).abs() > 1e-9;
    let proposed = Some(zone.proposed_counts).filter(|_| other);
    chart.mark(On::X, proposed, "proposed", Ink::Soft, Dash::Dashed);
    let shown = if other { "by hand" } else { "proposed" };
    chart.mark(On::X, Some(radius), shown, Ink::Accent, Dash::Whole);
    chart.mark(On::Y, promised, "promised", Ink::Limit, Dash::Dashed);
    let points = zone.leak.iter().map(|l| [l.radius_counts, l.leak_upper * 100.0]);
    let points = points.take_while(|p| p[1] >= LEAST_LEAK).collect();
    chart.items.push(Item::Line(Line { points, dash: Dash::of(half), ..Line::default() }));
    chart
}
