//! Payloads to packed frames.
use crate::wire::checksum::crc16;
use crate::wire::{Base, Dialect};

use super::{DATA, DELIMITER};

/// One frame of readings; missing cells are written as 0, wide ones are cut to their width.
pub(in crate::wire) fn data(dialect: &Dialect, cells: &[i32], out: &mut Vec<u8>) {
    let mut payload = Vec::with_capacity(4 * dialect.fields.len() + 3);
    payload.push(DATA);
    for (i, field) in dialect.fields.iter().enumerate() {
        let bytes = cells.get(i).copied().unwrap_or(0).to_le_bytes();
        payload.extend_from_slice(&bytes[..width(field.base)]);
    }
    frame(payload, out);
}

/// One frame that holds text.
pub(in crate::wire) fn text_frame(kind: u8, text: &[u8], out: &mut Vec<u8>) {
    let mut payload = Vec::with_capacity(text.len() + 3);
    payload.push(kind);
    payload.extend_from_slice(text);
    frame(payload, out);
}

/// Bytes of a field.
pub(super) fn width(base: Base) -> usize {
    match base {
        Base::U8 => 1,
        Base::U16 | Base::I16 => 2,
        Base::U32 => 4,
        // Refused by `Dialect::check`.
        Base::Decimal | Base::Hex | Base::Bits | Base::Binary | Base::Unsettled => 0,
        Base::Fixed(_) | Base::FixedComma(_) | Base::DayTime | Base::State | Base::Marks => 0,
    }
}

fn frame(mut payload: Vec<u8>, out: &mut Vec<u8>) {
    payload.extend_from_slice(&crc16(&payload).to_le_bytes());
    let start = out.len();
    out.resize(start + cobs::max_encoding_length(payload.len()), 0);
    let used = cobs::encode(&payload, &mut out[start..]);
    out.truncate(start + used);
    out.push(DELIMITER);
}
