//! Button lines that are not their own: two that always change together.
use super::{Bench, Code, Finding, Severity, say};
use crate::rig::Place;
use crate::segment::{ButtonTrack, Press, Rows};

/// Presses from which two lines that always move together are called joined.
const PRESSES_MIN: usize = 3;

/// Two lines that close and open in the same frame every time.
pub(super) fn bridged_buttons(bench: &Bench<'_>, found: &mut Vec<Finding>) {
    let buttons = &bench.segments.buttons;
    for (k, a) in buttons.iter().enumerate() {
        for b in &buttons[k + 1..] {
            let Some(rows) = joined(a, b) else { continue };
            let evidence = format!(
                "b{} and b{} closed and opened in the same frame in {} of {} presses; two fingers \
                 never do",
                a.index,
                b.index,
                a.presses.len(),
                a.presses.len(),
            );
            let remedy = "Look for a solder bridge between neighbouring pads or wires of these two \
                lines, then for two names of one pin in the firmware";
            let place = Place::Button(a.index);
            found.push(
                Finding::new(Code::BridgedButtons, place, Severity::Fault, evidence, remedy)
                    .with_caution(say::SUPPLY_CAUTION)
                    .at(bench.span(rows)),
            );
        }
    }
}

/// The rows from the first to the last press, when every press of one is a press of the other.
fn joined(a: &ButtonTrack, b: &ButtonTrack) -> Option<Rows> {
    let same = |p: &Press, q: &Press| p.rows == q.rows;
    let all = a.presses.len() >= PRESSES_MIN
        && a.presses.len() == b.presses.len()
        && a.presses.iter().zip(&b.presses).all(|(p, q)| same(p, q));
    let (first, last) = (a.presses.first()?, a.presses.last()?);
    all.then_some(Rows { first: first.rows.first, end: last.rows.end })
}
