//! Finds the dialect of bytes that nobody described.
//!
//! First the shape (separator or labels, number of fields, checksum) that explains most lines,
//! then the meaning of each field by its name, else by how its numbers run.
mod column;
mod roles;
mod shape;

use super::baud::unprintable;
use super::packed;
use super::{Dialect, Grammar, MAX_LINE_BYTES};
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
    /// A column has decimal points.
    #[error("column {column} has a decimal point (\"{text}\"); print raw integer counts")]
    DecimalPoint {
        /// Name or number of the column.
        column: String,
        /// The first number with one.
        text: String,
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
    let lines = shape::lines(sample);
    if lines.is_empty() && sample.len() > MAX_LINE_BYTES && !sample.contains(&b'\n') {
        return Err(Unrecognised::NoLineEnd { bytes: sample.len() });
    }
    if lines.len() < 2 {
        return Err(Unrecognised::TooShort { lines: lines.len() });
    }
    let shape = Shape::find(&lines)?;
    let columns: Vec<Column> =
        (0..shape.fields).map(|k| Column::of(shape.rows.iter().map(|row| row[k]))).collect();
    refuse_points(&shape, &columns)?;
    let (fields, by_order) = roles::assign(&shape.names, &columns);
    let clock = roles::clock_unit(&fields, &columns);
    let checksum = shape.checksum;
    let grammar = shape.grammar;
    Ok(Dialect { format: 1, grammar, fields, checksum, clock, seq_bits: None, by_order })
}

/// Raw counts have no decimal point; a few may be damage.
fn refuse_points(shape: &Shape, columns: &[Column]) -> Result<(), Unrecognised> {
    for (k, column) in columns.iter().enumerate() {
        if 20 * column.points > column.count {
            let number = (k + 1).to_string();
            let name = shape.names.get(k).filter(|n| !n.is_empty());
            let column_name = match (name, shape.grammar) {
                (Some(name), Grammar::Labelled) => name.clone(),
                (Some(name), _) => format!("{number} ({name})"),
                (None, _) => number,
            };
            let text = column.first_point.clone();
            return Err(Unrecognised::DecimalPoint { column: column_name, text });
        }
    }
    Ok(())
}

#[cfg(test)]
mod tests;
