//! Reads a session file block by block: proven lines into the session, the rest into the damage.
use std::io::{Read, Seek, SeekFrom};

use crate::rig::Word;
use crate::session::{About, Chunk, Intake, Session};
use crate::wire::{Why, recognise};

use super::record::{AtLine, CRC32, Ending, record, stamped, unescape};
use super::scan::{self, Checkpoint, Frame, count_lines};
use super::{Damage, DamageKind, FileError, LAST_BYTES, Opened, Opening, append, sample};

/// Bytes read at once.
const STEP: u64 = 1 << 20;
/// A block without checkpoint longer than this is given up.
const MOST_BLOCK: usize = 32 << 20;
/// Rows collected before they go into the session.
const ROWS: usize = 16_384;
/// Bytes between two calls of the partial callback.
const SHOW: u64 = 16 << 20;

/// How far the lines of a block are to be believed.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Trust {
    Proven,
    Unverified,
    Suspect,
}

/// The session under construction.
struct Reading {
    session: Session,
    intake: Intake,
    last: Vec<Chunk>,
    damage: Vec<Damage>,
    frame: Frame,
    /// Lines before the block at hand.
    line: u64,
    /// Difference between running numbers and lines found so far.
    shift: i128,
    scratch: Vec<u8>,
}

pub(super) fn read(opening: &mut Opening) -> Result<Opened, FileError> {
    let mut damage = Vec::new();
    let mut frame = scan::frame(opening, &mut damage)?;
    if let Some(dialect) = &opening.overrides.dialect {
        frame.header.dialect = Some(dialect.clone());
    }
    if let Some(rig) = &opening.overrides.rig {
        frame.header.rig = Some(rig.clone());
    }
    let dialect = match frame.header.dialect.take() {
        Some(dialect) => dialect,
        None => {
            let sample = sample::spread(&mut opening.file, opening.bytes, record_bytes);
            let sample = sample.map_err(|e| opening.io(e))?;
            recognise(&sample).map_err(|reason| opening.unrecognised(reason))?
        }
    };
    let about = About {
        created: std::mem::take(&mut frame.header.created),
        notes: std::mem::take(&mut frame.header.notes),
        rig: frame.header.rig.take(),
    };
    let mut reading = Reading {
        session: Session::new(about),
        intake: Intake::new(Some(dialect)),
        last: Vec::new(),
        damage,
        line: frame.lines,
        frame,
        shift: 0,
        scratch: Vec::new(),
    };
    blocks(opening, &mut reading)?;
    reading.intake.finish();
    reading.hand_over();
    Ok(Opened { session: reading.session, damage: reading.damage, last: reading.last })
}

/// The bytes that a record line stands for, for recognition: what is no record is left out when the
/// file is read, too.
pub(super) fn record_bytes(line: &[u8], sample: &mut Vec<u8>) {
    if let Some((_, bytes)) = record(line, &mut Vec::new()) {
        sample.extend_from_slice(bytes);
    }
}

fn blocks(opening: &mut Opening, reading: &mut Reading) -> Result<(), FileError> {
    let start = reading.frame.start;
    opening.file.seek(SeekFrom::Start(start)).map_err(|e| opening.io(e))?;
    let (mut text, mut seen) = (Vec::new(), 0);
    let (mut done, mut shown) = (start, start);
    loop {
        let read = (&mut opening.file).take(STEP).read_to_end(&mut text);
        let count = read.map_err(|e| opening.io(e))?;
        if count == 0 {
            break;
        }
        done += count as u64;
        reading.intake.keep_lines(done + LAST_BYTES > opening.bytes);
        opening.watch.step(done, opening.bytes)?;
        let mut from = 0;
        while let Some(length) = memchr::memchr(b'\n', &text[seen..]) {
            let line = &text[seen..seen + length];
            let next = seen + length + 1;
            if let Some(checkpoint) = Checkpoint::read(line) {
                reading.block(&text[from..seen], &checkpoint);
                from = next;
            }
            seen = next;
        }
        if text.len() - from > MOST_BLOCK {
            reading.give_up(&text[from..]);
            from = text.len();
            seen = from;
        }
        text.drain(..from);
        seen -= from;
        if done - shown >= SHOW {
            shown = done;
            reading.hand_over();
            (opening.partial)(&reading.session);
        }
    }
    reading.tail(&text);
    Ok(())
}

impl Reading {
    /// What has been framed so far goes into the session.
    fn hand_over(&mut self) {
        append(&mut self.session, &mut self.last, self.intake.take());
    }

