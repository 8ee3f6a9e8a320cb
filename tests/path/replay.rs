//! A recording played as if it were live gives what the first recording held.
use std::path::Path;
use std::process::Command;
use std::time::{Duration, Instant};

use trimbench::rig::{HostUs, Rig, Word};
use trimbench::session::file::{Opened, Overrides, open};
use trimbench::session::{Session, TimeSource};
use trimbench::work::Watch;

fn trimbench(words: &[&str]) -> (bool, String) {
    let output = Command::new(env!("CARGO_BIN_EXE_trimbench")).args(words).output().expect("run");
    let said = String::from_utf8_lossy(&output.stderr).into_owned();
    (output.status.success(), said)
}

fn text(path: &Path) -> String {
    path.to_string_lossy().into_owned()
}

fn opened(path: &Path) -> Opened {
    open(path, &Overrides::default(), &Watch::unwatched(), &mut |_| ()).expect("opened")
}

fn recorded(path: &Path, seconds: &str) {
    let out = text(path);
    let words =
        ["virtual", "--scenario", "stale-half", "--seed", "5", "--seconds", seconds, "--out", &out];
    let (good, said) = trimbench(&words);
    assert!(good, "{said}");
}

fn played(from: &Path, out: &Path, pace: &str) {
    let (from, out) = (format!("file:{}", text(from)), text(out));
    let (good, said) = trimbench(&["capture", "--from", &from, "--pace", pace, "--out", &out]);
    assert!(good, "{said}");
}

fn columns(session: &Session) -> Vec<Vec<i32>> {
    (0..session.roles().len()).map(|field| session.column(field)).collect()
}

#[test]
fn played_flat_out_into_a_file_it_is_the_same_session() {
    let folder = tempfile::tempdir().expect("a folder");
    let (first, second) = (folder.path().join("first"), folder.path().join("second"));
    recorded(&first, "30");
    played(&first, &second, "flat-out");
    let (a, b) = (opened(&first).session, opened(&second).session);
    assert!(a.rows() > 7_000, "{} rows", a.rows());
    assert_eq!(columns(&a), columns(&b));
    assert_eq!(a.host_part(0..a.rows()), b.host_part(0..b.rows()), "times are the recording's own");
    let words = |s: &Session| -> Vec<(HostUs, String)> {
        s.marks().iter().map(|m| (m.at.host, m.to_string())).collect()
    };
    assert!(!words(&a).is_empty());
    assert_eq!(words(&a), words(&b), "marks come along");
    assert_eq!(a.refusals().total(), b.refusals().total());
    assert_eq!(a.about.rig, b.about.rig);
}

#[test]
fn a_pace_is_kept() {
    let folder = tempfile::tempdir().expect("a folder");
    let (first, second) = (folder.path().join("first"), folder.path().join("second"));
    recorded(&first, "6");
    let begun = Instant::now();
    played(&first, &second, "4");
    // Six seconds at four times real time; a busy machine may only make it longer.
    assert!(begun.elapsed() >= Duration::from_millis(1_400), "{:?}", begun.elapsed());
    assert_eq!(columns(&opened(&first).session), columns(&opened(&second).session));
}

#[test]
fn a_damaged_block_is_left_out_and_the_place_is_marked() {
    let folder = tempfile::tempdir().expect("a folder");
    let (first, second) = (folder.path().join("first"), folder.path().join("second"));
    recorded(&first, "10");
    let mut bytes = std::fs::read(&first).expect("read");
    let middle = bytes.len() / 2;
    let digit = (middle..).find(|at| bytes[*at].is_ascii_digit()).expect("a digit");
    bytes[digit] = if bytes[digit] == b'7' { b'3' } else { b'7' };
    std::fs::write(&first, &bytes).expect("written");
    let from = format!("file:{}", text(&first));
    let words = ["capture", "--from", &from, "--pace", "flat-out", "--out", &text(&second)];
    let (good, said) = trimbench(&words);
    assert!(!good && said.contains("has 1 damaged place;"), "{said}");
    let (a, b) = (opened(&first), opened(&second));
    assert_eq!(a.damage.len(), 1);
    assert_eq!(a.session.rows(), b.session.rows(), "the rest is all there");
    let mark = b.session.marks().iter().find(|m| m.word == Word::Damaged).expect("a mark");
    assert!(mark.text.contains("lines are left out"), "{}", mark.text);
    assert!(b.damage.is_empty(), "{:?}", b.damage);
}

