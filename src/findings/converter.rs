//! Steps of the converter: codes that are too wide or never come, the same on every channel.
use super::{Bench, Code, Finding, Severity, loud, say};
use crate::measure::Estimate;
use crate::measure::code_steps::{self, WideCode};
use crate::rig::{AxisId, Half, Place};
use crate::survey::{AxisFigures, value};
use crate::units::Unit;

/// Codes that are too wide on several channels of a converter.
pub(super) fn converter_steps(bench: &Bench<'_>, found: &mut Vec<Finding>) {
    found.extend(Half::ALL.into_iter().filter_map(|half| wide_codes(bench, half)));
}

const REMEDY: &str = "This is the silicon and no dirt on the stick: average several conversions with a \
    little noise, or drop the lowest bits; an external converter removes it";

/// Codes that are wide on several channels of a half, from all that moves: so wide that noise does not hide
/// them. Loud by the steps of travel that the widest leaves on the half's shortest side.
fn wide_codes(bench: &Bench<'_>, half: Half) -> Option<Finding> {
    let [x, y] = half.stick();
    let channels = |axes: &[AxisId]| -> Vec<(&[i32], f64)> {
        let column = |&axis: &AxisId| Some((bench.tracks.axis(axis)?, noise(bench, axis)));
        axes.iter().filter_map(column).collect()
    };
    let of = |axes: &[AxisId]| code_steps::wide_codes(&channels(axes), bench.tracks.full_scale());
    let own = of(&[x, y, half.trigger()]);
    if own.len() < 2 {
        return None;
    }
    // Both halves on one converter, or on two of a kind, tell the width more surely.
    let surest = |codes: &[WideCode]| codes.iter().map(|c| c.width.low).fold(0.0, f64::max);
    let both = of(&AxisId::ALL);
    let wide = if surest(&both) > surest(&own) { both } else { own };
    let widest = wide.iter().max_by(|a, b| a.width.low.total_cmp(&b.width.low))?;
    let travels = [x, y].into_iter().filter_map(|a| bench.survey.axis(a)?.mean_travel());
    let travel = travels.reduce(f64::min);
    let steps = travel.map(|travel| {
        let Estimate { value, low, high, .. } = widest.width;
        [travel / value, travel / high, travel / low]
    });
    let severity = steps
        .and_then(|steps| loud(&bench.limits.converter_steps, steps))
        .unwrap_or(Severity::Note);
    let words: Vec<String> =
        wide.iter().take(6).map(|c| format!("{} ({:.0} wide)", c.code, c.width.value)).collect();
    let mut evidence = format!(
        "the {} half's converter gives some codes too often, whatever moves: {}; the widest is {:.1} codes \
         ({:.1} to {:.1}, n\u{a0}=\u{a0}{})",
        half.key(),
        words.join(", "),
        widest.width.value,
        widest.width.low,
        widest.width.high,
        widest.width.n,
    );
    if let Some([steps, ..]) = steps {
        let limit = say::missed(&bench.limits.converter_steps, severity, Unit::Number);
        evidence.push_str(&format!(", which leaves {steps:.0} steps to a side; {limit}"));
    }
    Some(Finding::new(Code::ConverterSteps, Place::Half(half), severity, evidence, REMEDY))
}

/// Noise of an axis at rest with its lines, counts rms; half a count where it is too small to read.
fn noise(bench: &Bench<'_>, axis: AxisId) -> f64 {
    let of = |figures: &AxisFigures| value(&figures.noise_with_lines);
    bench.survey.axis(axis).and_then(of).unwrap_or(0.5)
}
