//! Columns that move and that nothing here uses: a control that nobody named, or one too many.
use super::{Bench, Code, Finding, Severity};
use crate::rig::{AxisId, Place};
use crate::session::{ColumnRead, Fate, TimeSource};

/// A column that goes over 15 % of its scale and comes back, and is not used. Beside two sticks and two
/// triggers that the board itself names no control is missing, and it is no louder than a note.
pub(super) fn unused_column(bench: &Bench<'_>, found: &mut Vec<Finding>) {
    let complete = AxisId::ALL.iter().all(|axis| bench.tracks.axis(*axis).is_some());
    let declared = complete && !bench.tracks.roles_by_order;
    let severity = if declared { Severity::Note } else { Severity::Warning };
    let of = |fate: Fate| bench.tracks.columns.iter().filter(move |c| c.fate == fate);
    for column in of(Fate::Moves) {
        let [low, high] = column.range.unwrap_or_default();
        let evidence = format!(
            "{} moves between {low} and {high} and comes back, and nothing here uses it",
            column.words()
        );
        let remedy = "Say in a dialect file what it is (trimbench dialect writes one to edit), or call the \
            roll; if it is no control, all is well";
        found.push(finding(severity, evidence, remedy));
    }
    let untold = bench.tracks.time_source == TimeSource::Assumed;
    for column in of(Fate::OtherUnit).filter(|_| untold) {
        let evidence = format!(
            "{} looks like a clock in a unit that is not read; nothing else here tells the time",
            column.words()
        );
        let remedy = "Print micros() or millis() beside it, or state the rate of the lines";
        found.push(finding(Severity::Warning, evidence, remedy));
    }
    let further: Vec<String> = of(Fate::Further).map(ColumnRead::words).collect();
    if !further.is_empty() {
        let evidence = format!(
            "further sticks or triggers: {}; they are kept, drawn and exported, and not solved",
            further.join(", ")
        );
        let remedy = "Two sticks and two triggers are solved at a time; to solve others, give them \
            those roles in a dialect file and solve again";
        found.push(finding(Severity::Note, evidence, remedy));
    }
}

fn finding(severity: Severity, evidence: String, remedy: &str) -> Finding {
    Finding::new(Code::UnusedColumn, Place::Stream, severity, evidence, remedy)
}
