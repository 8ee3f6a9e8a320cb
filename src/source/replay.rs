//! A recording played as a link: at the pace at which it was made, faster, slower, or flat out.
use std::path::Path;
use std::time::{Duration, Instant};

use crate::link::{Link, LinkError};
use crate::rig::{HostUs, Mark, Rig};
use crate::session::file::{Piece, Pieces};
use crate::wire::{Dialect, SecondForm};

use super::Pace;

/// A session file or a plain log that gives its bytes when they are due.
///
/// Every byte comes with the time at which it was first read, so a recording of it is as the first
/// one was, whatever the pace.
pub struct Replay {
    name: String,
    pieces: Pieces,
    pace: Pace,
    ready: Vec<u8>,
    taken: usize,
    /// Time of the bytes in `ready`, and of those given out last, µs.
    due_us: u64,
    stamp_us: u64,
    mark: Option<Mark<HostUs>>,
    /// When the first bytes were given, and their time.
    begun: Option<(Instant, u64)>,
}

impl Replay {
    /// Opens a recording.
    ///
    /// # Errors
    /// [`LinkError::Refused`]: the file cannot be read, or its lines are in no dialect.
    pub fn open(path: &Path, pace: Pace) -> Result<Replay, LinkError> {
        let pieces = Pieces::open(path).map_err(|e| LinkError::Refused(e.to_string()))?;
        let file = path.file_name().unwrap_or(path.as_os_str()).to_string_lossy();
        Ok(Replay {
            name: format!("recording {file}"),
            pieces,
            pace,
            ready: Vec::new(),
            taken: 0,
            due_us: 0,
            stamp_us: 0,
            mark: None,
            begun: None,
        })
    }

    /// The parts list in the recording.
    pub fn rig(&self) -> Option<&Rig> {
        self.pieces.rig()
    }

    /// The dialect of the recording.
    pub fn dialect(&self) -> &Dialect {
        self.pieces.dialect()
    }

    /// The second form of its lines, where it has one.
    pub fn second(&self) -> Option<&SecondForm> {
        self.pieces.second()
    }

    /// True where nothing tells the time: the rows come at an even pace that means nothing.
    pub fn is_clockless(&self) -> bool {
        self.pieces.is_clockless()
    }

    /// How long until the waiting bytes are due.
    fn early(&mut self) -> Duration {
        let Pace::Times(speed) = self.pace else { return Duration::ZERO };
        let (begun, first_us) = *self.begun.get_or_insert((Instant::now(), self.due_us));
        let after_s = self.due_us.saturating_sub(first_us) as f64 * 1e-6 / speed;
        // A pace so slow that the time has no number is waited for in pieces all the same.
        let after = Duration::try_from_secs_f64(after_s).unwrap_or(Duration::MAX);
        after.saturating_sub(begun.elapsed())
    }
}

impl Link for Replay {
    fn name(&self) -> &str {
        &self.name
    }

    fn read(&mut self, buffer: &mut [u8], wait: Duration) -> Result<usize, LinkError> {
        while self.taken == self.ready.len() {
            self.taken = 0;
            match self.pieces.next(&mut self.ready) {
                Ok(Some(Piece::Bytes(t_us))) => self.due_us = t_us,
                Ok(Some(Piece::Mark(mark))) => {
                    self.mark = Some(mark);
                    return Ok(0);
                }
                Ok(Some(Piece::Damaged(lines))) => return Err(LinkError::Broken { lines }),
                Ok(None) | Err(_) => return Err(LinkError::End),
            }
        }
        let early = self.early();
        if !early.is_zero() {
            std::thread::sleep(early.min(wait));
            if early > wait {
                return Ok(0);
            }
        }
        let left = &self.ready[self.taken..];
        let count = left.len().min(buffer.len());
        buffer[..count].copy_from_slice(&left[..count]);
        self.taken += count;
        self.stamp_us = self.due_us;
        Ok(count)
    }

    fn stamp_us(&self) -> Option<u64> {
        Some(self.stamp_us)
    }

    fn take_mark(&mut self) -> Option<Mark<HostUs>> {
        self.mark.take()
    }

    fn write(&mut self, _bytes: &[u8]) -> Result<(), LinkError> {
        // Nobody is there to hear it; the recorder notes it as unsent.
        Err(LinkError::Refused("a recording takes nothing".to_owned()))
    }
}
