//! Manners of the command line: one prefix, help of the verb, what quiet keeps back, narrow terminals.
use std::collections::BTreeMap;
use std::path::Path;
use std::process::{Command, Output, Stdio};

use tempfile::TempDir;

fn program(words: &[&str]) -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_trimbench"));
    command.args(words).stdin(Stdio::null()).env_remove("COLUMNS").env("RUST_BACKTRACE", "0");
    command
}

fn run(words: &[&str]) -> (Option<i32>, String, String) {
    let Output { status, stdout, stderr } = program(words).output().expect("the program runs");
    let text = |bytes: Vec<u8>| String::from_utf8(bytes).expect("UTF-8");
    (status.code(), text(stdout), text(stderr))
}

fn sample(name: &str) -> String {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("sample_sessions");
    folder.join(name).to_string_lossy().into_owned()
}

const FAULTY: &str = "sandpiper-stale-half.session";

#[test]
fn a_wrong_word_is_named_with_the_help_of_its_verb() {
    let cases: &[(&[&str], &[&str])] = &[
        (&["solve"], &["<FILE>", "trimbench solve --help"]),
        (&["solve", "--shet", "x", "y"], &["--shet", "--sheet", "trimbench solve --help"]),
        (&["solve", "a", "--rig"], &["--rig <FILE>", "trimbench solve --help"]),
        (&["solve", "a", "--dialect-out", "b"], &["--as-called", "trimbench solve --help"]),
        (&["prove", "a"], &["--against <TRIM.ron>", "trimbench prove --help"]),
        (&["export", "a"], &["--csv <OUT>", "trimbench export --help"]),
        (&["ports", "more"], &["more", "trimbench ports --help"]),
        (&["--quiet", "capture", "--out", "b"], &["--from <ADDRESS>", "trimbench capture --help"]),
        (&["capture", "--from", "x", "--out", "y"], &["`x`", "trimbench capture --help"]),
        (
            &["capture", "--from", "virtual:healthy", "--out", "y", "--pace", "quick"],
            &["`quick`", "flat-out", "trimbench capture --help"],
        ),
        (
            &["capture", "--from", "x", "--out", "y", "--dtr", "maybe"],
            &["maybe", "as-is, on, off", "trimbench capture --help"],
        ),
        (&["virtual"], &["--pty", "--out", "trimbench virtual --help"]),
        (&["virtual", "--out", "x", "--rate", "fast"], &["fast", "--rate", "virtual --help"]),
        (&["virtual", "--out", "x", "--seconds", "-1"], &["--seconds -1", "virtual --help"]),
        (&["a.session", "ports"], &["a.session", "neither a verb", "`trimbench --help`"]),
        (&["--no-such-word"], &["--no-such-word", "`trimbench --help`"]),
        (&["no-such-verb"], &["no-such-verb", "`trimbench --help`"]),
    ];
    for (words, wanted) in cases {
        let (code, out, said) = run(words);
        assert_eq!(
            (code, out.as_str(), said.lines().count()),
            (Some(2), "", 1),
            "{words:?}: {said}"
        );
        assert!(said.starts_with("trimbench: ") && !said.contains("error:"), "{said}");
        for word in *wanted {
            assert!(said.contains(word), "{words:?}: no \"{word}\" in: {said}");
        }
    }
}

#[test]
fn every_line_on_standard_error_has_the_one_prefix() {
    let folder = TempDir::new().expect("a folder");
    let path = |name: &str| folder.path().join(name).to_string_lossy().into_owned();
    let log: String = (0..3000).map(|i| format!("{i},{},512,498\n", i * 4000)).collect();
    let still = path("still.log");
    std::fs::write(&still, log).expect("written");
    std::fs::write(path("still.log.edits.ron"), "()").expect("written");
    let (code, _, said) = run(&["solve", &still, "--header", &path("trim.h")]);
    assert_eq!(code, Some(1), "{said}");
    assert!(said.contains("not written") && said.contains("--edited"), "{said}");
    assert!(said.lines().all(|line| line.starts_with("trimbench: ")), "{said}");
    // Quiet: the note goes, the reason of the exit code stays.
    let (code, out, said) = run(&["--quiet", "solve", &still, "--header", &path("trim.h")]);
    assert_eq!((code, out.as_str(), said.lines().count()), (Some(1), "", 1), "{out}{said}");
    assert!(said.starts_with("trimbench: ") && said.contains("not written"), "{said}");
    let (code, _, said) = run(&["solve", "/no/such.session", "--quiet"]);
    assert_eq!(code, Some(2));
    assert!(said.starts_with("trimbench: /no/such.session"), "{said}");
}

