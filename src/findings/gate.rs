//! What the roll shows: a gate with a defect, axes that do not stand at right angles.
use std::f64::consts::TAU;

use super::say;
use super::{Bench, Code, Finding, severity_of};
use crate::measure::fit::dense::Normal;
use crate::measure::robust::{SIGMA_PER_MAD, mad, median};
use crate::rig::{AxisId, Half, Place};
use crate::survey::StickFigures;
use crate::units::Unit;

/// Sectors of a profile, 5° each.
const SECTORS: usize = 72;
/// Departures from the form below this share of the reach are the rim's own unevenness.
const FORM_LEAST: f64 = 0.03;
/// Least depth of a dent, share of the reach.
const DENT_LEAST: f64 = 0.05;
/// Departures of so many deviations are no part of the form.
const OUTLIERS: f64 = 3.0;
/// Share of the mean absolute departure that a regular polygon must explain to be taken for the form.
const POLYGON_SHARE: f64 = 0.4;

/// The rim departs from its form, all round or over a few sectors.
pub(super) fn gate_defect(bench: &Bench<'_>, found: &mut Vec<Finding>) {
    let band = &bench.limits.roundness;
    for stick in &bench.survey.sticks {
        let (Ok(roundness), Some(form)) = (&stick.roundness, Form::of(stick)) else { continue };
        // A clipped axis flattens the rim: that has a name of its own.
        let clipped =
            |f: &Finding| f.code == Code::Saturated && Place::Stick(stick.half).contains(f.place);
        // Drop-outs of a worn track pull sectors in.
        let worn = |axis: &AxisId| super::has(found, &[Code::WornTrack], *axis);
        let cut =
            form.dent.as_ref().is_some_and(|dent| is_cut_by_axis(dent, &stick.profile.raw_counts));
        if cut || found.iter().any(clipped) || stick.half.stick().iter().any(worn) {
            continue;
        }
        let half_width = (roundness.high - roundness.low) * 0.5;
        // A rim of corners departs from the regular form by how they are rounded: that is its form, and
        // only a run of short sectors is a defect.
        if form.corners.is_some() && form.dent.is_none() {
            continue;
        }
        // Sides that end unevenly bend what is left of the raw distances; scaled to each side's reach they
        // do not, while a corner missing at the end of an axis swells its neighbours there.
        let scaled = Form::around(&stick.profile.reach).map_or(f64::INFINITY, |f| f.departure);
        let departure = form.departure.min(scaled);
        let interval = [departure, departure - half_width, departure + half_width];
        let Some(severity) = super::loud(band, interval) else { continue };
        let against = form.corners.map_or("a circle".to_owned(), |n| format!("a regular {n}-gon"));
        let limit = say::missed(band, severity, Unit::Fraction);
        let mut evidence = format!(
            "{} stick: the rim departs from {against} by {:.1}\u{a0}% of its mean radius, gains \
             and lean apart (± {:.1}, n\u{a0}=\u{a0}{} turns); {limit}",
            stick.half.key(),
            departure * 100.0,
            half_width * 100.0,
            roundness.n,
        );
        if let Some(dent) = &form.dent {
            evidence.push_str(&format!(
                "; shortest by {:.1}\u{a0}% over {}° round {}° ({})",
                dent.depth * 100.0,
                dent.width_deg,
                dent.at_deg,
                direction_words(dent.at_deg),
            ));
        }
        let remedy = "Look there for burrs, a shell or cap in the way, or a loose module; roll \
            again slowly with firm pressure before filing anything";
        found.push(
            Finding::new(Code::GateDefect, Place::Stick(stick.half), severity, evidence, remedy)
                .at(roundness.span),
        );
    }
}

/// True when a dent is where one axis stops growing: across it the reading of that axis alone stays the
/// same, as no obstacle in the shell makes it. That is a side that ends early, or a sensor's rail.
fn is_cut_by_axis(dent: &Dent, raw: &[f64]) -> bool {
    let nearest = (dent.at_deg + 45) / 90 * 90;
    if dent.at_deg.abs_diff(nearest) > 15 || dent.width_deg < 20 {
        return false;
    }
    let middle = dent.at_deg as i32 / 5;
    let reach = dent.width_deg as i32 / 10;
    let along: Vec<f64> = (middle - reach..=middle + reach)
        .map(|k| {
            let off = (f64::from(k) * 360.0 / SECTORS as f64 - nearest as f64).to_radians();
            raw.get(k.rem_euclid(SECTORS as i32) as usize).copied().unwrap_or(0.0) * off.cos()
        })
        .collect();
    range(&along) < FORM_LEAST * along.iter().copied().fold(0.0, f64::max)
}

