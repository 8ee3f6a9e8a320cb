//! The last lines as they came, for whoever wants to see what the board really says.
use std::collections::VecDeque;
use std::sync::Arc;

use crate::session::{Chunk, LineKind, RawLine};
use crate::wire::{Dialect, Grammar, LineCheck, Place, Quoted, Why};

/// Lines kept.
pub const KEPT_LINES: usize = 200;

/// What became of a line.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Fate {
    /// A frame; its cells in the order of the fields.
    Frame(Vec<i32>),
    /// No frame, and why; in words where in the line and what was looked for there, if one place says it.
    Refused(Why, Option<String>),
    /// The heading that names the columns.
    Heading,
    /// Nothing but blanks.
    Blank,
    /// A change of the buttons, from the firmware's own log of them.
    Edge,
}

/// One line as it came.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Line {
    /// Where it stood.
    pub place: Place,
    /// Host time of the read that completed it, µs.
    pub host_us: u64,
    /// Its bytes without the delimiter, control characters and non-ASCII written as escapes; those
    /// of a packed frame as pairs of hexadecimal digits.
    pub text: String,
    /// What became of it.
    pub fate: Fate,
}

/// The newest lines, oldest first.
#[derive(Clone, Debug, Default)]
pub struct RecentLines {
    lines: VecDeque<Line>,
    /// The form in force, and what says where a line departs from it.
    form: Option<(Arc<Dialect>, LineCheck)>,
}

impl RecentLines {
    /// Takes in the lines of a chunk.
    pub fn take(&mut self, chunk: &Chunk) {
        if let Some(dialect) = &chunk.dialect
            && self.form.as_ref().is_none_or(|(form, _)| form != dialect)
        {
            self.form = Some((Arc::clone(dialect), LineCheck::new(dialect)));
        }
        for raw in &chunk.lines {
            if self.lines.len() == KEPT_LINES {
                self.lines.pop_front();
            }
            self.lines.push_back(self.line(raw, chunk));
        }
    }

    /// The lines, oldest first.
    pub fn iter(&self) -> impl DoubleEndedIterator<Item = &Line> + ExactSizeIterator {
        self.lines.iter()
    }

    /// Forgets them all.
    pub fn clear(&mut self) {
        self.lines.clear();
    }

    fn line(&self, raw: &RawLine, chunk: &Chunk) -> Line {
        let fate = match raw.kind {
            LineKind::Row(row) => Fate::Frame(chunk.row(row).collect()),
            LineKind::Refused(why) => Fate::Refused(why, self.misfit(&raw.bytes)),
            LineKind::Heading => Fate::Heading,
            LineKind::Blank => Fate::Blank,
            LineKind::Edge => Fate::Edge,
        };
        let packed = self.form.as_ref().is_some_and(|(form, _)| form.grammar == Grammar::Packed);
        // What a board says in words between its packed frames is shown as words.
        let spoken = matches!(raw.kind, LineKind::Refused(Why::Foreign) | LineKind::Edge);
        let words = spoken && is_text(&raw.bytes);
        let text = if packed && !words { hex(&raw.bytes) } else { printable(&raw.bytes) };
        Line { place: raw.place, host_us: raw.host_us, text, fate }
    }

    /// Where a line departs from the form in force, and what was looked for there.
    fn misfit(&self, bytes: &[u8]) -> Option<String> {
        let (_, check) = self.form.as_ref()?;
        let misfit = check.misfit(bytes)?;
        let quoted = Quoted::of(bytes, misfit.at, misfit.length);
        Some(format!("{}: {}", quoted.words(), misfit.reason))
    }
}

fn printable(bytes: &[u8]) -> String {
    let mut text = String::with_capacity(bytes.len());
    for &byte in bytes {
        match byte {
            b'\t' => text.push_str("  "),
            0x20..=0x7E => text.push(char::from(byte)),
            _ => text.push_str(&format!("\\x{byte:02X}")),
        }
    }
    text
}

fn is_text(bytes: &[u8]) -> bool {
    bytes.iter().all(|b| matches!(b, b'\t' | b'\r' | 0x20..=0x7E))
}

fn hex(bytes: &[u8]) -> String {
    let pairs: Vec<String> = bytes.iter().map(|b| format!("{b:02X}")).collect();
    pairs.join(" ")
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::session::Intake;
    use crate::virtual_board::{bench_dialect, bench_rig};
    use crate::wire::{encode, encode_text};

    #[test]
    fn packed_frames_are_shown_in_hexadecimal_and_words_as_words() {
        let dialect = bench_dialect(&bench_rig(10)).packed();
        let mut bytes = Vec::new();
        encode(&dialect, &[1, 2, 3], &mut bytes);
        encode_text(&dialect, "# done rate 250", &mut bytes);
        bytes.extend_from_slice(&[3, 0xAB, 0]);
        let mut intake = Intake::new(Some(dialect));
        intake.keep_lines(true);
        intake.push(7, &bytes);
        let mut lines = RecentLines::default();
        lines.take(&intake.take());
        let shown: Vec<&str> = lines.iter().map(|l| l.text.as_str()).collect();
        assert!(shown[0].starts_with("03 01 01 02 02 ") && shown[0].len() % 3 == 2, "{shown:?}");
        assert_eq!(shown[1..], ["# done rate 250", "03 AB"]);
        let fates: Vec<&Fate> = lines.iter().map(|l| &l.fate).collect();
        assert!(matches!(fates[0], Fate::Frame(cells) if cells[..3] == [1, 2, 3]), "{fates:?}");
        assert_eq!(fates[2], &Fate::Refused(Why::Torn, None));
    }
}
