//! What a file is, and what holds for all of a session file: its head, rigs, dialects, withdrawals.
use std::collections::HashSet;
use std::io::{Read, Seek, SeekFrom};

use crate::rig::{Rig, from_ron};
use crate::session::identity::Identity;
use crate::wire::Dialect;

use super::checkpoint::{Checkpoint, plain};
use super::header::{FAMILY, Header, KNOWN, MAGIC, RULE, begins_session};
use super::index::{Index, Seal, checkpoints_within, index};
use super::mend::one_bit;
use super::plan::{Step, plan};
use super::record::{AtLine, CRC32};
use super::{Damage, DamageKind, FileError, Opening};

/// Bytes in which a session file without a readable first line shows a block that is proven.
pub(super) const PROOF_BYTES: u64 = 1 << 18;

/// What a file is.
pub(super) enum Head {
    /// A session file.
    Session,
    /// Anything else: a plain log, if it can be recognised.
    Text,
}

/// Tells by the first line, or by a block whose checkpoint agrees.
pub(super) fn head(opening: &mut Opening) -> Result<Head, FileError> {
    let mut first = Vec::new();
    let read = (&mut opening.file).take(PROOF_BYTES).read_to_end(&mut first);
    read.and_then(|_| opening.file.seek(SeekFrom::Start(0))).map_err(|e| opening.io(e))?;
    let text = plain(first.strip_prefix("\u{feff}".as_bytes()).unwrap_or(&first));
    let line = text.split(|b| *b == b'\n').next().unwrap_or(&[]);
    if KNOWN.contains(&line) {
        return Ok(Head::Session);
    }
    let proven = proven_blocks(&text);
    if !begins_session(line) {
        return Ok(if proven > 0 { Head::Session } else { Head::Text });
    }
    // A version that is proven, or nothing that says that the line was hit.
    let own = text.split(|b| *b == b'\n').any(|line| Checkpoint::read(line).is_some());
    if own && !first_block_agrees(&text) {
        return Ok(Head::Session);
    }
    let version = String::from_utf8_lossy(&line[FAMILY.len().min(line.len())..]).trim().to_owned();
    let what = format!(
        "this is a session file of version \"{version}\"; only versions 1 and 2 are known here, use the \
         Trimbench that wrote it"
    );
    Err(FileError::Header { path: opening.path.to_owned(), line: 1, what })
}

/// True for the beginning of a session of any version, and for one whose first line was hit.
pub(super) fn is_session(first: &[u8]) -> bool {
    begins_session(first) || proven_blocks(&plain(first)) > 0
}

/// Blocks of `text` that their checkpoints prove.
fn proven_blocks(text: &[u8]) -> usize {
    blocks(text).filter(|(lines, c)| CRC32.checksum(lines) == c.sum).count()
}

fn first_block_agrees(text: &[u8]) -> bool {
    blocks(text).next().is_some_and(|(lines, c)| CRC32.checksum(lines) == c.sum)
}

/// The whole blocks of a text with their checkpoints.
fn blocks(text: &[u8]) -> impl Iterator<Item = (&[u8], Checkpoint)> {
    let (mut from, mut look) = (0, 0);
    std::iter::from_fn(move || {
        loop {
            let at = look + memchr::memmem::find(&text[look..], b"\n# ")? + 1;
            let length = memchr::memchr(b'\n', &text[at..])?;
            look = at + length;
            if let Some(checkpoint) = Checkpoint::read(&text[at..look]) {
                let lines = &text[from..at];
                from = look + 1;
                return Some((lines, checkpoint));
            }
        }
    })
}

/// What holds for a whole session file, and how its blocks are to be read.
pub(super) struct Frame {
    pub(super) header: Header,
    pub(super) steps: Vec<Step>,
    /// Running numbers of the withdrawn `@` lines.
    pub(super) undone: HashSet<u64>,
    pub(super) identity: Identity,
}

