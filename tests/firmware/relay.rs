//! The relay over I2C: a second half that is fresh, late and at last silent.
use trimbench::rig::{AxisId, Half};

use crate::closed_loop::solved;
use crate::emulator::{Run, harness, plain_program, run};
use crate::pins;

/// The second half falls silent, s: the sticks have been rolled by then.
const SILENT_S: f64 = 44.0;
/// How often the second half reads its own sensors, µs.
const SCAN_US: u32 = 3000;

#[test]
fn the_second_half_is_relayed_and_its_age_is_told() {
    if harness().is_none() {
        return;
    }
    let folder = tempfile::tempdir().expect("a folder");
    let board = pins::first();
    let program = plain_program(folder.path(), "relay", &["BENCH_RELAY"], None);
    let (scan, silent) = (SCAN_US.to_string(), SILENT_S.to_string());
    let words = ["--half", &scan, "--half-until", &silent];
    let order = Run { table: Some(&board.tables[0]), words: &words, ..Run::default() };
    let log = folder.path().join("relay.log");
    std::fs::write(&log, run(&program, SILENT_S + 4.0, order)).expect("written");
    let results = solved(&log);
    let tracks = &results.tracks;
    assert_eq!(tracks.stream.lost, Some(0));
    let ages = tracks.remote_age_us[Half::Right as usize].as_deref().expect("an age is sent");
    let silent_at = tracks.t_us.partition_point(|t| (*t as f64) < SILENT_S * 1e6);
    // Asked about a millisecond after the frame began, before its own next scan.
    let oldest = ages[5..silent_at - 1].iter().max().copied().unwrap_or(u32::MAX);
    assert!(oldest <= SCAN_US + 100, "{oldest} µs");
    let last = ages.last().copied().unwrap_or(0);
    assert!((3_900_000..4_010_000).contains(&last), "the age grows while it is silent: {last}");
    let counts = tracks.remote_seq[Half::Right as usize].as_deref().expect("its counter is sent");
    let scans = counts[silent_at - 2].wrapping_sub(counts[5]);
    let expected = (tracks.t_us[silent_at - 2] - tracks.t_us[5]) as f64 / f64::from(SCAN_US);
    assert!((f64::from(scans) - expected).abs() < 3.0, "{scans} {expected}");
    // Both halves roll: the relayed one as far as the other, and frozen when it is silent.
    let span = |axis: AxisId, rows: std::ops::Range<usize>| {
        let codes = &tracks.axis(axis).expect("sent")[rows];
        codes.iter().max().unwrap_or(&0) - codes.iter().min().unwrap_or(&0)
    };
    for axis in [AxisId::Lx, AxisId::Rx, AxisId::Ry] {
        assert!(span(axis, 100..silent_at) > 600, "{}", axis.key());
    }
    for axis in [AxisId::Rx, AxisId::Ry, AxisId::Rt] {
        assert_eq!(span(axis, silent_at + 2..tracks.rows()), 0, "{}", axis.key());
    }
    let codes: Vec<&str> = results.findings.iter().map(|f| f.code.as_str()).collect();
    assert!(codes.contains(&"stale-half"), "the tool names it: {codes:?}");
}