/// Raw direction in words: 0° is the way in which x grows.
fn direction_words(deg: usize) -> &'static str {
    [
        "x up",
        "x and y up",
        "y up",
        "x down, y up",
        "x down",
        "x and y down",
        "y down",
        "x up, y down",
    ][(deg + 22) % 360 / 45]
}

/// What remains of a rim after the form that it was meant to have.
struct Form {
    /// Corners of the polygon that explains the profile, if one does.
    corners: Option<usize>,
    /// Largest minus smallest residual, share of the mean.
    departure: f64,
    /// The deepest run of short sectors.
    dent: Option<Dent>,
}

struct Dent {
    depth: f64,
    width_deg: usize,
    at_deg: usize,
}

impl Form {
    /// Needs every sector; `None` otherwise.
    ///
    /// Raw distances are used, not those scaled to each side's reach: a missing corner at the end of an
    /// axis would pass for a short side and swell its neighbours.
    fn of(stick: &StickFigures) -> Option<Form> {
        Form::around(&stick.profile.raw_counts)
    }

    /// The form of distances by sector.
    fn around(raw: &[f64]) -> Option<Form> {
        if raw.len() != SECTORS || raw.iter().any(|r| !(r.is_finite() && *r > 0.0)) {
            return None;
        }
        let around: Vec<f64> = raw.iter().map(|r| r.ln()).collect();
        let plain = left_of(&around, &vec![0.0; SECTORS]);
        // An octagon is always four-fold too, a square never eight-fold: finest first.
        let polygon = [8usize, 4].into_iter().find_map(|corners| {
            let mut shape = folded(&plain, corners);
            // What the polygon takes away changes what the gains are fitted to, and the other way round.
            for _ in 0..3 {
                let left = left_of(&around, &shape);
                let again: Vec<f64> = left.iter().zip(&shape).map(|(l, s)| l + s).collect();
                shape = folded(&again, corners);
            }
            let left = left_of(&around, &shape);
            (size(&left) < (1.0 - POLYGON_SHARE) * size(&plain) && range(&shape) > FORM_LEAST)
                .then_some((corners, left))
        });
        let (corners, left) = match polygon {
            Some((corners, left)) => (Some(corners), left),
            None => (None, plain),
        };
        Some(Form { corners, departure: range(&left), dent: dent(&left) })
    }
}

/// Mean absolute departure: a dent over a few sectors weighs little in it.
fn size(values: &[f64]) -> f64 {
    values.iter().map(|v| v.abs()).sum::<f64>() / values.len().max(1) as f64
}

/// What is left of ln(distance) after a shape, a gain for each side of each axis and a lean.
///
/// On a rim ρ(φ) with gains g the distance is about `ln r = ln ρ + cos²θ·ln g_x± + sin²θ·ln g_y± +
/// ε/2·sin 2θ`: first order in the differences of gain and in the lean ε, which has a finding of its own
/// (a roll cannot tell it from an oval gate). Dents must not tilt the fit: sectors far below it are set
/// to the fitted value and it is fitted again, which converges to least squares on the others.
fn left_of(around: &[f64], shape: &[f64]) -> Vec<f64> {
    let wanted: Vec<f64> = around.iter().zip(shape).map(|(a, s)| a - s).collect();
    let mut filled = wanted.clone();
    let mut model = vec![0.0; SECTORS];
    for _ in 0..20 {
        let mut normal = Normal::new(5);
        filled.iter().enumerate().for_each(|(k, value)| normal.add(&sides(k), *value));
        let c = normal.solve();
        for (k, value) in model.iter_mut().enumerate() {
            *value = sides(k).iter().zip(&c).map(|(x, c)| x * c).sum();
        }
        let residual: Vec<f64> = wanted.iter().zip(&model).map(|(a, m)| a - m).collect();
        let limit = (OUTLIERS * SIGMA_PER_MAD * mad(&residual)).max(FORM_LEAST);
        for (k, value) in filled.iter_mut().enumerate() {
            *value = if residual[k] < -limit { model[k] } else { wanted[k] };
        }
    }
    wanted.iter().zip(&model).map(|(a, m)| a - m).collect()
}

/// Shares of the four sides and the lean in a sector.
fn sides(k: usize) -> [f64; 5] {
    let (sin, cos) = (k as f64 / SECTORS as f64 * TAU).sin_cos();
    let side = |c: f64, up: bool| if (c >= 0.0) == up { c * c } else { 0.0 };
    [side(cos, true), side(cos, false), side(sin, true), side(sin, false), 2.0 * sin * cos]
}

