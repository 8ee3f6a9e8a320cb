//! How a stick behaves when it is let go or clicked: swinging through, shifting under the thumb.
use super::say;
use super::{Bench, Code, Finding, Severity, severity_of};
use crate::rig::Place;
use crate::survey::value;
use crate::units::Unit;

/// The stick swings through when it is let go: a flick to the other side.
pub(super) fn release_overshoot(bench: &Bench<'_>, found: &mut Vec<Finding>) {
    for stick in &bench.survey.sticks {
        let Ok(overshoot) = &stick.overshoot else { continue };
        let Some(severity) = severity_of(&bench.limits.overshoot_share, overshoot) else {
            continue;
        };
        // A flick is a nuisance and no danger to the constants: never more than a warning.
        let severity = severity.max(Severity::Warning);
        let evidence = format!(
            "{} stick swings {} of the way beyond its rest when let go ({}, n\u{a0}=\u{a0}{}); {}",
            stick.half.key(),
            overshoot.value_text(),
            overshoot.interval_text(),
            overshoot.n,
            say::missed(&bench.limits.overshoot_share, severity, Unit::Fraction),
        );
        let remedy = "Fit a lighter cap or a damped spring; in firmware hold the output at zero for \
            some 60 ms after a fast return, or filter";
        found.push(
            Finding::new(
                Code::ReleaseOvershoot,
                Place::Stick(stick.half),
                severity,
                evidence,
                remedy,
            )
            .at(overshoot.span),
        );
    }
}

/// The reading moves when the stick is pressed down for its switch.
pub(super) fn press_shift(bench: &Bench<'_>, found: &mut Vec<Finding>) {
    for stick in &bench.survey.sticks {
        for (axis, shift) in stick.half.stick().into_iter().zip(&stick.press_shift) {
            let Ok(shift) = shift else { continue };
            let figures = bench.survey.axis(axis);
            let reach = figures.and_then(|a| Some((value(&a.low)?, value(&a.high)?)));
            let Some((low, high)) = reach.filter(|(low, high)| high > low) else { continue };
            let travel = 0.5 * (high - low);
            // Zero between the ends: it may not have moved at all.
            if shift.low <= 0.0 && shift.high >= 0.0 {
                continue;
            }
            let (least, most) =
                (shift.low.abs().min(shift.high.abs()), shift.low.abs().max(shift.high.abs()));
            let Some(severity) =
                Severity::of(bench.limits.press_shift_share.grade(least / travel, most / travel))
            else {
                continue;
            };
            let severity = severity.max(Severity::Warning);
            let evidence = format!(
                "{} moves by {} while the stick's switch is held ({}, n\u{a0}=\u{a0}{}), {:.1}\u{a0}% of \
                 its travel; {}",
                axis.words(),
                shift.value_text(),
                shift.interval_text(),
                shift.n,
                shift.value.abs() / travel * 100.0,
                say::missed(&bench.limits.press_shift_share, severity, Unit::Fraction),
            );
            let remedy = "Keep the last reading from before the click for some 60 ms, or seat the \
                module so that it does not tilt under the thumb";
            found.push(
                Finding::new(Code::PressShift, axis, severity, evidence, remedy).at(shift.span),
            );
        }
    }
}
