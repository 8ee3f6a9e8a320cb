//! The last stretch of a recording, perhaps of several parts, as a recording of its own.
//!
//! Blocks are taken over as they stand, so their checksums hold; only the running numbers of their
//! checkpoints are those of the new file. What no checkpoint has closed yet is left out: a second at most.
use std::fs::File;
use std::io::{self, BufRead, BufReader, Read, Write};
use std::path::{Path, PathBuf};
use std::time::Duration;

use crate::session::About;
use crate::wire::Dialect;

use super::checkpoint::Checkpoint;
use super::header::RULE;
use super::index::MOST_BLOCK;
use super::record::{CRC32, stamped};
use super::writer::Writer;

/// Writes the last `span` of `parts`, oldest first, behind a head of its own; gives the time it holds.
///
/// # Errors
/// A part cannot be read, or the output not be written.
pub fn write_last(
    parts: &[PathBuf],
    span: Duration,
    about: &About,
    dialect: Option<&Dialect>,
    out: &mut dyn Write,
) -> io::Result<Duration> {
    let mut newest_us = 0;
    for part in parts.iter().rev() {
        each_block(part, &mut |block| {
            newest_us = block.last_us.max(newest_us);
            Ok(())
        })?;
        if newest_us > 0 {
            break;
        }
    }
    let since_us = newest_us.saturating_sub(span.as_micros() as u64);
    let mut head = Vec::new();
    Writer::new(&mut head, about, dialect)?;
    out.write_all(&head)?;
    let mut line = memchr::memchr_iter(b'\n', &head).count() as u64;
    let mut first_us = None;
    // The last one says that the recording ends there, so each waits until the next block is known.
    let mut pending: Option<Checkpoint> = None;
    for part in parts {
        each_block(part, &mut |block| {
            if block.last_us < since_us {
                return Ok(());
            }
            first_us.get_or_insert(block.first_us);
            line += block.lines + 1;
            if let Some(before) =
                pending.replace(Checkpoint { number: line, sum: block.sum, last: false })
            {
                writeln!(out, "{}", before.text())?;
            }
            out.write_all(block.text)
        })?;
    }
    let none = Checkpoint { number: line + 1, sum: CRC32.checksum(b""), last: true };
    let end = pending.map_or(none, |last| Checkpoint { last: true, ..last });
    writeln!(out, "{}", end.text())?;
    Ok(Duration::from_micros(newest_us.saturating_sub(first_us.unwrap_or(newest_us))))
}

/// A block of a recording without its checkpoint.
struct Block<'a> {
    text: &'a [u8],
    lines: u64,
    first_us: u64,
    last_us: u64,
    /// The checksum in its checkpoint.
    sum: u32,
}

fn each_block(path: &Path, take: &mut dyn FnMut(&Block<'_>) -> io::Result<()>) -> io::Result<()> {
    let mut file = BufReader::with_capacity(1 << 18, File::open(path)?);
    let mut text = Vec::new();
    let (mut in_head, mut lines) = (true, 0);
    let mut times: Option<(u64, u64)> = None;
    loop {
        let from = text.len();
        if (&mut file).take(MOST_BLOCK as u64).read_until(b'\n', &mut text)? == 0 {
            return Ok(());
        }
        let line = &text[from..];
        if in_head {
            in_head = line.strip_suffix(b"\n") != Some(RULE.as_bytes());
            // The head's own checkpoint ends a block without a time, which is left out.
            text.clear();
        } else if line.first() == Some(&b'#') {
            let checkpoint = Checkpoint::read(line.strip_suffix(b"\n").unwrap_or(line));
            if let (Some(Checkpoint { sum, .. }), Some((first_us, last_us))) = (checkpoint, times) {
                take(&Block { text: &text[..from], lines, first_us, last_us, sum })?;
            }
            text.clear();
            (lines, times) = (0, None);
        } else {
            lines += 1;
            if let Some(at) = time_of(line) {
                times = Some(times.map_or((at, at), |(first, last)| (first.min(at), last.max(at))));
            }
            if text.len() > MOST_BLOCK {
                let why = "no checkpoint within 32 MB of it";
                return Err(io::Error::new(io::ErrorKind::InvalidData, why));
            }
        }
    }
}

/// The time of a record, a mark or what was sent, µs.
fn time_of(line: &[u8]) -> Option<u64> {
    let line = line.strip_prefix(b"> ").or(line.strip_prefix(b"@ ")).unwrap_or(line);
    stamped(line).map(|(at_us, _)| at_us)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::session::file::{DamageKind, Overrides, open};
    use crate::work::Watch;

    fn part(folder: &Path, name: &str, seconds: std::ops::Range<u64>) -> PathBuf {
        let path = folder.join(name);
        let file = File::create(&path).expect("made");
        let mut writer = Writer::new(file, &About::default(), None).expect("a head");
        for ms in (seconds.start * 1000..seconds.end * 1000).step_by(4) {
            let frame = format!("{},{},512,{},3FF\n", ms / 4 % 65_536, ms * 1000, 510 + ms % 5);
            writer.append(ms * 1000, frame.as_bytes()).expect("written");
            writer.tick(ms * 1000).expect("written");
        }
        writer.finish().expect("whole");
        path
    }

    #[test]
    fn the_last_seconds_of_two_parts_are_one_sound_recording() {
        let folder = tempfile::tempdir().expect("a folder");
        let parts = [part(folder.path(), "a", 1..20), part(folder.path(), "b", 20..40)];
        for (span, rows) in [(30, 7500), (5, 1250), (100, 39 * 250)] {
            let mut text = Vec::new();
            let span = Duration::from_secs(span);
            let held = write_last(&parts, span, &About::default(), None, &mut text);
            let held = held.expect("written");
            let path = folder.path().join("last");
            std::fs::write(&path, text).expect("written");
            let read = open(&path, &Overrides::default(), &Watch::unwatched(), &mut |_| ());
            let read = read.expect("it opens");
            assert!(read.damage.is_empty(), "{:?}", read.damage);
            let more = read.session.rows() - rows.min(read.session.rows());
            assert!(read.session.rows() >= rows && more <= 260, "{rows}: {more} more");
            assert!(held >= span.min(Duration::from_millis(38_900)), "{held:?}");
            assert_eq!(read.session.tracks(&crate::rig::Rig::default()).stream.lost, Some(0));
            // Cut behind a checkpoint it does not pass for whole.
            let text = std::fs::read(&path).expect("read");
            let behind = |at: &usize| text[*at..].starts_with(b"\n# ");
            let marks: Vec<usize> = (0..text.len()).filter(behind).collect();
            let checkpoint = marks[marks.len() - 2] + 1;
            let cut = checkpoint
                + text[checkpoint..].iter().position(|b| *b == b'\n').expect("ended")
                + 1;
            std::fs::write(&path, &text[..cut]).expect("written");
            let read = open(&path, &Overrides::default(), &Watch::unwatched(), &mut |_| ());
            let kinds: Vec<DamageKind> =
                read.expect("it opens").damage.iter().map(|d| d.kind).collect();
            assert_eq!(kinds, [DamageKind::Unended]);
        }
    }
}
