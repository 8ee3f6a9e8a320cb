//! Reads a session file by its plan: proven lines into the session, the rest into the damage.
use std::fs::File;
use std::io::{self, Read, Seek, SeekFrom};

use crate::rig::{HostUs, Mark, Word};
use crate::session::{About, Chunk, Intake, Session};
use crate::wire::{Dialect, SecondForm, Why, recognise};

use super::checkpoint::plain;
use super::index::Stretch;
use super::plan::Step;
use super::record::{AtLine, Ending, record, stamped, unescape};
use super::scan::{self, Frame};
use super::second::{by_both, second_form};
use super::{Damage, DamageKind, FileError, LAST_BYTES, Opened, Opening, append, sample};

/// Rows collected before they go into the session.
const ROWS: usize = 16_384;
/// Bytes between two calls of the partial callback.
const SHOW: u64 = 16 << 20;

/// The session under construction.
struct Reading {
    session: Session,
    intake: Intake,
    last: Vec<Chunk>,
    damage: Vec<Damage>,
    frame: Frame,
    at: At,
    scratch: Vec<u8>,
}

/// The line at hand.
#[derive(Clone, Copy, Default)]
struct At {
    /// Its number in the file, its running number, and its first byte.
    line: u64,
    own: u64,
    byte: u64,
    /// Host time of the last record, µs.
    us: Option<u64>,
}

pub(super) fn read(opening: &mut Opening) -> Result<Opened, FileError> {
    let (first, said) = read_by(opening, None)?;
    // Who names a form wants that one alone.
    let named = opening.overrides.dialect.is_some();
    let dialect = first.session.dialect().filter(|_| !named);
    match dialect.and_then(|dialect| second_form(&first.session, dialect, said)) {
        Some((leading, second)) => {
            let again = |second| {
                opening.file.rewind().map_err(|e| opening.io(e))?;
                Ok(read_by(opening, Some((leading.clone(), second)))?.0)
            };
            by_both(second, again, |read| read.second.as_ref())
        }
        None => Ok(first),
    }
}

/// Reads by the file's own dialect, else a recognised one, or by two forms; true where the file says it.
fn read_by(
    opening: &mut Opening,
    both: Option<(Dialect, SecondForm)>,
) -> Result<(Opened, bool), FileError> {
    let mut damage = Vec::new();
    let mut frame = scan::frame(opening, &mut damage)?;
    if let Some(dialect) = &opening.overrides.dialect {
        frame.header.dialect = Some(dialect.clone());
    }
    if let Some(rig) = &opening.overrides.rig {
        frame.header.rig = Some(rig.clone());
    }
    let said = frame.header.dialect.is_some();
    let (leading, second) = both.unzip();
    let dialect = match leading.or(frame.header.dialect.take()) {
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
        clockless: frame.header.clockless,
    };
    let mut reading = Reading {
        session: Session::new(about),
        intake: match frame.header.clockless {
            true => Intake::untimed(Some(dialect)),
            false => Intake::new(Some(dialect)),
        },
        last: Vec::new(),
        damage,
        frame,
        at: At::default(),
        scratch: Vec::new(),
    };
    reading.intake.sum_nothing();
    second.iter().for_each(|second| reading.intake.also_read(second.clone()));
    blocks(opening, &mut reading)?;
    reading.intake.finish();
    reading.hand_over();
    reading.session.set_identity(reading.frame.identity);
    reading.damage.sort_by_key(|damage| damage.byte);
    let second = reading.intake.second().cloned();
    let Reading { session, damage, last, .. } = reading;
    Ok((Opened { session, damage, last, second }, said))
}

/// The lines of a stretch, line ends undone.
pub(super) fn lines_of(file: &mut File, stretch: &Stretch) -> io::Result<Vec<u8>> {
    let mut text = vec![0; stretch.bytes as usize];
    file.seek(SeekFrom::Start(stretch.byte))?;
    file.read_exact(&mut text)?;
    Ok(match plain(&text) {
        std::borrow::Cow::Borrowed(_) => text,
        std::borrow::Cow::Owned(plain) => plain,
    })
}

