//! A first look through a whole session file: its blocks, what proves them, and its SHA-256.
use std::io::{self, Read};

use crate::session::identity::{Identity, Of, Summed};
use crate::work::{Cancelled, Watch};

use super::checkpoint::{Checkpoint, count_lines, count_meant_as_records, count_records, plain};
use super::header::FAMILY;
use super::record::{AtLine, CRC32, stamped};
use super::text_log::BYTE_ORDER_MARK;

/// Bytes read at once.
const STEP: u64 = 1 << 20;
/// A block without checkpoint longer than this is given up.
pub(super) const MOST_BLOCK: usize = 32 << 20;
/// An `@` line longer than this is no such line.
const MOST_LINE: usize = 1 << 18;

/// What proves the lines of a stretch.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Seal {
    /// The checkpoint behind it, which has this number.
    Whole(u64),
    /// A checkpoint that was hit itself; its number as it must have been.
    Mended(u64),
    /// Nothing: the checkpoint behind it does not agree. Its number, where there is one.
    Broken(Option<u64>),
    /// Nothing: there is no checkpoint behind it.
    Tail,
}

/// Lines up to a checkpoint.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Stretch {
    /// Where its first line stands, and how long its lines are without the checkpoint.
    pub(super) byte: u64,
    pub(super) bytes: u64,
    /// Number of its first line in the file, counted from 1, and how many there are.
    pub(super) line: u64,
    pub(super) lines: u64,
    /// Lines among them that are records.
    pub(super) records: u64,
    /// Host time of the last record before it, µs.
    pub(super) at_us: Option<u64>,
    pub(super) seal: Seal,
}

/// Another place of the file.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Spot {
    pub(super) line: u64,
    pub(super) byte: u64,
    pub(super) records: u64,
    pub(super) at_us: Option<u64>,
}

/// What stands where in a session file.
pub(super) struct Index {
    pub(super) identity: Identity,
    /// The first stretch: the head, line ends undone.
    pub(super) head: Vec<u8>,
    /// The checksum in the first checkpoint.
    pub(super) head_sum: Option<u32>,
    pub(super) stretches: Vec<Stretch>,
    /// Lines that hold for the whole file, by running number, in the order of the file.
    pub(super) at_lines: Vec<(u64, Vec<u8>)>,
    /// Lines that ended in CR LF.
    pub(super) returns: u64,
    /// Where another session begins.
    pub(super) joined: Option<Spot>,
    /// A last line without its end.
    pub(super) cut: Option<Spot>,
    /// A checkpoint says that the recording was ended.
    pub(super) ended: bool,
    /// The end of the file.
    pub(super) end: Spot,
}

/// Looks through the whole of `input`. Memory: one block, and some 80 bytes for each.
///
/// # Errors
/// As the input; within, that the watch asked to stop.
pub(super) fn index(input: &mut impl Read, watch: &Watch) -> io::Result<Result<Index, Cancelled>> {
    let mut looking = Looking::new();
    let (mut text, mut look, mut first) = (Vec::new(), 0, true);
    loop {
        let had = text.len();
        (&mut *input).take(STEP).read_to_end(&mut text)?;
        let ended = text.len() == had;
        looking.summed.add(&text[had..]);
        if let Err(cancelled) = watch.step(0, 1) {
            return Ok(Err(cancelled));
        }
        if std::mem::take(&mut first) && text.starts_with(BYTE_ORDER_MARK) {
            text.drain(..BYTE_ORDER_MARK.len());
            looking.byte += BYTE_ORDER_MARK.len() as u64;
            looking.found.returns += 1;
        }
        let from = looking.blocks(&text, &mut look, ended);
        text.drain(..from);
        look = look.saturating_sub(from);
        if ended {
            break;
        }
    }
    looking.found.end = looking.spot(&[]);
    looking.found.identity = looking.summed.identity(Of::File);
    Ok(Ok(looking.found))
}

/// The index under construction.
struct Looking {
    found: Index,
    summed: Summed,
    /// Lines and bytes before the text at hand.
    line: u64,
    byte: u64,
    /// Running number that the next line ought to have.
    expect: u64,
    last_us: Option<u64>,
}