#[test]
fn a_plain_log_is_played_by_the_boards_clock() {
    let folder = tempfile::tempdir().expect("a folder");
    let (log, out) = (folder.path().join("log.txt"), folder.path().join("out"));
    let mut lines = String::from("board ready\n");
    for n in 0..2_000_u64 {
        // The clock wraps on the way, and stands still for half a second once.
        let t_us = n * 1_000 + if n < 1_000 { 0 } else { 500_000 };
        let clock = (u64::from(u32::MAX) - 700_000 + t_us) & u64::from(u32::MAX);
        lines += &format!("{},{clock},{},{},{:X}\n", n & 0xFFFF, 500 + n % 9, 510 - n % 7, n % 16);
    }
    std::fs::write(&log, lines).expect("written");
    played(&log, &out, "flat-out");
    let session = opened(&out).session;
    assert_eq!(session.rows(), 2_000);
    let host = session.host_part(0..2_000);
    assert_eq!(host[1_999] - host[0], 1_999_000 + 500_000);
    assert_eq!(host[1_000] - host[999], 501_000);
}

#[test]
fn a_log_without_a_clock_is_played_by_rows_and_gets_no_time_on_the_way() {
    let folder = tempfile::tempdir().expect("a folder");
    let [log, once, twice] = ["log.txt", "once", "twice"].map(|name| folder.path().join(name));
    let lines: String =
        (0..2_000).map(|n| format!("lx:{} ly:{}\n", 500 + n % 9, 510 - n % 7)).collect();
    std::fs::write(&log, lines).expect("written");
    let first = opened(&log).session;
    for (from, out) in [(&log, &once), (&once, &twice)] {
        let address = format!("file:{}", text(from));
        let words = ["capture", "--from", &address, "--pace", "flat-out", "--out", &text(out)];
        let (good, said) = trimbench(&words);
        assert!(good && said.contains("tells no time: its rows are played"), "{said}");
        let session = opened(out).session;
        assert!(!session.tells_time() && session.about.clockless, "{}", out.display());
        assert_eq!(session.tracks(&Rig::default()).time_source, TimeSource::Assumed);
        assert_eq!(columns(&session), columns(&first));
    }
    // A log with a clock is as it was.
    let timed: String = (0..2_000).map(|n| format!("ms:{} lx:{}\n", 4 * n, 500 + n % 9)).collect();
    std::fs::write(&log, timed).expect("written");
    let out = folder.path().join("timed");
    played(&log, &out, "flat-out");
    assert!(opened(&out).session.is_timed());
}

#[test]
fn what_cannot_be_played_is_refused_in_one_line() {
    let folder = tempfile::tempdir().expect("a folder");
    let out = text(&folder.path().join("out"));
    let empty = folder.path().join("empty");
    std::fs::write(&empty, "").expect("written");
    let cases: [(&str, &str, &str); 5] = [
        (&format!("file:{}", text(&empty)), "1", "empty"),
        ("file:/no/such/recording", "1", "/no/such/recording"),
        ("serial:/dev/null@115200", "2", "pace"),
        ("virtual:healthy", "flat-out", "--out FILE"),
        ("virtual:healthy", "fast", "flat-out"),
    ];
    for (from, pace, part) in cases {
        let (good, said) = trimbench(&["capture", "--from", from, "--pace", pace, "--out", &out]);
        assert!(!good && said.lines().count() == 1 && said.contains(part), "{from}: {said}");
        assert!(!Path::new(&out).exists(), "{from}: nothing is left behind");
    }
}
