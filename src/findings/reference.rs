//! Sensors whose supply is not the converter's reference: every reading scaled by one factor.
use super::say::SUPPLY_CAUTION;
use super::{Bench, Code, Finding, Severity};
use crate::measure::robust::median;
use crate::rig::{AxisId, Place};
use crate::survey::value;

/// Share of full scale at which a sensor on the converter's own reference rests: half, give or take
/// so much between decent parts (common practice).
const MIDDLE: f64 = 0.5;
/// A common factor this far from 1 is no spread of parts: data sheets of linear Hall sensors give the
/// quiescent output as half the supply ± 4 % at 25 °C and ± 12 % over temperature.
const ODD: f64 = 0.12;
/// From here on a third or more of the converter is lost.
const GRAVE: f64 = 0.22;
/// Millivolts of the supply that most boards have (common practice).
const MILLIVOLTS: f64 = 3300.0;
/// How far an axis' own factors may lie from the common one. Two of fifty drawn boards have one axis that
/// lies farther off for its own reasons: one axis may.
const ALIKE: f64 = 0.06;

/// Sensors on another supply than the converter's reference.
pub(super) fn reference_mismatch(bench: &Bench<'_>, found: &mut Vec<Finding>) {
    let Some([_, full]) = bench.tracks.rails() else { return };
    let full = f64::from(full) + 1.0;
    let axes = bench.survey.axes.iter().filter(|a| !a.axis.is_trigger());
    // The middle of the travel scales as the rest does; a stick off its centre moves only one.
    let factors: Vec<(AxisId, [f64; 2])> = axes
        .filter(|a| !super::has(found, &[Code::StuckRail, Code::FloatingInput], a.axis))
        .filter_map(|a| {
            let rest = value(&a.centre).or(value(&a.rest))?;
            let middle = 0.5 * (value(&a.low)? + value(&a.high)?);
            Some((a.axis, [rest / full / MIDDLE, middle / full / MIDDLE]))
        })
        .collect();
    if factors.len() < 2 {
        return;
    }
    let all: Vec<f64> = factors.iter().flat_map(|f| f.1).collect();
    let factor = median(&all);
    let off = (factor - 1.0).abs();
    let apart = |f: &[f64; 2]| f.iter().map(|f| (f / factor - 1.0).abs()).fold(0.0, f64::max);
    let alike = factors.iter().filter(|(_, f)| apart(f) <= ALIKE).count();
    if off < ODD || alike < 2.max(factors.len() - 1) {
        return;
    }
    let severity = if off > GRAVE { Severity::Fault } else { Severity::Warning };
    // Where nobody stated the width, a board may as well print millivolts of its 3.3 V supply.
    let millivolts = bench.tracks.raw_bits_guessed
        && full == 4096.0
        && (factor * full / MILLIVOLTS - 1.0).abs() < ALIKE;
    let severity = if millivolts { Severity::Note } else { severity };
    let words: Vec<String> =
        factors.iter().map(|(axis, f)| format!("{} {:.3}", axis.words(), f[0] * MIDDLE)).collect();
    let within = factors.iter().map(|(_, f)| apart(f)).filter(|d| *d <= ALIKE);
    let spread = within.fold(0.0, f64::max);
    let who = match factors.len() - alike {
        0 => "all axes rest and end".to_owned(),
        _ => format!("{alike} of {} axes rest and end", factors.len()),
    };
    let evidence = format!(
        "{who} at {factor:.2} times where sensors on the converter's reference would \
         (within {:.1}\u{a0}% of that, n\u{a0}=\u{a0}{alike} axes): rests at {} of full scale; 3.3\u{a0}V \
         sensors against 5\u{a0}V give 0.66 times, 5\u{a0}V sensors against 3.3\u{a0}V 1.52 times",
        spread * 100.0,
        words.join(", "),
    );
    let remedy = "Give the converter the sensors' own rail as reference (its reference pin), never an \
        internal and an external reference at once; with sensors above the converter's supply divide \
        their outputs before anything else is run. Then the centre no longer moves with the USB voltage";
    found.push(
        Finding::new(Code::ReferenceMismatch, Place::Halves, severity, evidence, remedy)
            .with_caution(SUPPLY_CAUTION),
    );
}
