//! The last minutes of a recording, and what a crash leaves, of the program itself.
use std::path::Path;
use std::process::{Command, Stdio};
use std::time::Duration;

use trimbench::rig::Rig;
use trimbench::session::file::{Opened, Overrides, open};
use trimbench::work::Watch;

fn program(words: &[&str]) -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_trimbench"));
    command.args(words).stdin(Stdio::null()).stdout(Stdio::piped()).stderr(Stdio::piped());
    command
}

fn words_of(path: &Path) -> &str {
    path.to_str().expect("a plain name")
}

fn opened(path: &Path) -> Opened {
    let read = open(path, &Overrides::default(), &Watch::unwatched(), &mut |_| ());
    read.expect("it opens")
}

fn names(folder: &Path) -> Vec<String> {
    let entries = std::fs::read_dir(folder).expect("listed").flatten();
    let mut names: Vec<String> =
        entries.map(|e| e.file_name().to_string_lossy().into_owned()).collect();
    names.sort();
    names
}

#[test]
fn a_capture_that_keeps_the_last_stretch_ends_with_that_alone() {
    let folder = tempfile::tempdir().expect("a folder");
    let (long, out) = (folder.path().join("long.session"), folder.path().join("last.session"));
    let made = program(&["virtual", "--seconds", "90", "--out", words_of(&long)]).output();
    assert!(made.expect("the program runs").status.success());
    let from = format!("file:{}", words_of(&long));
    let words = ["capture", "--from", &from, "--pace", "flat-out", "--keep", "0.2", "--out"];
    let done = program(&[&words[..], &[words_of(&out)]].concat()).output().expect("runs");
    let said = String::from_utf8_lossy(&done.stderr).into_owned();
    assert_eq!((done.status.code(), said.as_str()), (Some(0), ""));
    let kept = opened(&out);
    assert!(kept.damage.is_empty(), "{:?}", kept.damage);
    let tracks = kept.session.tracks(&Rig::default());
    let span_us = tracks.t_us.last().expect("rows") - tracks.t_us[0];
    assert!((12_000_000..=13_100_000).contains(&span_us), "{span_us} µs of the last 12 s");
    assert_eq!(tracks.stream.lost, Some(0));
    let whole = opened(&long).session;
    let (last, of_whole) = (kept.session.rows() - 1, whole.rows() - 1);
    for field in 0..whole.roles().len() {
        let ends = (kept.session.column(field)[last], whole.column(field)[of_whole]);
        assert_eq!(ends.0, ends.1, "they end alike");
    }
    assert_eq!(names(folder.path()), ["last.session", "long.session"], "no part is left");
}

#[cfg(unix)]
#[test]
fn what_a_crash_leaves_is_listed_at_the_next_start() {
    let folder = tempfile::tempdir().expect("a folder");
    let out = folder.path().join("a.session");
    let words = ["capture", "--from", "virtual:healthy", "--keep", "5", "--out", words_of(&out)];
    let mut child = program(&words).spawn().expect("the program runs");
    std::thread::sleep(Duration::from_millis(3500));
    // While it goes on, another start says nothing of it.
    let next = |name: &str| {
        let out = folder.path().join(name);
        let words =
            ["capture", "--from", "virtual:healthy", "--seconds", "0.5", "--out", words_of(&out)];
        let done = program(&words).output().expect("the program runs");
        assert_eq!(done.status.code(), Some(0));
        String::from_utf8(done.stderr).expect("UTF-8")
    };
    assert_eq!(next("b.session"), "");
    child.kill().expect("killed");
    child.wait().expect("ended");
    let said = next("c.session");
    assert!(said.contains("a.session.part-1: recovered") && said.contains("frames"), "{said}");
    assert_eq!(said.lines().count(), 1, "{said}");
    assert_eq!(next("d.session"), "", "listed once");
    let part = folder.path().join("a.session.part-1");
    assert!(opened(&part).session.rows() > 500, "the recording stays");
}
