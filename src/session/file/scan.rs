//! A first look through a file: what it is, its head, and the lines that hold for all of it.
use std::collections::HashSet;
use std::io::{Read, Seek, SeekFrom};

use crate::rig::{Rig, from_ron};
use crate::wire::Dialect;

use super::header::{Header, MAGIC, RULE};
use super::record::{AtLine, CRC32, stamped};
use super::{Damage, DamageKind, FileError, Opening};

/// A head longer than this is no head.
const MOST_HEAD: u64 = 1 << 20;
/// Bytes read at once.
const STEP: usize = 1 << 20;
/// An `@` line longer than this is no such line.
const MOST_LINE: usize = 1 << 18;

/// What a file is.
pub(super) enum Head {
    /// A session file.
    Session,
    /// Anything else: a plain log, if it can be recognised.
    Text,
}

/// Tells by the first line.
pub(super) fn head(opening: &mut Opening) -> Result<Head, FileError> {
    let mut first = Vec::new();
    let read = (&mut opening.file).take(64).read_to_end(&mut first);
    read.and_then(|_| opening.file.seek(SeekFrom::Start(0))).map_err(|e| opening.io(e))?;
    let line = first.split(|b| *b == b'\n').next().unwrap_or(&[]);
    if line == MAGIC.as_bytes() {
        return Ok(Head::Session);
    }
    let family = MAGIC.trim_end_matches(|c: char| c.is_ascii_digit());
    match line.strip_prefix(family.as_bytes()) {
        Some(version) => {
            let version = String::from_utf8_lossy(version).trim().to_owned();
            let what = format!(
                "this is a session file of version \"{version}\"; only version 1 is known here, use the Trimbench that wrote it"
            );
            Err(FileError::Header { path: opening.path.to_owned(), line: 1, what })
        }
        None => Ok(Head::Text),
    }
}

/// What holds for a whole session file.
pub(super) struct Frame {
    pub(super) header: Header,
    /// Byte behind the head and its checkpoint, and lines up to there.
    pub(super) start: u64,
    pub(super) lines: u64,
    /// Running numbers of the withdrawn `@` lines.
    pub(super) undone: HashSet<u64>,
}