impl Looking {
    fn new() -> Looking {
        let found = Index {
            identity: Summed::new().identity(Of::File),
            head: Vec::new(),
            head_sum: None,
            stretches: Vec::new(),
            at_lines: Vec::new(),
            returns: 0,
            joined: None,
            cut: None,
            ended: false,
            end: Spot { line: 0, byte: 0, records: 0, at_us: None },
        };
        Looking { found, summed: Summed::new(), line: 0, byte: 0, expect: 1, last_us: None }
    }

    /// Takes the whole blocks of `text`; gives how many of its bytes are done with.
    fn blocks(&mut self, text: &[u8], look: &mut usize, ended: bool) -> usize {
        let mut from = 0;
        while let Some(at) = next_checkpoint(text, from, *look) {
            let length = match memchr::memchr(b'\n', &text[at..]) {
                Some(length) => length + 1,
                None if ended => text.len() - at,
                None => {
                    *look = at.saturating_sub(1).max(from);
                    return from;
                }
            };
            let line = &text[at..at + length];
            match Checkpoint::read(line.strip_suffix(b"\n").unwrap_or(line)) {
                Some(checkpoint) => {
                    self.block(&text[from..at], checkpoint, line);
                    from = at + length;
                    *look = from;
                }
                None => *look = at + 2,
            }
        }
        if ended {
            self.rest(&text[from..]);
            return text.len();
        }
        if text.len() - from > MOST_BLOCK {
            self.push(&text[from..], Seal::Broken(None), 0);
            from = text.len();
        }
        *look = text.len().saturating_sub(2).max(from);
        from
    }

    /// Lines and the checkpoint behind them.
    fn block(&mut self, text: &[u8], checkpoint: Checkpoint, line: &[u8]) {
        let Some(text) = self.before_another(text, line.len()) else { return };
        self.found.head_sum = self.found.head_sum.or(Some(checkpoint.sum));
        let sum = CRC32.checksum(&plain(text));
        let ought = self.expect + count_lines(text);
        if sum == checkpoint.sum {
            self.found.ended |= checkpoint.last;
            self.push(text, Seal::Whole(checkpoint.number), line.len());
        } else if let Some((_, last)) = Checkpoint::nearly(ought, sum, line) {
            self.found.ended |= last;
            self.push(text, Seal::Mended(ought), line.len());
        } else {
            self.found.ended |= checkpoint.last;
            self.recover(text, checkpoint, line.len());
        }
    }

    /// Lines that their checkpoint does not prove: perhaps one between them was hit.
    fn recover(&mut self, text: &[u8], checkpoint: Checkpoint, behind: usize) {
        let proves = |text: &[u8]| CRC32.checksum(&plain(text)) == checkpoint.sum;
        let whole = Seal::Whole(checkpoint.number);
        let mut rest = text;
        if self.found.stretches.is_empty()
            && let Some(end) = end_of_head(rest).filter(|end| proves(&rest[*end..]))
        {
            self.push(&rest[..end], Seal::Broken(None), 0);
            return self.push(&rest[end..], whole, behind);
        }
        while let Some(found) = sealed(rest, self.expect) {
            self.push(&rest[..found.lines], Seal::Mended(found.number), found.checkpoint);
            rest = &rest[found.lines + found.checkpoint..];
            if proves(rest) {
                return self.push(rest, whole, behind);
            }
        }
        for (end, Checkpoint { number, .. }) in checkpoints_within(rest) {
            if checkpoint.number == number + count_lines(&rest[end..]) + 1 && proves(&rest[end..]) {
                self.push(&rest[..end], Seal::Broken(Some(number)), 0);
                return self.push(&rest[end..], whole, behind);
            }
        }
        self.push(rest, Seal::Broken(Some(checkpoint.number)), behind);
    }

