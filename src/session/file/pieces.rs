//! A file's bytes piece by piece with their times, for somebody who plays it back as if it were live.
use std::collections::HashSet;
use std::fs::File;
use std::io::{BufRead, BufReader, Read, Seek, SeekFrom};
use std::path::{Path, PathBuf};

use crate::rig::{HostUs, Mark, Rig};
use crate::wire::clock::Turn;
use crate::wire::{ClockUnit, Dialect, Framer, Place, Role, Sink, Why, recognise};
use crate::work::Watch;

use super::record::{AtLine, CRC32, record};
use super::scan::{self, Checkpoint, count_lines};
use super::text_log::BYTE_ORDER_MARK;
use super::{FileError, Opening, Overrides, regular, sample};

/// A block without checkpoint longer than this is given up.
const MOST_BLOCK: usize = 32 << 20;
/// Bytes of a log without a delimiter that are given at once.
const MOST_PIECE: u64 = 4_096;
/// The interval taken for the lines of a log when nothing in them tells the time, µs.
const ASSUMED_PERIOD_US: u64 = 4_000;
/// A board clock that leaps further than this was damaged or restarted, µs.
const LEAP_US: u64 = 60_000_000;

/// What comes next out of a recording.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Piece {
    /// Bytes, and when they were read, µs.
    Bytes(u64),
    /// A mark.
    Mark(Mark<HostUs>),
    /// A damaged place: so many lines are left out.
    Damaged(u64),
}

/// The bytes of a session file or a plain log, in order.
///
/// Of a session the records and the marks that were not withdrawn come with their host times; lines
/// of a block whose checksum does not agree are left out, and said so. What was sent to the board is
/// not among them. The lines of a log are given the time of the board's clock,
/// or 4 ms each where they carry none. Memory: one block of a session, one line of a log.
pub struct Pieces {
    path: PathBuf,
    file: BufReader<File>,
    rig: Option<Rig>,
    dialect: Dialect,
    form: Form,
}

enum Form {
    Session(Block),
    Log(Box<LineClock>),
}

impl Pieces {
    /// Opens a recording; the dialect is the file's own, else recognised.
    ///
    /// # Errors
    /// See [`FileError`].
    pub fn open(path: &Path) -> Result<Pieces, FileError> {
        let (file, bytes) = regular(path)?;
        let (overrides, watch) = (Overrides::default(), Watch::unwatched());
        let mut opening = Opening {
            path,
            file,
            bytes,
            overrides: &overrides,
            watch: &watch,
            partial: &mut |_| (),
        };
        match scan::head(&mut opening)? {
            scan::Head::Session => Pieces::of_session(opening),
            scan::Head::Text => Pieces::of_log(opening),
        }
    }

    fn of_session(mut opening: Opening) -> Result<Pieces, FileError> {
        let mut frame = scan::frame(&mut opening, &mut Vec::new())?;
        let dialect = match frame.header.dialect.take() {
            Some(dialect) => dialect,
            None => {
                let take = super::reader::record_bytes;
                let sample = sample::spread(&mut opening.file, opening.bytes, take);
                let sample = sample.map_err(|e| opening.io(e))?;
                recognise(&sample).map_err(|reason| opening.unrecognised(reason))?
            }
        };
        opening.file.seek(SeekFrom::Start(frame.start)).map_err(|e| opening.io(e))?;
        Ok(Pieces {
            path: opening.path.to_owned(),
            file: BufReader::with_capacity(1 << 18, opening.file),
            rig: frame.header.rig.take(),
            dialect,
            form: Form::Session(Block::after(frame)),
        })
    }

    fn of_log(mut opening: Opening) -> Result<Pieces, FileError> {
        let take = |line: &[u8], sample: &mut Vec<u8>| sample.extend_from_slice(line);
        let sample = sample::spread(&mut opening.file, opening.bytes, take);
        let sample = sample.map_err(|e| opening.io(e))?;
        let dialect = recognise(&sample).map_err(|reason| opening.unrecognised(reason))?;
        let path = opening.path.to_owned();
        let mut file = BufReader::with_capacity(1 << 18, opening.file);
        let refuse = |source| FileError::Io { path: path.clone(), source };
        if file.fill_buf().map_err(refuse)?.starts_with(BYTE_ORDER_MARK) {
            file.consume(BYTE_ORDER_MARK.len());
        }
        let form = Form::Log(Box::new(LineClock::new(&dialect)));
        Ok(Pieces { path, file, rig: None, dialect, form })
    }

    /// The parts list in the file.
    pub fn rig(&self) -> Option<&Rig> {
        self.rig.as_ref()
    }

    /// The dialect of the lines.
    pub fn dialect(&self) -> &Dialect {
        &self.dialect
    }

    /// Puts the next bytes into `into`, in place of what was there; `None` at the end.
    ///
    /// # Errors
    /// The operating system refused to read on.
    pub fn next(&mut self, into: &mut Vec<u8>) -> Result<Option<Piece>, FileError> {
        into.clear();
        let next = match &mut self.form {
            Form::Session(block) => block.next(&mut self.file, into),
            Form::Log(clock) => clock.next(&mut self.file, into),
        };
        next.map_err(|source| FileError::Io { path: self.path.clone(), source })
    }
}

