//! What the roll shows: a gate with a defect, axes that do not stand at right angles.
use std::f64::consts::TAU;

use super::say;
use super::travel::SATURATED;
use super::{Bench, Finding, Kind, Severity, severity_of};
use crate::measure::robust::mad;
use crate::rig::{AxisId, Half};
use crate::survey::StickFigures;
use crate::units::Unit;

/// Sectors of a profile, 5° each.
const SECTORS: usize = 72;
/// Share of the profile's variance that a regular polygon must explain to be taken for the form.
const POLYGON_SHARE: f64 = 0.7;

/// The rim departs from its form, all round or over a few sectors.
pub const GATE_DEFECT: Kind =
    Kind { code: "gate-defect", title: "The gate departs from its form", look: gate_defect };

fn gate_defect(bench: &Bench<'_>, found: &mut Vec<Finding>) {
    let band = &bench.limits.roundness;
    for stick in &bench.survey.sticks {
        let (Ok(roundness), Some(form)) = (&stick.roundness, Form::of(stick)) else { continue };
        // A clipped axis flattens the rim: that has a name of its own.
        let clipped = |f: &Finding| {
            f.code == SATURATED.code && stick.half.stick().iter().any(|axis| axis.key() == f.place)
        };
        let uneven = |axis: &AxisId| super::has(found, &["uneven-travel"], axis.key());
        if found.iter().any(clipped) || stick.half.stick().iter().any(uneven) {
            continue;
        }
        let half_width = (roundness.high - roundness.low) * 0.5;
        let departure = form.departure;
        let graded = band.grade(departure - half_width, departure + half_width);
        let Some(severity) = Severity::of(graded) else { continue };
        let against = form.corners.map_or("a circle".to_owned(), |n| format!("a regular {n}-gon"));
        let limit = say::missed(band, severity, Unit::Fraction);
        let mut evidence = format!(
            "{} stick: the rim departs from {against} by {:.1}\u{a0}% of its mean radius, skew \
             apart (± {:.1}, n\u{a0}=\u{a0}{} turns); {limit}",
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
            Finding::new(GATE_DEFECT.code, stick.half.key(), severity, evidence, remedy)
                .at(roundness.span),
        );
    }
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

/// What remains of a rim after a regular polygon, if it is one.
struct Form {
    /// Corners of the polygon that explains most of the profile.
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
    fn of(stick: &StickFigures) -> Option<Form> {
        let reach = &stick.profile.reach;
        if reach.len() != SECTORS || reach.iter().any(|r| !r.is_finite()) {
            return None;
        }
        let mean = reach.iter().sum::<f64>() / SECTORS as f64;
        let around: Vec<f64> = reach.iter().map(|r| r / mean - 1.0).collect();
        let around = without_centre_and_skew(&around);
        let total: f64 = around.iter().map(|d| d * d).sum();
        // An octagon is always four-fold too, a square never eight-fold: finest first.
        let polygon = [8usize, 4].into_iter().find_map(|corners| {
            let folded = folded(&around, corners);
            let shape: f64 = folded.iter().map(|d| d * d).sum();
            (total > 0.0 && shape > POLYGON_SHARE * total && range(&folded) > 0.05)
                .then_some((corners, folded))
        });
        let (corners, residual) = match polygon {
            Some((corners, shape)) => {
                (Some(corners), around.iter().zip(&shape).map(|(a, s)| a - s).collect())
            }
            None => (None, around),
        };
        Some(Form { corners, departure: range(&residual), dent: dent(&residual) })
    }
}

/// The profile without one and two undulations a turn: where the centre lies, and skewed axes,
/// which have a finding of their own (a roll cannot tell them from an oval gate).
///
/// Dents must not tilt the fit: sectors far below it are set to the fitted value and it is fitted
/// again, which converges to least squares on the others.
fn without_centre_and_skew(around: &[f64]) -> Vec<f64> {
    let mut filled = around.to_vec();
    let mut model = vec![0.0; SECTORS];
    for _ in 0..20 {
        model = undulations(&filled);
        let residual: Vec<f64> = around.iter().zip(&model).map(|(a, m)| a - m).collect();
        let limit = (3.0 * 1.4826 * mad(&residual)).max(0.03);
        for (k, value) in filled.iter_mut().enumerate() {
            *value = if residual[k] < -limit { model[k] } else { around[k] };
        }
    }
    around.iter().zip(&model).map(|(a, m)| a - m).collect()
}

/// Mean, one and two undulations a turn, by least squares on equal sectors.
fn undulations(around: &[f64]) -> Vec<f64> {
    let angle = |k: usize, order: f64| order * k as f64 / SECTORS as f64 * TAU;
    let mut model = vec![around.iter().sum::<f64>() / SECTORS as f64; SECTORS];
    for order in [1.0, 2.0] {
        let (mut cos, mut sin) = (0.0, 0.0);
        for (k, value) in around.iter().enumerate() {
            cos += value * angle(k, order).cos() * 2.0 / SECTORS as f64;
            sin += value * angle(k, order).sin() * 2.0 / SECTORS as f64;
        }
        for (k, value) in model.iter_mut().enumerate() {
            *value += cos * angle(k, order).cos() + sin * angle(k, order).sin();
        }
    }
    model
}

/// The part of a profile that repeats `corners` times a turn: the mean over its rotations.
fn folded(around: &[f64], corners: usize) -> Vec<f64> {
    let step = SECTORS / corners;
    let one: Vec<f64> = (0..step)
        .map(|k| (0..corners).map(|c| around[k + c * step]).sum::<f64>() / corners as f64)
        .collect();
    (0..SECTORS).map(|k| one[k % step]).collect()
}

fn range(values: &[f64]) -> f64 {
    let high = values.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let low = values.iter().copied().fold(f64::INFINITY, f64::min);
    high - low
}

/// The run of sectors about the deepest one that is at least half as deep; `None` unless it is
/// short by more than 5 % and narrower than a quarter turn.
fn dent(residual: &[f64]) -> Option<Dent> {
    let deepest = (0..SECTORS).min_by(|&a, &b| residual[a].total_cmp(&residual[b]))?;
    let depth = -residual[deepest];
    let deep = |k: usize| residual[k % SECTORS] < -0.5 * depth;
    let before = (1..SECTORS).take_while(|&i| deep(deepest + SECTORS - i)).count();
    let after = (1..SECTORS).take_while(|&i| deep(deepest + i)).count();
    let width = before + after + 1;
    if depth < 0.05 || width > SECTORS / 4 {
        return None;
    }
    let middle = (2 * deepest + 2 * SECTORS + after - before) * 5 / 2;
    Some(Dent { depth, width_deg: width * 5, at_deg: middle % 360 })
}

/// The axes do not stand at right angles, taken from a roll on a round gate.
pub const SKEWED_AXES: Kind =
    Kind { code: "skewed-axes", title: "Axes off the right angle", look: skewed_axes };

fn skewed_axes(bench: &Bench<'_>, found: &mut Vec<Finding>) {
    let band = &bench.limits.orthogonality_deg;
    for half in Half::ALL {
        let Some(stick) = bench.survey.stick(half) else { continue };
        let Ok(angle) = &stick.orthogonality_deg else { continue };
        // A source that keeps its neighbour's charge leans the readings in the same way.
        if half.stick().iter().any(|axis| super::has(found, &["mux-crosstalk"], axis.key())) {
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
            Finding::new(SKEWED_AXES.code, half.key(), severity, evidence, remedy).at(angle.span),
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
            (22.5f64.to_radians()).cos() / off.cos()
        };
        let whole: Vec<f64> = (0..SECTORS).map(octagon).collect();
        let folded = super::folded(&whole, 8);
        assert!(whole.iter().zip(&folded).all(|(a, b)| (a - b).abs() < 1e-12));
        let mut missing = vec![0.0; SECTORS];
        for k in [62, 63, 64] {
            missing[k] = -0.18;
        }
        let dent = dent(&missing).expect("a dent");
        assert_eq!((dent.width_deg, dent.at_deg), (15, 315));
        let skewed: Vec<f64> = (0..SECTORS)
            .map(|k| missing[k] + 0.05 * (2.0 * k as f64 / SECTORS as f64 * TAU).sin())
            .collect();
        let left = without_centre_and_skew(&skewed);
        assert!(left.iter().zip(&missing).all(|(a, b)| (a - b).abs() < 1e-4), "{left:?}");
        assert_eq!(direction_words(315), "x up, y down");
        assert_eq!(direction_words(359), "x up");
    }
}
