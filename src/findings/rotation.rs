//! A stick turned in its footprint, from pushes in eight directions.
use super::say;
use super::{Bench, Code, Finding, Severity, loud};
use crate::measure::distribution::t_quantile;
use crate::measure::{Estimate, Reading, Span};
use crate::rig::{Half, Place};
use crate::survey::value;
use crate::units::Unit;

/// Pushes needed.
const PUSHES_MIN: usize = 12;
/// Parameters fitted to the pushes: turn, and a wave of one cycle.
const FITTED: f64 = 3.0;
/// Least turn worth a note, degrees.
const NOTE_DEG: f64 = 3.0;
/// Directions of the eight pushes lie so far apart.
const STEP_DEG: f64 = 45.0;

/// Pushes come out turned by the same angle in every direction.
pub(super) fn rotated_stick(bench: &Bench<'_>, found: &mut Vec<Finding>) {
    for half in Half::ALL {
        let Some(turned) = rotation(bench, half) else { continue };
        let size = turned.value.abs();
        let way = turned.high - turned.value;
        // A note asks for less: three degrees found, and surely turned at all.
        let severity = match loud(&bench.limits.rotation_deg, [size, size - way, size + way]) {
            Some(severity) => severity,
            None if size >= NOTE_DEG && size - way > 0.5 * size => Severity::Note,
            None => continue,
        };
        let evidence = format!(
            "{} stick: pushes in eight directions come out turned by {} ({}, n\u{a0}=\u{a0}{}), the same \
             way all round; {}",
            half.key(),
            turned.value_text(),
            turned.interval_text(),
            turned.n,
            say::missed(&bench.limits.rotation_deg, severity, Unit::Degrees),
        );
        let remedy = "Re-seat the module square to the shell; up to 15° may be turned back by the \
            2×2 correction of the constants";
        found.push(
            Finding::new(Code::RotatedStick, Place::Stick(half), severity, evidence, remedy)
                .at(turned.span),
        );
    }
}

/// Turn of the readings against the shell, degrees counter-clockwise in the raw readings.
///
/// The pushes of the releases task go to eight directions: each push's departure from the nearest
/// multiple of 45° is the stick's turn plus what the thumb missed. The lean of the y axis adds half
/// of itself in the mean over all directions and is taken off. Mean ± t·s/√n, where s is about the
/// fit of a mean and a two-fold wave, which is what the lean leaves.
fn rotation(bench: &Bench<'_>, half: Half) -> Option<Reading> {
    let prompted = bench.survey.stick(half).and_then(|s| s.rotation_deg.as_ref().ok());
    let from_prompts =
        bench.segments.releases(half).iter().filter(|r| r.prompted_deg.is_some()).count();
    if let Some(prompted) = prompted
        // A figure of the gate's corners has the turns for its count.
        && from_prompts >= PUSHES_MIN
        && prompted.n >= PUSHES_MIN
    {
        return Some(*prompted);
    }
    if !bench.segments.prompted {
        // Nobody asked for eight directions: a free push goes anywhere.
        return None;
    }
    let releases = bench.segments.releases(half);
    let off: Vec<(f64, f64)> = releases
        .iter()
        .map(|release| {
            let deg = release.direction_deg;
            let off = deg - STEP_DEG * (deg / STEP_DEG).round();
            (off, (2.0 * deg).to_radians())
        })
        .collect();
    if off.len() < PUSHES_MIN {
        return None;
    }
    let n = off.len() as f64;
    let mean = off.iter().map(|o| o.0).sum::<f64>() / n;
    let wave = |f: fn(f64) -> f64| off.iter().map(|o| (o.0 - mean) * f(o.1)).sum::<f64>() * 2.0 / n;
    let (cos, sin) = (wave(f64::cos), wave(f64::sin));
    let left = |o: &(f64, f64)| o.0 - mean - cos * o.1.cos() - sin * o.1.sin();
    let sd = (off.iter().map(|o| left(o).powi(2)).sum::<f64>() / (n - FITTED)).sqrt();
    let lean = bench.survey.stick(half).and_then(|s| value(&s.orthogonality_deg)).unwrap_or(0.0);
    let turned = mean - 0.5 * lean;
    let way = t_quantile(0.975, n - FITTED) * sd / n.sqrt();
    let span = releases.iter().map(|r| bench.span(r.push)).reduce(Span::join)?;
    let turned = Estimate { value: turned, low: turned - way, high: turned + way, n: off.len() };
    Some(turned.over(span, Unit::Degrees))
}