/// The block of a session at hand, proven before it is given out.
struct Block {
    text: Vec<u8>,
    /// Bytes of `text` that have been given out.
    given: usize,
    /// Lines of the file up to there.
    line: u64,
    /// Lines of the file before the next block.
    after: u64,
    undone: HashSet<u64>,
    room: Vec<u8>,
}

impl Block {
    fn after(head: scan::Frame) -> Block {
        let (lines, undone) = (head.lines, head.undone);
        Block { text: Vec::new(), given: 0, line: lines, after: lines, undone, room: Vec::new() }
    }

    fn next(
        &mut self,
        file: &mut BufReader<File>,
        into: &mut Vec<u8>,
    ) -> std::io::Result<Option<Piece>> {
        loop {
            while let Some(length) = memchr::memchr(b'\n', &self.text[self.given..]) {
                let line = &self.text[self.given..=self.given + length];
                self.given += length + 1;
                self.line += 1;
                // Rigs, dialects and withdrawals are no marks.
                let at_line = AtLine::read(&line[..length]).filter(|at_line| {
                    !AtLine::is_reserved(at_line.word) && !self.undone.contains(&self.line)
                });
                if let Some(mark) = at_line.and_then(|at_line| at_line.mark()) {
                    return Ok(Some(Piece::Mark(mark)));
                }
                if let Some((host, bytes)) = record(line, &mut self.room) {
                    into.extend_from_slice(bytes);
                    return Ok(Some(Piece::Bytes(host.0)));
                }
            }
            self.text.clear();
            self.given = 0;
            self.line = self.after;
            match self.fill(file)? {
                Filled::Proven | Filled::Tail => {}
                Filled::Damaged(lines) => return Ok(Some(Piece::Damaged(lines))),
                Filled::End => return Ok(None),
            }
        }
    }

    /// Reads up to the next checkpoint.
    fn fill(&mut self, file: &mut BufReader<File>) -> std::io::Result<Filled> {
        loop {
            let from = self.text.len();
            let room = (MOST_BLOCK + 1).saturating_sub(from) as u64;
            if file.take(room).read_until(b'\n', &mut self.text)? == 0 {
                let whole = memchr::memrchr(b'\n', &self.text).map_or(0, |at| at + 1);
                self.text.truncate(whole);
                return Ok(if from == 0 { Filled::End } else { Filled::Tail });
            }
            self.after += 1;
            let line = self.text[from..].strip_suffix(b"\n").unwrap_or(&[]);
            if let Some(checkpoint) = Checkpoint::read(line) {
                self.text.truncate(from);
                if CRC32.checksum(&self.text) == checkpoint.sum {
                    return Ok(Filled::Proven);
                }
                return Ok(self.give_up());
            }
            if self.text.len() > MOST_BLOCK {
                return Ok(self.give_up());
            }
        }
    }

    fn give_up(&mut self) -> Filled {
        let lines = count_lines(&self.text);
        self.text.clear();
        Filled::Damaged(lines)
    }
}

/// What the next block is.
enum Filled {
    Proven,
    /// Nothing proves it: the recording was cut. It is played all the same.
    Tail,
    Damaged(u64),
    End,
}

/// Gives each line of a log the time of the board's clock.
struct LineClock {
    framer: Framer,
    delimiter: u8,
    field: Option<usize>,
    unit_us: u64,
    /// Bits of the clock that count.
    turn: Turn,
    time: Time,
}

/// The time reached so far.
#[derive(Default)]
struct Time {
    t_us: u64,
    /// Reading of the clock in the line at hand.
    now: Option<u32>,
    last: Option<u32>,
    period_us: u64,
    field: Option<usize>,
}

impl Sink for Time {
    fn frame(&mut self, _place: Place, cells: &[i32]) {
        self.now = self.field.map(|field| cells[field] as u32);
    }

    fn refused(&mut self, _place: Place, _why: Why, _bytes: &[u8]) {}
}

impl LineClock {
    fn new(dialect: &Dialect) -> LineClock {
        let field = dialect.field_of(Role::Clock);
        let unit_us = if dialect.clock == ClockUnit::Millis { 1000 } else { 1 };
        let time = Time { field, period_us: ASSUMED_PERIOD_US, ..Time::default() };
        let delimiter = dialect.delimiter();
        LineClock {
            framer: Framer::new(dialect),
            delimiter,
            field,
            unit_us,
            turn: Turn::of(dialect),
            time,
        }
    }

    fn next(
        &mut self,
        file: &mut BufReader<File>,
        into: &mut Vec<u8>,
    ) -> std::io::Result<Option<Piece>> {
        if file.take(MOST_PIECE).read_until(self.delimiter, into)? == 0 {
            return Ok(None);
        }
        self.framer.push(into, &mut self.time);
        let time = &mut self.time;
        match (self.field, time.now.take()) {
            (None, _) if into.last() == Some(&self.delimiter) => time.t_us += ASSUMED_PERIOD_US,
            (Some(_), Some(now)) => {
                let ticks = time.last.map_or(0, |last| self.turn.ahead(last, now));
                let step_us = u64::from(ticks) * self.unit_us;
                let leapt = step_us > LEAP_US;
                time.t_us += if leapt { time.period_us } else { step_us };
                time.period_us = if leapt { time.period_us } else { step_us };
                time.last = Some(now);
            }
            _ => {}
        }
        Ok(Some(Piece::Bytes(time.t_us)))
    }
}