    /// What stands behind the last checkpoint.
    fn rest(&mut self, text: &[u8]) {
        let Some(mut text) = self.before_another(text, 0) else { return };
        while let Some(found) = sealed(text, self.expect) {
            self.found.ended |= found.last;
            self.push(&text[..found.lines], Seal::Mended(found.number), found.checkpoint);
            text = &text[found.lines + found.checkpoint..];
        }
        let end = memchr::memrchr(b'\n', text).map_or(0, |at| at + 1);
        let (mut from, mut within) = (0, checkpoints_within(&text[..end]).into_iter());
        // A line feed before a checkpoint was hit: what it ends does not agree with it.
        while let Some((to, checkpoint)) = within.next()
            && checkpoint.number == self.expect + count_lines(&text[from..to])
        {
            self.found.ended |= checkpoint.last;
            self.push(&text[from..to], Seal::Broken(Some(checkpoint.number)), 0);
            from = to;
        }
        if end > from {
            self.push(&text[from..end], Seal::Tail, 0);
        }
        if end < text.len() {
            self.found.cut = Some(self.spot(&text[end..]));
        }
    }

    /// The text before the head of another session; `None` where that one has begun: all that
    /// follows is counted and left out.
    fn before_another<'a>(&mut self, text: &'a [u8], behind: usize) -> Option<&'a [u8]> {
        if self.found.joined.is_none() {
            let own = usize::from(self.found.stretches.is_empty());
            let Some(at) = begins_another(text, own) else { return Some(text) };
            let end = memchr::memrchr(b'\n', &text[..at]).map_or(0, |at| at + 1);
            if end > 0 {
                self.push(&text[..end], Seal::Tail, 0);
            }
            if end < at {
                self.found.cut = Some(self.spot(&text[end..at]));
                self.byte += (at - end) as u64;
            }
            self.found.joined = Some(self.spot(&[]));
            self.count_joined(&text[at..], behind);
            return None;
        }
        self.count_joined(text, behind);
        None
    }

    fn count_joined(&mut self, text: &[u8], behind: usize) {
        if let Some(joined) = &mut self.found.joined {
            joined.records += count_records(text);
        }
        self.line += count_lines(text) + u64::from(behind > 0);
        self.byte += (text.len() + behind) as u64;
    }

    fn spot(&self, text: &[u8]) -> Spot {
        let (line, byte, at_us) = (self.line + 1, self.byte, self.last_us);
        Spot { line, byte, records: count_records(text), at_us }
    }

    /// Notes a stretch and the checkpoint of so many bytes behind it.
    fn push(&mut self, text: &[u8], seal: Seal, behind: usize) {
        let lines = count_lines(text);
        let first = self.found.stretches.is_empty();
        let stretch = Stretch {
            byte: self.byte,
            bytes: text.len() as u64,
            line: self.line + 1,
            lines,
            records: if first { count_records(text) } else { count_meant_as_records(text) },
            at_us: self.last_us,
            seal,
        };
        let ought = self.expect + lines;
        let (own, next) = match seal {
            Seal::Whole(number) | Seal::Mended(number) => {
                (Some(number.saturating_sub(lines)), number.saturating_add(1))
            }
            Seal::Tail => (Some(self.expect), ought),
            Seal::Broken(number) => (None, number.unwrap_or(ought).saturating_add(1)),
        };
        let returns = memchr::memmem::find_iter(text, b"\r\n").count() as u64;
        if first {
            // A lone one is a character that was hit, not a line end that was changed.
            let head = if returns == lines { plain(text).into_owned() } else { text.to_vec() };
            self.found.head = head;
        }
        if let Some(own) = own {
            self.at_lines(text, own);
            self.last_us = last_stamp(text).or(self.last_us);
        }
        if !matches!(seal, Seal::Broken(_)) {
            self.found.returns += returns;
        }
        self.found.stretches.push(stretch);
        self.expect = next;
        self.line += lines + u64::from(behind > 0);
        self.byte += (text.len() + behind) as u64;
    }

    /// Notes the `@` lines that are no marks; the first line has the running number `own`.
    fn at_lines(&mut self, text: &[u8], own: u64) {
        let begins = text.starts_with(b"@ ").then_some(0);
        let others = memchr::memmem::find_iter(text, b"\n@ ").map(|at| at + 1);
        let (mut counted, mut lines) = (0, 0);
        for at in begins.into_iter().chain(others) {
            lines += count_lines(&text[counted..at]);
            counted = at;
            let line = text[at..].split(|b| *b == b'\n').next().unwrap_or(&[]);
            let line = line.strip_suffix(b"\r").unwrap_or(line);
            if line.len() <= MOST_LINE
                && AtLine::read(line).is_some_and(|line| AtLine::is_reserved(line.word))
            {
                self.found.at_lines.push((own + lines, line.to_vec()));
            }
        }
    }
}