/// The part of a profile that repeats `corners` times a turn: the median over its rotations, so that
/// one missing corner takes nothing off the others.
fn folded(around: &[f64], corners: usize) -> Vec<f64> {
    let step = SECTORS / corners;
    let one: Vec<f64> = (0..step)
        .map(|k| median(&(0..corners).map(|c| around[k + c * step]).collect::<Vec<f64>>()))
        .collect();
    let mean = one.iter().sum::<f64>() / step as f64;
    (0..SECTORS).map(|k| one[k % step] - mean).collect()
}

fn range(values: &[f64]) -> f64 {
    let high = values.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let low = values.iter().copied().fold(f64::INFINITY, f64::min);
    high - low
}

/// The run of sectors about the deepest one that is at least half as deep; `None` unless it is
/// short by more than 5 % and narrower than a quarter turn.
fn dent(residual: &[f64]) -> Option<Dent> {
    // One sector alone is where a thumb fell short or a sample failed, no obstacle.
    let beside = |k: usize| {
        let [left, right] = [residual[(k + SECTORS - 1) % SECTORS], residual[(k + 1) % SECTORS]];
        left.min(right) < 0.5 * residual[k]
    };
    let deepest = (0..SECTORS)
        .filter(|&k| residual[k] < 0.0 && beside(k))
        .min_by(|&a, &b| residual[a].total_cmp(&residual[b]))?;
    let depth = -residual[deepest];
    let deep = |k: usize| residual[k % SECTORS] < -0.5 * depth;
    let before = (1..SECTORS).take_while(|&i| deep(deepest + SECTORS - i)).count();
    let after = (1..SECTORS).take_while(|&i| deep(deepest + i)).count();
    let width = before + after + 1;
    if depth < DENT_LEAST || !(2..=SECTORS / 4).contains(&width) {
        return None;
    }
    let middle = (2 * deepest + 2 * SECTORS + after - before) * 5 / 2;
    Some(Dent { depth, width_deg: width * 5, at_deg: middle % 360 })
}

/// The axes do not stand at right angles, taken from a roll on a round gate.
pub(super) fn skewed_axes(bench: &Bench<'_>, found: &mut Vec<Finding>) {
    let band = &bench.limits.orthogonality_deg;
    for half in Half::ALL {
        let Some(stick) = bench.survey.stick(half) else { continue };
        let Ok(angle) = &stick.orthogonality_deg else { continue };
        // A source that keeps its neighbour's charge leans the readings in the same way.
        if half.stick().iter().any(|axis| super::has(found, &[Code::MuxCrosstalk], *axis)) {
            continue;
        }
        let Some(severity) = severity_of(band, angle) else { continue };
        let evidence = format!(
            "{} stick: the axes stand {} off a right angle ({}, n\u{a0}=\u{a0}{}), taking the gate to be \
             round; {}",
            half.key(),
            angle.value_text(),
            angle.interval_text(),
            angle.n,
            say::missed(band, severity, Unit::Degrees),
        );
        let remedy = "Seat the sensors square to each other, or accept the 2×2 correction that \
            the constants offer";
        found.push(
            Finding::new(Code::SkewedAxes, Place::Stick(half), severity, evidence, remedy)
                .at(angle.span),
        );
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_octagon_is_a_form_and_a_missing_corner_is_not() {
        let octagon = |k: usize| {
            let off = ((k as f64 * 5.0 + 22.5).rem_euclid(45.0) - 22.5).to_radians();
            ((22.5f64.to_radians()).cos() / off.cos()).ln()
        };
        let whole: Vec<f64> = (0..SECTORS).map(octagon).collect();
        let folded = super::folded(&whole, 8);
        let shift = whole[0] - folded[0];
        assert!(whole.iter().zip(&folded).all(|(a, b)| (a - b - shift).abs() < 1e-12));
        let mut missing = vec![0.0; SECTORS];
        for k in [62, 63, 64] {
            missing[k] = -0.18;
        }
        let dent = dent(&missing).expect("a dent");
        assert_eq!((dent.width_deg, dent.at_deg), (15, 315));
        // Gains of 300 to 420 counts, a lean of 3°, and the missing corner.
        let gains = [300.0f64, 330.0, 420.0, 380.0].map(f64::ln);
        let seen: Vec<f64> = (0..SECTORS)
            .map(|k| {
                let of_side = sides(k);
                let gain: f64 = of_side.iter().zip(gains).map(|(s, g)| s * g).sum();
                gain + 0.026 * of_side[4] + missing[k]
            })
            .collect();
        let left = left_of(&seen, &vec![0.0; SECTORS]);
        assert!(left.iter().zip(&missing).all(|(a, b)| (a - b).abs() < 1e-4), "{left:?}");
        assert_eq!(direction_words(315), "x up, y down");
        assert_eq!(direction_words(359), "x up");
    }
}
