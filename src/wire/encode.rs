//! Cells to a line of a dialect: the inverse of the framer.
use std::io::Write;

use super::checksum::{crc16, xor};
use super::{Base, ChecksumForm, Dialect, Field, Grammar, Role};
use super::{listed, packed, pattern, states};

/// Writes one frame with its delimiter behind what `out` holds.
///
/// `cells` holds one value a field, as the framer gives them; missing ones are written as 0.
/// Masks in hexadecimal and strings of 0 and 1 have a fixed width (`0003`).
/// A checksum of a form not known here ([`ChecksumForm::Unchecked8`]) is written as XOR or CRC-16.
pub fn encode(dialect: &Dialect, cells: &[i32], out: &mut Vec<u8>) {
    if dialect.grammar == Grammar::Packed {
        return packed::data(dialect, cells, out);
    }
    let start = out.len();
    if dialect.grammar == Grammar::Pattern {
        pattern::write(&dialect.pattern, out, |i, out| {
            if let Some(field) = dialect.fields.get(i) {
                value(dialect, field, cells.get(i).copied().unwrap_or(0), out);
            }
        });
    }
    let apart = dialect.grammar != Grammar::Pattern;
    for (i, field) in dialect.fields.iter().enumerate().filter(|_| apart) {
        if i > 0 {
            out.push(separator(dialect.grammar));
        }
        if dialect.grammar == Grammar::Labelled {
            out.extend_from_slice(field.name.as_bytes());
            out.push(b':');
        }
        value(dialect, field, cells.get(i).copied().unwrap_or(0), out);
    }
    let text = &out[start..];
    let sum = match dialect.checksum {
        ChecksumForm::None => None,
        ChecksumForm::Xor | ChecksumForm::Unchecked8 => Some(format!("*{:02X}", xor(text))),
        ChecksumForm::Crc16 | ChecksumForm::Unchecked16 => Some(format!("*{:04X}", crc16(text))),
    };
    if let Some(sum) = sum {
        out.extend_from_slice(sum.as_bytes());
    }
    out.push(dialect.delimiter());
}

/// Writes the heading that names the columns; nothing where the lines themselves do.
pub fn encode_heading(dialect: &Dialect, out: &mut Vec<u8>) {
    if matches!(dialect.grammar, Grammar::Labelled | Grammar::Pattern) {
        return;
    }
    if dialect.grammar == Grammar::Packed {
        return packed::text_frame(packed::HEADING, packed::heading_text(dialect).as_bytes(), out);
    }
    for (i, field) in dialect.fields.iter().enumerate() {
        if i > 0 {
            out.push(separator(dialect.grammar));
        }
        out.extend_from_slice(field.name.as_bytes());
    }
    out.push(dialect.delimiter());
}

/// Writes a line that is no frame (a banner, an answer) as the dialect's board would.
pub fn encode_text(dialect: &Dialect, text: &str, out: &mut Vec<u8>) {
    if dialect.grammar == Grammar::Packed {
        return packed::text_frame(packed::TEXT, text.as_bytes(), out);
    }
    out.extend_from_slice(text.as_bytes());
    out.push(dialect.delimiter());
}

fn separator(grammar: Grammar) -> u8 {
    match grammar {
        Grammar::Columns(separator) => separator.mark().unwrap_or(b' '),
        Grammar::Labelled | Grammar::Pattern | Grammar::Packed => b' ',
    }
}

/// A cell as its field's digits, or as a list of the dialect's names.
fn value(dialect: &Dialect, field: &Field, cell: i32, out: &mut Vec<u8>) {
    match field.base {
        Base::Names => listed::write(&dialect.names, cell as u32, out),
        _ => match dialect.counts.get(&field.name) {
            Some(counts) => number(field, counts.back(i64::from(cell)) as i32, out),
            None => number(field, cell, out),
        },
    }
}

fn number(field: &Field, cell: i32, out: &mut Vec<u8>) {
    let word = cell as u32;
    let signed = matches!(field.role, Role::Axis(_) | Role::OutAxis(_));
    // Writing to a vector cannot fail.
    let _ = match field.base {
        Base::Decimal if signed => write!(out, "{cell}"),
        Base::Decimal => write!(out, "{word}"),
        Base::Hex if signed => write!(out, "{word:X}"),
        Base::Hex => write!(out, "{word:04X}"),
        Base::Unsettled => write!(out, "{word:X}"),
        Base::Binary => write!(out, "0b{word:016b}"),
        Base::Fixed(places) => point(field, cell, b'.', places, out),
        Base::FixedComma(places) => point(field, cell, b',', places, out),
        Base::DayTime => {
            let (seconds, micros) = (word / 1_000_000, word % 1_000_000);
            let (hours, minutes) = (seconds / 3600, seconds / 60 % 60);
            write!(out, "{hours:02}:{minutes:02}:{:02}.{micros:06}", seconds % 60)
        }
        Base::State => write!(out, "{}", states::WRITTEN[usize::from(cell != 0)]),
        // Written as a list, or refused by `Dialect::check`.
        Base::Names | Base::U8 | Base::U16 | Base::U32 | Base::I16 => Ok(()),
        Base::Bits | Base::Marks => {
            let shown = if word < 1 << 16 { 16 } else { 32 };
            let signs = if field.base == Base::Bits { b"01" } else { b".#" };
            out.extend((0..shown).map(|bit| signs[(word >> bit & 1) as usize]));
            Ok(())
        }
    };
}

/// A whole number of the last of `places` as a decimal with a point.
fn point(field: &Field, cell: i32, mark: u8, places: u8, out: &mut Vec<u8>) -> std::io::Result<()> {
    let value = match field.role {
        Role::Axis(_) | Role::OutAxis(_) => i64::from(cell),
        _ => i64::from(cell as u32),
    };
    let one = 10_u64.pow(u32::from(places.min(9)));
    let size = value.unsigned_abs();
    let sign = if value < 0 { "-" } else { "" };
    if places == 0 {
        return write!(out, "{sign}{size}");
    }
    write!(out, "{sign}{}{}", size / one, char::from(mark))?;
    write!(out, "{:0width$}", size % one, width = usize::from(places))
}
