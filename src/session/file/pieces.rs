//! A file's bytes piece by piece with their times, for somebody who plays it back as if it were live.
use std::collections::HashSet;
use std::fs::File;
use std::io::{BufRead, BufReader, Read};
use std::path::{Path, PathBuf};

use crate::rig::{HostUs, Mark, Rig};
use crate::session::ASSUMED_PERIOD_US;
use crate::wire::clock::Turn;
use crate::wire::{ClockUnit, Dialect, Framer, Place, Role, SecondForm, Sink, Why, recognise};
use crate::work::Watch;

use super::plan::Step;
use super::reader::lines_of;
use super::record::{AtLine, record};
use super::scan;
use super::text_log::BYTE_ORDER_MARK;
use super::{FileError, Opening, Overrides, regular, sample};

/// Bytes of a log without a delimiter that are given at once.
const MOST_PIECE: u64 = 4_096;
/// A board clock that leaps further than this was damaged or restarted, µs.
const LEAP_US: u64 = 60_000_000;

/// What comes next out of a recording.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Piece {
    /// Bytes, and when they were read, µs.
    Bytes(u64),
    /// A mark.
    Mark(Mark<HostUs>),
    /// A damaged place: so many records are left out.
    Damaged(u64),
}

/// The bytes of a session file or a plain log, in order.
///
/// Of a session the records and the marks that were not withdrawn come with their host times, in the
/// order in which [`super::open`] takes them; what it leaves out is left out here, and said so. What was sent to the board is
/// not among them. The lines of a log are given the time of the board's clock,
/// or an even pace where they carry none. Memory: one block of a session, one line of a log.
pub struct Pieces {
    path: PathBuf,
    rig: Option<Rig>,
    dialect: Dialect,
    /// The times that bytes come with mean nothing.
    clockless: bool,
    second: Option<SecondForm>,
    /// Lines from all over the file, until a second form has been looked for.
    sample: Vec<u8>,
    form: Form,
}

/// How many lines are frames.
#[derive(Default)]
struct Seen {
    frames: u64,
    refused: u64,
}

impl Sink for Seen {
    fn frame(&mut self, _place: Place, _cells: &[i32]) {
        self.frames += 1;
    }

    fn refused(&mut self, _place: Place, _why: Why, _bytes: &[u8]) {
        self.refused += 1;
    }
}

enum Form {
    Session(Block),
    Log(BufReader<File>, Box<LineClock>),
}

impl Pieces {
    /// Opens a recording; the dialect is the file's own, else recognised.
    ///
    /// # Errors
    /// See [`FileError`].
    pub fn open(path: &Path) -> Result<Pieces, FileError> {
        Pieces::open_by(path, None)?.with_second()
    }

    /// Opens a recording whose lines are in that dialect alone.
    ///
    /// # Errors
    /// See [`FileError`].
    pub fn open_by(path: &Path, dialect: Option<Dialect>) -> Result<Pieces, FileError> {
        let (file, bytes) = regular(path)?;
        let (overrides, watch) = (Overrides { rig: None, dialect }, Watch::unwatched());
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

    /// With the second form that reading the file as a whole finds; only where its sample gives cause to.
    fn with_second(mut self) -> Result<Pieces, FileError> {
        let mut seen = Seen::default();
        Framer::new(&self.dialect).push(&std::mem::take(&mut self.sample), &mut seen);
        if 40 * seen.refused < seen.refused + seen.frames {
            return Ok(self);
        }
        let whole =
            super::open(&self.path, &Overrides::default(), &Watch::unwatched(), &mut |_| ());
        // Who plays a recording without a frame is told by the lines themselves.
        let Ok(super::Opened { session, second: Some(second), .. }) = whole else {
            return Ok(self);
        };
        if let Some(dialect) = session.dialect() {
            self.dialect = (**dialect).clone();
        }
        if let Form::Log(_, clock) = &mut self.form {
            **clock = LineClock::new(&self.dialect);
            let cells = vec![0; self.dialect.fields.len()];
            clock.time.second = Some((second.clone(), cells));
            self.clockless = self.dialect.field_of(Role::Clock).is_none();
        }
        self.second = Some(second);
        Ok(self)
    }

    /// The second form of its lines, where it has one.
    pub fn second(&self) -> Option<&SecondForm> {
        self.second.as_ref()
    }

    fn of_session(mut opening: Opening) -> Result<Pieces, FileError> {
        let mut frame = scan::frame(&mut opening, &mut Vec::new())?;
        let take = super::reader::record_bytes;
        let sample = sample::spread(&mut opening.file, opening.bytes, take);
        let sample = sample.map_err(|e| opening.io(e))?;
        let said = opening.overrides.dialect.clone().or(frame.header.dialect.take());
        let dialect = match said {
            Some(dialect) => dialect,
            None => recognise(&sample).map_err(|reason| opening.unrecognised(reason))?,
        };
        let path = opening.path.to_owned();
        let rig = frame.header.rig.take();
        let clockless = frame.header.clockless;
        let form = Form::Session(Block::of(opening.file, frame));
        Ok(Pieces { path, rig, dialect, clockless, second: None, sample, form })
    }

    fn of_log(mut opening: Opening) -> Result<Pieces, FileError> {
        let take = |line: &[u8], sample: &mut Vec<u8>| sample.extend_from_slice(line);
        let sample = sample::spread(&mut opening.file, opening.bytes, take);
        let sample = sample.map_err(|e| opening.io(e))?;
        let dialect = match &opening.overrides.dialect {
            Some(dialect) => dialect.clone(),
            None => recognise(&sample).map_err(|reason| opening.unrecognised(reason))?,
        };
        let path = opening.path.to_owned();
        let mut file = BufReader::with_capacity(1 << 18, opening.file);
        let refuse = |source| FileError::Io { path: path.clone(), source };
        if file.fill_buf().map_err(refuse)?.starts_with(BYTE_ORDER_MARK) {
            file.consume(BYTE_ORDER_MARK.len());
        }
        let form = Form::Log(file, Box::new(LineClock::new(&dialect)));
        let clockless = dialect.field_of(Role::Clock).is_none();
        Ok(Pieces { path, rig: None, dialect, clockless, second: None, sample, form })
    }

    /// The parts list in the file.
    pub fn rig(&self) -> Option<&Rig> {
        self.rig.as_ref()
    }

    /// True where nothing tells the time, so that the times given mean nothing: rows at an even pace.
    pub fn is_clockless(&self) -> bool {
        self.clockless
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
            Form::Session(block) => block.next(into),
            Form::Log(file, clock) => clock.next(file, into),
        };
        next.map_err(|source| FileError::Io { path: self.path.clone(), source })
    }
}

