//! The virtual board's levels, 16 bits wide, as tables of pin levels for the harness.
use std::path::{Path, PathBuf};
use std::sync::OnceLock;

use tempfile::TempDir;
use trimbench::virtual_board::script::full_run;
use trimbench::virtual_board::{Options, VirtualBoard, bench_dialect, bench_rig};
use trimbench::wire::{Framer, Place, Sink, Why};

/// Rows a second of a table.
const ROWS_HZ: f64 = 2000.0;
/// Rest between two runs of the script, µs.
const BETWEEN_US: u64 = 1_500_000;

/// One board, drawn from a seed, whose scripted hand does the whole run twice.
pub struct Board {
    /// What it is.
    pub board: VirtualBoard,
    /// A table of each run.
    pub tables: [PathBuf; 2],
    /// How long each run lasts, s.
    pub seconds: [f64; 2],
    /// When the second run began, µs.
    pub second_us: u64,
}

/// Rows as the harness reads them.
#[derive(Default)]
struct Rows(Vec<u8>);

impl Sink for Rows {
    fn frame(&mut self, _: Place, cells: &[i32]) {
        // Behind counter and clock: six axes and the buttons.
        for cell in &cells[2..9] {
            self.0.extend_from_slice(&(*cell as u16).to_le_bytes());
        }
    }
    fn refused(&mut self, _: Place, _: Why, _: &[u8]) {}
}

/// The board that several tests look at, recorded once.
pub fn first() -> &'static Board {
    static FIRST: OnceLock<(TempDir, Board)> = OnceLock::new();
    let recorded = FIRST.get_or_init(|| {
        let folder = tempfile::tempdir().expect("a folder");
        let board = record(1, folder.path());
        (folder, board)
    });
    &recorded.1
}

/// Plays both runs and writes their tables into `folder`.
pub fn record(seed: u64, folder: &Path) -> Board {
    let options = Options {
        dialect: Some(bench_dialect(&bench_rig(16)).packed()),
        rate_hz: ROWS_HZ,
        raw_bits: Some(16),
        seed,
        ..Options::default()
    };
    let mut board = VirtualBoard::new(&options).expect("a board");
    let hand = board.hand();
    let script = full_run(board.rig());
    let (mut tables, mut seconds) = (Vec::new(), Vec::new());
    let mut second_us = 0;
    let mut framer = Framer::new(board.dialect());
    let mut bytes = Vec::new();
    for round in 0..2 {
        let from_us = board.now_us();
        second_us = from_us;
        let mut rows = Rows::default();
        let mut to = |board: &mut VirtualBoard, at_us: u64| {
            bytes.clear();
            board.advance(at_us, &mut bytes);
            framer.push(&bytes, &mut rows);
        };
        for (at_us, cue) in &script {
            to(&mut board, from_us + at_us);
            hand.prompt(cue.task());
        }
        let end_us = board.now_us() + BETWEEN_US;
        to(&mut board, end_us);
        let path = folder.join(format!("pins{seed}-{round}"));
        write(&path, &rows.0);
        tables.push(path);
        seconds.push((rows.0.len() / 14) as f64 / ROWS_HZ);
    }
    let tables = tables.try_into().expect("two runs");
    let seconds = seconds.try_into().expect("two runs");
    Board { board, tables, seconds, second_us }
}

fn write(path: &Path, rows: &[u8]) {
    let mut text = b"pins1\n".to_vec();
    text.extend_from_slice(&((1e6 / ROWS_HZ) as u32).to_le_bytes());
    text.extend_from_slice(&((rows.len() / 14) as u32).to_le_bytes());
    text.extend_from_slice(rows);
    std::fs::write(path, text).expect("written");
}
