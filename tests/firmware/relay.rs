//! The relay over I2C: two emulated chips, the second half fresh and at last silent.
use std::path::Path;

use trimbench::rig::{AxisId, Half};
use trimbench::session::Tracks;

use crate::closed_loop::solved;
use crate::emulator::{Run, half_program, harness, plain_program, run};
use crate::pins;

/// The second half falls silent, s: the sticks have been rolled by then.
const SILENT_S: f64 = 44.0;
/// How often the second half reads its own sensors, µs.
const SCAN_US: u32 = 2000;

#[test]
fn the_second_half_is_relayed_and_its_age_is_told() {
    if harness().is_none() {
        return;
    }
    let folder = tempfile::tempdir().expect("a folder");
    let board = pins::first();
    let program = plain_program(folder.path(), "relay", &["BENCH_RELAY"], None);
    let (half, silent) = (half_program(folder.path()), SILENT_S.to_string());
    let half = half.display().to_string();
    let words = ["--half", &half, "--half-until", &silent];
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
    relayed_as_they_were(tracks, &board.tables[0], silent_at);
    let codes: Vec<&str> = results.findings.iter().map(|f| f.code.key()).collect();
    assert!(codes.contains(&"half-hang"), "the tool names it: {codes:?}");
}

/// Every code and button of the second half is one that its pins had when it says that it read them.
fn relayed_as_they_were(tracks: &Tracks, table: &Path, silent_at: usize) {
    let table = std::fs::read(table).expect("written before");
    let rows: Vec<[u16; 7]> = table[14..]
        .chunks_exact(14)
        .map(|row| std::array::from_fn(|k| u16::from_le_bytes([row[2 * k], row[2 * k + 1]])))
        .collect();
    let code = |level: u16| i32::from(((u32::from(level) + 32) >> 6).min(1023) as u16);
    let ages = tracks.remote_age_us[Half::Right as usize].as_deref().expect("an age is sent");
    let buttons = tracks.buttons.as_deref().expect("sent");
    let mut pressed = 0;
    for row in 5..silent_at - 1 {
        // It was asked 0.8 to 1.2 ms after the frame began, and its scan lasts less than 0.4 ms.
        let asked =
            |late: u64| tracks.t_us[row] + late - u64::from(ages[row]).min(tracks.t_us[row]);
        let window = (asked(400) / 500) as usize..=(asked(1200) / 500) as usize + 2;
        let then = &rows[*window.start()..(*window.end() + 1).min(rows.len())];
        for (axis, k) in [(AxisId::Rx, 2), (AxisId::Ry, 3), (AxisId::Rt, 5)] {
            let have = tracks.axis(axis).expect("sent")[row];
            let known = then.iter().any(|levels| code(levels[k]) == have);
            assert!(known, "row {row}, {}: {have} in {then:?}", axis.key());
        }
        let have = buttons[row] >> 7;
        assert!(then.iter().any(|levels| u32::from(levels[6] >> 7) == have), "row {row}: {have:b}");
        pressed |= have;
    }
    println!("buttons of the second half that were pressed: {pressed:08b}");
}
