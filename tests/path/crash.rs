//! Killed at any moment: what the file holds is what came, to the byte, but for a second at most.
use std::fmt::Write as _;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::sync::atomic::{AtomicUsize, Ordering};
use std::time::{Duration, Instant};

use rand::{Rng, SeedableRng};
use trimbench::session::About;
use trimbench::session::file::{Overrides, Writer, open};
use trimbench::work::Watch;

/// Frames a second.
pub const RATES: [u64; 3] = [60, 1_000, 8_000];
/// Most that may be missing.
pub const MISSING: Duration = Duration::from_secs(1);
/// Between the moment that is noted and the one at which the process is struck.
const SLACK: Duration = Duration::from_millis(150);

/// A recording of so many seconds, to be played in real time: a board at any rate.
pub fn source(folder: &Path, rate: u64, seconds: u64) -> PathBuf {
    let path = folder.join(format!("{rate}.source"));
    let file = std::io::BufWriter::new(std::fs::File::create(&path).expect("made"));
    let mut writer = Writer::new(file, &About::default(), None).expect("a head");
    let mut frame = String::new();
    for n in 0..rate * seconds {
        let at_us = n * 1_000_000 / rate;
        frame.clear();
        writeln!(frame, "{},{at_us},512,{},3FF", n & 0xFFFF, 500 + n % 23).expect("formatted");
        writer.append(at_us, frame.as_bytes()).expect("written");
    }
    writer.finish().expect("whole");
    path
}

/// The lines of the records of a session file that are whole.
pub fn records(text: &[u8]) -> Vec<&[u8]> {
    let body = text.windows(5).position(|w| w == b"\n---\n").map_or(text.len(), |at| at + 5);
    let lines = text[body..].split_inclusive(|b| *b == b'\n');
    lines.filter(|line| line[0].is_ascii_digit() && line.ends_with(b"\n")).collect()
}

/// Time of a record, µs.
pub fn time_of(record: &[u8]) -> u64 {
    let digits = record.iter().take_while(|b| b.is_ascii_digit());
    digits.fold(0, |sum, digit| sum * 10 + u64::from(digit - b'0'))
}

/// A recording of the source that goes on, and when its file was there.
pub fn going_on(program: &mut Command, source: &Path, out: &Path) -> (Child, Instant) {
    let from = format!("file:{}", source.display());
    program.args(["capture", "--from", &from, "--out"]).arg(out);
    let child = program.stdin(Stdio::null()).stdout(Stdio::null()).stderr(Stdio::null()).spawn();
    let child = child.expect("the program runs");
    let begun = Instant::now();
    while !out.metadata().is_ok_and(|meta| meta.len() > 0) {
        assert!(begun.elapsed() < Duration::from_secs(60), "no file");
        std::thread::sleep(Duration::from_millis(1));
    }
    (child, Instant::now())
}

/// What is wrong with a file that a recording has left `played` after its beginning.
pub fn breach(source: &[&[u8]], text: &[u8], played: Duration, most: Duration) -> Option<String> {
    let left = records(text);
    if let Some(at) = left.iter().zip(source).position(|(a, b)| a != b) {
        return Some(format!("record {at} is another than the one that came"));
    }
    if left.len() > source.len() {
        return Some("more records than came".to_owned());
    }
    let last = Duration::from_micros(left.last().map_or(0, |record| time_of(record)));
    let missing = played.saturating_sub(last);
    (missing > most).then(|| format!("{missing:?} of {played:?} are missing"))
}

/// Kills one recording; gives what is wrong, and how much was missing.
fn kill_once(folder: &Path, source: &Path, seed: u64) -> Result<Duration, String> {
    let mut draw = rand_chacha::ChaCha8Rng::seed_from_u64(seed);
    let out = folder.join(format!("{seed}.session"));
    let mut program = Command::new(env!("CARGO_BIN_EXE_trimbench"));
    let (mut child, begun) = going_on(&mut program, source, &out);
    std::thread::sleep(Duration::from_micros(draw.random_range(0..2_500_000)));
    let played = begun.elapsed();
    child.kill().map_err(|e| e.to_string())?;
    child.wait().map_err(|e| e.to_string())?;
    let (text, whole) = (std::fs::read(&out), std::fs::read(source));
    let (text, whole) = (text.map_err(|e| e.to_string())?, whole.map_err(|e| e.to_string())?);
    let all = records(&whole);
    if let Some(why) = breach(&all, &text, played, MISSING + SLACK) {
        return Err(format!("seed {seed}: {why}"));
    }
    let left = records(&text);
    if left.len() > 10 {
        let opened = open(&out, &Overrides::default(), &Watch::unwatched(), &mut |_| ());
        let rows = opened.map_err(|e| format!("seed {seed}: {e}"))?.session.rows();
        if rows != left.len() {
            return Err(format!("seed {seed}: {rows} rows of {} records", left.len()));
        }
    }
    std::fs::remove_file(&out).map_err(|e| e.to_string())?;
    let last = left.last().map_or(0, |record| time_of(record));
    Ok(played.saturating_sub(Duration::from_micros(last)))
}

/// Kills so many recordings at each rate, some at a time; a long run goes on where it was left.
fn kill_many(each: usize, at_once: usize, done_in: Option<&Path>) {
    let folder = tempfile::tempdir().expect("a folder");
    for rate in RATES {
        let noted = done_in.map(|folder| folder.join(format!("killed-{rate}")));
        let read = noted.as_ref().and_then(|path| std::fs::read_to_string(path).ok());
        let first = read.and_then(|text| text.trim().parse().ok()).unwrap_or(0);
        let source = source(folder.path(), rate, 6);
        let next = AtomicUsize::new(first);
        let work = || {
            let (mut most, mut found) = (Duration::ZERO, Vec::new());
            loop {
                let k = next.fetch_add(1, Ordering::Relaxed);
                if k >= each {
                    return (most, found);
                }
                match kill_once(folder.path(), &source, k as u64 * 10_000 + rate) {
                    Ok(missing) => most = most.max(missing),
                    Err(why) => found.push(why),
                }
                if let (Some(noted), true) = (&noted, found.is_empty()) {
                    // What is under way elsewhere is done again.
                    let done = (k + 1).saturating_sub(at_once).max(first);
                    std::fs::write(noted, done.to_string()).expect("noted");
                }
            }
        };
        let (mut most, mut found) = (Duration::ZERO, Vec::new());
        std::thread::scope(|scope| {
            let threads: Vec<_> = (0..at_once).map(|_| scope.spawn(work)).collect();
            for thread in threads {
                let (missing, wrong) = thread.join().expect("no panic");
                most = most.max(missing);
                found.extend(wrong);
            }
        });
        println!("killed at {rate} Hz: {} times, at most {most:?} missing", each - first);
        assert!(found.is_empty(), "at {rate} Hz:\n{}", found.join("\n"));
    }
}

#[test]
fn a_recording_that_is_killed_holds_all_but_its_last_second() {
    kill_many(8, 4, None);
}

/// The whole of it, for `.ci/long`.
#[test]
fn killed_a_thousand_times_at_length() {
    if std::env::var_os("TRIMBENCH_LONG").is_none() {
        println!("left out: a matter for .ci/long");
        return;
    }
    kill_many(1_000, 6, Some(Path::new(env!("CARGO_TARGET_TMPDIR"))));
}
