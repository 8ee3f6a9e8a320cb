//! The checkpoint lines of a session file: read, written, known when they were hit; line ends undone.
use std::borrow::Cow;

use super::mend::within_a_byte;
use super::record::stamped;

/// What stands behind the checksum of the last checkpoint.
const END: &str = " end";

/// A checkpoint line.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Checkpoint {
    pub(super) number: u64,
    pub(super) sum: u32,
    /// The recording was ended here.
    pub(super) last: bool,
}

impl Checkpoint {
    /// Reads a line without its LF.
    pub(super) fn read(line: &[u8]) -> Option<Checkpoint> {
        let line = line.strip_suffix(b"\r").unwrap_or(line);
        let (number, sum) = stamped(line.strip_prefix(b"# ")?)?;
        let (sum, last) = match sum.strip_suffix(END.as_bytes()) {
            Some(sum) => (sum, true),
            None => (sum, false),
        };
        let sum = std::str::from_utf8(sum).ok().filter(|s| s.len() == 8)?;
        Some(Checkpoint { number, sum: u32::from_str_radix(sum, 16).ok()?, last })
    }

    /// The line without its LF: the inverse of [`Checkpoint::read`].
    pub(super) fn text(&self) -> String {
        let end = if self.last { END } else { "" };
        format!("# {} {:08X}{end}", self.number, self.sum)
    }

    /// Bytes of `text` that are this checkpoint with one byte wrong at most, its line end included,
    /// and whether it is the last one; `None` where they are something else.
    pub(super) fn nearly(number: u64, sum: u32, text: &[u8]) -> Option<(usize, bool)> {
        // One of the two is left, whichever byte was hit.
        if text.first() != Some(&b'#') && text.get(1) != Some(&b' ') {
            return None;
        }
        for last in [true, false] {
            let bare = Checkpoint { number, sum, last }.text();
            for end in ["\n", "\r\n"] {
                let line = [bare.as_bytes(), end.as_bytes()].concat();
                if text.get(..line.len()).is_some_and(|text| within_a_byte(text, &line)) {
                    return Some((line.len(), last));
                }
            }
        }
        None
    }
}

/// Lines with LF alone at their ends: a CR never stands bare in a session file, so one before a LF was
/// put there on the way.
pub(super) fn plain(text: &[u8]) -> Cow<'_, [u8]> {
    if memchr::memmem::find(text, b"\r\n").is_none() {
        return Cow::Borrowed(text);
    }
    let mut out = Vec::with_capacity(text.len());
    for line in text.split_inclusive(|b| *b == b'\n') {
        match line.strip_suffix(b"\r\n") {
            Some(bare) => {
                out.extend_from_slice(bare);
                out.push(b'\n');
            }
            None => out.extend_from_slice(line),
        }
    }
    Cow::Owned(out)
}

pub(super) fn count_lines(text: &[u8]) -> u64 {
    memchr::memchr_iter(b'\n', text).count() as u64
}

/// Lines that are neither marks nor what was sent: what was hit in a record's own stamp is one still.
pub(super) fn count_meant_as_records(text: &[u8]) -> u64 {
    let lines = text.split_inclusive(|b| *b == b'\n');
    lines.filter(|line| !line.starts_with(b"@ ") && !line.starts_with(b"> ")).count() as u64
}

/// Lines that begin with a digit: records.
pub(super) fn count_records(text: &[u8]) -> u64 {
    let first = u64::from(text.first().is_some_and(u8::is_ascii_digit));
    let begins = |at: usize| text.get(at + 1).is_some_and(u8::is_ascii_digit);
    first + memchr::memchr_iter(b'\n', text).filter(|at| begins(*at)).count() as u64
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_checkpoint_comes_back_and_is_known_with_any_byte_wrong() {
        for last in [false, true] {
            let checkpoint = Checkpoint { number: 253, sum: 0x0BCD_1234, last };
            let line = checkpoint.text();
            assert_eq!(Checkpoint::read(line.as_bytes()), Some(checkpoint));
            let whole = format!("{line}\n12 34\n");
            for at in 0..=line.len() {
                for bit in 0..8 {
                    let mut hit = whole.clone().into_bytes();
                    hit[at] ^= 1 << bit;
                    let found = Checkpoint::nearly(253, 0x0BCD_1234, &hit);
                    assert_eq!(found, Some((line.len() + 1, last)), "{at} {bit}");
                }
            }
            assert_eq!(Checkpoint::nearly(254, 0x0BCD_1235, whole.as_bytes()), None);
        }
    }

    #[test]
    fn returns_before_line_feeds_go_and_others_stay() {
        assert_eq!(plain(b"a\r\nb\nc\rd\r\n").as_ref(), b"a\nb\nc\rd\n");
        assert!(matches!(plain(b"a\nb\r"), Cow::Borrowed(_)));
        assert_eq!(count_records(b"1 a\n@ 2 b\n3 c\n"), 2);
        assert_eq!(count_meant_as_records(b"1 a\n@ 2 b\nq c\n> 2 b\n"), 2);
    }
}
