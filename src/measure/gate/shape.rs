//! Class of a gate by its form, and the rotation that its corners show.
use std::sync::LazyLock;

use super::outline::{CANDIDATES, Outline};
use super::profile::{Profile, SECTORS, TurnProfile};
use super::{over_turns, uncovered};
use crate::measure::fit::dense::Normal;
use crate::measure::robust::{SIGMA_PER_MAD, mad, median};
use crate::measure::{Estimate, Measured, Shortage};

/// Departure from an ellipse below which corners are not looked for: rms, share of the mean.
const PLAIN_RMS: f64 = 0.006;

/// Share of the departure that an outline must explain to name the gate.
const EXPLAINED_MIN: f64 = 0.7;

/// Second harmonic from which a round gate is called an ellipse: amplitude, share of the mean.
const ELLIPSE_MIN: f64 = 0.025;

/// Largest peak-to-valley departure from an ellipse that still counts as round (limit of a good
/// gate, common practice).
const ROUND_MAX: f64 = 0.05;

/// Class of a gate.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum GateShape {
    /// Round.
    Circle,
    /// Round, seen with unequal gains or skewed axes.
    Ellipse,
    /// A regular polygon, its corners sharp or rounded.
    Polygon {
        /// Number of corners: 4, 6, 8 or 12.
        sides: u32,
        /// Direction of the first corner, degrees in [0, 360/sides).
        corner_deg: f64,
    },
    /// Round, but each axis stops early.
    AxisClip {
        /// Share of the radius at which the axes stop.
        level: f64,
    },
    /// None of these.
    Irregular,
}

/// One harmonic of a profile, in undulations per revolution.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Harmonic {
    /// Undulations per revolution: 1 off-centre, 2 ellipse, 4 square or clipped, 8 octagon.
    pub order: usize,
    /// Amplitude, unit of the profile.
    pub amplitude: f64,
    /// Direction of its first crest, degrees in [0, 360/order).
    pub crest_deg: f64,
}

/// Harmonics 1 to `most` (at most 35) of a profile; sectors that are NaN are bridged linearly.
///
/// c_n = (2/72)·Σ r_k·exp(−i·n·5k°). Empty when nothing is known. Cost: 72 · most sines.
pub fn harmonics(radii: &[f64; SECTORS], most: usize) -> Vec<Harmonic> {
    let Some(radii) = bridged(radii) else { return Vec::new() };
    (1..=most.min(SECTORS / 2 - 1))
        .map(|order| {
            let sum = radii.iter().enumerate().fold([0.0, 0.0], |sum, (k, r)| {
                let (sin, cos) = (angle(k) * order as f64).sin_cos();
                [sum[0] + r * cos, sum[1] + r * sin]
            });
            let scale = 2.0 / SECTORS as f64;
            let crest = sum[1].atan2(sum[0]).to_degrees() / order as f64;
            Harmonic {
                order,
                amplitude: scale * sum[0].hypot(sum[1]),
                crest_deg: crest.rem_euclid(360.0 / order as f64),
            }
        })
        .collect()
}

/// The profile with its unknown sectors bridged linearly; `None` when all are unknown.
fn bridged(radii: &[f64; SECTORS]) -> Option<[f64; SECTORS]> {
    let known: Vec<usize> = (0..SECTORS).filter(|&k| radii[k].is_finite()).collect();
    let (&first, &last) = (known.first()?, known.last()?);
    let mut full = *radii;
    for (&a, &b) in known.iter().zip(known.iter().skip(1).chain([&(first + SECTORS)])) {
        let (from, to) = (radii[a], radii[b % SECTORS]);
        for k in a + 1..b {
            full[k % SECTORS] = from + (to - from) * (k - a) as f64 / (b - a) as f64;
        }
    }
    debug_assert!(last < SECTORS);
    Some(full)
}

/// Direction of a sector, radians.
pub(super) fn angle(sector: usize) -> f64 {
    (sector as f64 * 360.0 / SECTORS as f64).to_radians()
}

/// A profile's class with the outline that was fitted.
#[derive(Clone, Debug)]
pub(super) struct Form {
    /// Class.
    pub(super) shape: GateShape,
    /// The fitted outline at each sector.
    pub(super) model: [f64; SECTORS],
    /// Sectors that the fit used.
    weights: [f64; SECTORS],
}

