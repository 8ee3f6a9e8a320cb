//! Appends a session to a file as it comes: records, marks, what was sent, checkpoints.
use std::io::{self, Write};

use crc::{Digest, Table};

use crate::rig::{HostUs, Mark, Rig};
use crate::session::About;
use crate::wire::packed::DELIMITER;
use crate::wire::{Dialect, Grammar};

use super::checkpoint::Checkpoint;
use super::header::{Header, one_line};
use super::record::{AtLine, CRC32, escape, hex};

/// Bytes without a delimiter that are written as a record of their own.
const OPEN_BYTES: usize = 4096;
/// Time that bytes without a delimiter stand before they are written, µs.
const OPEN_US: u64 = 50_000;
/// Lines between two checkpoints at most.
const BLOCK_LINES: u32 = 4096;
/// Time between two checkpoints at most, µs.
const BLOCK_US: u64 = 1_000_000;

fn is_packed(dialect: &Dialect) -> bool {
    dialect.grammar == Grammar::Packed
}

/// Writes a session file. Nothing is held back longer than the rules of the format say.
///
/// The underlying writer is flushed at each checkpoint and in [`Writer::finish`].
pub struct Writer<W: Write> {
    out: W,
    digest: Digest<'static, u32, Table<16>>,
    /// Lines written so far.
    line: u64,
    block_lines: u32,
    block_since: u64,
    /// Bytes of the begun record.
    begun: Vec<u8>,
    begun_since: u64,
    begun_last: u64,
    /// Frames are packed, so that a LF ends nothing; `None` while that is not known.
    packed: Option<bool>,
    text: Vec<u8>,
}

impl<W: Write> Writer<W> {
    /// Writes the header and its checkpoint.
    ///
    /// # Errors
    /// As the underlying writer.
    pub fn new(out: W, about: &About, dialect: Option<&Dialect>) -> io::Result<Writer<W>> {
        let mut writer = Writer {
            out,
            digest: CRC32.digest(),
            line: 0,
            block_lines: 0,
            block_since: 0,
            begun: Vec::with_capacity(OPEN_BYTES),
            begun_since: 0,
            begun_last: 0,
            packed: dialect.map(is_packed),
            text: Vec::with_capacity(256),
        };
        let head = Header::of(about, dialect).text().map_err(io::Error::other)?;
        for line in head.lines() {
            writer.text.extend_from_slice(line.as_bytes());
            writer.end_line(0)?;
        }
        writer.checkpoint()?;
        Ok(writer)
    }

    /// Takes the bytes of one read.
    ///
    /// # Errors
    /// As the underlying writer.
    pub fn append(&mut self, host_us: u64, bytes: &[u8]) -> io::Result<()> {
        self.settle(host_us)?;
        let mut rest = bytes;
        while let Some(end) = self.end_of_record(rest) {
            self.hold(host_us, &rest[..end])?;
            self.record(host_us, Some(rest[end]))?;
            rest = &rest[end + 1..];
        }
        self.hold(host_us, rest)?;
        self.close_block_after(host_us)
    }

    /// The dialect has been recognised: records end where its frames do from here on.
    pub fn framed_by(&mut self, dialect: &Dialect) {
        self.packed = Some(is_packed(dialect));
    }

    fn end_of_record(&self, bytes: &[u8]) -> Option<usize> {
        match self.packed {
            Some(true) => memchr::memchr(DELIMITER, bytes),
            Some(false) => memchr::memchr(b'\n', bytes),
            None => memchr::memchr2(b'\n', DELIMITER, bytes),
        }
    }

    /// Writes what was sent to the board.
    ///
    /// # Errors
    /// As the underlying writer.
    pub fn sent(&mut self, host_us: u64, bytes: &[u8]) -> io::Result<()> {
        self.settle(host_us)?;
        write!(self.text, "> {host_us} ")?;
        escape(bytes, &mut self.text);
        self.end_line(host_us)?;
        self.close_block_after(host_us)
    }

    /// Writes a mark; gives its line number, by which it can be undone.
    ///
    /// # Errors
    /// A word that is empty, holds blanks or anything but printable ASCII, or is one of `rig`,
    /// `dialect`, `undo`; else as the underlying writer.
    pub fn mark(&mut self, mark: &Mark<HostUs>) -> io::Result<u64> {
        let word = mark.word.as_str();
        let plain = !word.is_empty() && word.bytes().all(|b| b.is_ascii_graphic() && b != b'\\');
        if !plain || AtLine::is_reserved(word) {
            let what = format!("\"{word}\" cannot be the word of a mark; use one plain word");
            return Err(io::Error::new(io::ErrorKind::InvalidInput, what));
        }
        self.at_line(mark.at.0, word, mark.text.as_bytes())
    }

