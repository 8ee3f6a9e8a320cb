//! The incremental framer: bytes cut anywhere in, frames and reasons out.
use memchr::{memchr, memchr2};

use super::classify::{Verdict, classify};
use super::edge;
use super::line::{LineReader, Parsed, trimmed};
use super::packed::{PackedReader, Piece};
use super::{Dialect, Grammar, Place, Remark, Sink, Why};

/// Bytes that a line may have before its delimiter; a longer one is refused and skipped.
pub const MAX_LINE_BYTES: usize = 4096;

/// Splits a stream into lines and lines into frames.
///
/// It never fails and never holds more than one line: what is no frame is handed on with its
/// place and the reason. Any cut of the same bytes gives the same calls of the sink.
#[derive(Clone, Debug)]
pub struct Framer {
    reader: LineReader,
    /// Reads the pieces instead, where frames are packed.
    packed: Option<PackedReader>,
    delimiter: u8,
    cells: Vec<i32>,
    /// The begun line, at most [`MAX_LINE_BYTES`].
    carry: Vec<u8>,
    /// Bytes of the begun line, those skipped included.
    begun: u64,
    place: Place,
    /// The begun line was already refused as too long.
    skipping: bool,
    /// The next line may be the rest of one that had begun before the link was opened.
    opening: bool,
    /// The stream ends with this line.
    ending: bool,
    last_good: usize,
}

impl Framer {
    /// A framer at the start of a stream that may have been opened mid-line.
    pub fn new(dialect: &Dialect) -> Framer {
        Framer::starting_at(dialect, Place { line: 1, byte: 0 })
    }

    /// A framer whose first byte stands at `place` of a longer stream.
    pub fn starting_at(dialect: &Dialect, place: Place) -> Framer {
        let reader = LineReader::new(dialect);
        let cells = vec![0; reader.fields()];
        let carry = Vec::with_capacity(256);
        Framer {
            reader,
            packed: (dialect.grammar == Grammar::Packed).then(|| PackedReader::new(dialect)),
            delimiter: dialect.delimiter(),
            cells,
            carry,
            begun: 0,
            place,
            skipping: false,
            opening: true,
            ending: false,
            last_good: 0,
        }
    }

    /// Number of cells in each frame.
    pub fn fields(&self) -> usize {
        self.cells.len()
    }

    /// Where the line begins that is being read.
    pub fn place(&self) -> Place {
        self.place
    }

    /// The link was lost and opened again: ends the begun line, and expects the rest of one.
    pub fn reopened(&mut self, sink: &mut impl Sink) {
        self.end(sink);
        self.opening = true;
    }

    /// Takes the next bytes of the stream.
    ///
    /// Cost: linear in `bytes`; allocates nothing once the longest line has been seen.
    pub fn push(&mut self, bytes: &[u8], sink: &mut impl Sink) {
        if self.packed.is_some() {
            return self.push_packed(bytes, sink);
        }
        let mut rest = bytes;
        while let Some(end) = memchr(self.delimiter, rest) {
            let head = &rest[..end];
            if self.begun == 0 {
                self.line(head, sink);
                self.next_line(head.len() as u64 + 1);
            } else {
                self.hold(head, sink);
                self.end_line(sink);
                self.next_line(self.begun + 1);
            }
            rest = &rest[end + 1..];
        }
        if !rest.is_empty() {
            self.hold(rest, sink);
        }
    }

    /// Takes the next bytes of packed frames: lines of plain text may stand between them, and end at a LF.
    fn push_packed(&mut self, bytes: &[u8], sink: &mut impl Sink) {
        let (mut rest, mut looked) = (bytes, 0);
        while let Some(end) = memchr2(self.delimiter, b'\n', &rest[looked..]).map(|at| at + looked)
        {
            let head = &rest[..end];
            if rest[end] == b'\n' && !is_spoken(&self.carry, head) {
                // A byte of a frame like any other.
                looked = end + 1;
                continue;
            }
            self.hold(head, sink);
            if rest[end] == b'\n' && !self.skipping {
                // Lines too short to be known as text stand before the one that is.
                let lines = std::mem::take(&mut self.carry);
                for line in lines.split(|b| *b == b'\n') {
                    self.spoken(line, sink);
                    self.next_line(line.len() as u64 + 1);
                }
                self.carry = lines;
                self.carry.clear();
            } else if self.begun == 0 {
                self.line(&[], sink);
                self.next_line(1);
            } else {
                self.end_line(sink);
                self.next_line(self.begun + 1);
            }
            (rest, looked) = (&rest[end + 1..], 0);
        }
        if !rest.is_empty() {
            self.hold(rest, sink);
        }
    }

    /// A line of plain text between packed frames.
    fn spoken(&mut self, line: &[u8], sink: &mut impl Sink) {
        match edge::read(trimmed(line)) {
            Some(Ok(edge)) => sink.remark(self.place, Remark::Edge(edge), line),
            Some(Err(why)) => sink.refused(self.place, why, line),
            None => sink.refused(self.place, Why::Foreign, line),
        }
        self.opening = false;
    }

