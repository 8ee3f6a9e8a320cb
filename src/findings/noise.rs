//! What the quiet rest shows: noise, mains hum and other lines.
use super::say::{self, LOAD_CAUTION, SUPPLY_CAUTION};
use super::{Bench, Code, Finding, Severity, severity_of};
use crate::measure::{Estimate, Reading, number};
use crate::rig::Place;
use crate::survey::{AxisFigures, SpectrumLine, value};
use crate::units::Unit;

/// Mains frequencies and their second harmonics (full-wave rectified supplies), Hz.
const MAINS_HZ: [f64; 4] = [50.0, 60.0, 100.0, 120.0];
/// Default PWM frequencies of common 16 MHz boards (timer phase-correct and fast mode), Hz.
const DEFAULT_PWM_HZ: [f64; 2] = [490.2, 976.6];
/// A line counts only when noise alone would show it less often than this.
const FALSE_ALARM: f64 = 1e-3;

/// Noise above the bands, or a line in it that no mains explains.
pub(super) fn noisy_input(bench: &Bench<'_>, found: &mut Vec<Finding>) {
    for axis in &bench.survey.axes {
        // What has a name of its own already is not called noise as well.
        if super::has(found, &[Code::FloatingInput, Code::StuckRail, Code::WornTrack], axis.axis)
            || super::has(found, &[Code::ReferenceNoise], Place::Half(axis.axis.half()))
        {
            continue;
        }
        if let Ok(noise) = &axis.noise_rms
            && let Some(severity) = severity_of(&bench.limits.noise_rms_counts, noise)
        {
            let evidence = format!(
                "{} at rest reads {} rms ({}, n\u{a0}=\u{a0}{}); {}",
                axis.axis.words(),
                noise.value_text(),
                noise.interval_text(),
                noise.n,
                say::missed(&bench.limits.noise_rms_counts, severity, Unit::Counts),
            );
            let remedy = "Fit 10–100 nF from the input to the sensor's ground at the converter, \
                keep the source below 10 kΩ and its ground wire apart from motors and lights; \
                average several conversions a frame";
            found.push(
                Finding::new(Code::NoisyInput, axis.axis, severity, evidence, remedy)
                    .with_caution(SUPPLY_CAUTION)
                    .at(noise.span),
            );
        }
        lines(bench, axis, Origin::Other, Code::NoisyInput, found);
    }
}

/// A line at a mains frequency.
pub(super) fn mains_hum(bench: &Bench<'_>, found: &mut Vec<Finding>) {
    for axis in &bench.survey.axes {
        if super::has(found, &[Code::FloatingInput, Code::MuxCrosstalk], axis.axis) {
            continue;
        }
        lines(bench, axis, Origin::Mains, Code::MainsHum, found);
    }
}

#[derive(Clone, Copy, PartialEq, Eq)]
enum Origin {
    Mains,
    Other,
}

/// The strongest line of the asked-for origin that the bands object to.
fn lines(
    bench: &Bench<'_>,
    axis: &AxisFigures,
    origin: Origin,
    code: Code,
    found: &mut Vec<Finding>,
) {
    let (Ok(noise), Some(rate_hz)) = (&axis.noise_rms, value(&bench.survey.stream.rate_hz)) else {
        return;
    };
    let tolerance_hz = (1.0 / noise.span.seconds().max(1e-3)).max(0.5);
    let worst = axis
        .lines
        .iter()
        .filter(|line| line.false_alarm < FALSE_ALARM)
        .filter(|line| match origin {
            Origin::Mains => folds_to(&MAINS_HZ, line.hz, rate_hz, tolerance_hz).is_some(),
            Origin::Other => folds_to(&MAINS_HZ, line.hz, rate_hz, tolerance_hz).is_none(),
        })
        .filter_map(|line| {
            let amplitude = amplitude_of(line, noise);
            severity_of(&bench.limits.line_counts, &amplitude).map(|s| (s, *line, amplitude))
        })
        .min_by(|a, b| a.0.cmp(&b.0).then(b.1.amplitude.total_cmp(&a.1.amplitude)));
    let Some((severity, line, amplitude)) = worst else { return };
    let mut evidence = format!(
        "{} carries a line at {}\u{a0}Hz of {} amplitude ({}); {}",
        axis.axis.words(),
        number(line.hz, 2),
        amplitude.value_text(),
        amplitude.interval_text(),
        say::missed(&bench.limits.line_counts, severity, Unit::Counts),
    );
    let pwm = folds_to(&DEFAULT_PWM_HZ, line.hz, rate_hz, tolerance_hz);
    if let (Origin::Other, Some(pwm_hz)) = (origin, pwm) {
        evidence.push_str(&format!(
            "; a PWM of {}\u{a0}Hz folds to this line at {} frames a second",
            number(pwm_hz, 1),
            number(rate_hz, 1),
        ));
    }
    found.push(line_finding(code, axis, origin, severity, evidence).at(noise.span));
}

