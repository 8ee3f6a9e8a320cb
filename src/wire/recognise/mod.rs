//! Finds the dialect of bytes that nobody described.
//!
//! First the shape (separator, labels or the text between, number of fields, checksum) that explains most lines,
//! then the meaning of each field by its name, else by how its numbers run.
mod between;
mod column;
mod order;
mod roles;
mod shape;
mod tokens;

use super::baud::unprintable;
use super::packed;
use super::{Dialect, Framer, MAX_LINE_BYTES, Place, Sink, Why};
use column::Column;
use shape::Shape;

/// Why no dialect was found.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum Unrecognised {
    /// Not even two whole lines.
    #[error("{lines} whole lines are too few to recognise; let the board print at least 2")]
    TooShort {
        /// Whole lines in the sample.
        lines: usize,
    },
    /// One endless line.
    #[error("no line end in {bytes} bytes; a board's log has one frame a line")]
    NoLineEnd {
        /// Bytes looked at.
        bytes: usize,
    },
    /// Mostly unprintable bytes.
    #[error(
        "{percent} % of the bytes are no printable text; this is a binary file, or a port read at the wrong baud rate"
    )]
    Binary {
        /// Share of unprintable bytes, per cent.
        percent: u32,
    },
    /// No dialect explains half of the lines.
    #[error(
        "no dialect explains half of the lines: the best, {best}, explains {explained} of {lines}; print one line of integers a frame, or give a dialect file"
    )]
    NoDialect {
        /// The best candidate in words.
        best: String,
        /// Lines that it explains.
        explained: usize,
        /// Lines looked at.
        lines: usize,
    },
    /// Packed frames, but none that names the fields.
    #[error(
        "{frames} packed frames with a right checksum and none that names the fields; let the board send its heading (command h), or give a dialect file"
    )]
    NoHeading {
        /// Frames that prove themselves.
        frames: usize,
    },
}

/// Finds the dialect of a sample of the stream; everything in the sample is judged.
///
/// A last line without delimiter is left out, and lines of a sample may be missing in between:
/// nothing but the running of counter and clock relies on their order.
/// Cost: a few passes over the sample.
///
/// # Errors
/// See [`Unrecognised`].
pub fn recognise(sample: &[u8]) -> Result<Dialect, Unrecognised> {
    if let Some(packed) = packed::recognise(sample) {
        return packed;
    }
    let odd = unprintable(sample);
    if 10 * odd > 3 * sample.len() {
        let percent = (100 * odd / sample.len()) as u32;
        return Err(Unrecognised::Binary { percent });
    }
    // A mark of UTF-8 is no text.
    let sample = sample.strip_prefix(b"\xEF\xBB\xBF").unwrap_or(sample);
    let returns = sample.iter().filter(|b| **b == b'\r').count();
    let feeds = sample.iter().filter(|b| **b == b'\n').count();
    let cr_ends = returns > 4 && returns > 8 * feeds;
    let lines = shape::lines(sample, if cr_ends { b'\r' } else { b'\n' });
    if lines.is_empty() && sample.len() > MAX_LINE_BYTES && feeds == 0 {
        return Err(Unrecognised::NoLineEnd { bytes: sample.len() });
    }
    if lines.len() < 2 {
        return Err(Unrecognised::TooShort { lines: lines.len() });
    }
    let shape = Shape::find(&lines)?;
    let column = |k: usize| shape.rows.iter().map(move |row| row[k]);
    let mut columns: Vec<Column> = (0..shape.fields).map(|k| Column::of(column(k))).collect();
    // A word of A to F that stands in every line is no number.
    let letters = columns.iter().filter(|c| c.is_hex() && !c.is_steady()).count();
    if letters >= 3 && 2 * letters >= columns.len() {
        let plain = columns.iter_mut().enumerate().filter(|(_, c)| c.may_be_hex());
        plain.for_each(|(k, c)| c.as_hex(column(k)));
    }
    let (mut fields, by_order) = roles::assign(&shape.names, &columns);
    let (clock, clock_bits) = roles::settle_clock(&shape.names, &mut fields, &columns);
    let dialect = Dialect {
        format: 1,
        grammar: shape.grammar,
        fields,
        checksum: shape.checksum,
        clock,
        clock_bits,
        pattern: shape.pattern,
        cr_ends,
        seq_bits: None,
        by_order,
    };
    reads_half(dialect, sample, lines.len())
}

/// Counts frames.
struct Frames(usize);

impl Sink for Frames {
    fn frame(&mut self, _: Place, _: &[i32]) {
        self.0 += 1;
    }

    fn refused(&mut self, _: Place, _: Why, _: &[u8]) {}
}

/// The dialect when it reads half of the lines that it was made from: one that does not is none.
fn reads_half(dialect: Dialect, sample: &[u8], lines: usize) -> Result<Dialect, Unrecognised> {
    let mut frames = Frames(0);
    if dialect.check().is_ok() {
        let mut framer = Framer::new(&dialect);
        framer.push(sample, &mut frames);
    }
    if 2 * frames.0 >= lines {
        return Ok(dialect);
    }
    let best = format!("lines of {} fields", dialect.fields.len());
    Err(Unrecognised::NoDialect { best, explained: frames.0, lines })
}

#[cfg(test)]
mod tests;
