//! The lines of the session file, written and read: records, `@` lines, and their escapes.
use std::io::Write;

use crc::{CRC_32_ISO_HDLC, Crc, Table};

use crate::rig::{HostUs, Mark, Word};

/// CRC-32/ISO-HDLC (poly 0x04C11DB7 reflected, init and final XOR all ones; "123456789" gives
/// 0xCBF43926).
pub(super) static CRC32: Crc<u32, Table<16>> = Crc::<u32, Table<16>>::new(&CRC_32_ISO_HDLC);

const HEX: &[u8; 16] = b"0123456789ABCDEF";

/// Writes `bytes` so that they stand in one line of printable ASCII.
///
/// `\` becomes `\\`, bytes outside 0x20–0x7E become `\xNN`, and so does a `=` at the beginning,
/// which would announce a packed record.
pub(super) fn escape(bytes: &[u8], out: &mut Vec<u8>) {
    for (i, &byte) in bytes.iter().enumerate() {
        match byte {
            b'\\' => out.extend_from_slice(b"\\\\"),
            b'=' if i == 0 => out.extend_from_slice(b"\\x3D"),
            0x20..=0x7E => out.push(byte),
            _ => {
                let (high, low) = (usize::from(byte >> 4), usize::from(byte & 15));
                out.extend_from_slice(&[b'\\', b'x', HEX[high], HEX[low]]);
            }
        }
    }
}

/// Writes every byte as two hexadecimal digits: the inverse of [`unhex`].
pub(super) fn hex(bytes: &[u8], out: &mut Vec<u8>) {
    for &byte in bytes {
        out.extend_from_slice(&[HEX[usize::from(byte >> 4)], HEX[usize::from(byte & 15)]]);
    }
}

/// How an escaped text ended.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Ending {
    /// Nothing special: a record's delimiter is implied.
    Whole,
    /// A lone `\`: the record has no delimiter.
    Open,
    /// Something that [`escape`] never writes.
    Bad,
}

/// The inverse of [`escape`]; appends to `out`.
pub(super) fn unescape(text: &[u8], out: &mut Vec<u8>) -> Ending {
    let mut rest = text;
    while let Some(at) = memchr::memchr(b'\\', rest) {
        out.extend_from_slice(&rest[..at]);
        rest = match &rest[at + 1..] {
            [] => return Ending::Open,
            [b'\\', tail @ ..] => {
                out.push(b'\\');
                tail
            }
            [b'x', high, low, tail @ ..] => {
                let (Some(high), Some(low)) = (digit(*high), digit(*low)) else {
                    return Ending::Bad;
                };
                out.push(high << 4 | low);
                tail
            }
            _ => return Ending::Bad,
        };
    }
    out.extend_from_slice(rest);
    Ending::Whole
}

/// Bytes of a packed record; `None` for an odd number of digits or something else than digits.
pub(super) fn unhex(text: &[u8], out: &mut Vec<u8>) -> Option<()> {
    if text.len() % 2 == 1 {
        return None;
    }
    for pair in text.chunks_exact(2) {
        out.push(digit(pair[0])? << 4 | digit(pair[1])?);
    }
    Some(())
}

fn digit(byte: u8) -> Option<u8> {
    char::from(byte).to_digit(16).map(|d| d as u8)
}

/// A decimal number and what stands behind the blank after it.
pub(super) fn stamped(line: &[u8]) -> Option<(u64, &[u8])> {
    let mut value = 0_u64;
    for (i, byte) in line.iter().enumerate() {
        match byte {
            b'0'..=b'9' => {
                value = value.checked_mul(10)?.checked_add(u64::from(byte - b'0'))?;
            }
            b' ' if i > 0 => return Some((value, &line[i + 1..])),
            _ => return None,
        }
    }
    None
}

/// The bytes that a record line with its LF stands for, and its time; `None` for every other line.
///
/// Bytes without escapes are lent as they stand in the line, all others are made in `room`.
pub(super) fn record<'a>(line: &'a [u8], room: &'a mut Vec<u8>) -> Option<(HostUs, &'a [u8])> {
    let (host_us, whole) = stamped(line)?;
    let text = whole.strip_suffix(b"\n")?;
    room.clear();
    if let Some(hex) = text.strip_prefix(b"=") {
        unhex(hex, room)?;
    } else if memchr::memchr(b'\\', text).is_none() {
        return Some((HostUs(host_us), whole));
    } else {
        match unescape(text, room) {
            Ending::Whole => room.push(b'\n'),
            Ending::Open => {}
            Ending::Bad => return None,
        }
    }
    Some((HostUs(host_us), room))
}

