//! What a recorder's link is doing, and the figures that its thread keeps for anybody to read.
use std::sync::atomic::{AtomicBool, AtomicU8, AtomicU64, Ordering};

/// What the link is doing.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[repr(u8)]
pub enum LinkState {
    /// Bytes can come.
    Live = 0,
    /// The other end went away; it is opened again when the same board is back.
    Waiting = 1,
    /// The recording that was played has ended, or the recorder was told to stop.
    Ended = 2,
    /// Closed for another program; opened again when the board has been away and is back.
    HandedOver = 3,
}

/// Figures that the thread keeps and anybody may read.
#[derive(Debug, Default)]
pub struct Counters {
    /// Bytes read.
    pub bytes: AtomicU64,
    /// Frames framed.
    pub frames: AtomicU64,
    /// Lines that gave no frame.
    pub refused: AtomicU64,
    /// Those of them that came before the first frame of an opening and are no frames.
    pub before_first: AtomicU64,
    /// Rows waiting for the reader.
    pub waiting: AtomicU64,
    /// Times that the link was opened again.
    pub reopened: AtomicU64,
    /// Rows were dropped from memory: read the file from disk.
    pub behind: AtomicBool,
    /// The bytes look like another symbol rate than the port's.
    pub baud_suspect: AtomicBool,
    /// The session file can no longer be written (disk full, folder gone).
    pub disk_failed: AtomicBool,
    state: AtomicU8,
}

impl Counters {
    /// What the link is doing.
    pub fn state(&self) -> LinkState {
        match self.state.load(Ordering::Relaxed) {
            0 => LinkState::Live,
            1 => LinkState::Waiting,
            3 => LinkState::HandedOver,
            _ => LinkState::Ended,
        }
    }

    pub(super) fn set(&self, state: LinkState) {
        self.state.store(state as u8, Ordering::Relaxed);
    }
}
