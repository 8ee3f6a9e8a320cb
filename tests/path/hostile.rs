//! Hostile names, files, rigs, targets, streams and signals: one line, the right exit code, nothing left.
use std::collections::BTreeSet;
use std::path::Path;
use std::process::{Command, Output, Stdio};
use std::sync::atomic::{AtomicUsize, Ordering};

use tempfile::TempDir;

/// Stands for a name of 65 535 characters.
const LONG: &str = "LONG";
/// Stands for one that no file system takes.
const WIDE: &str = "WIDE";
/// Longest line on standard error, in bytes, with its prefix.
const LINE_MOST: usize = 1_300;

/// Words of the line (`''` = an empty one), and what the one line of refusal says.
type Row = (&'static str, &'static str);

/// What is read.
const READ: &[Row] = &[
    ("solve missing", "missing: No such file"),
    ("solve LONG", "too long"),
    ("solve ''", "a value is required"),
    ("solve empty", "the file is empty"),
    ("solve dir", "is a folder"),
    ("solve loop", "symbolic links"),
    ("solve loose", "No such file"),
    ("solve a.session/x", "Not a directory"),
    ("solve /dev/zero", "no regular file"),
    ("solve /dev/null", "no regular file"),
    ("solve noise", "no printable text"),
    ("solve nuls", "no printable text"),
    ("solve packed", "no printable text"),
    ("solve lines", "too few to recognise"),
    ("solve single", "too few to recognise"),
    ("solve endless", "no line end in"),
    ("solve wide", "at most 64"),
    ("solve later", "only versions 1 and 2 are known"),
    ("dialect noise", "no printable text"),
    ("dialect missing", "No such file"),
    ("export empty --csv o", "the file is empty"),
    ("export /dev/zero --csv o", "no regular file"),
    ("prove noise --against t.ron", "cannot be read"),
    ("solve a.session --edited", "no changes made by hand"),
    ("solve -", "the file is empty"),
    ("export - --csv o", "the file is empty"),
    ("capture --from file:missing --out o", "No such file"),
    ("capture --from file:/dev/zero --out o", "no regular file"),
    ("capture --from file:dir --out o", "is a folder"),
    ("capture --from file:noise --out o", "no printable text"),
];

/// Parts lists, grammars, records.
const RIGS: &[Row] = &[
    ("solve a.session --rig missing", "cannot be read"),
    ("solve a.session --rig LONG", "too long"),
    ("solve a.session --rig dir", "cannot be read"),
    ("solve a.session --rig /dev/zero", "longer than 4 MB"),
    ("solve a.session --rig r.big", "longer than 4 MB"),
    ("solve a.session --rig noise", "no text in UTF-8"),
    ("solve a.session --rig empty", "line 1: "),
    ("solve a.session --rig letters", "line 1: "),
    ("solve a.session --rig r.key", "r.key, line 2: unknown key \"colour\""),
    ("solve a.session --rig r.format", "r.format, line 1: format 2"),
    ("solve a.session --rig r.bits", "r.bits, line 3: raw_bits is 99"),
    ("solve a.session --rig r.buttons", "33 buttons"),
    ("solve a.session --rig r.rate", "must be above 0"),
    ("solve a.session --rig r.name", "r.name, line 2: a name of more than 80 characters"),
    ("solve a.session --rig r.label", "r.label, line 3: a name of more than 80 characters"),
    ("solve a.session --rig r.two", "two sticks on the left half"),
    ("solve a.session --rig r.deep", "line 1: "),
    ("solve a.session --rig r.type", "line 1: Expected"),
    ("solve a.session --rig r.huge", "line 1: Integer"),
    ("virtual --out o --rig r.name", "more than 80 characters"),
    ("capture --from virtual:healthy --out o --rig r.key", "unknown key"),
    ("solve a.session --dialect /dev/zero", "longer than 4 MB"),
    ("solve a.session --dialect dir", "cannot be read"),
    ("solve a.session --dialect noise", "no text in UTF-8"),
    ("solve a.session --dialect letters", "line 1: "),
    ("solve a.session --dialect d.role", "unknown word \"nonsense\""),
    ("solve a.session --dialect d.none", "0 fields"),
    ("solve a.session --dialect d.two", "repeats the role"),
    ("solve a.session --dialect d.places", "0 places"),
    ("prove a.session --against /dev/zero", "longer than 4 MB"),
    ("prove a.session --against dir", "cannot be read"),
    ("prove a.session --against letters", "line 1, column 1"),
    ("prove a.session --against a.session", "line 1, column 1"),
];

