//! Codes above the width that was stated: a failed read that gives an error's number, or another converter.
use super::{Bench, Code, Finding, Severity};
use crate::rig::{AxisId, Place};
use crate::session::Codes;

/// Rows on end that no damage of lines explains: a damaged line is one.
const RUN: usize = 3;
/// Share of the rows from which scattered ones are more than damage of lines leaves.
const SCATTERED: f64 = 1e-3;
/// Share from which the input cannot be used.
const MANY: f64 = 1e-2;

/// An input gives codes that a converter of the stated width does not have.
pub(super) fn above_width(bench: &Bench<'_>, found: &mut Vec<Finding>) {
    let tracks = bench.tracks;
    if tracks.raw_bits_guessed || tracks.codes != Codes::Raw {
        return;
    }
    let most = tracks.full_scale();
    for axis in AxisId::ALL {
        let Some(codes) = tracks.axis(axis) else { continue };
        let above = codes.iter().filter(|code| **code > most).count();
        let share = above as f64 / codes.len().max(1) as f64;
        let on_end = codes.windows(RUN).any(|run| run.iter().all(|code| *code > most));
        if above == 0 || !on_end && share <= SCATTERED {
            continue;
        }
        let greatest = codes.iter().max().copied().unwrap_or(0);
        let evidence = format!(
            "{above} of {} codes lie above {most}, the greatest is {greatest}; {} bits were stated",
            codes.len(),
            tracks.raw_bits,
        );
        let remedy = "State the width that the converter has (raw_bits of the parts list); if it is right, \
            look for reads that fail and give a number of their own (65535, say), and keep the last good \
            code in their place";
        let severity = if share >= MANY { Severity::Fault } else { Severity::Warning };
        found.push(Finding::new(Code::AboveWidth, Place::Axis(axis), severity, evidence, remedy));
    }
}

#[cfg(test)]
mod tests {
    use super::super::built::healthy;
    use super::super::{Limits, Segments, examine};
    use super::*;

    fn named(guessed: bool, put: impl Fn(&mut [i32])) -> Vec<Severity> {
        let mut built = healthy();
        built.tracks.raw_bits_guessed = guessed;
        let rows = built.tracks.t_us.len();
        let mut codes = vec![512; rows];
        put(&mut codes);
        built.tracks.axes[AxisId::Lx.index()] = Some(codes);
        let limits = Limits::for_bits(built.survey.raw_bits);
        let found = examine(&built.survey, &built.tracks, &Segments::default(), &limits);
        found.iter().filter(|f| f.code == Code::AboveWidth).map(|f| f.severity).collect()
    }

    #[test]
    fn an_errors_number_is_named_and_a_damaged_line_is_not() {
        assert_eq!(named(false, |codes| codes[7_200..7_400].fill(65_535)), [Severity::Fault]);
        assert_eq!(named(false, |codes| codes[7_200..7_203].fill(65_535)), [Severity::Warning]);
        assert!(named(false, |codes| codes[7_200] = 5_120).is_empty());
        assert!(named(true, |codes| codes[7_200..7_400].fill(65_535)).is_empty(), "a guess");
        let scattered = |codes: &mut [i32]| codes.iter_mut().step_by(500).for_each(|c| *c = 9_999);
        assert_eq!(named(false, scattered), [Severity::Warning]);
    }
}
