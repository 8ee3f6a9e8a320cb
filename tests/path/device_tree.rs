//! An invented machine with USB sockets: boards go, come back under other names, boot loaders between.
//!
//! None of this was ever seen on hardware: the tree answers as the system's list of ports is read to.
use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::{Arc, Mutex};
use std::time::{Duration, Instant};

use trimbench::link::board::{PortEntry, Ports, UsbId};
use trimbench::link::serial::SerialOptions;
use trimbench::link::{Link, LinkError};
use trimbench::rig::{Rig, Word};
use trimbench::session::file::{Overrides, Writer, open};
use trimbench::session::{About, Intake, Session};
use trimbench::source::{Comeback, DiskWriter, LinkState, Patience, Plan, Recorder};
use trimbench::work::Watch;

const OWN: u16 = 0x4B42;
const LOADER: u16 = 0x0001;

static NUMBERS: AtomicU64 = AtomicU64::new(0);

/// One plugged-in device.
#[derive(Clone)]
struct Device {
    /// No two are the same, though they may say the same.
    number: u64,
    entry: PortEntry,
    busy: bool,
    plugged: Instant,
}

/// The sockets of a machine.
#[derive(Clone, Default)]
struct Tree {
    devices: Arc<Mutex<Vec<Device>>>,
    /// Path and product of every port that was opened.
    opened: Arc<Mutex<Vec<(String, u16)>>>,
}

impl Tree {
    fn plug(&self, path: &str, pid: u16, serial: Option<&str>, socket: &str) {
        let usb = UsbId { vid: 0x1209, pid, serial: serial.map(str::to_owned), interface: Some(0) };
        let entry = PortEntry {
            path: path.to_owned(),
            kind: "usb",
            ids: usb.to_string(),
            usb: Some(usb),
            socket: Some(socket.to_owned()),
        };
        let mut devices = self.devices.lock().expect("the tree");
        let number = NUMBERS.fetch_add(1, Ordering::Relaxed);
        devices.push(Device { number, entry, busy: false, plugged: Instant::now() });
    }

    fn unplug(&self, path: &str) {
        self.devices.lock().expect("the tree").retain(|d| d.entry.path != path);
    }

    fn hold(&self, path: &str, busy: bool) {
        let mut devices = self.devices.lock().expect("the tree");
        devices.iter_mut().filter(|d| d.entry.path == path).for_each(|d| d.busy = busy);
    }

    fn opened(&self) -> Vec<(String, u16)> {
        self.opened.lock().expect("the tree").clone()
    }
}

impl Ports for Tree {
    fn list(&self) -> Result<Vec<PortEntry>, LinkError> {
        let devices = self.devices.lock().expect("the tree");
        Ok(devices.iter().map(|d| d.entry.clone()).collect())
    }

    fn open(&self, options: &SerialOptions) -> Result<Box<dyn Link>, LinkError> {
        let devices = self.devices.lock().expect("the tree");
        let device = devices.iter().find(|d| d.entry.path == options.path);
        let Some(device) = device else { return Err(LinkError::Refused("no such port".into())) };
        if device.busy {
            return Err(LinkError::Busy(format!("{}: busy", options.path)));
        }
        let pid = device.entry.usb.as_ref().map_or(0, |usb| usb.pid);
        self.opened.lock().expect("the tree").push((options.path.clone(), pid));
        Ok(Box::new(Printing { tree: self.clone(), device: device.clone(), frames: 0 }))
    }

    fn device(&self, path: &str) -> Option<String> {
        let devices = self.devices.lock().expect("the tree");
        devices.iter().any(|d| d.entry.path == path).then(|| path.to_owned())
    }
}

/// A board that prints a frame about each millisecond since it was plugged in.
struct Printing {
    tree: Tree,
    device: Device,
    frames: u64,
}

impl Link for Printing {
    fn name(&self) -> &str {
        "invented"
    }

