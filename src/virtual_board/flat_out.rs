//! A virtual board as a link without pacing: every read gives as much as fits.
use std::time::Duration;

use super::VirtualBoard;
use crate::link::{Link, LinkError};

/// Step in which board time goes on while a buffer fills, µs.
const STEP_US: u64 = 20_000;

/// Plays a virtual board as fast as its bytes are read.
pub struct FlatOut {
    board: VirtualBoard,
    name: String,
    ready: Vec<u8>,
    taken: usize,
}

impl FlatOut {
    /// A link to `board`; `scenario` is what it is called by.
    pub fn new(board: VirtualBoard, scenario: &str) -> Self {
        FlatOut { board, name: format!("virtual {scenario}"), ready: Vec::new(), taken: 0 }
    }

    /// The board behind the link.
    pub fn board(&self) -> &VirtualBoard {
        &self.board
    }
}

impl Link for FlatOut {
    fn name(&self) -> &str {
        &self.name
    }

    /// Fills the buffer, letting as much board time pass as that takes.
    fn read(&mut self, buffer: &mut [u8], _wait: Duration) -> Result<usize, LinkError> {
        let mut filled = 0;
        while filled < buffer.len() {
            if self.taken == self.ready.len() {
                self.ready.clear();
                self.taken = 0;
                self.board.advance(self.board.now_us() + STEP_US, &mut self.ready);
                continue;
            }
            let part = (buffer.len() - filled).min(self.ready.len() - self.taken);
            let from = &self.ready[self.taken..self.taken + part];
            buffer[filled..filled + part].copy_from_slice(from);
            filled += part;
            self.taken += part;
        }
        Ok(filled)
    }

    fn write(&mut self, bytes: &[u8]) -> Result<(), LinkError> {
        self.board.write(bytes);
        Ok(())
    }
}