#[test]
fn quiet_keeps_back_summaries_and_nothing_that_was_asked_for() {
    let folder = TempDir::new().expect("a folder");
    let path = |name: &str| folder.path().join(name).to_string_lossy().into_owned();
    let (session, sheet, record) = (sample(FAULTY), path("a.html"), path("a.ron"));
    let words = ["solve", &session, "--sheet", &sheet, "--trim", &record, "--quiet"];
    assert_eq!(run(&words), (Some(1), String::new(), String::new()), "a fault is exit 1");
    assert!(std::fs::read_to_string(&sheet).expect("a sheet").ends_with("</html>\n"));
    let (code, out, said) = run(&["solve", "--quiet", &session, "--json", "-"]);
    assert_eq!((code, said.as_str()), (Some(1), ""));
    let json: serde_json::Value = serde_json::from_str(&out).expect("JSON alone");
    let tool = serde_json::json!({ "name": "trimbench", "version": env!("CARGO_PKG_VERSION") });
    assert_eq!(json["tool"], tool);
    let fresh = path("fresh.session");
    let words = ["virtual", "--seed", "4", "--seconds", "5", "--out", &fresh, "--quiet"];
    assert_eq!(run(&words), (Some(0), String::new(), String::new()));
    let (_, out, said) = run(&["prove", &fresh, "--against", &record, "--json", "-", "--quiet"]);
    let json: serde_json::Value = serde_json::from_str(&out).expect("JSON alone");
    assert_eq!((&json["tool"], said.as_str()), (&tool, ""));
    let (_, out, said) = run(&["prove", &fresh, "--against", &record, "--quiet"]);
    assert_eq!((out.as_str(), said.as_str()), ("", ""));
    let csv = path("a.csv");
    let words = ["export", &fresh, "--csv", &csv, "--quiet"];
    assert_eq!(run(&words), (Some(0), String::new(), String::new()));
    let again = path("again.session");
    let from = format!("file:{fresh}");
    let words = ["capture", "--from", &from, "--pace", "flat-out", "--out", &again, "--quiet"];
    assert_eq!(run(&words), (Some(0), String::new(), String::new()));
    assert!(std::fs::metadata(&again).expect("written").len() > 0);
}

/// How often each word stands in a text.
fn words(text: &str) -> BTreeMap<&str, usize> {
    let mut words = BTreeMap::new();
    for word in text.split_whitespace() {
        *words.entry(word).or_insert(0) += 1;
    }
    words
}

/// Nothing wider than `columns`, and no word of the whole text missing.
fn check_fits(narrow: &str, whole: &str, columns: usize) {
    let widest = narrow.lines().max_by_key(|line| line.chars().count()).unwrap_or("");
    assert!(widest.chars().count() <= columns, "{widest}");
    let found = words(narrow);
    for (word, count) in words(whole) {
        assert!(found.get(word) >= Some(&count), "{word} of {count} is missing in\n{narrow}");
    }
}

#[test]
fn columns_are_honoured_where_they_are_set() {
    let session = sample(FAULTY);
    let (_, whole, _) = run(&["solve", &session]);
    assert!(whole.lines().any(|line| line.chars().count() > 80), "wide where nothing narrows it");
    for columns in [80, 60] {
        let narrow = program(&["solve", &session]).env("COLUMNS", columns.to_string()).output();
        let narrow = String::from_utf8(narrow.expect("runs").stdout).expect("UTF-8");
        check_fits(&narrow, &whole, columns);
    }
    let odd = program(&["solve", &session]).env("COLUMNS", "wide").output().expect("runs");
    assert_eq!(String::from_utf8(odd.stdout).expect("UTF-8"), whole);
}