/// Reads the head, then looks through the file for rigs, dialects and what was withdrawn.
pub(super) fn frame(opening: &mut Opening, damage: &mut Vec<Damage>) -> Result<Frame, FileError> {
    let mut frame = read_head(opening, damage)?;
    opening.file.seek(SeekFrom::Start(frame.start)).map_err(|e| opening.io(e))?;
    let found = at_lines(opening, frame.lines)?;
    let found: Vec<(u64, AtLine<'_>)> =
        found.iter().filter_map(|(number, line)| Some((*number, AtLine::read(line)?))).collect();
    for (_, line) in found.iter().filter(|(_, line)| line.word == AtLine::UNDO) {
        let text = line.text().and_then(|text| String::from_utf8(text).ok());
        frame.undone.extend(text.and_then(|number| number.trim().parse::<u64>().ok()));
    }
    for (number, line) in found {
        if !frame.undone.contains(&number) {
            settle(&mut frame.header, number, &line, damage);
        }
    }
    Ok(frame)
}

fn read_head(opening: &mut Opening, damage: &mut Vec<Damage>) -> Result<Frame, FileError> {
    let mut text = Vec::new();
    (&mut opening.file).take(MOST_HEAD).read_to_end(&mut text).map_err(|e| opening.io(e))?;
    let refuse = |line, what: &str| FileError::Header {
        path: opening.path.to_owned(),
        line,
        what: what.to_owned(),
    };
    let rule = format!("\n{RULE}\n");
    let Some(at) = memchr::memmem::find(&text, rule.as_bytes()) else {
        return Err(refuse(1, "the head has no end (a line ---); the file was cut in its head"));
    };
    let end = at + rule.len();
    let body = text.get(MAGIC.len() + 1..at).unwrap_or(&[]);
    let body = std::str::from_utf8(body)
        .map_err(|e| refuse(2, &format!("the head is no text ({e}); the file is damaged")))?;
    let header = Header::read(body, "").map_err(|e| refuse(e.line as u64, &e.what))?;
    let mut lines = count_lines(&text[..end]);
    let mut start = end;
    let checkpoint = text[end..].split(|b| *b == b'\n').next().unwrap_or(&[]);
    let sum = Checkpoint::read(checkpoint).map(|c| c.sum);
    if sum.is_some() {
        start += checkpoint.len() + 1;
        lines += 1;
    }
    if sum != Some(CRC32.checksum(&text[..end])) {
        let words = "the checksum of the head is wrong or missing: its texts may be too";
        let words = words.to_owned();
        damage.push(Damage { line: 1, lines, kind: DamageKind::Header, words });
    }
    let start = start as u64;
    Ok(Frame { header, start, lines, undone: HashSet::new() })
}

/// A checkpoint line.
pub(super) struct Checkpoint {
    pub(super) number: u64,
    pub(super) sum: u32,
}

impl Checkpoint {
    pub(super) fn read(line: &[u8]) -> Option<Checkpoint> {
        let (number, sum) = stamped(line.strip_prefix(b"# ")?)?;
        let sum = std::str::from_utf8(sum).ok().filter(|s| s.len() == 8)?;
        Some(Checkpoint { number, sum: u32::from_str_radix(sum, 16).ok()? })
    }
}

pub(super) fn count_lines(text: &[u8]) -> u64 {
    memchr::memchr_iter(b'\n', text).count() as u64
}

/// Takes a rig or dialect into the head; the last one wins.
fn settle(header: &mut Header, number: u64, line: &AtLine<'_>, damage: &mut Vec<Damage>) {
    let mut refuse = |what: String| {
        let words = format!("{what}; the line was left out");
        damage.push(Damage { line: number, lines: 1, kind: DamageKind::Record, words });
    };
    let text = line.text().and_then(|text| String::from_utf8(text).ok());
    if line.word == AtLine::RIG {
        match text.map(|t| Rig::from_ron(&t, "rig")) {
            Some(Ok(rig)) => header.rig = Some(rig),
            Some(Err(error)) => refuse(error.what),
            None => refuse("a rig that is no text".to_owned()),
        }
    } else if line.word == AtLine::DIALECT {
        match text.map(|t| from_ron::<Dialect>(&t, "dialect")) {
            Some(Ok(dialect)) => match dialect.check() {
                Ok(()) => header.dialect = Some(dialect),
                Err((_, what)) => refuse(what),
            },
            Some(Err(error)) => refuse(error.what),
            None => refuse("a dialect that is no text".to_owned()),
        }
    }
}

/// All `@` lines that are no marks from here on, each with its running number.
fn at_lines(opening: &mut Opening, before: u64) -> Result<Vec<(u64, Vec<u8>)>, FileError> {
    let mut found = Vec::new();
    let mut text: Vec<u8> = vec![b'\n'];
    let mut lines = before;
    loop {
        let read = (&mut opening.file).take(STEP as u64).read_to_end(&mut text);
        let ended = read.map_err(|e| opening.io(e))? == 0;
        opening.watch.step(0, 1)?;
        // Whole lines only; what is begun stays for the next round, unless it is endless.
        let end = match memchr::memrchr(b'\n', &text) {
            Some(end) if end > 0 || text.len() < MOST_LINE => end,
            _ if ended => 0,
            _ => text.len() - 1,
        };
        let mut counted = 0;
        for at in memchr::memmem::find_iter(&text[..end], b"\n@ ") {
            lines += count_lines(&text[counted..at]);
            counted = at;
            let line = text[at + 1..=end].split(|b| *b == b'\n').next().unwrap_or(&[]);
            if line.len() <= MOST_LINE
                && AtLine::read(line).is_some_and(|line| AtLine::is_reserved(line.word))
            {
                found.push((lines + 1, line.to_vec()));
            }
        }
        lines += count_lines(&text[counted..end]);
        text.drain(..end);
        if ended {
            return Ok(found);
        }
    }
}