/// The bytes that a record line stands for, for recognition: what is no record is left out when the
/// file is read, too.
pub(super) fn record_bytes(line: &[u8], sample: &mut Vec<u8>) {
    if let Some((_, bytes)) = record(line, &mut Vec::new()) {
        sample.extend_from_slice(bytes);
    }
}

fn blocks(opening: &mut Opening, reading: &mut Reading) -> Result<(), FileError> {
    let steps = std::mem::take(&mut reading.frame.steps);
    let all: u64 = steps.iter().map(Step::bytes).sum();
    let (mut done, mut shown) = (0, 0);
    for step in steps {
        done += step.bytes();
        reading.intake.keep_lines(done + LAST_BYTES > all);
        opening.watch.step(done, all)?;
        match step {
            Step::Take(stretch, own) => {
                let text = lines_of(&mut opening.file, &stretch).map_err(|e| opening.io(e))?;
                reading.at = At {
                    line: stretch.line,
                    own,
                    byte: stretch.byte,
                    us: stretch.at_us.or(reading.at.us),
                };
                reading.block(&text);
            }
            Step::Skip(stretch, rows) => {
                let text = lines_of(&mut opening.file, &stretch).map_err(|e| opening.io(e))?;
                reading.gap(rows);
                text.split_inclusive(|b| *b == b'\n').for_each(|line| reading.suspect(line));
                reading.gap(0);
            }
            Step::Gap(rows) => reading.gap(rows),
        }
        if done - shown >= SHOW {
            shown = done;
            reading.hand_over();
            (opening.partial)(&reading.session);
        }
    }
    Ok(())
}

impl Reading {
    /// What has been framed so far goes into the session.
    fn hand_over(&mut self) {
        append(&mut self.session, &mut self.last, self.intake.take());
    }

    /// Nothing is known of so many records here.
    fn gap(&mut self, rows: u64) {
        self.intake.broken(rows);
        if rows > 0 {
            self.hand_over();
            let text = format!("{rows} rows are left out: the recording is damaged");
            let at = HostUs(self.at.us.unwrap_or(0) + 1);
            self.session.mark(Mark::new(Word::Damaged, text).set_at(at));
        }
    }

    /// The lines of a block that is taken.
    fn block(&mut self, text: &[u8]) {
        for line in text.split_inclusive(|b| *b == b'\n') {
            self.take(line);
            self.at.line += 1;
            self.at.own += 1;
            self.at.byte += line.len() as u64;
        }
        if self.intake.waiting_rows() >= ROWS {
            self.hand_over();
        }
    }

    fn note(&mut self, kind: DamageKind, words: &str) {
        let At { line, byte, us: at_us, .. } = self.at;
        self.damage.push(Damage {
            line,
            lines: 1,
            byte,
            at_us,
            rows: 0,
            kind,
            words: words.to_owned(),
        });
    }

    /// A line of a damaged block: noted if it looks like a record.
    fn suspect(&mut self, line: &[u8]) {
        let line = line.strip_suffix(b"\n").unwrap_or(line);
        let bytes = stamped(line).map_or(line, |(_, bytes)| bytes);
        self.intake.refuse(Why::Suspect, bytes);
    }

    /// One line with its LF.
    fn take(&mut self, line: &[u8]) {
        let bare = line.strip_suffix(b"\n").unwrap_or(line);
        let good = match bare.first() {
            Some(b'0'..=b'9') => self.record(line),
            Some(b'>') => self.sent(bare),
            Some(b'@') => self.mark(bare),
            _ => None,
        };
        if good.is_none() {
            self.note(DamageKind::Record, "not a record, a mark or a checkpoint; left out");
        }
    }

    fn record(&mut self, line: &[u8]) -> Option<()> {
        let (host, bytes) = record(line, &mut self.scratch)?;
        self.intake.push(host.0, bytes);
        self.at.us = Some(host.0);
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
        if self.frame.undone.contains(&self.at.own) || AtLine::is_reserved(line.word) {
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
