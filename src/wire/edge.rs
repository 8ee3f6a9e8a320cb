//! Lines of a firmware's edge log: changes of its buttons with their own µs, between the frames.
//!
//! `# edge 17 0x0004 123456 250*5A3C`: number (goes round at 256), mask after the change, when that
//! was seen (board clock, µs, 32 bits), µs since the look before, which still saw the old mask (65535
//! = longer ago, or never), CRC-16/IBM-3740 of all before the star. Packed, the line is a text frame.
use super::checksum::{self, Checked};
use super::{ChecksumForm, Why};

/// Head of every such line.
const HEAD: &[u8] = b"# edge ";
/// Span that says that the look before is unknown, µs.
const OPEN_US: u16 = u16::MAX;

/// One change of the buttons as the firmware saw it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct EdgeLine {
    /// Number of the change, modulo 256.
    pub count: u8,
    /// All buttons after it, bit k = button k.
    pub mask: u16,
    /// Board clock when it was seen, µs, modulo 2^32.
    pub t_us: u32,
    /// Time since the look before, µs; `None` = unknown: the log begins here.
    pub span_us: Option<u16>,
}

/// Reads a trimmed line; `None` when it is no line of an edge log at all.
///
/// # Errors
/// [`Why::Checksum`] where its checksum does not agree, [`Why::Torn`] without one,
/// [`Why::BadField`] when a number is missing or too large.
pub fn read(line: &[u8]) -> Option<Result<EdgeLine, Why>> {
    let _ = line.strip_prefix(HEAD)?;
    let text = match checksum::check(ChecksumForm::Crc16, line) {
        Checked::Good(text) => text,
        Checked::Wrong(_) => return Some(Err(Why::Checksum)),
        Checked::Missing => return Some(Err(Why::Torn)),
    };
    Some(numbers(&text[HEAD.len()..]).ok_or(Why::BadField))
}

fn numbers(text: &[u8]) -> Option<EdgeLine> {
    let mut words = std::str::from_utf8(text).ok()?.split(' ');
    let count = words.next()?.parse().ok()?;
    let mask = u16::from_str_radix(words.next()?.strip_prefix("0x")?, 16).ok()?;
    let t_us = words.next()?.parse().ok()?;
    let span_us: u16 = words.next()?.parse().ok()?;
    let span_us = (span_us != OPEN_US).then_some(span_us);
    words.next().is_none().then_some(EdgeLine { count, mask, t_us, span_us })
}

impl EdgeLine {
    /// The line without its end, checksum included.
    pub fn line(&self) -> String {
        let span_us = self.span_us.unwrap_or(OPEN_US);
        let text = format!("# edge {} 0x{:04X} {} {span_us}", self.count, self.mask, self.t_us);
        format!("{text}*{:04X}", checksum::crc16(text.as_bytes()))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_line_comes_back_and_every_flipped_bit_is_refused() {
        for span_us in [Some(0), Some(250), Some(u16::MAX - 1), None] {
            let edge = EdgeLine { count: 255, mask: 0x8001, t_us: u32::MAX, span_us };
            let line = edge.line().into_bytes();
            assert_eq!(read(&line), Some(Ok(edge)));
            for bit in 0..8 * line.len() {
                let mut hit = line.clone();
                hit[bit / 8] ^= 1 << (bit % 8);
                // A digit of the checksum may change its case.
                assert!(!matches!(read(&hit), Some(Ok(e)) if e != edge), "bit {bit}");
            }
            for end in 0..line.len() {
                assert!(!matches!(read(&line[..end]), Some(Ok(_))), "{end} bytes");
            }
        }
    }

    #[test]
    fn what_is_no_edge_line_is_left_to_others_and_odd_numbers_say_why() {
        assert_eq!(read(b"# edges lost: they came faster than they could be said"), None);
        assert_eq!(read(b"512,498,507"), None);
        assert_eq!(read(b"# edge 1 0x0001 7 250"), Some(Err(Why::Torn)));
        let sealed = |text: &str| format!("{text}*{:04X}", checksum::crc16(text.as_bytes()));
        for odd in [
            "# edge 256 0x0001 7 250",
            "# edge 1 0x10001 7 250",
            "# edge 1 1 7 250",
            "# edge 1 0x0001 4294967296 250",
            "# edge 1 0x0001 7 65536",
            "# edge 1 0x0001 7",
            "# edge 1 0x0001 7 250 9",
            "# edge  1 0x0001 7 250",
        ] {
            assert_eq!(read(sealed(odd).as_bytes()), Some(Err(Why::BadField)), "{odd}");
        }
        // The companion's own, by its CRC.
        let line = EdgeLine { count: 1, mask: 1, t_us: 1_000_000_001, span_us: Some(1) }.line();
        assert!(line.starts_with("# edge 1 0x0001 1000000001 1*"), "{line}");
    }
}
