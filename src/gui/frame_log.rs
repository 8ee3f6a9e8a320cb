//! When the window drew its frames: for measuring how often it repaints and how soon it appears.
use std::fmt::Write;
use std::path::PathBuf;
use std::time::{SystemTime, UNIX_EPOCH};

use crate::desk::output;

/// Times of all frames, written as one number a line when the window is closed.
#[derive(Debug)]
pub struct FrameLog {
    path: PathBuf,
    drawn_us: Vec<u64>,
}

impl FrameLog {
    /// A log to be written to `path`.
    pub fn new(path: PathBuf) -> FrameLog {
        FrameLog { path, drawn_us: Vec::new() }
    }

    /// A frame is laid out now, µs since 1970.
    pub fn note(&mut self) {
        let now = SystemTime::now().duration_since(UNIX_EPOCH).unwrap_or_default();
        self.drawn_us.push(now.as_micros() as u64);
    }

    /// Writes it; whoever measures sees by the missing file that it could not be written.
    pub fn close(&self) {
        let mut text = String::new();
        for t_us in &self.drawn_us {
            // Writing to a string cannot fail.
            let _ = writeln!(text, "{t_us}");
        }
        let _ = output::write_whole(&self.path, text.as_bytes());
    }
}