impl Form {
    /// How far an irregular gate departs from the ellipse that was fitted, rms as a share of the mean; 0 for
    /// every other class.
    pub(super) fn departure(&self, profile: &Profile) -> f64 {
        if self.shape != GateShape::Irregular {
            return 0.0;
        }
        let off = (0..SECTORS).map(|k| profile.reach[k] - self.model[k]).filter(|o| o.is_finite());
        let (n, sum) = off.fold((0usize, 0.0), |(n, sum), o| (n + 1, sum + o * o));
        (sum / n.max(1) as f64).sqrt()
    }
}

/// Finds the class of a profile.
///
/// The profile is fitted by a mean, first and second harmonic and one outline at a time, turned in
/// steps of 1° and refined; sectors that fall short or stand out by more than four scaled MADs and
/// 3 % are left out and the fit repeated. Corners are named when the departure from an ellipse is
/// more than 0.6 % rms and the outline explains at least 70 % of it.
pub(super) fn form(profile: &Profile) -> Form {
    let radii = &profile.reach;
    let mut weights = symmetric_sectors(radii);
    let mut found = best(radii, &weights);
    for _ in 0..3 {
        let off: Vec<f64> =
            (0..SECTORS).map(|k| radii[k] - found.model[k]).filter(|o| o.is_finite()).collect();
        let limit = (4.0 * SIGMA_PER_MAD * mad(&off)).max(0.03);
        weights = std::array::from_fn(|k| {
            f64::from(u8::from((radii[k] - found.model[k]).abs() <= limit))
        });
        found = best(radii, &weights);
    }
    found
}

/// Weights to begin with: sectors that depart by more than 4 % from the median of the four a quarter
/// turn apart are left out, after the ellipse is taken off; most gates look alike four times round.
fn symmetric_sectors(radii: &[f64; SECTORS]) -> [f64; SECTORS] {
    let known = std::array::from_fn(|k| f64::from(u8::from(radii[k].is_finite())));
    let Some(plain) = fit(radii, &known, None) else { return known };
    let ellipse = model(plain.coefficients, None);
    let off: [f64; SECTORS] = std::array::from_fn(|k| radii[k] - ellipse[k]);
    std::array::from_fn(|k| {
        let four = [0, 1, 2, 3].map(|j| off[(k + j * SECTORS / 4) % SECTORS]);
        let seen: Vec<f64> = four.into_iter().filter(|o| o.is_finite()).collect();
        f64::from(u8::from((off[k] - median(&seen)).abs() <= 0.04))
    })
}

/// A fit of mean, two harmonics and perhaps an outline.
struct Fit {
    squares: f64,
    coefficients: [f64; 6],
}

/// The lower harmonics of each sector: 1, cos, sin, cos 2, sin 2.
static LOW: LazyLock<[[f64; 5]; SECTORS]> = LazyLock::new(|| {
    std::array::from_fn(|k| {
        let a = angle(k);
        [1.0, a.cos(), a.sin(), (2.0 * a).cos(), (2.0 * a).sin()]
    })
});

/// Basis of a fit at a sector: the lower harmonics and the outline's reach, 0 without one.
fn basis(k: usize, outline: Option<&[f64; SECTORS]>) -> [f64; 6] {
    let [a, b, c, d, e] = LOW[k];
    [a, b, c, d, e, outline.map_or(0.0, |o| o[k])]
}

fn fit(
    radii: &[f64; SECTORS],
    weights: &[f64; SECTORS],
    outline: Option<&[f64; SECTORS]>,
) -> Option<Fit> {
    let used = || (0..SECTORS).filter(|&k| weights[k] > 0.0);
    let columns = if outline.is_some() { 6 } else { 5 };
    if used().count() <= columns {
        return None;
    }
    let mut normal = Normal::new(columns);
    used().for_each(|k| normal.add(&basis(k, outline)[..columns], radii[k]));
    let mut coefficients = [0.0; 6];
    coefficients[..columns].copy_from_slice(&normal.solve());
    let off = |k: usize| radii[k] - dot(coefficients, basis(k, outline));
    let squares = used().map(|k| off(k).powi(2)).sum();
    Some(Fit { squares, coefficients })
}

fn dot(a: [f64; 6], b: [f64; 6]) -> f64 {
    a.iter().zip(b).map(|(a, b)| a * b).sum()
}

/// The plain ellipse, or the outline that explains the profile.
fn best(radii: &[f64; SECTORS], weights: &[f64; SECTORS]) -> Form {
    let n: f64 = weights.iter().sum();
    let Some(plain) = fit(radii, weights, None) else {
        return Form { shape: GateShape::Irregular, model: *radii, weights: *weights };
    };
    let cornered = (plain.squares / n).sqrt() > PLAIN_RMS;
    let outlined = if cornered { best_outline(radii, weights) } else { None };
    match outlined.filter(|(_, fit)| fit.squares <= (1.0 - EXPLAINED_MIN) * plain.squares) {
        Some((outline, fit)) => Form {
            shape: named(outline),
            model: model(fit.coefficients, Some(&outline.profile())),
            weights: *weights,
        },
        None => {
            let model = model(plain.coefficients, None);
            let shape = round_or_not(radii, weights, &plain, &model);
            Form { shape, model, weights: *weights }
        }
    }
}

