//! Links to a board: one trait for a port, a replayed file and the virtual board.
pub mod board;
pub mod serial;

use std::time::Duration;

use crate::rig::{HostUs, Mark};

/// Why a link gave no bytes or took none.
#[derive(Debug, thiserror::Error)]
pub enum LinkError {
    /// The other end went away; the owner reopens the link later.
    #[error("{name}: disconnected; opened again when it comes back")]
    Gone {
        /// The link's name.
        name: String,
    },
    /// Another program holds the port now; the message says what to do.
    #[error("{0}")]
    Busy(String),
    /// The link cannot be opened or used; the message says what to do.
    #[error("{0}")]
    Refused(String),
    /// A damaged place in a recording that is played; behind it the source goes on.
    #[error("{lines} lines are left out: their block of the recording is damaged")]
    Broken {
        /// Lines left out.
        lines: u64,
    },
    /// The source has been read to its end (a replayed file).
    #[error("end of the recording")]
    End,
}

/// A two-way stream of bytes to a board, real, replayed or virtual.
pub trait Link: Send {
    /// What a person would call it: `serial ttyACM0`, `virtual healthy`.
    fn name(&self) -> &str;
    /// Reads what is there into `buffer`, waiting at most `wait`; 0 bytes = nothing came.
    fn read(&mut self, buffer: &mut [u8], wait: Duration) -> Result<usize, LinkError>;
    /// When the bytes last read came, µs, where the source itself knows (a recording).
    fn stamp_us(&self) -> Option<u64> {
        None
    }
    /// A mark that stands behind the bytes last read (a recording).
    fn take_mark(&mut self) -> Option<Mark<HostUs>> {
        None
    }
    /// Sends all of `bytes`.
    fn write(&mut self, bytes: &[u8]) -> Result<(), LinkError>;
}