    fn read(&mut self, buffer: &mut [u8], _wait: Duration) -> Result<usize, LinkError> {
        std::thread::sleep(Duration::from_millis(1));
        let devices = self.tree.devices.lock().expect("the tree");
        if !devices.iter().any(|d| d.number == self.device.number) {
            return Err(LinkError::Gone { name: self.name().to_owned() });
        }
        let up_us = self.device.plugged.elapsed().as_micros() as u64;
        let frame = format!("{},{up_us},512,{},3FF\n", self.frames, 510 + self.frames % 5);
        self.frames += 1;
        let bytes = frame.as_bytes();
        buffer[..bytes.len()].copy_from_slice(bytes);
        Ok(bytes.len())
    }

    fn write(&mut self, _bytes: &[u8]) -> Result<(), LinkError> {
        Ok(())
    }
}

/// A recording of one of the tree's boards.
struct Bench {
    recorder: Recorder,
    session: Session,
    folder: tempfile::TempDir,
    which: Option<String>,
}

const PATIENCE: Patience = Patience {
    vanished: Duration::from_millis(600),
    settled: Duration::from_millis(200),
    look: Duration::from_millis(20),
};

impl Bench {
    fn at(tree: &Tree, path: &str) -> Bench {
        let options = SerialOptions::new(path, 115_200);
        let begun = Comeback::begin(Arc::new(tree.clone()), options, PATIENCE);
        let (reopen, link) = begun.expect("opened");
        let which = reopen.among_like();
        let folder = tempfile::tempdir().expect("a folder");
        let out: Box<dyn std::io::Write + Send> =
            Box::new(std::fs::File::create(folder.path().join("a.session")).expect("a file"));
        let file: DiskWriter = Writer::new(out, &About::default(), None).expect("a head");
        let plan = Plan {
            link,
            reopen: Some(reopen),
            intake: Intake::new(None),
            file: Some(file),
            wake: Box::new(|| ()),
        };
        let recorder = Recorder::start(plan).expect("a thread");
        Bench { recorder, session: Session::new(About::default()), folder, which }
    }

    fn follow(&mut self, time: Duration) {
        let begun = Instant::now();
        while begun.elapsed() < time {
            for delivery in self.recorder.drain() {
                self.session.append(&delivery.chunk);
                delivery.marks.into_iter().for_each(|mark| self.session.mark(mark));
            }
            std::thread::sleep(Duration::from_millis(5));
        }
    }

    fn wait_for(&mut self, state: LinkState) {
        let begun = Instant::now();
        while self.recorder.counters().state() != state {
            assert!(begun.elapsed() < Duration::from_secs(20), "never {state:?}");
            self.follow(Duration::from_millis(10));
        }
    }

    fn state(&self) -> LinkState {
        self.recorder.counters().state()
    }

    fn marks(&self) -> Vec<(Word, String)> {
        self.session.marks().iter().map(|m| (m.word.clone(), m.text.clone())).collect()
    }

    fn words(&self) -> Vec<Word> {
        self.session.marks().iter().map(|m| m.word.clone()).collect()
    }

    /// Ends it: the session as it was live, and as its file is read.
    fn end(mut self) -> (Session, Session) {
        self.recorder.stop();
        self.follow(Duration::from_millis(20));
        let path = self.folder.path().join("a.session");
        let read = open(&path, &Overrides::default(), &Watch::unwatched(), &mut |_| ());
        (self.session, read.expect("it opens").session)
    }
}

const SECOND: Duration = Duration::from_secs(1);

