//! Steps of the converter: codes that are too wide or never come, the same on every channel.
use std::ops::Range;

use super::{Bench, Code, Finding, Severity};
use crate::measure::Span;
use crate::measure::curve::{OddCode, code_widths, odd_codes};
use crate::rig::{Half, Place};

/// Width from which a code is called a step, in steps of its neighbours.
const WIDE: f64 = 3.0;

/// Codes that are too wide on all channels of a converter.
pub(super) fn converter_steps(bench: &Bench<'_>, found: &mut Vec<Finding>) {
    for half in Half::ALL {
        let Some((wide, span)) = wide_codes(bench, half) else { continue };
        let words: Vec<String> =
            wide.iter().take(6).map(|c| format!("{} ({:.0} wide)", c.code, c.width)).collect();
        let evidence = format!(
            "the {} half's converter gives some codes too often as the sticks sweep past: {}; the same \
             codes on both axes of the stick, in steps of their neighbours ({} codes)",
            half.key(),
            words.join(", "),
            wide.len(),
        );
        let remedy = "This is the silicon and no dirt on the stick: average several conversions with a \
            little noise, or drop the lowest bits; an external converter removes it";
        found.push(
            Finding::new(Code::ConverterSteps, Place::Half(half), Severity::Note, evidence, remedy)
                .at(span),
        );
    }
}

/// Codes that are wide when both axes of a stick are taken together.
fn wide_codes(bench: &Bench<'_>, half: Half) -> Option<(Vec<OddCode>, Span)> {
    let [x, y] = half.stick().map(|axis| bench.tracks.axis(axis));
    let (x, y) = (x?, y?);
    let rolls = bench.segments.rolls(half);
    let span = rolls.iter().map(|r| bench.span(r.rows)).reduce(Span::join)?;
    let mut joined: Vec<i32> = Vec::new();
    let mut sweeps: Vec<Range<usize>> = Vec::new();
    for column in [x, y] {
        for roll in rolls {
            let first = joined.len();
            joined.extend_from_slice(roll.rows.of(column));
            sweeps.push(first..joined.len());
        }
    }
    let codes = odd_codes(&code_widths(&joined, &sweeps)?).ok()?;
    let wide: Vec<OddCode> = codes.into_iter().filter(|c| c.width >= WIDE).collect();
    (wide.len() >= 2).then_some((wide, span))
}