/// The outline with the least squares, its turn refined between the whole degrees.
fn best_outline(radii: &[f64; SECTORS], weights: &[f64; SECTORS]) -> Option<(Outline, Fit)> {
    // A negative share would turn the outline inside out.
    let try_one = |profile: &[f64; SECTORS]| {
        fit(radii, weights, Some(profile)).filter(|f| f.coefficients[5] > 0.2)
    };
    let (coarse, fitted) = CANDIDATES
        .iter()
        .filter_map(|(o, profile)| Some((*o, try_one(profile)?)))
        .min_by(|a, b| a.1.squares.total_cmp(&b.1.squares))?;
    let step = 1.0f64.to_radians();
    let at = |by: f64| try_one(&coarse.turned(by * step).profile()).map(|f| f.squares);
    if let (Outline::Polygon { .. }, Some(a), Some(c)) = (coarse, at(-1.0), at(1.0)) {
        let bend = a - 2.0 * fitted.squares + c;
        let by = if bend > 0.0 { (0.5 * (a - c) / bend).clamp(-0.5, 0.5) } else { 0.0 };
        let fine = coarse.turned(by * step);
        if let Some(better) = try_one(&fine.profile()).filter(|f| f.squares <= fitted.squares) {
            return Some((fine, better));
        }
    }
    Some((coarse, fitted))
}

fn model(coefficients: [f64; 6], outline: Option<&[f64; SECTORS]>) -> [f64; SECTORS] {
    std::array::from_fn(|k| dot(coefficients, basis(k, outline)))
}

fn named(outline: Outline) -> GateShape {
    match outline {
        Outline::Polygon { sides, corner_rad } => GateShape::Polygon {
            sides,
            corner_deg: corner_rad.to_degrees().rem_euclid(360.0 / f64::from(sides)),
        },
        Outline::AxisClip { level } => GateShape::AxisClip { level },
    }
}

fn round_or_not(
    radii: &[f64; SECTORS],
    weights: &[f64; SECTORS],
    plain: &Fit,
    model: &[f64; SECTORS],
) -> GateShape {
    let off = (0..SECTORS).filter(|&k| weights[k] > 0.0).map(|k| radii[k] - model[k]);
    let (low, high) =
        off.fold((f64::INFINITY, f64::NEG_INFINITY), |(lo, hi), o| (lo.min(o), hi.max(o)));
    let second = plain.coefficients[3].hypot(plain.coefficients[4]);
    if high - low > ROUND_MAX {
        GateShape::Irregular
    } else if second > ELLIPSE_MIN {
        GateShape::Ellipse
    } else {
        GateShape::Circle
    }
}

/// Rotation of the readings against the gate by its corners, degrees; n = turns.
///
/// Octagons and hexagons are taken to be meant with a corner to the right, squares with corners on
/// the diagonals; the rotation is the angle by which the corners appear turned counter-clockwise in
/// the raw readings, modulo the spacing, in (−½, ½] of it. A sensor turned counter-clockwise in its
/// footprint reads negative. Interval: from the phase of that harmonic in each turn. A round gate
/// shows no rotation: a shortage.
pub(super) fn rotation_deg(form: &Form, turns: &[TurnProfile]) -> Measured<Estimate> {
    let (sides, corner_deg) = match form.shape {
        GateShape::Polygon { sides, corner_deg } if sides != 12 => (sides, corner_deg),
        _ => return Err(no_corners()),
    };
    let spacing = 360.0 / f64::from(sides);
    let meant = if sides == 4 { 45.0 } else { 0.0 };
    let wrap = |deg: f64| -((0.5 * spacing - deg).rem_euclid(spacing) - 0.5 * spacing);
    let value = wrap(corner_deg - meant);
    let each: Vec<f64> = turns
        .iter()
        .filter_map(|t| phase_deg(&t.scaled, &form.weights, sides))
        .map(|phase| value + wrap(phase - corner_deg))
        .collect();
    if each.is_empty() {
        return Err(uncovered(0));
    }
    let spread = over_turns(&each);
    let half = (0.5 * (spread.high - spread.low)).hypot(value - spread.value);
    Ok(Estimate { value, low: value - half, high: value + half, n: spread.n })
}