#[test]
fn unplugged_and_plugged_in_again_under_another_name() {
    let tree = Tree::default();
    tree.plug("/dev/ttyACM0", OWN, None, "1-3");
    let mut bench = Bench::at(&tree, "/dev/ttyACM0");
    assert_eq!(bench.which, None);
    bench.follow(SECOND);
    tree.unplug("/dev/ttyACM0");
    bench.wait_for(LinkState::Waiting);
    bench.follow(Duration::from_millis(300));
    tree.plug("/dev/ttyACM1", OWN, None, "1-3");
    // A sudden loss: an upload may be under way, so it is left alone for a while.
    bench.follow(Duration::from_millis(150));
    assert_eq!(bench.state(), LinkState::Waiting);
    bench.wait_for(LinkState::Live);
    bench.follow(SECOND);
    assert_eq!(tree.opened(), [("/dev/ttyACM0".into(), OWN), ("/dev/ttyACM1".into(), OWN)]);
    assert_eq!(bench.words(), [Word::Gone, Word::Absent, Word::Back]);
    let back = bench.marks()[2].1.clone();
    assert!(back.contains("/dev/ttyACM1") && back.contains("1209:4b42 at socket 1-3"), "{back}");

    let (live, file) = bench.end();
    assert_eq!(live.rows(), file.rows());
    for session in [&live, &file] {
        let tracks = session.tracks(&Rig::default());
        let [row] = tracks.stream.away[..] else { panic!("{:?}", tracks.stream.away) };
        assert!(tracks.stream.resets.is_empty(), "nothing restarted that was watched");
        assert_eq!(tracks.stream.lost, Some(0), "and nothing is lost that never came");
        let host = session.host_part(row - 1..row + 1);
        assert_eq!(tracks.t_us[row] - tracks.t_us[row - 1], host[1] - host[0], "host time");
        assert!(host[1] - host[0] > 550_000, "{host:?}");
    }
    let (live, file) = (live.tracks(&Rig::default()), file.tracks(&Rig::default()));
    assert_eq!((live.t_us, live.stream), (file.t_us, file.stream), "live and in the file alike");
}

#[test]
fn a_boot_loader_in_its_socket_is_never_opened() {
    let tree = Tree::default();
    tree.plug("/dev/ttyACM0", OWN, Some("7C"), "1-3");
    let mut bench = Bench::at(&tree, "/dev/ttyACM0");
    bench.follow(SECOND / 2);
    tree.unplug("/dev/ttyACM0");
    tree.plug("/dev/ttyACM0", LOADER, Some("7C"), "1-3");
    bench.wait_for(LinkState::Waiting);
    bench.follow(SECOND);
    assert_eq!(bench.state(), LinkState::Waiting);
    tree.unplug("/dev/ttyACM0");
    tree.plug("/dev/ttyACM0", OWN, Some("7C"), "1-3");
    bench.wait_for(LinkState::Live);
    bench.follow(SECOND / 2);
    assert!(tree.opened().iter().all(|(_, pid)| *pid == OWN), "{:?}", tree.opened());
    let said = bench.marks().into_iter().map(|m| m.1).collect::<Vec<_>>().join("; ");
    assert!(said.contains("1209:0001") && said.contains("left alone"), "{said}");
}

#[test]
fn of_two_like_boards_the_socket_tells_which() {
    let tree = Tree::default();
    tree.plug("/dev/ttyACM0", OWN, None, "1-3");
    tree.plug("/dev/ttyACM1", OWN, None, "1-4");
    let mut bench = Bench::at(&tree, "/dev/ttyACM1");
    let which = bench.which.clone().expect("two alike");
    assert!(which.contains("the one at socket 1-4") && which.contains("/dev/ttyACM0"), "{which}");
    bench.follow(SECOND / 2);
    tree.unplug("/dev/ttyACM1");
    bench.wait_for(LinkState::Waiting);
    bench.follow(SECOND);
    assert_eq!(bench.state(), LinkState::Waiting, "the other board is not it");
    // It comes back under the other one's name, and the other one under its name.
    tree.unplug("/dev/ttyACM0");
    tree.plug("/dev/ttyACM0", OWN, None, "1-4");
    tree.plug("/dev/ttyACM1", OWN, None, "1-3");
    bench.wait_for(LinkState::Live);
    bench.follow(SECOND / 4);
    assert_eq!(tree.opened().last(), Some(&("/dev/ttyACM0".to_owned(), OWN)));
    let back = bench.marks().last().expect("a mark").1.clone();
    assert!(back.contains("socket 1-4"), "{back}");
}

