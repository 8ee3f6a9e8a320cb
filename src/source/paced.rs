//! The virtual board in real time: its own clock follows the host's.
use std::time::{Duration, Instant};

use crate::link::{Link, LinkError};
use crate::virtual_board::VirtualBoard;

/// How much board time is made up at once after the host was busy elsewhere, µs.
const CATCH_UP_US: u64 = 2_000_000;
/// Finest step of the pacing.
const TICK: Duration = Duration::from_millis(2);

/// A virtual board whose time runs with the host's clock, times a factor.
pub struct Paced {
    name: String,
    board: VirtualBoard,
    ready: Vec<u8>,
    taken: usize,
    last: Instant,
    speed: f64,
    owed_us: f64,
}

impl Paced {
    /// Paces `board` at `speed` times real time.
    pub fn new(board: VirtualBoard, name: &str, speed: f64) -> Paced {
        Paced {
            name: format!("virtual {name}"),
            board,
            ready: Vec::new(),
            taken: 0,
            last: Instant::now(),
            speed,
            owed_us: 0.0,
        }
    }

    /// Lets the board live for as long as the host's clock has moved on.
    fn advance(&mut self) {
        let now = Instant::now();
        self.owed_us += now.duration_since(self.last).as_secs_f64() * 1e6 * self.speed;
        self.last = now;
        let step_us = self.owed_us.clamp(0.0, CATCH_UP_US as f64) as u64;
        // What a stalled host missed beyond the limit is not made up: the board simply waited.
        self.owed_us = (self.owed_us - step_us as f64).min(1.0);
        let until_us = self.board.now_us() + step_us;
        self.board.advance(until_us, &mut self.ready);
    }
}

impl Link for Paced {
    fn name(&self) -> &str {
        &self.name
    }

    fn read(&mut self, buffer: &mut [u8], wait: Duration) -> Result<usize, LinkError> {
        let begun = Instant::now();
        loop {
            self.advance();
            let left = &self.ready[self.taken..];
            if !left.is_empty() {
                let n = left.len().min(buffer.len());
                buffer[..n].copy_from_slice(&left[..n]);
                self.taken += n;
                if self.taken == self.ready.len() {
                    self.ready.clear();
                    self.taken = 0;
                }
                return Ok(n);
            }
            let Some(rest) = wait.checked_sub(begun.elapsed()) else {
                return Ok(0);
            };
            std::thread::sleep(rest.min(TICK));
        }
    }

    fn write(&mut self, bytes: &[u8]) -> Result<(), LinkError> {
        self.board.write(bytes);
        Ok(())
    }
}
