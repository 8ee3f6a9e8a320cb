//! Bytes that arrive and are no text: the port reads at another symbol rate than the board prints at.
use super::{Bench, Finding, Kind, Severity, say};
use crate::measure::Span;
use crate::units::Unit;

// At exactly half of the board's rate the bytes of digits still look like text (4 % do not, worked out
// on the default line): then only the lack of frames is named.

/// Fewer bytes than this say nothing.
const ENOUGH: u64 = 64;
/// Share of bytes that no text has from which the rate is wrong (common practice): a damaged line shows
/// one or two, eight random bits fall outside text six times in ten.
const ODD: f64 = 0.3;

/// The port's symbol rate is not the board's, or its level is inverted.
pub const BAUD_MISMATCH: Kind = Kind {
    code: "baud-mismatch",
    title: "Another symbol rate than the board's",
    look: baud_mismatch,
};

fn baud_mismatch(bench: &Bench<'_>, found: &mut Vec<Finding>) {
    let Some((odd, all)) = bench.tracks.stream.unreadable.filter(|(_, all)| *all >= ENOUGH) else {
        return;
    };
    let Some(share) = say::share(odd, all).filter(|share| share.low > ODD) else { return };
    let share = share.over(Span::default(), Unit::Fraction);
    let evidence = format!(
        "no frame came, and {} of the first {all} bytes of refused lines are no text ({}): damage on the \
         way leaves most bytes readable, another symbol rate or an inverted level does not",
        share.value_text(),
        share.interval_text(),
    );
    let remedy = "Open the port at the rate that the firmware sets: try 115200, 57600, 9600, 230400, \
        250000, 500000 and 1000000, never 1200, which starts the bootloader of many boards; if none \
        reads, look for an inverted level between the pin and the adapter";
    found.push(Finding::new(BAUD_MISMATCH.code, "stream", Severity::Fault, evidence, remedy));
}
