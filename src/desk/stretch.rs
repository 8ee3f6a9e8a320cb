//! The last stretch of a recording, perhaps of several parts, as a recording of its own.
//!
//! Blocks are taken over as they stand, so their checksums hold; only the running numbers of their
//! checkpoints are those of the new file. What no checkpoint has closed yet is left out: a second at most.
use std::fs::File;
use std::io::{self, BufRead, BufReader, Read, Write};
use std::path::{Path, PathBuf};
use std::time::Duration;

use crate::session::About;
use crate::session::file::Writer;
use crate::wire::Dialect;

/// A block longer than this is none.
const MOST_BLOCK: u64 = 32 << 20;
/// The line between head and records.
const RULE: &[u8] = b"---\n";

/// Writes the last `span` of `parts`, oldest first, behind a head of its own; gives the time it holds.
///
/// # Errors
/// A part cannot be read, or the output not be written.
pub(super) fn write_last(
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
    let head = Writer::new(Vec::new(), about, dialect)?.finish()?;
    out.write_all(&head)?;
    let mut line = memchr::memchr_iter(b'\n', &head).count() as u64;
    let mut first_us = None;
    for part in parts {
        each_block(part, &mut |block| {
            if block.last_us < since_us {
                return Ok(());
            }
            first_us.get_or_insert(block.first_us);
            line += block.lines + 1;
            out.write_all(block.text)?;
            writeln!(out, "# {line} {}", block.sum)
        })?;
    }
    Ok(Duration::from_micros(newest_us.saturating_sub(first_us.unwrap_or(newest_us))))
}

/// A block of a recording without its checkpoint.
struct Block<'a> {
    text: &'a [u8],
    lines: u64,
    first_us: u64,
    last_us: u64,
    /// The checksum as its checkpoint has it.
    sum: &'a str,
}

fn each_block(path: &Path, take: &mut dyn FnMut(&Block<'_>) -> io::Result<()>) -> io::Result<()> {
    let mut file = BufReader::with_capacity(1 << 18, File::open(path)?);
    let mut text = Vec::new();
    let (mut in_head, mut lines) = (true, 0);
    let mut times: Option<(u64, u64)> = None;
    loop {
        let from = text.len();
        if (&mut file).take(MOST_BLOCK).read_until(b'\n', &mut text)? == 0 {
            return Ok(());
        }
        let line = &text[from..];
        if in_head {
            in_head = line != RULE;
            // The head's own checkpoint ends a block without a time, which is left out.
            text.clear();
        } else if line.first() == Some(&b'#') {
            let sum =
                std::str::from_utf8(line).ok().and_then(|line| line.split_whitespace().nth(2));
            if let (Some(sum), Some((first_us, last_us))) = (sum, times) {
                take(&Block { text: &text[..from], lines, first_us, last_us, sum })?;
            }
            text.clear();
            (lines, times) = (0, None);
        } else {
            lines += 1;
            if let Some(at) = time_of(line) {
                times = Some(times.map_or((at, at), |(first, last)| (first.min(at), last.max(at))));
            }
            if text.len() as u64 > MOST_BLOCK {
                let why = "no checkpoint within 32 MB of it";
                return Err(io::Error::new(io::ErrorKind::InvalidData, why));
            }
        }
    }
}

/// The time of a record, a mark or what was sent, µs.
fn time_of(line: &[u8]) -> Option<u64> {
    let line = line.strip_prefix(b"> ").or(line.strip_prefix(b"@ ")).unwrap_or(line);
    let digits = line.iter().take_while(|b| b.is_ascii_digit()).count();
    std::str::from_utf8(&line[..digits]).ok()?.parse().ok()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::session::file::{Overrides, open};
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
        }
    }
}
