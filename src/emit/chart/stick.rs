//! A stick: reach by direction unrolled, its rim, its rests with the dead zone.
use std::f64::consts::TAU;

use super::{Axis, Band, Chart, Circle, Dash, Ink, Item, Line, On, Points, round_step};
use crate::measure::number;
use crate::rig::Half;
use crate::survey::{Profile, ReleaseRest};

/// Deviation that is always in the picture, per cent of the mean reach.
const USUAL: f64 = 8.0;

/// Reach by direction over a turn: deviation from the mean in per cent with ± 1 SD over turns, and the
/// limit of a round gate at ± `limit` (a share of the mean).
///
/// `directions`: what raw 0°, 90°, 180° and 270° are called. Cost: O(sectors).
pub fn reach(profile: &Profile, half: Half, limit: Option<f64>, directions: [&str; 4]) -> Chart {
    let n = profile.reach.len();
    let seen = || profile.reach.iter().map(|r| (r - 1.0) * 100.0).filter(|d| d.is_finite());
    let most = seen().map(f64::abs).fold(0.0, f64::max) * 1.15;
    let ends = if most <= USUAL { USUAL } else { round_step(most, 1) };
    let names = (0..4).map(|k| {
        let text = format!("{}° {}", 90 * k, directions[k]);
        (90.0 * k as f64, text.trim_end().to_owned())
    });
    let x = Axis { names: names.collect(), ..Axis::new("direction", "°", [0.0, 360.0]) };
    let y = Axis::new("deviation from the mean reach", "%", [-ends, ends]);
    let mut chart = Chart::new(format!("Reach by direction, {} stick", half.key()), x, y);
    chart.words = spoken(profile, half);
    if seen().next().is_none() {
        chart.missing = Some("no roll round the gate was seen");
        return chart;
    }
    let of = |list: &[f64], k: usize| list.get(k % n).copied().unwrap_or(f64::NAN);
    let degrees = |k: usize| k as f64 * 360.0 / n as f64;
    let places = (0..=n).map(|k| {
        let (r, s) = (of(&profile.reach, k), of(&profile.spread, k));
        [degrees(k), (r - s - 1.0) * 100.0, (r + s - 1.0) * 100.0]
    });
    chart.items.push(Item::Band(Band { places: places.collect(), ink: Ink::Faint }));
    let limit = limit.map(|share| share * 100.0).filter(|l| *l < ends);
    chart.mark(On::Y, limit, "limit", Ink::Limit, Dash::Dashed);
    chart.mark(On::Y, limit.map(|l| -l), "", Ink::Limit, Dash::Dashed);
    let points = (0..=n).map(|k| [degrees(k), (of(&profile.reach, k) - 1.0) * 100.0]).collect();
    chart.items.push(Item::Line(Line { points, dash: Dash::of(half), ..Line::default() }));
    chart
}

fn spoken(profile: &Profile, half: Half) -> String {
    let seen: Vec<f64> = profile.reach.iter().copied().filter(|r| r.is_finite()).collect();
    if seen.is_empty() {
        return format!("Reach by direction, {} stick: nothing seen yet", half.key());
    }
    let least = seen.iter().copied().fold(f64::INFINITY, f64::min);
    let most = seen.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    format!(
        "Reach by direction, {} stick: {} of {} sectors seen, deviation {} to {} %",
        half.key(),
        seen.len(),
        profile.reach.len(),
        number((least - 1.0) * 100.0, 1),
        number((most - 1.0) * 100.0, 1)
    )
}

/// The rim in counts from the centre, to scale. Cost: O(sectors).
pub fn outline(profile: &Profile, half: Half) -> Chart {
    let raw = &profile.raw_counts;
    let most = raw.iter().copied().filter(|r| r.is_finite()).fold(0.0, f64::max);
    let ends = if most > 0.0 { most * 1.1 } else { 1.0 };
    let axis = |name: &str| Axis::new(name, "counts", [-ends, ends]);
    let title = format!("Rim in counts from the centre, {} stick", half.key());
    let mut chart = Chart { square: true, ..Chart::new(title, axis("x"), axis("y")) };
    if most <= 0.0 {
        chart.missing = Some("not seen");
        return chart;
    }
    let at = |k: usize| {
        let r = raw.get(k % raw.len()).copied().unwrap_or(f64::NAN);
        let (sin, cos) = (k as f64 / raw.len() as f64 * TAU).sin_cos();
        [r * cos, r * sin]
    };
    let points = (0..=raw.len()).map(at).collect();
    let line = Line { points, dash: Dash::of(half), round: true, ..Line::default() };
    chart.items.push(Item::Line(line));
    chart
}

/// Where each release came to rest, in counts from `centre`, with a tail toward the push before it; the
/// dead zone and a limit by their radii.
///
/// A limit that would shrink the cloud to a dot is left out. Cost: O(releases).
pub fn rests(
    half: Half,
    releases: &[ReleaseRest],
    centre: [f64; 2],
    dead: Option<f64>,
    limit: Option<f64>,
) -> Chart {
    let from_centre = |rest: &ReleaseRest| [rest.at[0] - centre[0], rest.at[1] - centre[1]];
    let at: Vec<[f64; 2]> = releases.iter().map(from_centre).collect();
    let away = |p: &[f64; 2]| p[0].hypot(p[1]);
    let dead = dead.filter(|r| r.is_finite() && *r > 0.0);
    let far = at.iter().map(away).filter(|d| d.is_finite()).fold(dead.unwrap_or(0.0), f64::max);
    let far = if far > 0.0 { far } else { 8.0 };
    let limit = limit.filter(|l| l.is_finite() && *l > 0.0 && *l < 2.0 * far);
    let ends = 1.2 * far.max(limit.unwrap_or(0.0));
    let axis = |name: &str| Axis::new(name, "counts", [-ends, ends]);
    let title = format!("Rests about the centre, {} stick", half.key());
    let mut chart = Chart { square: true, ..Chart::new(title, axis("x"), axis("y")) };
    let zone = dead.map_or(String::new(), |d| format!(", dead zone {} counts", number(d, 1)));
    chart.words = format!("Rest cloud: {} releases{zone}", releases.len());
    if releases.is_empty() {
        chart.missing = Some("no releases seen");
    }
    let circle = |radius, ink, dash, filled| {
        Item::Circle(Circle { centre: [0.0, 0.0], radius, ink, dash, filled })
    };
    chart.items.extend(dead.map(|r| circle(r, Ink::Accent, Dash::Whole, true)));
    chart.items.extend(limit.map(|r| circle(r, Ink::Limit, Dash::Dashed, false)));
    let words = at.iter().zip(releases).enumerate().map(|(k, (p, rest))| {
        let from = number(rest.from_deg.rem_euclid(360.0), 0);
        format!("{} of {}, pushed {from}°, {} off", k + 1, at.len(), number(away(p), 1))
    });
    let words = words.collect();
    let tails_deg = releases.iter().map(|rest| rest.from_deg).collect();
    chart.items.push(Item::Points(Points { at, tails_deg, words, ..Points::default() }));
    chart
}