#[cfg(unix)]
mod on_a_terminal {
    use std::fs::File;
    use std::io::{ErrorKind, Read, Write};
    use std::path::PathBuf;

    use rustix::pty::{OpenptFlags, grantpt, openpt, ptsname, unlockpt};
    use rustix::termios::{OptionalActions, Winsize, tcgetattr, tcsetattr, tcsetwinsize};

    use super::*;

    /// A terminal of so many columns: its far end, and the near end for a program.
    fn terminal(columns: u16) -> (File, File) {
        let master = openpt(OpenptFlags::RDWR | OpenptFlags::NOCTTY | OpenptFlags::CLOEXEC)
            .expect("a pseudo-terminal");
        grantpt(&master).expect("granted");
        unlockpt(&master).expect("unlocked");
        let name = ptsname(&master, Vec::new()).expect("a name");
        let near = PathBuf::from(name.to_string_lossy().into_owned());
        let near = File::options().read(true).write(true).open(near).expect("opened");
        let mut settings = tcgetattr(&near).expect("settings");
        settings.make_raw();
        tcsetattr(&near, OptionalActions::Now, &settings).expect("set");
        let size = Winsize { ws_row: 24, ws_col: columns, ws_xpixel: 0, ws_ypixel: 0 };
        tcsetwinsize(&near, size).expect("sized");
        (File::from(master), near)
    }

    /// What a program writes on the terminal until it has ended.
    ///
    /// The near end stays open until a last byte has come through behind everything that the
    /// program wrote: what is still on its way when a terminal closes is not always delivered.
    fn written(mut command: Command, mut far: File, mut near: File) -> String {
        let copy = || near.try_clone().expect("a copy");
        command.stdout(copy()).stderr(copy());
        let mut child = command.spawn().expect("the program runs");
        let wait = move || {
            child.wait().expect("ended");
            near.write_all(&[0]).expect("a last byte");
            near
        };
        let end = std::thread::Builder::new().name("wait".into()).spawn(wait).expect("a thread");
        let mut bytes = Vec::new();
        let mut buffer = [0; 4096];
        while bytes.last() != Some(&0) {
            match far.read(&mut buffer) {
                Ok(n) => bytes.extend_from_slice(&buffer[..n]),
                Err(e) if e.kind() == ErrorKind::Interrupted => {}
                Err(e) => panic!("the terminal failed after {} bytes: {e}", bytes.len()),
            }
        }
        bytes.pop();
        drop(end.join());
        String::from_utf8(bytes).expect("UTF-8")
    }

    /// The first line in which two texts differ.
    fn first_difference(a: &str, b: &str) -> Option<String> {
        let (mut a, mut b) = (a.lines(), b.lines());
        loop {
            match (a.next(), b.next()) {
                (None, None) => return None,
                (a, b) if a == b => {}
                (a, b) => return Some(format!("{a:?} against {b:?}")),
            }
        }
    }

    /// The text as it stays on the screen: what a line is rewritten over is gone.
    fn stays(text: &str) -> String {
        let lines = text.split('\n').map(|line| line.rsplit("\r\u{1b}[2K").next().unwrap_or(""));
        lines.collect::<Vec<_>>().join("\n")
    }

    #[test]
    fn a_narrow_terminal_gets_every_figure_within_its_columns() {
        for name in [FAULTY, "sandpiper-10bit-250hz.session"] {
            let session = sample(name);
            let (_, whole, _) = run(&["solve", &session]);
            let (far, near) = terminal(80);
            let text = stays(&written(program(&["solve", &session]), far, near));
            assert!(!text.contains('\u{1b}'), "progress is cleaned up: {text:?}");
            check_fits(&text, &whole, 80);
            let (far, near) = terminal(300);
            let text = stays(&written(program(&["solve", &session]), far, near));
            let differs = first_difference(&text, &whole);
            assert_eq!(differs, None, "a wide terminal gets what a file gets");
            assert_eq!(text.len(), whole.len(), "to the last byte");
        }
    }

    #[test]
    fn quiet_says_nothing_on_a_terminal_either() {
        let (far, near) = terminal(80);
        let session = sample("dunlin-12bit-1khz.session");
        assert_eq!(written(program(&["solve", &session, "--quiet"]), far, near), "");
    }
}
