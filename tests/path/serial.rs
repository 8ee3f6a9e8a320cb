//! The real serial layer on a pseudo-terminal: a process writes, the recorder reads.
use std::io::{BufRead, BufReader, Write};
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::sync::Arc;
use std::time::{Duration, Instant};

use serialport::{SerialPort, TTYPort};
use trimbench::link::serial::{SerialOptions, SystemPorts};
use trimbench::session::{About, Intake, Session};
use trimbench::source::{Comeback, LinkState, Patience, Plan, Recorder};
use trimbench::wire::Role;

/// Frames of the first stretch: 10 s at 1 kHz.
const FIRST: u32 = 10_000;
/// Frames after the other end was closed and opened again.
const SECOND: u32 = 1_000;

/// The writing process: this very test, started again with the link's path in its environment.
#[test]
fn writer_process() {
    let Ok(link) = std::env::var("TRIMBENCH_TEST_WRITER") else { return };
    let mut go_on = std::io::stdin().lock().lines();
    for (first, frames) in [(0, FIRST), (FIRST, SECOND)] {
        let (mut master, slave) = TTYPort::pair().expect("a pseudo-terminal");
        master.set_timeout(Duration::from_secs(20)).expect("a timeout");
        let _ = std::fs::remove_file(&link);
        std::os::unix::fs::symlink(slave.name().expect("a name"), &link).expect("a link");
        println!("ready");
        go_on.next().expect("a word to go on").expect("read");
        write_frames(&mut master, first, frames);
        println!("written");
        // Closing drops what is still on its way to the reader, whose queue does not show it all:
        // so it is the reader who says when.
        go_on.next().expect("a word to close").expect("read");
        drop(slave);
    }
}

/// Frames at 1 kHz, the bytes cut in irregular pieces.
fn write_frames(master: &mut TTYPort, first: u32, frames: u32) {
    let begun = Instant::now();
    let mut draw = 0x2545_F491_u32;
    let mut waiting = Vec::new();
    for n in 0..frames {
        let seq = first + n;
        let raw = 512 + (seq % 7);
        writeln!(waiting, "{},{},{raw},{raw},3FF", seq & 0xFFFF, seq * 1000).expect("formatted");
        draw ^= draw << 13;
        draw ^= draw >> 17;
        draw ^= draw << 5;
        let due = Duration::from_millis(u64::from(n));
        if let Some(early) = due.checked_sub(begun.elapsed()) {
            std::thread::sleep(early);
        }
        // Most pieces end in the middle of a line; some milliseconds write nothing at all.
        let piece = waiting.len() * (draw as usize % 5) / 4;
        master.write_all(&waiting[..piece]).expect("written");
        waiting.drain(..piece);
    }
    master.write_all(&waiting).expect("written");
}

struct Writer {
    child: Child,
    said: BufReader<std::process::ChildStdout>,
}

impl Writer {
    fn start(link: &Path) -> Writer {
        let mut child = Command::new(std::env::current_exe().expect("this test"))
            .args(["serial::writer_process", "--exact", "--nocapture"])
            .env("TRIMBENCH_TEST_WRITER", link)
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .expect("a process");
        let said = BufReader::new(child.stdout.take().expect("its output"));
        Writer { child, said }
    }

    fn wait_for(&mut self, word: &str) {
        let mut line = String::new();
        while !line.trim_end().ends_with(word) {
            line.clear();
            assert!(self.said.read_line(&mut line).expect("read") > 0, "the writer ended");
        }
    }

    fn tell(&mut self, word: &str) {
        writeln!(self.child.stdin.as_mut().expect("its input"), "{word}").expect("told");
    }
}

#[test]
fn every_frame_of_ten_seconds_arrives_and_a_new_other_end_resumes() {
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("board");
    let mut writer = Writer::start(&path);
    writer.wait_for("ready");

    let options = SerialOptions::new(&path.to_string_lossy(), 500_000);
    let patience = Patience { vanished: Duration::from_millis(500), ..Patience::default() };
    let begun = Comeback::begin(Arc::new(SystemPorts), options, patience);
    let (reopen, link) = begun.expect("opened");
    let intake = Intake::new(None);
    let plan = Plan { link, reopen: Some(reopen), intake, file: None, wake: Box::new(|| ()) };
    let mut recorder = Recorder::start(plan).expect("a thread");
    let mut session = Session::new(About::default());

    writer.tell("first");
    drain_until(&recorder, &mut session, FIRST as usize, Duration::from_secs(40));
    writer.wait_for("written");
    assert_eq!(session.rows(), FIRST as usize);
    writer.tell("close");

    // The writer closes its end and makes a new one under the same name.
    writer.wait_for("ready");
    let begun = Instant::now();
    while recorder.counters().reopened.load(std::sync::atomic::Ordering::Relaxed) == 0 {
        assert!(begun.elapsed() < Duration::from_secs(20), "never opened again");
        std::thread::sleep(Duration::from_millis(10));
    }
    assert_eq!(recorder.counters().state(), LinkState::Live);
    writer.tell("second");
    drain_until(&recorder, &mut session, (FIRST + SECOND) as usize, Duration::from_secs(20));
    writer.tell("close");
    recorder.stop();
    recorder.drain().for_each(|d| session.append(&d.chunk));

    assert_eq!(session.rows(), (FIRST + SECOND) as usize, "none lost, none twice");
    assert_eq!(session.refusals().malformed(), 0);
    let field = session.field_of(Role::Seq).expect("a counter");
    let seq = session.column(field);
    assert!(seq.iter().enumerate().all(|(i, s)| *s as u32 == i as u32 & 0xFFFF), "order is kept");
    assert!(writer.child.wait().expect("ended").success());
}

fn drain_until(recorder: &Recorder, session: &mut Session, rows: usize, limit: Duration) {
    let begun = Instant::now();
    while session.rows() < rows {
        assert!(begun.elapsed() < limit, "{} of {rows} frames after {limit:?}", session.rows());
        recorder.drain().for_each(|d| session.append(&d.chunk));
        std::thread::sleep(Duration::from_millis(5));
    }
}