    /// Ends the stream: a last line without delimiter is judged too.
    ///
    /// Without a checksum nothing shows that such a line is whole, so one shorter than the good
    /// line before it is refused as cut by the end.
    pub fn finish(&mut self, sink: &mut impl Sink) {
        self.ending = true;
        self.end(sink);
        self.ending = false;
    }

    /// Ends the begun line.
    fn end(&mut self, sink: &mut impl Sink) {
        if self.begun == 0 {
            return;
        }
        let carry = std::mem::take(&mut self.carry);
        if !self.skipping && self.packed.is_some() {
            self.piece(&carry, sink);
        } else if !self.skipping {
            let text = trimmed(&carry);
            let unproven = super::checksum::digits(self.reader.checksum()) == 0;
            let short = unproven && text.len() < self.last_good;
            if short && self.reader.read(text, &mut self.cells) == Parsed::Frame {
                self.refuse(Why::Torn, &carry, sink);
            } else {
                self.line(&carry, sink);
            }
        }
        self.carry = carry;
        self.carry.clear();
        self.skipping = false;
        self.next_line(self.begun);
    }

    fn next_line(&mut self, bytes: u64) {
        self.place.line += 1;
        self.place.byte += bytes;
        self.begun = 0;
    }

    /// Keeps a part of the begun line.
    fn hold(&mut self, part: &[u8], sink: &mut impl Sink) {
        self.begun += part.len() as u64;
        if self.skipping {
            return;
        }
        let room = MAX_LINE_BYTES - self.carry.len();
        self.carry.extend_from_slice(&part[..part.len().min(room)]);
        if part.len() > room {
            sink.refused(self.place, Why::TooLong, &self.carry);
            self.carry.clear();
            self.skipping = true;
        }
    }

    fn end_line(&mut self, sink: &mut impl Sink) {
        if !self.skipping {
            let carry = std::mem::take(&mut self.carry);
            self.line(&carry, sink);
            self.carry = carry;
        }
        self.carry.clear();
        self.skipping = false;
        self.opening = false;
    }

    /// One whole line without its delimiter.
    #[inline]
    fn line(&mut self, line: &[u8], sink: &mut impl Sink) {
        if line.len() > MAX_LINE_BYTES {
            sink.refused(self.place, Why::TooLong, &line[..MAX_LINE_BYTES]);
            self.opening = false;
            return;
        }
        if self.packed.is_some() {
            return self.piece(line, sink);
        }
        let text = trimmed(line);
        match self.reader.read(text, &mut self.cells) {
            Parsed::Frame => {
                self.last_good = text.len();
                sink.text(self.place, line);
                sink.frame(self.place, &self.cells);
            }
            Parsed::WrongSum => self.refuse(Why::Checksum, line, sink),
            Parsed::Other => self.other(text, line, sink),
        }
        self.opening = false;
    }

    /// A line that is no frame: of the edge log, a heading, or refused.
    #[cold]
    fn other(&self, text: &[u8], line: &[u8], sink: &mut impl Sink) {
        match edge::read(text) {
            Some(Ok(edge)) => return sink.remark(self.place, Remark::Edge(edge), line),
            Some(Err(why)) => return self.refuse(why, line, sink),
            None => {}
        }
        match classify(&self.reader, text) {
            Verdict::Remark(remark) => sink.remark(self.place, remark, line),
            Verdict::Refused(why) => self.refuse(why, line, sink),
        }
    }

    /// One whole packed frame without its delimiter.
    fn piece(&mut self, piece: &[u8], sink: &mut impl Sink) {
        let Some(packed) = &mut self.packed else { return };
        match packed.read(piece, &mut self.cells) {
            Piece::Frame => {
                sink.text(self.place, piece);
                sink.frame(self.place, &self.cells);
            }
            Piece::Heading => sink.remark(self.place, Remark::Heading, piece),
            Piece::Blank => sink.remark(self.place, Remark::Blank, piece),
            // Its text, so that a person can read it.
            Piece::Text(text) => match edge::read(text) {
                Some(Ok(edge)) => sink.remark(self.place, Remark::Edge(edge), text),
                Some(Err(why)) => sink.refused(self.place, why, text),
                None => sink.refused(self.place, Why::Foreign, text),
            },
            Piece::Refused(why) => self.refuse(why, piece, sink),
        }
        self.opening = false;
    }

    #[cold]
    fn refuse(&self, why: Why, line: &[u8], sink: &mut impl Sink) {
        let cut = matches!(why, Why::Torn | Why::BadField | Why::Checksum);
        let why = match cut {
            true if self.opening => Why::OpenedMidLine,
            true if self.ending => Why::CutAtEnd,
            _ => why,
        };
        sink.refused(self.place, why, line);
    }
}

/// Least length of plain text that no frame begins with.
const SPOKEN: usize = 4;

/// True for plain text up to a LF, shorter lines before it among it: the second byte of a packed frame is its
/// kind, which no text has.
fn is_spoken(begun: &[u8], head: &[u8]) -> bool {
    let plain = |b: &u8| matches!(b, b'\t' | b'\r' | b'\n' | 0x20..=0x7E);
    begun.len() + head.len() >= SPOKEN && begun.iter().chain(head).all(plain)
}
