//! A plain log as long as asked for: two minutes of the scripted run over and over.
use std::io::Write;
use std::path::Path;

use trimbench::desk::play::{PlayOrder, to_file};

/// Writes `frames` lines of a 12-bit board at 1 kHz, counter and clock going on all the time.
pub fn write_log(log: &Path, frames: usize) {
    let folder = tempfile::tempdir().expect("a folder");
    let session = folder.path().join("run.session");
    let order = PlayOrder {
        scenario: "healthy".to_owned(),
        rig: None,
        dialect: None,
        rate_hz: 1000.0,
        raw_bits: Some(12),
        seed: 1,
        seconds: Some(120.0),
    };
    to_file(&order, Some("2026-05-04T10:00:00Z"), &session).expect("a session");
    let text = std::fs::read_to_string(&session).expect("read back");
    let tails: Vec<&str> = text
        .lines()
        .filter_map(|line| line.split_once(' ').filter(|(t, _)| t.parse::<u64>().is_ok()))
        .filter_map(|(_, frame)| frame.splitn(3, ',').nth(2))
        .collect();
    let mut out = std::io::BufWriter::new(std::fs::File::create(log).expect("created"));
    for k in 0..frames {
        let t_us = (k as u64 * 1000 + 270_000) as u32;
        writeln!(out, "{k},{t_us},{}", tails[k % tails.len()]).expect("written");
    }
    out.flush().expect("written");
}