    /// Withdraws the mark, rig or dialect that stands in `line`.
    ///
    /// # Errors
    /// As the underlying writer.
    pub fn undo(&mut self, host_us: u64, line: u64) -> io::Result<u64> {
        self.at_line(host_us, AtLine::UNDO, line.to_string().as_bytes())
    }

    /// Writes a parts list; the last one in a file is in force for the whole session.
    ///
    /// # Errors
    /// As the underlying writer.
    pub fn rig(&mut self, host_us: u64, rig: &Rig) -> io::Result<u64> {
        let text = one_line(rig).map_err(io::Error::other)?;
        self.at_line(host_us, AtLine::RIG, text.as_bytes())
    }

    /// Writes a dialect; the last one in a file is in force for the whole session.
    ///
    /// # Errors
    /// As the underlying writer.
    pub fn dialect(&mut self, host_us: u64, dialect: &Dialect) -> io::Result<u64> {
        let text = one_line(dialect).map_err(io::Error::other)?;
        self.at_line(host_us, AtLine::DIALECT, text.as_bytes())
    }

    /// Lets time pass: writes a begun line that has stood 50 ms, a checkpoint after 1 s.
    ///
    /// # Errors
    /// As the underlying writer.
    pub fn tick(&mut self, host_us: u64) -> io::Result<()> {
        self.settle(host_us)?;
        self.close_block_after(host_us)
    }

    /// Writes what is begun and the last checkpoint, which says that it is, flushes, and gives the writer
    /// back.
    ///
    /// # Errors
    /// As the underlying writer.
    pub fn finish(mut self) -> io::Result<W> {
        if !self.begun.is_empty() {
            self.record(self.begun_last, None)?;
        }
        self.seal(true)?;
        Ok(self.out)
    }

    fn at_line(&mut self, host_us: u64, word: &str, text: &[u8]) -> io::Result<u64> {
        self.settle(host_us)?;
        AtLine::write(HostUs(host_us), word, text, &mut self.text)?;
        self.end_line(host_us)?;
        let line = self.line;
        self.close_block_after(host_us)?;
        Ok(line)
    }

    /// Keeps bytes of the begun record, in pieces of at most [`OPEN_BYTES`].
    fn hold(&mut self, host_us: u64, bytes: &[u8]) -> io::Result<()> {
        let mut rest = bytes;
        while !rest.is_empty() {
            if self.begun.len() == OPEN_BYTES {
                self.record(self.begun_last, None)?;
            }
            if self.begun.is_empty() {
                self.begun_since = host_us;
            }
            let part = rest.len().min(OPEN_BYTES - self.begun.len());
            self.begun.extend_from_slice(&rest[..part]);
            self.begun_last = host_us;
            rest = &rest[part..];
        }
        Ok(())
    }

    fn settle(&mut self, host_us: u64) -> io::Result<()> {
        if !self.begun.is_empty() && host_us.saturating_sub(self.begun_since) >= OPEN_US {
            self.record(self.begun_last, None)?;
        }
        Ok(())
    }

    fn record(&mut self, host_us: u64, delimiter: Option<u8>) -> io::Result<()> {
        write!(self.text, "{host_us} ")?;
        if self.packed == Some(true) || delimiter == Some(DELIMITER) {
            self.begun.extend(delimiter);
            self.text.push(b'=');
            hex(&self.begun, &mut self.text);
        } else {
            escape(&self.begun, &mut self.text);
            if delimiter.is_none() {
                self.text.push(b'\\');
            }
        }
        self.begun.clear();
        self.end_line(host_us)?;
        if self.block_lines >= BLOCK_LINES {
            self.checkpoint()?;
        }
        Ok(())
    }

    fn end_line(&mut self, host_us: u64) -> io::Result<()> {
        if self.block_lines == 0 {
            self.block_since = host_us;
        }
        self.text.push(b'\n');
        self.digest.update(&self.text);
        let done = self.out.write_all(&self.text);
        self.text.clear();
        self.line += 1;
        self.block_lines += 1;
        done
    }

    fn close_block_after(&mut self, host_us: u64) -> io::Result<()> {
        let old = host_us.saturating_sub(self.block_since) >= BLOCK_US;
        if self.block_lines >= BLOCK_LINES || old { self.checkpoint() } else { Ok(()) }
    }

    fn checkpoint(&mut self) -> io::Result<()> {
        if self.block_lines == 0 { Ok(()) } else { self.seal(false) }
    }

    fn seal(&mut self, last: bool) -> io::Result<()> {
        let sum = std::mem::replace(&mut self.digest, CRC32.digest()).finalize();
        self.line += 1;
        self.block_lines = 0;
        let checkpoint = Checkpoint { number: self.line, sum, last };
        writeln!(self.out, "{}", checkpoint.text())?;
        self.out.flush()
    }
}