fn line_finding(
    code: Code,
    axis: &AxisFigures,
    origin: Origin,
    severity: Severity,
    evidence: String,
) -> Finding {
    let (remedy, caution) = match origin {
        Origin::Mains => (
            "Shorten and twist the sensor's wires, join a loose ground, lower the source below \
             10 kΩ; run once from a battery-powered computer to see whether the line goes",
            SUPPLY_CAUTION,
        ),
        Origin::Other => (
            "Switch motors, lights and chargers off one after the other and see which one takes \
             the line away; change the loop's rate by 5 % to tell a folded line from a true one",
            LOAD_CAUTION,
        ),
    };
    Finding::new(code, axis.axis, severity, evidence, remedy).with_caution(caution)
}

/// Amplitude with its interval: the standard error of a fitted sine in white noise is σ√(2/n).
fn amplitude_of(line: &SpectrumLine, noise: &Reading) -> Reading {
    let half = 1.96 * noise.value * (2.0 / noise.n.max(1) as f64).sqrt();
    let value = line.amplitude;
    Estimate { value, low: (value - half).max(0.0), high: value + half, n: noise.n }
        .over(noise.span, Unit::Counts)
}

/// The source frequency whose alias at `rate_hz` lies within `tolerance_hz` of the line, if any.
///
/// A sine of f sampled at r is seen at |f − r·round(f/r)|.
fn folds_to(sources_hz: &[f64], line_hz: f64, rate_hz: f64, tolerance_hz: f64) -> Option<f64> {
    if !(rate_hz > 0.0 && rate_hz.is_finite()) {
        return None;
    }
    sources_hz.iter().copied().find(|f| {
        let seen = (f - rate_hz * (f / rate_hz).round()).abs();
        (seen - line_hz).abs() <= tolerance_hz
    })
}

/// True when a line lies where the mains or its second harmonic is seen at this rate.
pub(super) fn is_mains(line_hz: f64, rate_hz: f64) -> bool {
    folds_to(&MAINS_HZ, line_hz, rate_hz, 0.5).is_some()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_fold_as_they_do_on_paper() {
        // 490.2 Hz at 250 frames/s: 500 − 490.2 = 9.8 Hz; 976.6 Hz: 1000 − 976.6 = 23.4 Hz.
        assert_eq!(folds_to(&DEFAULT_PWM_HZ, 9.8, 250.0, 0.1), Some(490.2));
        assert_eq!(folds_to(&DEFAULT_PWM_HZ, 23.4, 250.0, 0.1), Some(976.6));
        assert_eq!(folds_to(&MAINS_HZ, 50.0, 250.0, 0.1), Some(50.0));
        assert_eq!(folds_to(&MAINS_HZ, 20.0, 100.0, 0.1), Some(120.0));
        assert_eq!(folds_to(&MAINS_HZ, 37.0, 250.0, 0.5), None);
        assert_eq!(folds_to(&MAINS_HZ, 50.0, f64::NAN, 0.5), None);
    }
}
