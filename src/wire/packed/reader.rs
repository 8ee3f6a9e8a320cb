//! Packed frames to cells, and what a piece between two delimiters is when it gives none.
use crate::wire::baud::unprintable;
use crate::wire::checksum::crc16;
use crate::wire::recognise::Unrecognised;
use crate::wire::{Base, Dialect, MAX_LINE_BYTES, Why};

use super::writer::width;
use super::{DATA, DELIMITER, HEADING, TEXT, dialect_of, heading_text};

/// What a piece between two delimiters is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(in crate::wire) enum Piece<'a> {
    /// All cells are filled.
    Frame,
    /// The heading that names these fields.
    Heading,
    /// Nothing at all: a delimiter that clears the line.
    Blank,
    /// A line of text, proven.
    Text(&'a [u8]),
    /// No frame, and why.
    Refused(Why),
}

/// A packed dialect made ready for reading.
#[derive(Clone, Debug)]
pub(in crate::wire) struct PackedReader {
    bases: Vec<Base>,
    /// Bytes of all fields together.
    width: usize,
    heading: Vec<u8>,
    /// The payload at hand.
    payload: Vec<u8>,
}

impl PackedReader {
    /// Ready for frames of `dialect`.
    pub(in crate::wire) fn new(dialect: &Dialect) -> PackedReader {
        let bases: Vec<Base> = dialect.fields.iter().map(|f| f.base).collect();
        PackedReader {
            width: bases.iter().map(|b| width(*b)).sum(),
            bases,
            heading: heading_text(dialect).into_bytes(),
            payload: vec![0; MAX_LINE_BYTES],
        }
    }

    /// Reads one piece without its delimiter, at most [`MAX_LINE_BYTES`] long.
    ///
    /// Cost: two passes over the piece; allocates nothing.
    pub(in crate::wire) fn read(&mut self, piece: &[u8], cells: &mut [i32]) -> Piece<'_> {
        if piece.is_empty() {
            return Piece::Blank;
        }
        let PackedReader { bases, width, heading, payload } = self;
        match proven(piece, payload) {
            Err(why) => Piece::Refused(why),
            Ok([DATA, body @ ..]) => match body.len().cmp(width) {
                std::cmp::Ordering::Less => Piece::Refused(Why::Torn),
                std::cmp::Ordering::Greater => Piece::Refused(Why::FieldCount),
                std::cmp::Ordering::Equal => {
                    fill(bases, body, cells);
                    Piece::Frame
                }
            },
            Ok([HEADING, text @ ..]) if text == heading.as_slice() => Piece::Heading,
            Ok([TEXT, text @ ..]) => Piece::Text(text),
            // A heading of other fields, or a kind of a later version.
            Ok(_) => Piece::Refused(Why::Foreign),
        }
    }
}

fn fill(bases: &[Base], mut body: &[u8], cells: &mut [i32]) {
    for (base, cell) in bases.iter().zip(cells) {
        let (value, rest) = match (base, body) {
            (Base::U8, [a, rest @ ..]) => (i32::from(*a), rest),
            (Base::U16, [a, b, rest @ ..]) => (i32::from(u16::from_le_bytes([*a, *b])), rest),
            (Base::I16, [a, b, rest @ ..]) => (i32::from(i16::from_le_bytes([*a, *b])), rest),
            (Base::U32, [a, b, c, d, rest @ ..]) => (i32::from_le_bytes([*a, *b, *c, *d]), rest),
            (_, rest) => (0, rest),
        };
        *cell = value;
        body = rest;
    }
}

/// Kind and body of a piece whose checksum agrees.
fn proven<'a>(piece: &[u8], payload: &'a mut [u8]) -> Result<&'a [u8], Why> {
    let text = || piece.len() > 3 && unprintable(piece) == 0;
    let Ok(report) = cobs::decode(piece, payload) else {
        // A boot loader may print plain text on the same line.
        return Err(if text() { Why::Foreign } else { Why::Torn });
    };
    let decoded = &payload[..report.frame_size()];
    match decoded {
        [body @ .., low, high] if !body.is_empty() => {
            let said = u16::from_le_bytes([*low, *high]);
            if crc16(body) == said {
                Ok(body)
            } else {
                Err(if text() { Why::Foreign } else { Why::Checksum })
            }
        }
        _ => Err(Why::Torn),
    }
}

/// Pieces that prove themselves, pieces in all, and the last heading among them.
pub(in crate::wire) fn survey(bytes: &[u8]) -> (usize, usize, Option<Vec<u8>>) {
    let (mut good, mut all, mut heading) = (0, 0, None);
    let Some(last) = memchr::memrchr(DELIMITER, bytes) else { return (0, 0, None) };
    let mut payload = vec![0; MAX_LINE_BYTES];
    for piece in bytes[..last].split(|b| *b == DELIMITER) {
        if piece.is_empty() || piece.len() > MAX_LINE_BYTES {
            continue;
        }
        all += 1;
        if let Ok(body) = proven(piece, &mut payload) {
            good += 1;
            if let [HEADING, text @ ..] = body {
                heading = Some(text.to_vec());
            }
        }
    }
    (good, all, heading)
}

/// The packed dialect of a sample; `None` when it is not packed at all.
pub(in crate::wire) fn recognise(sample: &[u8]) -> Option<Result<Dialect, Unrecognised>> {
    let (frames, pieces, heading) = survey(sample);
    // The checksum alone lets one random piece in 65 536 pass.
    if frames < 2 || 2 * frames < pieces {
        return None;
    }
    let named = heading.as_deref().and_then(dialect_of);
    Some(named.ok_or(Unrecognised::NoHeading { frames }))
}
