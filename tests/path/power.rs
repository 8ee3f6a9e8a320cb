//! A cut of the power: the writes and syncs of a real recording, replayed without what was not synced.
use std::collections::HashMap;
use std::path::Path;
use std::process::Command;

use rand::{Rng, SeedableRng};
use trimbench::session::file::{DamageKind, Overrides, open};
use trimbench::work::Watch;

use crate::crash::{RATES, going_on, records, source, time_of};
use crate::tracing::may_trace;

/// What may be missing: the time between two syncs and what is gathered for a write.
const MISSING: f64 = 0.75;
/// Scheduling, and the tracer.
const SLACK: f64 = 0.2;

/// One call on the recording's file: begin, end (seconds), bytes (0 = a sync).
#[derive(Clone, Copy, Debug)]
struct Call {
    begun: f64,
    ended: f64,
    bytes: u64,
}

/// The calls on `out` in a log of the tracer, in the order of their ends, and when it was made.
fn calls(log: &str, out: &str) -> (f64, Vec<Call>) {
    let mut begun: HashMap<&str, (f64, String)> = HashMap::new();
    let (mut files, mut found, mut made): (Vec<String>, Vec<Call>, f64) = (Vec::new(), vec![], 0.0);
    for line in log.lines() {
        let mut words = line.split_whitespace();
        let (Some(pid), Some(time)) = (words.next(), words.next()) else { continue };
        let Ok(now) = time.parse::<f64>() else { continue };
        let text = line.split_once(time).map_or("", |parts| parts.1).trim_start();
        if let Some(head) = text.strip_suffix("<unfinished ...>") {
            begun.insert(pid, (now, head.to_owned()));
            continue;
        }
        let (start, call) = match text.strip_prefix("<... ").and_then(|t| t.split_once("resumed>"))
        {
            Some((_, rest)) => match begun.remove(pid) {
                Some((start, head)) => (start, head + rest),
                None => continue,
            },
            None => (now, text.to_owned()),
        };
        let Some((call, result)) = call.rsplit_once(" = ") else { continue };
        let result = result.split_whitespace().next().unwrap_or_default().to_owned();
        let first = call.split(['(', ',', ')']).nth(1).unwrap_or_default().trim().to_owned();
        if call.starts_with("openat") && call.contains(out) && call.contains("O_EXCL") {
            made = now;
            files.push(result);
        } else if !files.contains(&first) {
        } else if call.starts_with("fcntl") && call.contains("F_DUPFD") {
            files.push(result);
        } else if call.starts_with("write") {
            let bytes = result.parse().unwrap_or(0);
            found.push(Call { begun: start, ended: now, bytes });
        } else if call.starts_with("f") && result == "0" && call.contains("sync") {
            found.push(Call { begun: start, ended: now, bytes: 0 });
        }
    }
    (made, found)
}

/// Bytes that are surely on the disk at a time.
fn kept(calls: &[Call], at: f64) -> u64 {
    let synced = calls.iter().filter(|c| c.bytes == 0 && c.ended <= at).map(|c| c.begun);
    let until = synced.fold(0.0, f64::max);
    calls.iter().filter(|c| c.bytes > 0 && c.ended <= until).map(|c| c.bytes).sum()
}

fn check(folder: &Path, rate: u64) {
    let (source, out) = (source(folder, rate, 5), folder.join(format!("{rate}.session")));
    let log = folder.join(format!("{rate}.log"));
    let mut program = Command::new("strace");
    let trace = "trace=openat,write,fdatasync,fsync,fcntl";
    program.args(["-f", "-ttt", "--seccomp-bpf", "-s", "200", "-e", trace, "-e", "signal=none"]);
    program.arg("-o").arg(&log).arg(env!("CARGO_BIN_EXE_trimbench"));
    let (mut child, _) = going_on(&mut program, &source, &out);
    assert!(child.wait().expect("ended").success());
    let whole = std::fs::read(&out).expect("read");
    let played = std::fs::read(&source).expect("read");
    assert_eq!(records(&whole), records(&played), "to the byte");

    let log = std::fs::read_to_string(&log).expect("the log");
    let name = out.file_name().and_then(|n| n.to_str()).expect("plain");
    let (made, calls) = calls(&log, name);
    let written: u64 = calls.iter().map(|c| c.bytes).sum();
    assert_eq!(written, whole.len() as u64, "the log has all writes");
    let slowest =
        calls.iter().filter(|c| c.bytes == 0).map(|c| c.ended - c.begun).fold(0.0, f64::max);
    let mut draw = rand_chacha::ChaCha8Rng::seed_from_u64(rate);
    let mut most = 0.0_f64;
    for _ in 0..300 {
        let at = draw.random_range(0.0..4.9);
        let left = &whole[..kept(&calls, made + at) as usize];
        let last = records(left).last().map_or(0.0, |record| time_of(record) as f64 * 1e-6);
        most = most.max(at - last);
        let bound = MISSING + SLACK + slowest;
        assert!(at - last <= bound, "{rate} Hz: cut after {at:.3} s, {:.3} s missing", at - last);
    }
    let half = folder.join("half.session");
    std::fs::write(&half, &whole[..kept(&calls, made + 3.3) as usize]).expect("written");
    let opened =
        open(&half, &Overrides::default(), &Watch::unwatched(), &mut |_| ()).expect("opens");
    let tail =
        |kind| matches!(kind, DamageKind::Unverified | DamageKind::Record | DamageKind::Unended);
    assert!(opened.damage.iter().all(|damage| tail(damage.kind)), "{:?}", opened.damage);
    println!("power cut at {rate} Hz: at most {most:.3} s missing, slowest sync {slowest:.3} s");
}

#[test]
fn a_cut_of_the_power_takes_no_more_than_the_last_second() {
    if !may_trace() {
        return;
    }
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path();
    std::thread::scope(|scope| {
        let threads = RATES.map(|rate| scope.spawn(move || check(path, rate)));
        threads.into_iter().for_each(|thread| thread.join().expect("held"));
    });
}

#[test]
fn a_log_is_read_with_its_interruptions() {
    let log = "7 1.0 openat(AT_FDCWD, \"/t/a.session\", O_RDWR|O_CREAT|O_EXCL, 0666) = 5\n\
               7 1.1 fcntl(5, F_DUPFD_CLOEXEC, 3) = 6\n\
               7 1.2 write(5, \"x\", 1) = 1\n\
               8 1.3 fdatasync(6 <unfinished ...>\n\
               7 1.4 write(5, \"yy\", 2) = 2\n\
               8 1.5 <... fdatasync resumed>) = 0\n\
               7 1.6 write(1, \"zzz\", 3) = 3\n";
    let (made, found) = calls(log, "a.session");
    assert_eq!((made, found.len()), (1.0, 3));
    assert_eq!([1.25, 1.45, 1.55].map(|at| kept(&found, at)), [0, 0, 1]);
}