/// A line that begins with `@`: a mark, or what holds for the whole session.
pub(super) struct AtLine<'a> {
    pub(super) host: HostUs,
    pub(super) word: &'a str,
    /// As it stands in the line.
    escaped: &'a [u8],
}

impl<'a> AtLine<'a> {
    pub(super) const RIG: &'static str = "rig";
    pub(super) const DIALECT: &'static str = "dialect";
    pub(super) const UNDO: &'static str = "undo";

    /// Reads a line without its LF.
    pub(super) fn read(line: &'a [u8]) -> Option<AtLine<'a>> {
        let (host_us, text) = stamped(line.strip_prefix(b"@ ")?)?;
        let (word, text) = text.split_at(memchr::memchr(b' ', text).unwrap_or(text.len()));
        let word = std::str::from_utf8(word).ok().filter(|w| !w.is_empty())?;
        Some(AtLine { host: HostUs(host_us), word, escaped: text.get(1..).unwrap_or(&[]) })
    }

    /// Writes such a line without its LF: the inverse of [`AtLine::read`].
    pub(super) fn write(
        host: HostUs,
        word: &str,
        text: &[u8],
        out: &mut Vec<u8>,
    ) -> std::io::Result<()> {
        write!(out, "@ {} {word}", host.0)?;
        if !text.is_empty() {
            out.push(b' ');
            escape(text, out);
        }
        Ok(())
    }

    /// It means something to the reader, and is no mark.
    pub(super) fn is_reserved(word: &str) -> bool {
        [AtLine::RIG, AtLine::DIALECT, AtLine::UNDO].contains(&word)
    }

    /// The bytes of its text; `None` where it is damaged.
    pub(super) fn text(&self) -> Option<Vec<u8>> {
        let mut bytes = Vec::new();
        (unescape(self.escaped, &mut bytes) == Ending::Whole).then_some(bytes)
    }

    /// The mark that it stands for; `None` where its text is damaged.
    pub(super) fn mark(&self) -> Option<Mark<HostUs>> {
        let text = self.text()?;
        Some(Mark::new(Word::from(self.word), String::from_utf8_lossy(&text)).set_at(self.host))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_published_check_value() {
        // Catalogue of parametrised CRC algorithms: CRC-32/ISO-HDLC, check 0xCBF43926.
        assert_eq!(CRC32.checksum(b"123456789"), 0xCBF4_3926);
    }

    #[test]
    fn every_byte_comes_back() {
        let all: Vec<u8> = (0..=255).collect();
        let mut text = Vec::new();
        escape(&all, &mut text);
        assert!(text.iter().all(|b| (0x20..=0x7E).contains(b)));
        let mut back = Vec::new();
        assert_eq!(unescape(&text, &mut back), Ending::Whole);
        assert_eq!(back, all);
    }

    #[test]
    fn an_equals_sign_in_front_is_escaped() {
        let mut text = Vec::new();
        escape(b"=AB=", &mut text);
        assert_eq!(text, b"\\x3DAB=");
    }

    #[test]
    fn endings_are_told_apart() {
        let ending = |text: &[u8]| unescape(text, &mut Vec::new());
        assert_eq!(ending(b"abc\\"), Ending::Open);
        assert_eq!(ending(b"abc\\\\"), Ending::Whole);
        assert_eq!(ending(b"abc\\\\\\"), Ending::Open);
        assert_eq!(ending(b"a\\q"), Ending::Bad);
        assert_eq!(ending(b"a\\x4"), Ending::Bad);
        assert_eq!(ending(b"a\\xG0"), Ending::Bad);
    }

    #[test]
    fn stamps_have_a_number_and_a_blank() {
        assert_eq!(stamped(b"12 abc"), Some((12, &b"abc"[..])));
        assert_eq!(stamped(b"12 "), Some((12, &b""[..])));
        for bad in [&b"12"[..], b" 12", b"", b"1x ", b"99999999999999999999 a"] {
            assert_eq!(stamped(bad), None, "{bad:?}");
        }
    }
}
