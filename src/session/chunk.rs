//! A piece of the stream on its way from the recorder to a session: columns, refusals, last lines.
use std::sync::Arc;

use crate::wire::{Dialect, EdgeLine, Place, Unrecognised, Why};

use super::{Identity, Refusals};

/// Lines of text that one chunk carries at most; the oldest are left out first.
pub const CHUNK_LINES: usize = 200;

/// What the framer made of one line.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum LineKind {
    /// Row of this chunk.
    Row(usize),
    /// No frame, and why.
    Refused(Why),
    /// The heading that names the columns.
    Heading,
    /// Nothing but blanks.
    Blank,
    /// A line of the firmware's edge log.
    Edge,
}

/// One line as it came.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct RawLine {
    /// Where it stood.
    pub place: Place,
    /// Host time of the read that completed it, µs.
    pub host_us: u64,
    /// What became of it.
    pub kind: LineKind,
    /// Its bytes without the delimiter.
    pub bytes: Vec<u8>,
}

/// What came since the last chunk.
#[derive(Clone, Debug, Default)]
pub struct Chunk {
    /// The dialect, in the first chunk framed by it.
    pub dialect: Option<Arc<Dialect>>,
    /// Recognition failed on what has come so far; it goes on trying.
    pub unrecognised: Option<Unrecognised>,
    /// One column a field; all have the same number of rows.
    pub columns: Vec<Vec<i32>>,
    /// Host time of each row, µs; empty when the source has none (a plain log).
    pub host_us: Vec<u64>,
    /// Changes of the buttons by the firmware's own log, each behind so many rows (of this chunk).
    pub edges: Vec<(usize, EdgeLine)>,
    /// Lines that gave no frame.
    pub refusals: Refusals,
    /// Frames that came as lines of a second form.
    pub second: u64,
    /// What only lines of that form hold, and is not read.
    pub second_more: Vec<String>,
    /// The last lines as they came, at most [`CHUNK_LINES`]; empty when nobody looks.
    pub lines: Vec<RawLine>,
    /// Rows (of this chunk) before which the record itself is broken, and how many records are left
    /// out there.
    pub breaks: Vec<(usize, u64)>,
    /// What has come over the link so far; `None` where somebody else sums.
    pub identity: Option<Identity>,
    /// Bytes taken in.
    pub bytes: u64,
}

impl Chunk {
    /// Number of rows.
    pub fn rows(&self) -> usize {
        self.columns.first().map_or(0, Vec::len)
    }

    /// Cells of one row, in the order of the fields.
    pub fn row(&self, row: usize) -> impl Iterator<Item = i32> {
        self.columns.iter().filter_map(move |c| c.get(row).copied())
    }

    /// True when it carries nothing at all.
    pub fn is_empty(&self) -> bool {
        self.bytes == 0 && self.rows() == 0 && self.dialect.is_none() && self.refusals.total() == 0
    }
}
