//! Bytes that arrive and are no text: the port reads at another symbol rate than the board prints at.
use super::{Bench, Code, Finding, Severity};
use crate::measure::{Span, interval};
use crate::rig::Place;
use crate::units::Unit;

/// Fewer bytes than this say nothing.
const ENOUGH: u64 = 64;
/// Share of bytes that no text has from which the rate is wrong (common practice): a damaged line shows
/// one or two, eight random bits fall outside text six times in ten.
const ODD: f64 = 0.3;
/// Share of bytes of the form that digits leave at half of the board's rate from which it is that: what
/// no digit left, letters among them, has that form one time in four.
const HALVED: f64 = 0.85;

/// The port's symbol rate is not the board's, or its level is inverted.
pub(super) fn baud_mismatch(bench: &Bench<'_>, found: &mut Vec<Finding>) {
    let Some(seen) = bench.tracks.stream.unreadable.filter(|seen| seen.all >= ENOUGH) else {
        return;
    };
    let beyond = |count: u64, limit: f64| {
        let share = interval::share(count as usize, seen.all as usize)
            .ok()
            .filter(|share| share.low > limit)?;
        Some(share.over(Span::default(), Unit::Fraction))
    };
    let all = seen.all;
    let evidence = if let Some(share) = beyond(seen.odd, ODD) {
        format!(
            "no frame came, and {} of the first {all} bytes of refused lines are no text ({}): damage on the \
             way leaves most bytes readable, another symbol rate or an inverted level does not",
            share.value_text(),
            share.interval_text(),
        )
    } else if let Some(share) = beyond(seen.halved, HALVED) {
        format!(
            "no frame came, and {} of the first {all} bytes of refused lines ({}) have the form that two \
             digits leave when every other bit of them is read: the board prints at twice this rate",
            share.value_text(),
            share.interval_text(),
        )
    } else {
        return;
    };
    let remedy = "Open the port at the rate that the firmware sets: try 115200, 57600, 9600, 230400, \
        250000, 500000 and 1000000, never 1200, which starts the bootloader of many boards; if none \
        reads, look for an inverted level between the pin and the adapter";
    found.push(Finding::new(Code::BaudMismatch, Place::Stream, Severity::Fault, evidence, remedy));
}
