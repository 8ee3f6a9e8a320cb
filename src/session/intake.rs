//! The way in: bytes with their host time, recognised and framed into chunks of columns.
use std::sync::Arc;

use crate::wire::packed::DELIMITER;
use crate::wire::{Dialect, Framer, Place, Remark, SecondForm, Sink, Why, recognise};

use super::chunk::{CHUNK_LINES, Chunk, LineKind, RawLine};
use super::identity::{Of, Summed};

/// Bytes that recognition waits for at most.
const SAMPLE_BYTES: usize = 65_536;
/// Lines that are enough for recognition.
const SAMPLE_LINES: usize = 50;
/// Refused lines among which a second form is looked for first.
const SEEK_LINES: u64 = 20;
/// Host time after which recognition tries with what there is, µs.
const SAMPLE_US: u64 = 2_000_000;

/// Recognises (when no dialect is given), frames, and collects what a session appends.
#[derive(Debug)]
pub struct Intake {
    stage: Stage,
    build: Build,
}

#[derive(Debug)]
enum Stage {
    Waiting(Sample),
    Framing(Framer, Arc<Dialect>),
}

/// Bytes kept until the dialect is known.
#[derive(Debug, Default)]
struct Sample {
    bytes: Vec<u8>,
    /// Where each read begins in `bytes`, and its host time.
    reads: Vec<(usize, u64)>,
    place: Place,
    lines: usize,
    tried_at: usize,
}

/// The chunk under construction.
#[derive(Debug, Default)]
struct Build {
    chunk: Chunk,
    host_us: u64,
    timed: bool,
    keep_lines: bool,
    /// A frame has come since the link was opened.
    framed: bool,
    text: Vec<u8>,
    /// A second form of lines, and the last frame.
    second: Option<(SecondForm, Vec<i32>)>,
    /// A second form is still looked for.
    seek: Option<Seek>,
    summed: Option<Summed>,
}

/// Lines that are no frames, among which a second form is looked for.
#[derive(Debug)]
struct Seek {
    first: Option<Arc<Dialect>>,
    /// Whole lines that were refused, and how many ask for the next look.
    lines: u64,
    next: u64,
    /// Those since the last look.
    sample: Vec<u8>,
}

impl Seek {
    /// Notes a refused line, and looks where there are enough: twice as many each time, one line in twenty at
    /// least. What was looked at in vain is forgotten, so a banner does not stay in the way.
    fn note(&mut self, line: u64, bytes: &[u8]) -> Option<SecondForm> {
        self.lines += 1;
        if self.sample.len() < SAMPLE_BYTES {
            self.sample.extend_from_slice(bytes);
            self.sample.push(b'\n');
        }
        if self.lines < self.next || 20 * self.lines < line {
            return None;
        }
        self.next *= 2;
        let sample = std::mem::take(&mut self.sample);
        let other = recognise(&sample).ok()?;
        SecondForm::of(self.first.as_deref()?, &other)
    }
}

impl Intake {
    /// An intake for a live link; without a dialect it recognises one.
    pub fn new(dialect: Option<Dialect>) -> Intake {
        Intake::build(dialect, true)
    }

    /// An intake for a source without host times (a plain log).
    pub fn untimed(dialect: Option<Dialect>) -> Intake {
        Intake::build(dialect, false)
    }

    fn build(dialect: Option<Dialect>, timed: bool) -> Intake {
        let build = Build { timed, summed: Some(Summed::new()), ..Build::default() };
        let mut intake = Intake { stage: Stage::Waiting(Sample::new()), build };
        if let Some(dialect) = dialect {
            intake.adopt(Arc::new(dialect));
        }
        intake
    }

    /// Lines that are no frames are tried by a second form as well.
    pub fn also_read(&mut self, second: SecondForm) {
        self.build.chunk.second_more = second.more().to_vec();
        let cells = self.dialect().map_or(0, |dialect| dialect.fields.len());
        self.build.second = Some((second, vec![0; cells]));
    }