#[test]
fn a_port_that_is_handed_over_is_opened_when_its_board_is_back() {
    let tree = Tree::default();
    tree.plug("/dev/ttyACM0", OWN, Some("7C"), "1-3");
    let mut bench = Bench::at(&tree, "/dev/ttyACM0");
    bench.follow(SECOND / 2);
    bench.recorder.hand_over();
    bench.wait_for(LinkState::HandedOver);
    // Nothing tells when a program has done that writes through a port which stays.
    bench.follow(SECOND);
    assert_eq!((bench.state(), tree.opened().len()), (LinkState::HandedOver, 1));
    tree.unplug("/dev/ttyACM0");
    tree.plug("/dev/ttyACM3", LOADER, None, "1-3");
    bench.follow(SECOND / 2);
    tree.unplug("/dev/ttyACM3");
    tree.plug("/dev/ttyACM0", OWN, Some("7C"), "1-3");
    bench.wait_for(LinkState::Live);
    bench.follow(SECOND / 4);
    assert!(tree.opened().iter().all(|(_, pid)| *pid == OWN), "{:?}", tree.opened());
    assert_eq!(bench.words(), [Word::HandedOver, Word::Absent, Word::Back]);
    // And once more, taken back by hand.
    bench.recorder.hand_over();
    bench.wait_for(LinkState::HandedOver);
    tree.hold("/dev/ttyACM0", true);
    bench.recorder.hand_over();
    bench.follow(SECOND / 4);
    let busy = bench.marks().last().expect("a mark").clone();
    assert_eq!(busy, (Word::Absent, "/dev/ttyACM0: busy".to_owned()));
    tree.hold("/dev/ttyACM0", false);
    bench.wait_for(LinkState::Live);
    assert_eq!(bench.recorder.counters().reopened.load(Ordering::Relaxed), 2);
}

#[cfg(unix)]
mod program {
    use std::io::Read;
    use std::path::Path;
    use std::process::{Child, Command, Stdio};

    use super::*;

    fn program(words: &[&str]) -> Child {
        let mut command = Command::new(env!("CARGO_BIN_EXE_trimbench"));
        let streams = command.args(words).stdin(Stdio::null()).stdout(Stdio::piped());
        streams.stderr(Stdio::piped()).spawn().expect("the program runs")
    }

    fn signal(child: &Child, name: &str) {
        let pid = child.id().to_string();
        assert!(Command::new("kill").args([name, &pid]).status().expect("sent").success());
    }

    fn said(mut child: Child) -> (Option<i32>, String) {
        let mut text = String::new();
        child.stderr.take().expect("its errors").read_to_string(&mut text).expect("UTF-8");
        (child.wait().expect("ends").code(), text)
    }

    fn serve(link: &Path) -> Child {
        let child = program(&["virtual", "--pty", link.to_str().expect("plain")]);
        let begun = Instant::now();
        while !link.exists() {
            assert!(begun.elapsed() < Duration::from_secs(20), "no pseudo-terminal");
            std::thread::sleep(Duration::from_millis(10));
        }
        child
    }