/// What is written.
const TARGETS: &[Row] = &[
    ("capture --from virtual:healthy --out none/o", "make the folder first"),
    ("capture --from virtual:healthy --out dir", "name a file in it"),
    ("capture --from virtual:healthy --out ''", "a value is required"),
    ("capture --from virtual:healthy --out WIDE", "too long"),
    ("capture --from virtual:healthy --out LONG", "too long"),
    ("capture --from virtual:healthy --seconds 0.3 --out /dev/full", "free some space"),
    ("capture --from virtual:healthy --out loose", "name the file itself"),
    ("capture --from virtual:healthy --out loop", "symbolic links"),
    ("capture --from virtual:healthy --out a.session", "--number"),
    ("capture --from virtual:healthy --keep 1 --out a.session", "replaces nothing"),
    ("capture --from virtual:healthy --keep 1 --out -", "--keep needs a file"),
    ("capture --from virtual:healthy --keep 1 --out /dev/null", "--keep needs a file"),
    ("capture --from virtual:healthy --keep 1 --out none/o", "make the folder first"),
    ("virtual --seconds 1 --out WIDE", "too long"),
    ("virtual --seconds 1 --out dir", "name a file in it"),
    ("virtual --seconds 1 --out /dev/full", "free some space"),
    ("virtual --pty a.session", "exists and is no link"),
    ("export a.session --csv dir", "name a file in it"),
    ("export a.session --csv loose", "name the file itself"),
    ("export a.session --csv /dev/full", "free some space"),
    ("export a.session --csv LONG", "too long"),
    ("export a.session --csv ./a.session", "is read (the file)"),
    ("solve a.session --json none/o", "make the folder first"),
    ("solve a.session --header dir", "name a file in it"),
    ("solve a.session --sheet /dev/full", "free some space"),
    ("solve a.session --trim loop", "symbolic links"),
    ("solve a.session --json o --csv o", "two outputs in one file"),
    ("solve a.session --json a.session", "is read (the file)"),
];

/// Words and addresses.
const WORDS: &[Row] = &[
    ("LONG", "neither a verb nor a file"),
    ("nonsense", "neither a verb nor a file"),
    ("a.session a.session", "one session at a time"),
    ("solve a.session extra", "extra: No such file"),
    ("solve a.session --LONG", "unexpected argument"),
    ("solve a.session --rate nan", "0.1 to 1000000"),
    ("capture --from '' --out o", "no kind before a colon"),
    ("capture --from LONG --out o", "no kind before a colon"),
    ("capture --from usb:1 --out o", "unknown kind"),
    ("capture --from serial: --out o", "nothing behind the colon"),
    ("capture --from serial:/dev/zero@0 --out o", "no port has such a rate"),
    ("capture --from serial:/dev/zero@1200 --out o", "bootloader"),
    ("capture --from serial:/dev/zero@4294967296 --out o", "not a whole number"),
    ("capture --from serial:/dev/null --out o", "cannot be opened as a serial port"),
    ("capture --from serial:/dev/no-port --out o", "no such port"),
    ("capture --from serial:a.session --out o", "file:PATH"),
    ("capture --from serial:LONG --out o", "LONG"),
    ("capture --from virtual:LONG --out o", "no scenario"),
    ("capture --from virtual:healthy+ --out o", "no scenario"),
    ("capture --from virtual:healthy --seconds 0 --out o", "how long"),
    ("capture --from virtual:healthy --seconds nan --out o", "how long"),
    ("capture --from virtual:healthy --seconds 1e300 --out o", "how long"),
    ("capture --from virtual:healthy --keep 0 --out o", "how many minutes"),
    ("capture --from virtual:healthy --keep nan --out o", "how many minutes"),
    ("capture --from virtual:healthy --pace 0 --out o", "times real time"),
    ("virtual --out o --rate nan", "cannot be played"),
    ("virtual --out o --bits 99", "cannot be played"),
    ("virtual --out o --created yesterday", "write it as"),
    ("virtual --out o --scenario LONG", "no scenario"),
    ("virtual --out o --seconds -1", "how long"),
];

