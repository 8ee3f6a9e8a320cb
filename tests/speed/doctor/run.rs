//! Plays a whole run of a virtual board in memory and names what is wrong with it.
use trimbench::desk::analysis::{Results, analyse};
use trimbench::desk::play::into_session;
use trimbench::findings::{Finding, Severity};
use trimbench::session::Intake;
use trimbench::virtual_board::script::full_run;
use trimbench::virtual_board::{EdgeTruth, Options, Truth, VirtualBoard, bench_rig, with_outputs};
use trimbench::work::Watch;

use super::table::Row;

/// Plays a board through the scripted run and works through what it printed; with its truth.
pub fn played(scenario: &str, raw_bits: u8, seed: u64) -> (Results, Truth) {
    // Every second board has motors and lights, so that the run sweeps them.
    let driven = seed.is_multiple_of(2) && !scenario.contains("matrix-ghost");
    let options = Options {
        rig: driven.then(|| with_outputs(bench_rig(raw_bits))),
        scenario: scenario.parse().expect("a scenario"),
        raw_bits: Some(raw_bits),
        seed,
        ..Options::default()
    };
    let mut board = VirtualBoard::new(&options).expect("a board");
    let rig = board.rig().clone();
    let intake = Intake::new(Some(board.dialect().clone()));
    let session = into_session(&mut board, &full_run(&rig), intake);
    let results = analyse(&session, &rig, scenario, &[], &Watch::unwatched()).expect("not stopped");
    (results, board.truth().clone())
}

/// True when the fault struck at all during the run: a bus that hangs once a minute may not, and a
/// contact that rebounds after three releases in ten spares a run of six one time in eight.
pub fn struck(row: &Row, truth: &Truth) -> bool {
    match row.scenario {
        "half-hang" => truth.stream.oldest_us > 100_000,
        "double-fire" => truth.buttons.get(4).is_some_and(|b| b.edges.windows(2).any(rebounds)),
        _ => true,
    }
}

/// A release with a press behind it sooner than a finger can.
fn rebounds(pair: &[EdgeTruth]) -> bool {
    let apart_us = pair[0].last_us.zip(pair[1].first_us).map(|(open, closed)| closed - open);
    !pair[0].pressed && pair[1].pressed && apart_us.is_some_and(|us| us < 80_000.0)
}

/// True for a finding that a person is to act on.
pub fn is_loud(finding: &Finding) -> bool {
    finding.severity != Severity::Note && finding.code.key() != "not-enough-data"
}

/// True when a row's fault is named at its place.
pub fn is_named(row: &Row, findings: &[Finding]) -> bool {
    findings.iter().any(|f| {
        row.code.split('|').any(|code| code == f.code.key())
            && row.place.split('|').any(|place| place == f.place.key())
    })
}

/// Loud findings that a set of rows does not account for.
pub fn strangers<'a>(rows: &[&Row], findings: &'a [Finding]) -> Vec<&'a Finding> {
    let known = |f: &Finding| {
        rows.iter().any(|row| {
            row.code.split('|').any(|code| code == f.code.key()) || row.with.contains(&f.code.key())
        })
    };
    findings.iter().filter(|f| is_loud(f) && !known(f)).collect()
}
