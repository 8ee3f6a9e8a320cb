//! What motors and lights do to the readings: PWM folded into the frames, currents in the ground.
use super::say::{self, LOAD_CAUTION};
use super::{Bench, Code, Finding, Severity, severity_of};
use crate::rig::{Half, Place};
use crate::survey::Driven;
use crate::units::Unit;

/// Shifts of a half's channels that lie within this share of their mean are the same.
const ALIKE: f64 = 0.35;

/// A reading grows noisy while a motor or light is driven.
pub(super) fn pwm_coupling(bench: &Bench<'_>, found: &mut Vec<Finding>) {
    for driven in &bench.survey.driven {
        let Ok(ratio) = &driven.noise_ratio else { continue };
        let Some(severity) = severity_of(&bench.limits.driven_noise_ratio, ratio) else { continue };
        let evidence = format!(
            "{} is {} times as noisy while {} is driven ({}, n\u{a0}=\u{a0}{}); {}; a frequency that stays when \
             the duty changes is the PWM folded into the frames, one that moves with it is shaking",
            driven.axis.words(),
            ratio.value_text(),
            driven.by.words(),
            ratio.interval_text(),
            ratio.n,
            say::missed(&bench.limits.driven_noise_ratio, severity, Unit::Number),
        );
        let remedy = "Convert while the PWM is off, or raise its frequency to 20 kHz and more; 1 kΩ and \
            100 nF before the pin; give the motor its own wires to the supply and a diode across it";
        found.push(
            Finding::new(Code::PwmCoupling, driven.axis, severity, evidence, remedy)
                .with_caution(LOAD_CAUTION)
                .at(ratio.span),
        );
    }
}

/// All channels of a half shift by the same counts while a motor or light is driven.
pub(super) fn ground_step(bench: &Bench<'_>, found: &mut Vec<Finding>) {
    let band = &bench.limits.driven_shift_counts;
    for half in Half::ALL {
        let of_half = |d: &&Driven| {
            d.axis.half() == half && d.shift.as_ref().is_ok_and(|s| s.low * s.high > 0.0)
        };
        let mut moved: Vec<&Driven> = bench.survey.driven.iter().filter(of_half).collect();
        moved.sort_by_key(|d| d.by.key());
        for group in moved.chunk_by(|a, b| a.by == b.by) {
            let shifts: Vec<_> = group.iter().filter_map(|d| d.shift.as_ref().ok()).collect();
            let mean = shifts.iter().map(|s| s.value).sum::<f64>() / shifts.len().max(1) as f64;
            let alike = shifts.iter().all(|s| (s.value - mean).abs() <= ALIKE * mean.abs());
            // Two channels may agree by chance, and one alone has a cause of its own.
            if shifts.len() < 3 || !alike {
                continue;
            }
            let low =
                shifts.iter().map(|s| s.low.abs().min(s.high.abs())).fold(f64::INFINITY, f64::min);
            let high = shifts.iter().map(|s| s.low.abs().max(s.high.abs())).fold(0.0, f64::max);
            let Some(severity) = Severity::of(band.grade(low, high)) else { continue };
            let evidence = format!(
                "all {} channels of the {} half shift by {mean:.1}\u{a0}counts ({low:.1} to {high:.1} either \
                 way) while {} is driven, whatever they read: a reference would move them in \
                 proportion; {}",
                shifts.len(),
                half.key(),
                group[0].by.words(),
                say::missed(band, severity, Unit::Counts),
            );
            let remedy = "Take the motor's or light's return to the supply by a wire of its own, not \
                through the sensors' ground; limit the lights' brightness; filters only hide it";
            found.push(
                Finding::new(Code::GroundStep, Place::Half(half), severity, evidence, remedy)
                    .with_caution(LOAD_CAUTION)
                    .at(shifts[0].span),
            );
        }
    }
}