/// Direction of the crest of one harmonic, fitted beside the lower ones over the usable sectors.
fn phase_deg(radii: &[f64; SECTORS], weights: &[f64; SECTORS], order: u32) -> Option<f64> {
    let used: Vec<usize> =
        (0..SECTORS).filter(|&k| weights[k] > 0.0 && radii[k].is_finite()).collect();
    if used.len() < 10 {
        return None;
    }
    let mut normal = Normal::new(7);
    for k in used {
        let ([a, b, c, d, e], n) = (LOW[k], f64::from(order) * angle(k));
        normal.add(&[a, b, c, d, e, n.cos(), n.sin()], radii[k]);
    }
    let c = normal.solve();
    Some(c[6].atan2(c[5]).to_degrees() / f64::from(order))
}

/// A gate without corners.
fn no_corners() -> Shortage {
    Shortage {
        what: "corners on the gate".to_owned(),
        have: 0,
        need: 4,
        advice: "a round gate shows no rotation; push straight in the eight prompted directions"
            .to_owned(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn profile(radius: impl Fn(f64) -> f64) -> Profile {
        let raw: [f64; SECTORS] = std::array::from_fn(|k| radius(angle(k)));
        let mean = raw.iter().sum::<f64>() / SECTORS as f64;
        Profile {
            reach: raw.map(|r| r / mean),
            spread: [0.002; SECTORS],
            raw_counts: raw,
            samples: [40; SECTORS],
            turns: 6,
        }
    }

    fn seen(outline: Outline) -> Profile {
        let reach = outline.profile();
        profile(|a| reach[super::super::sector_of(a)])
    }

    fn class(radius: impl Fn(f64) -> f64) -> GateShape {
        form(&profile(radius)).shape
    }

    #[test]
    fn round_gates_and_their_disguises() {
        assert_eq!(class(|_| 1.0), GateShape::Circle);
        assert_eq!(class(|a| 1.0 + 0.008 * (3.0 * a).cos()), GateShape::Circle);
        assert_eq!(class(|a| 1.0 + 0.05 * (2.0 * a).cos()), GateShape::Ellipse);
        assert_eq!(class(|a| 1.0 + 0.06 * (5.0 * a).sin()), GateShape::Irregular);
    }

    #[test]
    fn polygons_are_named_with_their_turn() {
        for (sides, turn) in [(4, 45.0), (4, 52.3), (6, 10.0), (8, 0.0), (8, 8.0), (12, 11.5)] {
            let corner_rad = f64::to_radians(turn);
            match form(&seen(Outline::Polygon { sides, corner_rad })).shape {
                GateShape::Polygon { sides: found, corner_deg } => {
                    assert_eq!(found, sides);
                    let spacing = 360.0 / f64::from(sides);
                    let off =
                        (corner_deg - turn + 0.5 * spacing).rem_euclid(spacing) - 0.5 * spacing;
                    assert!(off.abs() < 0.2, "{sides} {turn}: {corner_deg}");
                }
                other => panic!("{sides} {turn}: {other:?}"),
            }
        }
        let clipped = form(&seen(Outline::AxisClip { level: 0.9 })).shape;
        assert_eq!(clipped, GateShape::AxisClip { level: 0.9 });
    }

    #[test]
    fn harmonics_of_a_known_sum() {
        let radii = std::array::from_fn(|k| {
            let a = angle(k);
            1.0 + 0.02 * (a - 0.5).cos() + 0.01 * (8.0 * (a - 0.1)).cos()
        });
        let h = harmonics(&radii, 12);
        assert!((h[0].amplitude - 0.02).abs() < 1e-12 && (h[7].amplitude - 0.01).abs() < 1e-12);
        assert!((h[0].crest_deg - 0.5f64.to_degrees()).abs() < 1e-9);
        assert!((h[7].crest_deg - 0.1f64.to_degrees()).abs() < 1e-9);
        assert!(h[3].amplitude < 1e-12);
        assert!(harmonics(&[f64::NAN; SECTORS], 4).is_empty());
    }

    #[test]
    fn unknown_sectors_are_bridged_round_the_end() {
        let mut radii = [1.0; SECTORS];
        radii[71] = f64::NAN;
        radii[0] = f64::NAN;
        radii[70] = 3.0;
        let full = bridged(&radii).expect("known");
        assert!(
            (full[71] - (3.0 - 2.0 / 3.0)).abs() < 1e-12
                && (full[0] - (3.0 - 4.0 / 3.0)).abs() < 1e-12
        );
    }
}