    /// A whole block with its checkpoint.
    fn block(&mut self, text: &[u8], checkpoint: &Checkpoint) {
        let lines = count_lines(text);
        let shift = i128::from(checkpoint.number) - i128::from(self.line + lines + 1);
        let proven = CRC32.checksum(text) == checkpoint.sum;
        if !proven {
            let words = "the block's checksum does not agree: its lines are kept in the file and not measured";
            self.note(lines, DamageKind::Block, words);
        } else if shift != self.shift {
            let missing = shift - self.shift;
            let words = if missing > 0 {
                format!("{missing} lines are missing before the end of this block")
            } else {
                format!("{} lines too many before the end of this block", -missing)
            };
            self.note(lines, DamageKind::Lines, &words);
        }
        if proven && shift != self.shift {
            self.intake.broken();
        }
        self.shift = shift;
        self.lines(text, if proven { Trust::Proven } else { Trust::Suspect });
        self.line += 1;
    }

    /// What stands behind the last checkpoint.
    fn tail(&mut self, text: &[u8]) {
        let end = memchr::memrchr(b'\n', text).map_or(0, |at| at + 1);
        if end > 0 {
            let words = "nothing proves the lines behind the last checkpoint; they are measured";
            self.note(count_lines(text), DamageKind::Unverified, words);
            self.lines(&text[..end], Trust::Unverified);
        }
        if end < text.len() {
            let words = "the last line was cut while it was written; it is left out";
            self.note(1, DamageKind::Record, words);
        }
    }

    /// A block that grows without a checkpoint.
    fn give_up(&mut self, text: &[u8]) {
        let words = "no checkpoint within 32 MB: these lines are kept in the file and not measured";
        let lines = count_lines(text);
        self.note(lines, DamageKind::Block, words);
        self.lines(text, Trust::Suspect);
    }

    fn note(&mut self, lines: u64, kind: DamageKind, words: &str) {
        let line = self.line + 1;
        self.damage.push(Damage { line, lines, kind, words: words.to_owned() });
    }

    fn lines(&mut self, text: &[u8], trust: Trust) {
        if trust == Trust::Suspect {
            self.intake.broken();
        }
        let mut rest = text;
        while let Some(end) = memchr::memchr(b'\n', rest) {
            let (line, tail) = rest.split_at(end + 1);
            self.line += 1;
            match trust {
                Trust::Suspect => self.suspect(&line[..end]),
                Trust::Proven | Trust::Unverified => self.take(line),
            }
            rest = tail;
        }
        if trust == Trust::Suspect {
            self.intake.broken();
        }
        if self.intake.waiting_rows() >= ROWS {
            self.hand_over();
        }
    }

    /// A line of a damaged block: noted if it looks like a record.
    fn suspect(&mut self, line: &[u8]) {
        let bytes = stamped(line).map_or(line, |(_, bytes)| bytes);
        self.intake.refuse(Why::Suspect, bytes);
    }

    /// One line with its LF.
    fn take(&mut self, line: &[u8]) {
        let bare = &line[..line.len() - 1];
        let good = match bare.first() {
            Some(b'0'..=b'9') => self.record(line),
            Some(b'>') => self.sent(bare),
            Some(b'@') => self.mark(bare),
            _ => None,
        };
        if good.is_none() {
            // Counted as the line before the next one: `note` adds one.
            self.line -= 1;
            self.note(1, DamageKind::Record, "not a record, a mark or a checkpoint; left out");
            self.line += 1;
        }
    }

    fn record(&mut self, line: &[u8]) -> Option<()> {
        let (host, bytes) = record(line, &mut self.scratch)?;
        self.intake.push(host.0, bytes);
        Some(())
    }

    fn sent(&mut self, line: &[u8]) -> Option<()> {
        let (host_us, text) = stamped(line.strip_prefix(b"> ")?)?;
        let mut bytes = Vec::new();
        if unescape(text, &mut bytes) != Ending::Whole {
            return None;
        }
        self.session.note_sent(host_us, &bytes);
        Some(())
    }

    fn mark(&mut self, line: &[u8]) -> Option<()> {
        let line = AtLine::read(line)?;
        if self.frame.undone.contains(&self.line) || AtLine::is_reserved(line.word) {
            return Some(());
        }
        let mark = line.mark()?;
        if mark.word == Word::Back {
            // A line that had begun before the link went away has no end.
            self.intake.reopened();
        }
        // Rows that came before it have to be there when the session has no times.
        self.hand_over();
        self.session.mark(mark);
        Some(())
    }
}