fn write_files(folder: &Path) {
    let put = |name: &str, text: &[u8]| std::fs::write(folder.join(name), text).expect("written");
    let mut draw = 0x2545_F491_u32;
    let noise: Vec<u8> = std::iter::repeat_with(|| {
        draw ^= draw << 13;
        draw ^= draw >> 17;
        draw ^= draw << 5;
        draw as u8
    })
    .take(1 << 16)
    .collect();
    put("empty", b"");
    put("noise", &noise);
    put("nuls", &[0; 100_000]);
    put("packed", &[b"\x1f\x8b\x08".as_slice(), &noise[..5_000]].concat());
    put("lines", &[b'\n'; 5_000]);
    put("single", b"1,2,3\n");
    put("endless", &vec![b'7'; 4 << 20]);
    put("wide", format!("{}\n", vec!["5"; 5_000].join(",")).repeat(60).as_bytes());
    put("letters", b"lorem ipsum dolor\n".repeat(300).as_slice());
    put("later", b"trimbench-session 9\n()\n---\n");
    put("r.big", " ".repeat(5 << 20).as_bytes());
    put("r.key", b"(format: 1,\ncolour: 3)");
    put("r.format", b"(format: 2)");
    put("r.bits", b"(format: 1,\n\nraw_bits: 99)");
    put("r.buttons", format!("(format: 1, buttons: [{}])", "\"b\",".repeat(33)).as_bytes());
    put("r.rate", b"(format: 1, deployed_rate_hz: NaN)");
    put("r.name", format!("(format: 1,\nname: \"{}\")", "N".repeat(65_535)).as_bytes());
    let label = format!("(format: 1,\n\nbuttons: [\"a\", \"{}\"])", "é".repeat(81));
    put("r.label", label.as_bytes());
    put("r.two", b"(format: 1, sticks: [(half: left), (half: left)])");
    put("r.deep", "(".repeat(100_000).as_bytes());
    put("r.type", b"(format: 1, buttons: 7)");
    put("r.huge", b"(format: 99999999999999999999)");
    let dialect =
        |fields: &str| format!("(format: 1, grammar: columns(comma), fields: [{fields}])");
    put("d.role", dialect("(name: \"a\", role: nonsense, base: decimal)").as_bytes());
    put("d.none", dialect("").as_bytes());
    let twice = "(name: \"a\", role: seq, base: decimal), (name: \"b\", role: seq, base: decimal)";
    put("d.two", dialect(twice).as_bytes());
    let one = "(name: \"a\", role: seq, base: decimal)";
    let places = format!("(format: 1, grammar: pattern, pattern: \"x\", fields: [{one}])");
    put("d.places", places.as_bytes());
    std::fs::create_dir(folder.join("dir")).expect("a folder");
    std::os::unix::fs::symlink("nowhere", folder.join("loose")).expect("linked");
    std::os::unix::fs::symlink("loop", folder.join("loop")).expect("linked");
}

/// A folder with a short recording and everything hostile in it.
fn set_up() -> TempDir {
    let folder = tempfile::tempdir().expect("a folder");
    let words = ["virtual", "--seconds", "4", "--quiet", "--out", "a.session"];
    let made = run(folder.path(), &words.map(str::to_owned));
    assert_eq!(made.status.code(), Some(0), "{made:?}");
    write_files(folder.path());
    folder
}

fn run(folder: &Path, words: &[String]) -> Output {
    let mut command = Command::new(env!("CARGO_BIN_EXE_trimbench"));
    command.args(words).current_dir(folder).stdin(Stdio::null()).env("RUST_BACKTRACE", "0");
    command.output().expect("the program runs")
}

fn names(folder: &Path) -> BTreeSet<String> {
    let entries = std::fs::read_dir(folder).expect("listed").flatten();
    entries.map(|e| e.file_name().to_string_lossy().into_owned()).collect()
}

/// What is wrong with the answer to a row.
fn breaches(folder: &Path, (line, wanted): Row) -> Option<String> {
    let spelt = |word: &str| match word {
        "''" => String::new(),
        word => word.replace(LONG, &"x".repeat(65_535)).replace(WIDE, &"y".repeat(300)),
    };
    let words: Vec<String> = line.split(' ').map(spelt).collect();
    let done = run(folder, &words);
    let said = String::from_utf8_lossy(&done.stderr).into_owned();
    let wanted = wanted.replace(LONG, "xxx");
    // Lines that show what was refused are set in.
    let lines = said.lines().filter(|line| !line.starts_with("  ")).count();
    let fits = done.status.code() == Some(2)
        && done.stdout.is_empty()
        && lines == 1
        && said.starts_with("trimbench: ")
        && said.len() <= LINE_MOST
        && said.contains(&wanted);
    let shown: String = said.chars().take(400).collect();
    (!fits).then(|| format!("{line}: {:?}, wanted {wanted:?}: {shown}", done.status.code()))
}

fn hold(rows: &[Row]) {
    let folder = set_up();
    let before = names(folder.path());
    let session = std::fs::read(folder.path().join("a.session")).expect("read");
    let next = AtomicUsize::new(0);
    let found: Vec<String> = std::thread::scope(|scope| {
        let work = || {
            let mut found = Vec::new();
            while let Some(row) = rows.get(next.fetch_add(1, Ordering::Relaxed)) {
                found.extend(breaches(folder.path(), *row));
            }
            found
        };
        let threads = [scope.spawn(work), scope.spawn(work)];
        threads.into_iter().flat_map(|thread| thread.join().expect("no panic")).collect()
    });
    assert!(found.is_empty(), "\n{}", found.join("\n"));
    assert_eq!(names(folder.path()), before, "nothing half-written");
    assert_eq!(std::fs::read(folder.path().join("a.session")).expect("read"), session);
}

