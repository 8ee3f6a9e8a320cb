//! Appends a session to a file as it comes: records, marks, what was sent, checkpoints.
use std::io::{self, Write};

use crate::rig::Rig;
use crate::session::About;
use crate::wire::Dialect;

/// Writes a session file. Nothing is held back longer than the rules of the format say.
pub struct Writer<W: Write> {
    out: W,
}

impl<W: Write> Writer<W> {
    /// Writes the header and its checkpoint.
    ///
    /// # Errors
    /// As the underlying writer.
    pub fn new(out: W, about: &About, dialect: Option<&Dialect>) -> io::Result<Writer<W>> {
        let _ = (about, dialect);
        Ok(Writer { out })
    }

    /// Takes the bytes of one read.
    ///
    /// # Errors
    /// As the underlying writer.
    pub fn append(&mut self, host_us: u64, bytes: &[u8]) -> io::Result<()> {
        let _ = (host_us, bytes);
        todo!()
    }

    /// Writes what was sent to the board.
    ///
    /// # Errors
    /// As the underlying writer.
    pub fn sent(&mut self, host_us: u64, bytes: &[u8]) -> io::Result<()> {
        let _ = (host_us, bytes);
        todo!()
    }

    /// Writes a mark; gives its line number, by which it can be undone.
    ///
    /// # Errors
    /// As the underlying writer.
    pub fn mark(&mut self, host_us: u64, word: &str, text: &str) -> io::Result<u64> {
        let _ = (host_us, word, text);
        todo!()
    }

    /// Withdraws the mark, rig or dialect that stands in `line`.
    ///
    /// # Errors
    /// As the underlying writer.
    pub fn undo(&mut self, host_us: u64, line: u64) -> io::Result<u64> {
        self.mark(host_us, "undo", &line.to_string())
    }

    /// Writes a parts list that is in force from now on for the whole session.
    ///
    /// # Errors
    /// As the underlying writer.
    pub fn rig(&mut self, host_us: u64, rig: &Rig) -> io::Result<u64> {
        let _ = (host_us, rig);
        todo!()
    }

    /// Writes a dialect that is in force from now on for the whole session.
    ///
    /// # Errors
    /// As the underlying writer.
    pub fn dialect(&mut self, host_us: u64, dialect: &Dialect) -> io::Result<u64> {
        let _ = (host_us, dialect);
        todo!()
    }

    /// Lets time pass: writes a begun line that has stood 50 ms, a checkpoint after 1 s, flushes.
    ///
    /// # Errors
    /// As the underlying writer.
    pub fn tick(&mut self, host_us: u64) -> io::Result<()> {
        let _ = host_us;
        todo!()
    }

    /// Writes what is begun, the last checkpoint, flushes, and gives the writer back.
    ///
    /// # Errors
    /// As the underlying writer.
    pub fn finish(self) -> io::Result<W> {
        Ok(self.out)
    }
}