/// Looks through the file: head, rigs, dialects, what was withdrawn, and every block.
pub(super) fn frame(opening: &mut Opening, damage: &mut Vec<Damage>) -> Result<Frame, FileError> {
    let seen = index(&mut opening.file, opening.watch).map_err(|e| opening.io(e))??;
    let mut found = Vec::new();
    let headless = is_headless(&seen.head);
    let (mut header, says_end) = match headless {
        true => (Header::default(), false),
        false => read_head(opening, &seen, &mut found)?,
    };
    if headless {
        let words = "the head is missing: date, notes, parts list and dialect are those that later lines \
            of the file give, else unknown; the blocks are read";
        found.push(Damage { lines: 0, ..of_head(&seen, DamageKind::Header, words.to_owned()) });
    }
    let planned = plan(&seen, headless, says_end);
    found.extend(planned.damage);
    if seen.returns > 0 {
        let words = format!(
            "{} lines ended in CR LF, as a transfer as text leaves them; undone, nothing is lost",
            seen.returns
        );
        found.push(of_head(&seen, DamageKind::LineEnds, words));
    }
    let lines: Vec<(u64, AtLine<'_>)> = seen
        .at_lines
        .iter()
        .filter_map(|(number, line)| Some((*number, AtLine::read(line)?)))
        .collect();
    let mut undone = HashSet::new();
    for (_, line) in lines.iter().filter(|(_, line)| line.word == AtLine::UNDO) {
        let text = line.text().and_then(|text| String::from_utf8(text).ok());
        undone.extend(text.and_then(|number| number.trim().parse::<u64>().ok()));
    }
    for (number, line) in lines {
        if !undone.contains(&number) {
            settle(&mut header, number, &line, &mut found);
        }
    }
    found.sort_by_key(|damage| damage.byte);
    damage.extend(found);
    Ok(Frame { header, steps: planned.steps, undone, identity: seen.identity })
}

fn of_head(seen: &Index, kind: DamageKind, words: String) -> Damage {
    let lines = seen.stretches.first().map_or(1, |head| head.lines);
    Damage { line: 1, lines, byte: 0, at_us: None, rows: 0, kind, words }
}

/// The first stretch is a block: the file begins behind its head.
fn is_headless(first: &[u8]) -> bool {
    let rule = format!("\n{RULE}\n");
    let has_rule = memchr::memmem::find(first, rule.as_bytes()).is_some();
    let begins = first.iter().zip(FAMILY).filter(|(a, b)| a == b).count() >= FAMILY.len() / 2;
    !has_rule && !begins && first.first().is_some_and(|b| b.is_ascii_digit() || b"@>,".contains(b))
}

/// The head, and whether the version is one that says where it ends.
///
/// # Errors
/// It cannot be read though its checksum agrees, or nothing follows it.
fn read_head(
    opening: &Opening,
    seen: &Index,
    damage: &mut Vec<Damage>,
) -> Result<(Header, bool), FileError> {
    let proven = matches!(
        seen.stretches.first().map(|head| head.seal),
        Some(Seal::Whole(_) | Seal::Mended(_))
    );
    let mut text = seen.head.clone();
    let mended = !proven && mend(&mut text, seen.head_sum);
    let says_end = text.split(|b| *b == b'\n').next() == Some(MAGIC.as_bytes());
    let read = parse(&text);
    match read {
        Ok(header) => {
            if mended {
                let words =
                    "one bit of the head was wrong; its checksum says which, and it is put right";
                damage.push(of_head(seen, DamageKind::Header, words.to_owned()));
            } else if !proven {
                let words = "the checksum of the head is wrong or missing: its texts may be too";
                damage.push(of_head(seen, DamageKind::Header, words.to_owned()));
            }
            Ok((header, says_end))
        }
        Err((line, what)) if proven || seen.stretches.len() < 2 => {
            Err(FileError::Header { path: opening.path.to_owned(), line, what })
        }
        Err((line, what)) => {
            let words = format!(
                "the head cannot be read (line {line}: {what}) and is set aside: date, notes, parts list and \
                 dialect are those that later lines of the file give, else unknown; the blocks are read"
            );
            // Where the head itself is gone, records stand in its place.
            let rows = seen.stretches.first().map_or(0, |head| head.records);
            damage.push(Damage { rows, ..of_head(seen, DamageKind::Header, words) });
            Ok((Header::default(), says_end))
        }
    }
}

/// Puts one flipped bit of the head right, where the line feed before the checkpoint was hit, too.
fn mend(text: &mut Vec<u8>, sum: Option<u32>) -> bool {
    if sum.is_some_and(|sum| one_bit(text, sum)) {
        return true;
    }
    let Some((end, within)) = checkpoints_within(text).into_iter().next() else { return false };
    let Some(from) = memchr::memrchr(b'#', &text[..end]) else { return false };
    let mut short = text[..from].to_vec();
    let mended = one_bit(&mut short, within.sum);
    if mended {
        *text = short;
    }
    mended
}

/// What stands between the first line and the rule.
fn parse(text: &[u8]) -> Result<Header, (u64, String)> {
    let rule = format!("\n{RULE}\n");
    let at = memchr::memmem::find(text, rule.as_bytes());
    let at = at.ok_or_else(|| {
        (1, "the head has no end (a line ---); the file was cut in its head".to_owned())
    })?;
    let first = memchr::memchr(b'\n', text).map_or(0, |end| end + 1);
    let body = text.get(first..at).unwrap_or(&[]);
    let body = std::str::from_utf8(body)
        .map_err(|e| (2, format!("the head is no text ({e}); the file is damaged")))?;
    Header::read(body, "").map_err(|e| (e.line as u64, e.what))
}

/// Takes a rig or dialect into the head; the last one wins.
fn settle(header: &mut Header, number: u64, line: &AtLine<'_>, damage: &mut Vec<Damage>) {
    let mut refuse = |what: String| {
        let words = format!("{what}; the line was left out");
        let (kind, at_us) = (DamageKind::Record, Some(line.host.0));
        damage.push(Damage { line: number, lines: 1, byte: 0, at_us, rows: 0, kind, words });
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
