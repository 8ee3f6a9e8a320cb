//! How long `trimbench solve` takes for an hour at 1 kHz, and how much memory at most.
use std::fs::File;
use std::io::{BufWriter, Write};
use std::path::Path;
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

use trimbench::virtual_board::script::full_run;
use trimbench::virtual_board::{Options, Scenario, VirtualBoard};

const HOUR_US: u64 = 3_600_000_000;

fn main() {
    let folder = tempfile::tempdir().expect("a folder");
    println!("one hour at 1 kHz, plain log; three runs each: wall time, peak memory");
    for (name, rounds) in [("one guided run, then rest", 1), ("guided runs without a pause", 64)] {
        let log = folder.path().join("hour.log");
        let lines = write_hour(&log, rounds);
        let megabytes = std::fs::metadata(&log).expect("written").len() as f64 / 1e6;
        print!("{name}: {lines} lines, {megabytes:.0} MB:");
        for _ in 0..3 {
            let (wall, peak_kb) = solve(&log, folder.path());
            print!("  {:.2} s {:.0} MB", wall.as_secs_f64(), peak_kb as f64 / 1e3);
        }
        println!();
    }
}

/// Lines of a 12-bit board whose hand plays the guided run so many times over.
fn write_hour(path: &Path, rounds: u64) -> u64 {
    let scenario: Scenario = "healthy".parse().expect("a scenario");
    let options =
        Options { scenario, rate_hz: 1_000.0, raw_bits: Some(12), seed: 7, ..Options::default() };
    let mut board = VirtualBoard::new(&options).expect("a board");
    let hand = board.hand();
    let script = full_run(board.rig());
    let round_us = script.last().expect("an end").0;
    let mut out = BufWriter::new(File::create(path).expect("created"));
    let (mut bytes, mut lines) = (Vec::new(), 0);
    while board.now_us() < HOUR_US {
        let now_us = board.now_us();
        let place_us = now_us % round_us;
        let cue = script.iter().rev().find(|(t_us, _)| *t_us <= place_us);
        hand.prompt(cue.filter(|_| now_us / round_us < rounds).and_then(|(_, cue)| cue.task()));
        bytes.clear();
        board.advance(now_us + 10_000, &mut bytes);
        lines += bytes.iter().filter(|b| **b == b'\n').count() as u64;
        out.write_all(&bytes).expect("written");
    }
    out.flush().expect("written");
    lines
}

/// Wall time, and peak resident memory in kB where the system tells it.
fn solve(log: &Path, folder: &Path) -> (Duration, u64) {
    let begun = Instant::now();
    let mut child = Command::new(env!("CARGO_BIN_EXE_trimbench"))
        .arg("solve")
        .arg(log)
        .args(
            ["--header", "--sheet", "--json"]
                .iter()
                .zip(["a.h", "a.html", "a.json"])
                .flat_map(|(word, file)| [word.into(), folder.join(file).into_os_string()]),
        )
        .stdout(Stdio::null())
        .spawn()
        .expect("started");
    let status = format!("/proc/{}/status", child.id());
    let mut peak_kb = 0;
    loop {
        let text = std::fs::read_to_string(&status).unwrap_or_default();
        let line = text.lines().find_map(|line| line.strip_prefix("VmHWM:"));
        let now = line.and_then(|l| l.trim().trim_end_matches(" kB").parse::<u64>().ok());
        peak_kb = peak_kb.max(now.unwrap_or(0));
        if let Some(ended) = child.try_wait().expect("waited") {
            assert!(ended.code().is_some_and(|code| code < 2), "solve: {ended}");
            return (begun.elapsed(), peak_kb);
        }
        std::thread::sleep(Duration::from_millis(5));
    }
}