#[test]
fn what_is_read() {
    hold(READ);
}

#[test]
fn parts_lists_grammars_and_records() {
    hold(RIGS);
}

#[test]
fn what_is_written() {
    hold(TARGETS);
}

#[test]
fn words_and_addresses() {
    hold(WORDS);
}

#[test]
fn the_table_has_its_eighty_rows() {
    let rows = [READ, RIGS, TARGETS, WORDS].concat();
    assert!(rows.len() >= 80, "{}", rows.len());
    assert_eq!(rows.iter().map(|row| row.0).collect::<BTreeSet<_>>().len(), rows.len());
}

#[test]
fn names_that_are_no_text_or_would_steer_a_terminal_are_shown_plain() {
    use std::os::unix::ffi::OsStrExt;
    let folder = tempfile::tempdir().expect("a folder");
    for name in [b"a\n\x1b[31mb".as_slice(), b"\xff\xfe", b"\xe2\x80\xae.log\r"] {
        let mut command = Command::new(env!("CARGO_BIN_EXE_trimbench"));
        command.arg("solve").arg(std::ffi::OsStr::from_bytes(name)).current_dir(&folder);
        let done = command.output().expect("the program runs");
        let said = String::from_utf8(done.stderr).expect("UTF-8");
        assert_eq!((done.status.code(), said.lines().count()), (Some(2), 1), "{said}");
        assert!(!said.trim_end().contains(char::is_control), "{said:?}");
    }
}

mod signals {
    use std::process::Child;
    use std::time::{Duration, Instant};

    use super::*;

    fn begun(folder: &Path, script: &str) -> Child {
        // Whoever runs the tests may ignore some.
        let mut command = Command::new("env");
        command.args(["--default-signal", "sh"]);
        let program = env!("CARGO_BIN_EXE_trimbench");
        command.args(["-c", script, "sh", program]).current_dir(folder).stdin(Stdio::null());
        command.stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().expect("a shell")
    }

    fn send(child: &Child, signal: &str) {
        let pid = child.id().to_string();
        assert!(Command::new("kill").args([signal, &pid]).status().expect("sent").success());
    }

    fn wait(mut child: Child, most: Duration) -> (Option<i32>, String) {
        let begun = Instant::now();
        while child.try_wait().expect("asked").is_none() {
            if begun.elapsed() > most {
                child.kill().expect("killed");
                panic!("it does not end");
            }
            std::thread::sleep(Duration::from_millis(20));
        }
        let done = child.wait_with_output().expect("ended");
        (done.status.code(), String::from_utf8_lossy(&done.stderr).into_owned())
    }

    #[test]
    fn each_that_asks_to_end_ends_a_recording_whole() {
        for signal in ["-INT", "-TERM", "-HUP"] {
            let folder = tempfile::tempdir().expect("a folder");
            let script = "exec \"$1\" capture --from virtual:healthy --out a.session";
            let child = begun(folder.path(), script);
            std::thread::sleep(Duration::from_millis(1200));
            send(&child, signal);
            let (code, said) = wait(child, Duration::from_secs(10));
            assert_eq!((code, said.as_str()), (Some(0), ""), "{signal}");
            let text = std::fs::read_to_string(folder.path().join("a.session")).expect("there");
            assert!(text.lines().last().expect("a line").starts_with("# "), "a last checkpoint");
            assert_eq!(names(folder.path()).len(), 1, "and nothing beside it");
        }
    }

    /// A pipe whose reader has stopped reading used to hold the program for ever.
    #[test]
    fn a_pipe_that_is_full_holds_nobody() {
        let folder = tempfile::tempdir().expect("a folder");
        let made = Command::new("mkfifo").arg(folder.path().join("pipe")).status();
        assert!(made.expect("mkfifo").success());
        // It is opened for reading, and nothing is read.
        let script = "exec 3<> pipe; exec \"$1\" capture --from virtual:healthy --out pipe";
        let child = begun(folder.path(), script);
        // 64 kB fit into a pipe: some seconds of a board.
        std::thread::sleep(Duration::from_secs(7));
        send(&child, "-TERM");
        let (code, said) = wait(child, Duration::from_secs(20));
        assert_eq!(code, Some(2), "{said}");
        assert!(said.contains("takes nothing any more") && said.lines().count() == 1, "{said}");
    }

    #[test]
    fn a_reader_that_has_gone_is_no_failure() {
        let folder = set_up();
        for verb in ["export a.session --csv -", "solve a.session --json -", "solve a.session"] {
            let script = format!("\"$1\" {verb} | head -c 10 > /dev/null");
            let (code, said) = wait(begun(folder.path(), &script), Duration::from_secs(30));
            assert_eq!((code, said.as_str()), (Some(0), ""), "{verb}");
        }
    }
}