    /// The second form of lines that is read, with what it knows of them by now.
    pub fn second(&self) -> Option<&SecondForm> {
        self.build.second.as_ref().map(|(second, _)| second)
    }

    /// Looks for a second form among the lines that are no frames, and reads it from where it is known on.
    ///
    /// For a link whose end nobody knows: a recording says its second form itself.
    pub fn look_for_second(&mut self) {
        let first = self.dialect().cloned();
        self.build.seek = Some(Seek { first, lines: 0, next: SEEK_LINES, sample: Vec::new() });
    }

    /// Also hands on the last lines as they came ([`Chunk::lines`]), for someone who looks.
    pub fn keep_lines(&mut self, keep: bool) {
        self.build.keep_lines = keep;
    }

    /// The dialect, once it is known.
    pub fn dialect(&self) -> Option<&Arc<Dialect>> {
        match &self.stage {
            Stage::Framing(_, dialect) => Some(dialect),
            Stage::Waiting(_) => None,
        }
    }

    /// Takes the bytes of one read. Memory: bounded, whatever comes.
    pub fn push(&mut self, host_us: u64, bytes: &[u8]) {
        if let Some(summed) = &mut self.build.summed {
            summed.add(bytes);
        }
        self.frame(host_us, bytes);
    }

    fn frame(&mut self, host_us: u64, bytes: &[u8]) {
        self.build.chunk.bytes += bytes.len() as u64;
        match &mut self.stage {
            Stage::Framing(framer, _) => {
                self.build.host_us = host_us;
                framer.push(bytes, &mut self.build);
            }
            Stage::Waiting(_) => self.sample(host_us, bytes),
        }
    }

    /// The link was opened again after a loss: the begun line is ended.
    pub fn reopened(&mut self) {
        if let Stage::Framing(framer, _) = &mut self.stage {
            framer.reopened(&mut self.build);
        }
        self.build.framed = false;
    }

    /// The record is broken here: so many records are left out, and nothing is known of them.
    pub fn broken(&mut self, rows: u64) {
        self.reopened();
        let row = self.build.chunk.rows();
        match self.build.chunk.breaks.last_mut().filter(|(at, _)| *at == row) {
            Some((_, more)) => *more += rows,
            None => self.build.chunk.breaks.push((row, rows)),
        }
    }

    /// The bytes are summed elsewhere: those of a file, before they are framed.
    pub fn sum_nothing(&mut self) {
        self.build.summed = None;
    }

    /// Notes a line that must not be framed; its place is where the stream stands.
    pub fn refuse(&mut self, why: Why, bytes: &[u8]) {
        let place = match &self.stage {
            Stage::Framing(framer, _) => framer.place(),
            Stage::Waiting(sample) => sample.place,
        };
        self.build.refused(place, why, bytes);
    }

    /// Rows that [`Intake::take`] would give now.
    pub fn waiting_rows(&self) -> usize {
        self.build.chunk.rows()
    }

    /// Ends the stream: recognises with what there is, and judges the last line.
    pub fn finish(&mut self) {
        if matches!(self.stage, Stage::Waiting(_)) {
            self.try_recognition();
        }
        match &mut self.stage {
            Stage::Framing(framer, _) => framer.finish(&mut self.build),
            Stage::Waiting(sample) => sample.give_up(usize::MAX, &mut self.build),
        }
    }

    /// What has come since the last call.
    pub fn take(&mut self) -> Chunk {
        let fields = self.build.chunk.columns.len();
        let rows = self.build.chunk.rows();
        let fresh = Chunk {
            columns: (0..fields).map(|_| Vec::with_capacity(rows)).collect(),
            ..Chunk::default()
        };
        let mut chunk = std::mem::replace(&mut self.build.chunk, fresh);
        let surplus = chunk.lines.len().saturating_sub(CHUNK_LINES);
        chunk.lines.drain(..surplus);
        chunk.identity = self.build.summed.as_ref().map(|summed| summed.identity(Of::Link));
        chunk
    }

