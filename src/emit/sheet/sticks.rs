//! Each stick: reach by direction unrolled, outline in counts, rests with their pushes, figures.
use std::f64::consts::TAU;

use super::{card, figure, halves, stick_figures};
use crate::emit::figures::{Anchor, Scale, Svg, round_step};
use crate::emit::markup::{Html, tag};
use crate::emit::meta::Report;
use crate::measure::number;
use crate::rig::Half;
use crate::survey::{StickFigures, value};
use crate::trim::{DeadZone, ZonePlace};

/// Radius of the outline in its picture, pixels; the unrolled picture magnifies this radius.
const OUTLINE_PX: f64 = 66.0;

/// Two cards side by side, one a stick.
pub fn write(report: &Report<'_>, out: &mut Html) {
    if report.survey.sticks.is_empty() {
        return;
    }
    let mut pair = Html::markup("\n");
    for stick in &report.survey.sticks {
        let zone = zone_of(report, stick.half);
        let (unrolled, factor) = unrolled(report, stick);
        let mut body = figure(
            unrolled,
            &format!(
                "reach by direction, deviation from the mean circle ×{factor}; grey ± 1 SD over \
                 turns, dashes the limit of a round gate"
            ),
        );
        let share = report.limits.dead_zone_share.good.high.unwrap_or(0.0) * 100.0;
        let words = format!(
            "rests, tails toward the push before; ochre the dead zone, dashes {}\u{a0}% of travel",
            number(share, 0)
        );
        body.push(halves([
            figure(outline(stick), "reach, counts from the centre"),
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

/// Stroke of a half: the right one is dashed.
fn stroke(half: Half, class: &str) -> String {
    match half {
        Half::Left => class.to_owned(),
        Half::Right => format!("{class} right"),
    }
}

/// Deviation of the reach in per cent over 0–360°, and how many times it is magnified.
fn unrolled(report: &Report<'_>, stick: &StickFigures) -> (Html, u32) {
    let reach = &stick.profile.reach;
    let finite: Vec<f64> = reach.iter().copied().filter(|r| r.is_finite()).collect();
    let mean = finite.iter().sum::<f64>() / finite.len().max(1) as f64;
    let deviation = |r: f64| (r / mean - 1.0) * 100.0;
    let most = finite.iter().map(|&r| deviation(r).abs()).fold(0.0, f64::max);
    // One per cent of the outline's radius, magnified; the factor gives way when it would not fit.
    let (height, middle) = (150.0, 75.0);
    let factor = [10u32, 5, 2, 1].into_iter().find(|&f| most * per_cent_px(f) <= 58.0).unwrap_or(1);
    let shown = 58.0 / per_cent_px(factor);
    let mut svg = Svg::new([420.0, height + 18.0], "reach by direction, deviation in per cent");
    let x = Scale { from: [0.0, 52.0], to: [360.0, 412.0] };
    let y = Scale { from: [0.0, middle], to: [shown, middle - 58.0] };
    grid(&mut svg, x, y, shown);
    let limit = report.limits.roundness.good.high.map(|l| l * 50.0);
    for level in limit.into_iter().flat_map(|l| [l, -l]).filter(|l| l.abs() < shown * 1.05) {
        svg.line([52.0, y.px(level)], [412.0, y.px(level)], "limit");
    }
    if finite.is_empty() {
        let words = "no roll round the gate was seen";
        svg.text([232.0, middle - 6.0], Anchor::Middle, "name", words);
        return (svg.finish(), factor);
    }
    let at = |k: usize| stick.profile.reach.get(k % 72).copied().unwrap_or(f64::NAN);
    let spread = |k: usize| stick.profile.spread.get(k % 72).copied().unwrap_or(f64::NAN);
    let band: Vec<[f64; 3]> = (0..=72)
        .map(|k| {
            let (r, s) = (at(k), spread(k));
            [x.px(k as f64 * 5.0), y.held(deviation(r - s)), y.held(deviation(r + s))]
        })
        .collect();
    svg.band(&clipped(band, middle), "spread");
    let curve: Vec<[f64; 2]> =
        (0..=72).map(|k| [x.px(k as f64 * 5.0), y.px(deviation(at(k)))]).collect();
    svg.curve(&curve, &stroke(stick.half, "curve"));
    (svg.finish(), factor)
}

/// Pixels of one per cent of the outline's radius at a magnification.
fn per_cent_px(factor: u32) -> f64 {
    OUTLINE_PX * 0.01 * f64::from(factor)
}

/// Holds a band inside the picture.
fn clipped(band: Vec<[f64; 3]>, middle: f64) -> Vec<[f64; 3]> {
    let hold = |v: f64| v.clamp(middle - 66.0, middle + 66.0);
    band.into_iter().map(|[x, low, high]| [x, hold(low), hold(high)]).collect()
}

fn grid(svg: &mut Svg, x: Scale, y: Scale, shown: f64) {
    for (deg, name) in [(0.0, "0° x+"), (90.0, "90° y+"), (180.0, "180° x−"), (270.0, "270° y−")]
    {
        svg.line([x.px(deg), 8.0], [x.px(deg), 142.0], "grid");
        svg.text([x.px(deg), 162.0], Anchor::Start, "", name);
    }
    svg.line([x.px(360.0), 8.0], [x.px(360.0), 142.0], "grid");
    let step = round_step(shown * 2.0, 5);
    let steps = (shown / step).floor() as i32;
    for k in -steps..=steps {
        let level = f64::from(k) * step;
        let class = if k == 0 { "rule" } else { "grid" };
        svg.line([52.0, y.px(level)], [412.0, y.px(level)], class);
        let sign = if k > 0 { "+" } else { "" };
        let decimals = usize::from(step < 1.0);
        let unit = if k == 0 { "" } else { "\u{a0}%" };
        let text = format!("{sign}{}{unit}", number(level, decimals));
        svg.text([46.0, y.px(level) + 4.5], Anchor::End, "", &text);
    }
}

/// The rim in raw counts from the centre, to scale, never filled.
fn outline(stick: &StickFigures) -> Html {
    let raw = &stick.profile.raw_counts;
    let finite: Vec<f64> = raw.iter().copied().filter(|r| r.is_finite()).collect();
    let mean = finite.iter().sum::<f64>() / finite.len().max(1) as f64;
    let centre = [95.0, 95.0];
    let mut svg = Svg::new([190.0, 190.0], "outline of the reach in counts from the centre");
    svg.line([centre[0] - 80.0, centre[1]], [centre[0] + 80.0, centre[1]], "grid");
    svg.line([centre[0], centre[1] - 80.0], [centre[0], centre[1] + 80.0], "grid");
    if finite.is_empty() {
        svg.text(centre, Anchor::Middle, "name", "not seen");
        return svg.finish();
    }
    let most = finite.iter().copied().fold(0.0, f64::max);
    // The mean radius is OUTLINE_PX wherever the rim then fits.
    let scale = (OUTLINE_PX / mean).min(82.0 / most);
    let points: Vec<[f64; 2]> = (0..72)
        .map(|k| {
            let angle = k as f64 / 72.0 * TAU;
            let r = raw.get(k).copied().unwrap_or(f64::NAN) * scale;
            [centre[0] + r * angle.cos(), centre[1] - r * angle.sin()]
        })
        .collect();
    svg.outline(&points, &stroke(stick.half, "curve"));
    let name = |k: usize, axis: &str| {
        let r = raw.get(k).copied().filter(|r| r.is_finite());
        r.map_or(String::new(), |r| format!("{axis} {}", number(r, 0)))
    };
    svg.text([centre[0] + 4.0, 10.0], Anchor::Start, "", &name(18, "y+"));
    svg.text([centre[0] + 4.0, 187.0], Anchor::Start, "", &name(54, "y−"));
    // The sides are named inside the rim, where nothing else is drawn.
    svg.text([centre[0] + 58.0, centre[1] - 5.0], Anchor::End, "over", &name(0, "x+"));
    svg.text([centre[0] - 58.0, centre[1] - 5.0], Anchor::Start, "over", &name(36, "x−"));
    svg.finish()
}

/// Where the stick came to rest, each with the push that it came from, and the dead zone.
fn rests(report: &Report<'_>, stick: &StickFigures, zone: Option<&DeadZone>) -> Html {
    let mut svg = Svg::new([190.0, 190.0], "rests about the centre with the dead zone");
    let middle = [95.0, 95.0];
    let (Some(cx), Some(cy)) = (value(&stick.centre[0]), value(&stick.centre[1])) else {
        svg.text(middle, Anchor::Middle, "name", "no releases seen");
        return svg.finish();
    };
    let far = stick
        .releases
        .iter()
        .map(|r| (r.at[0] - cx).hypot(r.at[1] - cy))
        .filter(|d| d.is_finite())
        .fold(1.0, f64::max);
    let travel = value(&stick.outer_reach);
    let limit = travel.zip(report.limits.dead_zone_share.good.high).map(|(t, share)| t * share);
    let radius = zone.map(|z| z.radius_counts).filter(|r| r.is_finite());
    // The good limit is drawn unless it would shrink the cloud to a dot.
    let widest = far.max(radius.unwrap_or(0.0));
    let limit = limit.filter(|&l| l < 3.0 * widest);
    let scale = 74.0 / widest.max(limit.unwrap_or(0.0));
    if let Some(radius) = radius {
        svg.circle(middle, radius * scale, "zone");
    }
    if let Some(limit) = limit {
        svg.circle(middle, limit * scale, "limit");
    }
    svg.line([15.0, middle[1]], [175.0, middle[1]], "grid");
    svg.line([middle[0], 15.0], [middle[0], 175.0], "grid");
    for rest in &stick.releases {
        let at = [middle[0] + (rest.at[0] - cx) * scale, middle[1] - (rest.at[1] - cy) * scale];
        let (sin, cos) = rest.from_deg.to_radians().sin_cos();
        svg.line(at, [at[0] + 8.0 * cos, at[1] - 8.0 * sin], "tail");
        svg.circle(at, 2.6, "dot");
    }
    let bar = round_step(2.0 * widest, 6);
    svg.line([8.0, 184.0], [8.0 + bar * scale, 184.0], "");
    let words = format!("{} counts", number(bar, usize::from(bar < 1.0)));
    svg.text([14.0 + bar * scale, 188.0], Anchor::Start, "", &words);
    svg.finish()
}