    #[test]
    fn the_program_hands_its_port_over_and_takes_it_back() {
        let folder = tempfile::tempdir().expect("a folder");
        let (link, out) = (folder.path().join("board"), folder.path().join("a.session"));
        let from = format!("serial:{}@115200", link.display());
        let out_word = out.to_str().expect("plain");
        let board = serve(&link);
        let capture = program(&["capture", "--from", &from, "--out", out_word, "--seconds", "7"]);
        std::thread::sleep(Duration::from_millis(1500));
        signal(&capture, "-USR1");
        std::thread::sleep(Duration::from_millis(500));
        signal(&board, "-TERM");
        said(board);
        std::thread::sleep(Duration::from_millis(500));
        let board = serve(&link);
        let (code, words) = said(capture);
        signal(&board, "-TERM");
        said(board);
        assert_eq!(code, Some(0), "{words}");
        for wanted in ["is handed over", "is back after", "trimbench prove"] {
            assert!(words.contains(wanted), "{wanted}: {words}");
        }
        let read = open(&out, &Overrides::default(), &Watch::unwatched(), &mut |_| ());
        let session = read.expect("it opens").session;
        let marks: Vec<Word> = session.marks().iter().map(|m| m.word.clone()).collect();
        assert!(marks.contains(&Word::HandedOver) && marks.contains(&Word::Back), "{marks:?}");
        let tracks = session.tracks(&Rig::default());
        assert_eq!((tracks.stream.away.len(), tracks.stream.resets.len()), (1, 0));
    }

    /// A port whose other end says what it is told to.
    fn spoken(lines: &[&str], out: &Path) -> (Option<i32>, String, String) {
        use std::io::Write;

        use serialport::{SerialPort, TTYPort};

        let (mut master, slave) = TTYPort::pair().expect("a pseudo-terminal");
        let path = slave.name().expect("its name");
        drop(slave);
        let from = format!("serial:{path}@115200");
        let out = out.to_str().expect("plain");
        let capture = program(&["capture", "--from", &from, "--out", out, "--seconds", "1.5"]);
        std::thread::sleep(Duration::from_millis(500));
        for line in lines {
            master.write_all(format!("{line}\r\n").as_bytes()).expect("said");
        }
        let done = capture.wait_with_output().expect("ends");
        let text = |bytes| String::from_utf8(bytes).expect("UTF-8");
        (done.status.code(), text(done.stdout), text(done.stderr))
    }

    #[test]
    fn a_silent_port_says_what_to_look_at() {
        let folder = tempfile::tempdir().expect("a folder");
        let (code, _, said) = spoken(&[], &folder.path().join("a.session"));
        assert_eq!(code, Some(1), "{said}");
        for wanted in ["does the board print", "rate", "--dtr on"] {
            assert!(said.contains(wanted), "{wanted}: {said}");
        }
    }

    #[test]
    fn lines_before_the_first_frame_are_counted() {
        let folder = tempfile::tempdir().expect("a folder");
        let frames: Vec<String> =
            (0..60).map(|n| format!("{n},{},512,{},3FF", n * 4_000, 500 + n % 7)).collect();
        let answers = ["unknown command AT", "unknown command ATI"];
        let lines: Vec<&str> =
            answers.into_iter().chain(frames.iter().map(String::as_str)).collect();
        let (code, out, said) = spoken(&lines, &folder.path().join("a.session"));
        assert_eq!(code, Some(0), "{said}");
        assert!(out.contains("60 frames, 2 lines refused (2 before the first frame)"), "{out}");
    }

    #[test]
    fn a_port_that_another_program_holds_is_waited_for() {
        let folder = tempfile::tempdir().expect("a folder");
        let link = folder.path().join("board");
        let from = format!("serial:{}@115200", link.display());
        let out = |name: &str| folder.path().join(name).display().to_string();
        let board = serve(&link);
        let first = program(&["capture", "--from", &from, "--out", &out("a"), "--seconds", "2"]);
        std::thread::sleep(Duration::from_millis(700));
        let second = program(&["capture", "--from", &from, "--out", &out("b"), "--seconds", "1"]);
        let (code, words) = said(second);
        assert_eq!(code, Some(0), "{words}");
        assert!(words.contains("busy") && words.contains("tried again for 30 s"), "{words}");
        assert_eq!(said(first).0, Some(0));
        signal(&board, "-TERM");
        said(board);
    }
}