    fn adopt(&mut self, dialect: Arc<Dialect>) {
        self.build.chunk.columns = vec![Vec::new(); dialect.fields.len()];
        self.build.chunk.dialect = Some(Arc::clone(&dialect));
        self.build.chunk.unrecognised = None;
        if let Some(seek) = &mut self.build.seek {
            seek.first = Some(Arc::clone(&dialect));
        }
        let place = match &self.stage {
            Stage::Waiting(sample) => sample.place,
            Stage::Framing(framer, _) => framer.place(),
        };
        let framer = Framer::starting_at(&dialect, place);
        let before = std::mem::replace(&mut self.stage, Stage::Framing(framer, dialect));
        let (Stage::Waiting(sample), Stage::Framing(framer, _)) = (before, &mut self.stage) else {
            return;
        };
        let ends = sample.reads.iter().skip(1).map(|r| r.0).chain([sample.bytes.len()]);
        for (&(start, host_us), end) in sample.reads.iter().zip(ends) {
            self.build.host_us = host_us;
            framer.push(&sample.bytes[start..end], &mut self.build);
        }
    }

    fn sample(&mut self, host_us: u64, bytes: &[u8]) {
        let mut rest = bytes;
        loop {
            let Stage::Waiting(sample) = &mut self.stage else {
                // Recognised with the bytes before these.
                self.build.chunk.bytes -= rest.len() as u64;
                return self.frame(host_us, rest);
            };
            let part = rest.len().min(SAMPLE_BYTES - sample.bytes.len());
            sample.hold(host_us, &rest[..part]);
            rest = &rest[part..];
            if sample.is_ready(host_us) {
                self.try_recognition();
            }
            if rest.is_empty() {
                return;
            }
        }
    }

    fn try_recognition(&mut self) {
        let Stage::Waiting(sample) = &mut self.stage else { return };
        if sample.bytes.is_empty() {
            return;
        }
        sample.tried_at = sample.lines;
        match recognise(&sample.bytes) {
            Ok(dialect) => self.adopt(Arc::new(dialect)),
            Err(reason) => {
                self.build.chunk.unrecognised = Some(reason);
                if sample.bytes.len() >= SAMPLE_BYTES {
                    sample.give_up(SAMPLE_BYTES / 2, &mut self.build);
                }
            }
        }
    }
}

impl Sample {
    fn new() -> Sample {
        Sample { place: Place { line: 1, byte: 0 }, ..Sample::default() }
    }

    fn hold(&mut self, host_us: u64, bytes: &[u8]) {
        if self.reads.last().is_none_or(|r| r.1 != host_us) {
            self.reads.push((self.bytes.len(), host_us));
        }
        let ended = memchr::memchr2_iter(b'\n', DELIMITER, bytes).count();
        // Lines may end with a carriage return alone.
        self.lines += if ended > 0 { ended } else { memchr::memchr_iter(b'\r', bytes).count() };
        self.bytes.extend_from_slice(bytes);
    }

    /// Enough for a try: much text, enough new lines since the last try, or a long wait.
    fn is_ready(&self, host_us: u64) -> bool {
        let waited = self.reads.first().is_some_and(|r| host_us.saturating_sub(r.1) >= SAMPLE_US);
        let fresh = self.lines - self.tried_at;
        self.bytes.len() >= SAMPLE_BYTES || fresh >= SAMPLE_LINES || waited && fresh > 0
    }