/// Where the next line that looks like a checkpoint begins.
fn next_checkpoint(text: &[u8], from: usize, look: usize) -> Option<usize> {
    if look <= from && text[from..].starts_with(b"# ") {
        return Some(from);
    }
    let look = look.max(from);
    memchr::memmem::find(&text[look..], b"\n# ").map(|at| look + at + 1)
}

/// Where the head of a session begins, from byte `from` on: its first line may stand behind one that
/// was cut, and the next one opens a bracket.
fn begins_another(text: &[u8], from: usize) -> Option<usize> {
    let text_from = text.get(from..)?;
    let begins = |at: usize| {
        let line = text_from[at..].split(|b| *b == b'\n').next().unwrap_or(&[]);
        let digits = line.get(FAMILY.len()..).unwrap_or(&[]);
        let digits = digits.strip_suffix(b"\r").unwrap_or(digits);
        let number = !digits.is_empty() && digits.iter().all(u8::is_ascii_digit);
        number && text_from.get(at + line.len() + 1) == Some(&b'(')
    };
    memchr::memmem::find_iter(text_from, FAMILY).find(|at| begins(*at)).map(|at| from + at)
}

/// Byte behind the rule that ends a head.
fn end_of_head(text: &[u8]) -> Option<usize> {
    let rule = |rule: &[u8]| memchr::memmem::find(text, rule).map(|at| at + rule.len());
    rule(b"\n---\n").or_else(|| rule(b"\n---\r\n"))
}

/// Lines that a checkpoint of which one byte is wrong proves.
struct Sealed {
    /// Bytes of the lines, and of the checkpoint behind them.
    lines: usize,
    checkpoint: usize,
    number: u64,
    last: bool,
}

/// Finds it: the first line has the running number `expect`.
fn sealed(text: &[u8], expect: u64) -> Option<Sealed> {
    let (mut digest, mut at, mut number) = (CRC32.digest(), 0, expect);
    for line in text.split_inclusive(|b| *b == b'\n') {
        let rest = &text[at..];
        let near = rest.first() == Some(&b'#') || rest.get(1) == Some(&b' ');
        if near
            && let Some((checkpoint, last)) =
                Checkpoint::nearly(number, digest.clone().finalize(), rest)
        {
            return Some(Sealed { lines: at, checkpoint, number, last });
        }
        digest.update(&plain(line));
        at += line.len();
        number += 1;
    }
    None
}

/// Checkpoints that do not begin their line because the line feed before them was hit, and the byte
/// behind that line.
pub(super) fn checkpoints_within(text: &[u8]) -> Vec<(usize, Checkpoint)> {
    let mut found = Vec::new();
    let mut at = 0;
    for line in text.split_inclusive(|b| *b == b'\n') {
        at += line.len();
        let bare = line.strip_suffix(b"\n").unwrap_or(line);
        let tail = memchr::memrchr(b'#', bare).and_then(|from| Checkpoint::read(&bare[from..]));
        if let Some(checkpoint) = tail {
            found.push((at, checkpoint));
        }
    }
    found
}

/// Host time of the last record, µs.
fn last_stamp(text: &[u8]) -> Option<u64> {
    let lines = text.strip_suffix(b"\n").unwrap_or(text).rsplit(|b| *b == b'\n');
    lines
        .filter(|line| line.first().is_some_and(u8::is_ascii_digit))
        .find_map(|line| Some(stamped(line)?.0))
}
