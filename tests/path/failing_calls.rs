//! The real program when a call fails: each write, sync, rename and open, one at a time, and a disk that fills.
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::process::{Command, Output, Stdio};

use trimbench::session::file::{Overrides, open};
use trimbench::work::Watch;

use crate::crash::records;
use crate::tracing::may_trace;

/// Calls that are made to fail, as the tracer names them; links are how a new file gets its name.
const CALLS: [&str; 4] = ["write", "fsync,fdatasync", "rename,renameat,renameat2,linkat", "openat"];
const ERRORS: [&str; 2] = ["ENOSPC", "EIO"];
/// No program makes more of one kind here.
const MOST: usize = 400;

/// What a trial is made of.
struct Trial {
    folder: tempfile::TempDir,
    words: Vec<String>,
    outputs: Vec<&'static str>,
}

impl Trial {
    fn new(words: &str, outputs: &[&'static str]) -> Trial {
        let folder = tempfile::tempdir().expect("a folder");
        let made = Command::new(env!("CARGO_BIN_EXE_trimbench"))
            .args(["virtual", "--seconds", "20", "--quiet", "--out", "a.session"])
            .current_dir(&folder)
            .output();
        assert!(made.expect("the program runs").status.success());
        let words = words.split(' ').map(str::to_owned).collect();
        Trial { folder, words, outputs: outputs.to_vec() }
    }

    fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    fn run(&self, program: &mut Command) -> Output {
        let command = program.args(&self.words).current_dir(&self.folder).stdin(Stdio::null());
        // Cargo's own search path makes the loader look in many places.
        command.env_remove("LD_LIBRARY_PATH").env("RUST_BACKTRACE", "0");
        command.output().expect("the program runs")
    }

    /// Runs it with the `k`th of the calls failing; the call as the tracer saw it, none when there are
    /// not so many.
    fn fail(&self, calls: &str, error: &str, k: usize) -> (Option<String>, Output) {
        let log = self.path("trace.log");
        let (trace, inject) =
            (format!("trace={calls}"), format!("inject={calls}:error={error}:when={k}"));
        let mut strace = Command::new("strace");
        strace.args(["-f", "-qq", "-s", "80", "-o"]).arg(&log);
        strace.args(["-e", "signal=none", "-e", &trace, "-e", &inject]);
        let done = self.run(strace.arg(env!("CARGO_BIN_EXE_trimbench")));
        let text = std::fs::read_to_string(&log).expect("the log");
        std::fs::remove_file(&log).expect("gone");
        (text.lines().find(|line| line.contains("(INJECTED)")).map(str::to_owned), done)
    }

    fn names(&self) -> Vec<String> {
        let entries = std::fs::read_dir(self.folder.path()).expect("listed").flatten();
        let mut names: Vec<String> =
            entries.map(|e| e.file_name().to_string_lossy().into_owned()).collect();
        names.sort();
        names
    }
}

/// The program's own files are meant, not what the system loads for it.
fn is_ours(call: &str) -> bool {
    !["/lib/", "/etc/", "/proc/", "/usr/", "/sys/", ".so"].iter().any(|place| call.contains(place))
}

/// Every position of every call, or a share of them; `judge` says what is wrong, `prepare` goes before.
fn each_position(
    trial: &Trial,
    kinds: &[&str],
    prepare: &dyn Fn(),
    judge: &mut dyn FnMut(&str, &Output) -> Option<String>,
) -> Vec<String> {
    let whole = std::env::var_os("TRIMBENCH_LONG").is_some();
    let mut found = Vec::new();
    for calls in kinds {
        let mut reached = 0;
        for k in 1..MOST {
            // The share has each position once, with the errors in turn.
            let errors = if whole { &ERRORS[..] } else { &ERRORS[k % 2..k % 2 + 1] };
            let mut hit = false;
            for error in errors {
                prepare();
                let (call, done) = trial.fail(calls, error, k);
                let Some(call) = call else { continue };
                hit = true;
                if is_ours(&call) {
                    reached += 1;
                    let wrong = judge(&call, &done);
                    let said = String::from_utf8_lossy(&done.stderr).into_owned();
                    found.extend(
                        wrong.map(|why| format!("{calls} {k} {error}: {why}: {call}: {said}")),
                    );
                }
            }
            if !hit {
                break;
            }
        }
        println!("{}: {calls}: {reached} positions of ours", trial.words[0]);
        assert!(reached > 0, "{calls} were never reached");
    }
    found
}

/// Exit and words of a failure: not 0, and one line.
fn is_told(call: &str, done: &Output) -> Option<String> {
    let said = String::from_utf8_lossy(&done.stderr).into_owned();
    match done.status.code() {
        Some(1 | 2) => {}
        code => return Some(format!("ended with {code:?}")),
    }
    // The line itself may be what could not be written.
    let mute = call.contains("write(2,");
    (said.lines().count() != 1 && !mute).then(|| "not one line".to_owned())
}

fn check_outputs(words: &str, outputs: &[&'static str]) {
    if !may_trace() {
        return;
    }
    let trial = Trial::new(words, outputs);
    trial.run(&mut Command::new(env!("CARGO_BIN_EXE_trimbench")));
    let new: BTreeMap<&str, Vec<u8>> = trial
        .outputs
        .iter()
        .map(|name| (*name, std::fs::read(trial.path(name)).expect("written")))
        .collect();
    let before = trial.names();
    let put_old = || {
        trial.outputs.iter().for_each(|name| {
            std::fs::write(trial.path(name), "old").expect("written");
        });
    };
    let found = each_position(&trial, &CALLS, &put_old, &mut |call, done| {
        let left: Vec<(&str, Vec<u8>)> = trial
            .outputs
            .iter()
            .map(|name| (*name, std::fs::read(trial.path(name)).unwrap_or_default()))
            .collect();
        let half = left.iter().find(|(name, text)| text != b"old" && *text != new[name]);
        let (half, more) =
            (half.map(|(name, _)| format!("{name} is neither old nor new")), trial.names());
        let more = (more != before).then(|| format!("left over: {more:?}"));
        is_told(call, done).or(half).or(more)
    });
    assert!(found.is_empty(), "\n{}", found.join("\n"));
}

#[test]
fn an_export_is_old_or_new() {
    check_outputs("export a.session --quiet --csv o.csv", &["o.csv"]);
}

#[test]
fn outputs_of_solve_are_old_or_new() {
    let words = "solve a.session --json o.json --sheet o.html --trim o.ron --csv o.csv --quiet";
    check_outputs(words, &["o.json", "o.html", "o.ron", "o.csv"]);
}

/// A recording goes on over a failure that passes: exit 0 only where all of it is in the file.
fn check_recording(how: &str, kinds: &[&str]) {
    if !may_trace() {
        return;
    }
    let words = format!("capture --from file:a.session --pace {how} --quiet --out o.session");
    let trial = Trial::new(&words, &[]);
    let played = std::fs::read(trial.path("a.session")).expect("read");
    // A failure that passed may have made another name of it.
    let clear = || {
        for name in trial.names().iter().filter(|name| *name != "a.session") {
            std::fs::remove_file(trial.path(name)).expect("gone");
        }
    };
    let found = each_position(&trial, kinds, &clear, &mut |_, done| {
        let out = trial.path("o.session");
        let text = std::fs::read(&out).unwrap_or_default();
        let sound = open(&out, &Overrides::default(), &Watch::unwatched(), &mut |_| ())
            .is_ok_and(|opened| opened.damage.is_empty());
        let whole = sound && records(&text) == records(&played);
        let said = String::from_utf8_lossy(&done.stderr).into_owned();
        match done.status.code() {
            Some(0) if !whole => Some("exit 0, and not all of it is in the file".to_owned()),
            Some(0) => None,
            Some(1 | 2) if said.is_empty() => Some("fails without a word".to_owned()),
            Some(1 | 2) => None,
            code => Some(format!("ended with {code:?}")),
        }
    });
    assert!(found.is_empty(), "\n{}", found.join("\n"));
}

#[test]
fn a_recording_says_what_it_lost_or_lost_nothing() {
    check_recording("flat-out", &[CALLS[0], CALLS[1], CALLS[3]]);
}

/// The parts are joined in the end, and the whole gets its name then.
#[test]
fn the_last_minutes_are_whole_or_stand_in_parts() {
    check_recording("flat-out --keep 5", &CALLS[1..]);
}

/// With time between the calls, for `.ci/long`.
#[test]
fn a_recording_in_time_says_what_it_lost_or_lost_nothing() {
    if std::env::var_os("TRIMBENCH_LONG").is_none() {
        println!("left out: a matter for .ci/long");
        return;
    }
    check_recording("8", &[CALLS[0], CALLS[1], CALLS[3]]);
}

/// Two megabytes that fill up and become free again.
#[test]
fn a_small_disk_that_fills_and_empties_loses_nothing() {
    let script = "mount -t tmpfs -o size=2m tmpfs \"$2\" || exit 77; cd \"$2\" || exit 77
        \"$1\" capture --from virtual:healthy --seconds 6 --quiet --out a.session 2> ../said &
        sleep 1; head -c 3000000 /dev/zero > ballast 2> ../full; sleep 3; rm ballast
        wait $!; code=$?; cp a.session ../got; exit $code";
    let folder = tempfile::tempdir().expect("a folder");
    let disk = folder.path().join("disk");
    std::fs::create_dir(&disk).expect("made");
    let mut unshare = Command::new("unshare");
    unshare.args(["--mount", "--map-root-user", "sh", "-c", script, "sh"]);
    unshare.arg(env!("CARGO_BIN_EXE_trimbench")).arg(&disk);
    let done = unshare.stdin(Stdio::null()).output();
    let done = match done {
        Ok(done)
            if !matches!(done.status.code(), Some(77)) && folder.path().join("said").exists() =>
        {
            done
        }
        other => {
            let why = other.map(|done| String::from_utf8_lossy(&done.stderr).into_owned());
            eprintln!("skipped: no small disk can be mounted here ({why:?})");
            return;
        }
    };
    let said = std::fs::read_to_string(folder.path().join("said")).expect("read");
    assert_eq!(done.status.code(), Some(0), "{said}");
    assert!(said.contains("goes on in memory") && said.contains("free some space"), "{said}");
    assert!(said.contains("is written again; nothing was lost"), "{said}");
    let got = folder.path().join("got");
    let read = open(&got, &Overrides::default(), &Watch::unwatched(), &mut |_| ());
    let read = read.expect("it opens");
    assert!(read.damage.is_empty(), "{:?}", read.damage);
    let tracks = read.session.tracks(&trimbench::rig::Rig::default());
    assert_eq!(tracks.stream.lost, Some(0));
    assert!(read.session.rows() > 1_300, "{}", read.session.rows());
}

/// The bench speaks to nobody: without a window no socket of the internet is opened.
#[test]
fn no_socket_of_the_internet_is_opened() {
    if !may_trace() {
        return;
    }
    let trial = Trial::new("solve a.session --json o.json --trim o.ron --quiet", &[]);
    let lines = [
        "solve a.session --json o.json --trim o.ron",
        "export a.session --csv o.csv",
        "prove a.session --against o.ron",
        "dialect a.session",
        "ports",
        "capture --from virtual:healthy --seconds 0.3 --out b.session",
        "virtual --seconds 1 --out c.session",
    ];
    for line in lines {
        let log = trial.path("trace.log");
        let mut strace = Command::new("strace");
        strace.args(["-f", "-qq", "-e", "trace=socket", "-o"]).arg(&log);
        strace.arg(env!("CARGO_BIN_EXE_trimbench")).args(line.split(' '));
        let done = strace.current_dir(&trial.folder).stdin(Stdio::null()).output();
        assert!(done.expect("traced").status.code().is_some_and(|code| code < 3), "{line}");
        let calls = std::fs::read_to_string(&log).expect("the log");
        assert!(!calls.contains("AF_INET"), "{line}: {calls}");
    }
    assert!(Path::new(&trial.path("b.session")).exists());
}