    /// Lets the lines in the first `bytes` go, counted as foreign.
    fn give_up(&mut self, bytes: usize, build: &mut Build) {
        let limit = bytes.min(self.bytes.len());
        let ends = |b: &u8| matches!(*b, b'\n' | DELIMITER);
        let whole = memchr::memrchr2(b'\n', DELIMITER, &self.bytes[..limit]);
        let cut = if bytes > self.bytes.len() { limit } else { whole.map_or(limit, |at| at + 1) };
        for line in self.bytes[..cut].split_inclusive(ends) {
            let ended = line.last().is_some_and(ends);
            let text = &line[..line.len() - usize::from(ended)];
            let shown = &text[..text.len().min(crate::wire::MAX_LINE_BYTES)];
            let why = if text.len() > shown.len() { Why::TooLong } else { Why::Foreign };
            if !text.is_empty() {
                build.refused(self.place, why, shown);
            }
            self.place.line += u64::from(ended);
            self.place.byte += line.len() as u64;
            self.lines = self.lines.saturating_sub(usize::from(ended));
        }
        self.tried_at = self.lines;
        self.bytes.drain(..cut);
        let kept = self.reads.partition_point(|r| r.0 <= cut).saturating_sub(1);
        self.reads.drain(..kept);
        self.reads.iter_mut().for_each(|r| r.0 = r.0.saturating_sub(cut));
    }
}

impl Build {
    /// Takes a line of the second form for a frame.
    fn is_second(&mut self, place: Place, why: Why, bytes: &[u8]) -> bool {
        let whole = !matches!(why, Why::CutAtEnd | Why::Suspect | Why::TooLong);
        if let Some(seek) = self.seek.as_mut().filter(|_| whole)
            && let Some(found) = seek.note(place.line, bytes)
        {
            self.seek = None;
            self.chunk.second_more = found.more().to_vec();
            self.second = Some((found, vec![0; self.chunk.columns.len()]));
        }
        let Some((mut second, mut cells)) = self.second.take_if(|_| whole) else { return false };
        let read = second.read(bytes, &mut cells);
        if read {
            self.chunk.second += 1;
            self.text(place, bytes);
            self.frame(place, &cells);
        }
        self.second = Some((second, cells));
        read
    }

    fn line(&mut self, place: Place, kind: LineKind, bytes: &[u8]) {
        if !self.keep_lines {
            return;
        }
        let lines = &mut self.chunk.lines;
        if lines.len() >= 2 * CHUNK_LINES {
            lines.drain(..CHUNK_LINES);
        }
        lines.push(RawLine { place, host_us: self.host_us, kind, bytes: bytes.to_vec() });
    }
}

impl Sink for Build {
    #[inline]
    fn frame(&mut self, place: Place, cells: &[i32]) {
        if self.keep_lines {
            let row = self.chunk.rows();
            let text = std::mem::take(&mut self.text);
            self.line(place, LineKind::Row(row), &text);
            self.text = text;
        }
        for (column, cell) in self.chunk.columns.iter_mut().zip(cells) {
            column.push(*cell);
        }
        self.framed = true;
        if self.timed {
            self.chunk.host_us.push(self.host_us);
        }
        if let Some((_, last)) = &mut self.second {
            last.copy_from_slice(cells);
        }
    }

    fn refused(&mut self, place: Place, why: Why, bytes: &[u8]) {
        if self.is_second(place, why, bytes) {
            return;
        }
        self.chunk.refusals.add(place, why, bytes);
        if why == Why::Foreign && !self.framed {
            self.chunk.refusals.note_before_first();
        }
        self.line(place, LineKind::Refused(why), bytes);
    }

    #[inline]
    fn text(&mut self, _place: Place, bytes: &[u8]) {
        if self.keep_lines {
            self.text.clear();
            self.text.extend_from_slice(bytes);
        }
    }

    fn remark(&mut self, place: Place, what: Remark, bytes: &[u8]) {
        self.chunk.refusals.remark(what);
        let kind = match what {
            Remark::Heading => LineKind::Heading,
            Remark::Blank => LineKind::Blank,
            Remark::Edge(edge) => {
                self.chunk.edges.push((self.chunk.rows(), edge));
                LineKind::Edge
            }
        };
        self.line(place, kind, bytes);
    }
}