/// The block of a session at hand, and the steps of the plan that are left.
struct Block {
    file: File,
    steps: std::vec::IntoIter<Step>,
    text: Vec<u8>,
    /// Bytes of `text` that have been given out, and the running number of the line behind them.
    given: usize,
    own: u64,
    undone: HashSet<u64>,
    room: Vec<u8>,
}

impl Block {
    fn of(file: File, frame: scan::Frame) -> Block {
        let (steps, undone) = (frame.steps.into_iter(), frame.undone);
        Block { file, steps, text: Vec::new(), given: 0, own: 0, undone, room: Vec::new() }
    }

    fn next(&mut self, into: &mut Vec<u8>) -> std::io::Result<Option<Piece>> {
        loop {
            while let Some(length) = memchr::memchr(b'\n', &self.text[self.given..]) {
                let line = &self.text[self.given..=self.given + length];
                self.given += length + 1;
                let own = self.own;
                self.own += 1;
                // Rigs, dialects and withdrawals are no marks.
                let at_line = AtLine::read(&line[..length]).filter(|at_line| {
                    !AtLine::is_reserved(at_line.word) && !self.undone.contains(&own)
                });
                if let Some(mark) = at_line.and_then(|at_line| at_line.mark()) {
                    return Ok(Some(Piece::Mark(mark)));
                }
                if let Some((host, bytes)) = record(line, &mut self.room) {
                    into.extend_from_slice(bytes);
                    return Ok(Some(Piece::Bytes(host.0)));
                }
            }
            self.given = 0;
            self.text.clear();
            match self.steps.next() {
                Some(Step::Take(stretch, own)) => {
                    self.text = lines_of(&mut self.file, &stretch)?;
                    self.own = own;
                }
                Some(Step::Skip(_, rows) | Step::Gap(rows)) => {
                    return Ok(Some(Piece::Damaged(rows)));
                }
                None => return Ok(None),
            }
        }
    }
}

/// Gives each line of a log the time of the board's clock.
struct LineClock {
    framer: Framer,
    delimiter: u8,
    field: Option<usize>,
    unit_us: u64,
    /// Bits of the clock that count.
    turn: Turn,
    /// Interval of the lines where they carry no clock, µs.
    set_at_us: u64,
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
    /// A second form of lines, and the cells of its last frame.
    second: Option<(SecondForm, Vec<i32>)>,
}

impl Sink for Time {
    fn frame(&mut self, _place: Place, cells: &[i32]) {
        self.now = self.field.map(|field| cells[field] as u32);
    }

    fn refused(&mut self, _place: Place, _why: Why, bytes: &[u8]) {
        if let (Some((second, cells)), Some(field)) = (&mut self.second, self.field)
            && second.read(bytes, cells)
        {
            self.now = Some(cells[field] as u32);
        }
    }
}

impl LineClock {
    fn new(dialect: &Dialect) -> LineClock {
        let field = dialect.field_of(Role::Clock);
        let unit_us = if dialect.clock == ClockUnit::Millis { 1000 } else { 1 };
        let set_at_us = dialect.line_us.map_or(ASSUMED_PERIOD_US as u64, u64::from);
        let time = Time { field, period_us: set_at_us, ..Time::default() };
        let delimiter = dialect.delimiter();
        LineClock {
            framer: Framer::new(dialect),
            delimiter,
            field,
            unit_us,
            turn: Turn::of(dialect),
            set_at_us,
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
            (None, _) if into.last() == Some(&self.delimiter) => time.t_us += self.set_at_us,
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
