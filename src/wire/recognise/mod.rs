//! Finds the dialect of bytes that nobody described.
//!
//! First the shape (separator, labels or the text between, number of fields, checksum) that explains most lines,
//! then the meaning of each field by its name, else by how its numbers run.
mod between;
mod column;
mod lists;
mod order;
mod pairs;
mod roles;
mod several;
mod shape;
mod tokens;

use super::account::{Account, Nearest};
use super::baud::unprintable;
use super::line::MAX_FIELDS;
use super::packed;
use super::{Base, Dialect, Field, Framer, MAX_LINE_BYTES, Place, Role, Sink, Why};
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
        "no dialect explains half of the lines: the best, {best}, explains {explained} of {lines}; print one line of integers a frame, or give a dialect file (trimbench dialect alone prints what one can say)"
    )]
    NoDialect {
        /// The best candidate in words.
        best: String,
        /// Lines that it explains.
        explained: usize,
        /// Lines looked at.
        lines: usize,
        /// The first lines that it does not explain, and why.
        account: Box<Account>,
    },
    /// A frame spread over several lines.
    #[error(
        "a frame is spread over {lines} lines that take turns; print all of a frame in one line"
    )]
    SeveralLines {
        /// Lines that follow each other.
        lines: usize,
    },
    /// More fields than a dialect may have.
    #[error(
        "lines of {fields} numbers; at most {MAX_FIELDS} are read: print fewer columns, or several short lines"
    )]
    TooManyFields {
        /// Numbers in a usual line.
        fields: usize,
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

impl Unrecognised {
    /// The lines that are the reason, where lines are.
    pub fn account(&self) -> Option<&Account> {
        match self {
            Unrecognised::NoDialect { account, .. } => Some(account),
            _ => None,
        }
    }
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
    // Text beyond ASCII is text.
    let odd = unprintable(sample) - beyond_ascii(sample);
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
    if let Some(lines) = several::lines_a_frame(&lines) {
        return Err(Unrecognised::SeveralLines { lines });
    }
    let judged = lines.len();
    match Shape::find(&lines) {
        Ok(shape) => reads_half(dialect_of(shape, cr_ends), sample, judged),
        Err((shape, judged)) => {
            let fields = usual_fields(&lines);
            if fields > MAX_FIELDS {
                return Err(Unrecognised::TooManyFields { fields });
            }
            let explained = shape.rows.len();
            let nearest = (explained > 0).then(|| dialect_of(shape, cr_ends));
            Err(refusal(nearest, explained, judged, sample, &lines))
        }
    }
}

/// Bytes of whole characters beyond ASCII.
fn beyond_ascii(sample: &[u8]) -> usize {
    sample
        .utf8_chunks()
        .flat_map(|chunk| chunk.valid().chars())
        .map(char::len_utf8)
        .filter(|n| *n > 1)
        .sum()
}

/// The meaning of a shape's fields.
fn dialect_of(shape: Shape<'_>, cr_ends: bool) -> Dialect {
    let column = |k: usize| shape.rows.iter().map(move |row| row[k]);
    let mut columns: Vec<Column> = (0..shape.fields).map(|k| Column::of(column(k))).collect();
    // A word of A to F that stands in every line is no number.
    let letters = columns.iter().filter(|c| c.is_hex() && !c.is_steady()).count();
    if letters >= 3 && 2 * letters >= columns.len() {
        let plain = columns
            .iter_mut()
            .enumerate()
            .filter(|(_, c)| c.may_be_hex() && !c.is_surely_decimal());
        plain.for_each(|(k, c)| c.as_hex(column(k)));
    }
    let (mut fields, by_order) = roles::assign(&shape.names, &columns);
    let (clock, clock_bits) = roles::settle_clock(&shape.names, &mut fields, &columns);
    let names = match shape.list {
        Some(list) => {
            let taken = fields.iter().any(|f| f.role == Role::Buttons);
            let role = if taken { Role::Ignore } else { Role::Buttons };
            let name = lists::label(&list.around[0]);
            fields.insert(list.gap.min(fields.len()), Field { name, role, base: Base::Names });
            list.names
        }
        None => Vec::new(),
    };
    Dialect {
        format: 1,
        grammar: shape.grammar,
        fields,
        checksum: shape.checksum,
        clock,
        clock_bits,
        pattern: shape.pattern,
        names,
        counts: Default::default(),
        line_us: None,
        cr_ends,
        seq_bits: None,
        by_order,
    }
}

/// Numbers in the middle one of the lines.
fn usual_fields(lines: &[&[u8]]) -> usize {
    let numbers = |line: &&[u8]| {
        let parts = line.split(|b| !b.is_ascii_alphanumeric() && *b != b'.');
        parts.filter(|part| part.first().is_some_and(u8::is_ascii_digit)).count()
    };
    let mut counts: Vec<usize> = lines.iter().map(numbers).collect();
    let middle = counts.len() / 2;
    if counts.is_empty() { 0 } else { *counts.select_nth_unstable(middle).1 }
}

/// Why nothing was recognised, with the account of the lines by the form that comes nearest.
fn refusal(
    nearest: Option<Dialect>,
    explained: usize,
    judged: usize,
    sample: &[u8],
    lines: &[&[u8]],
) -> Unrecognised {
    let odd = between::unreadable(lines);
    let best = nearest.as_ref().map_or("lines of integers".to_owned(), Dialect::words);
    let usable = nearest.filter(|dialect| dialect.check().is_ok());
    let account = Box::new(Account::of_sample(sample, usable.as_ref(), odd));
    Unrecognised::NoDialect { best, explained, lines: judged, account }
}

/// The form that most lines of a sample nearly have, and how many it reads.
pub(super) fn nearest(sample: &[u8]) -> Option<Nearest> {
    match recognise(sample) {
        Ok(dialect) => Account::of_sample(sample, Some(&dialect), None).nearest,
        Err(Unrecognised::NoDialect { account, .. }) => account.nearest,
        Err(_) => None,
    }
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
    Err(refusal(Some(dialect), frames.0, lines, sample, &[]))
}

#[cfg(test)]
mod tests;
