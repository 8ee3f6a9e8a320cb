//! The desk of the window on a port: busy, handed over, taken back, and its last minutes kept.
use std::sync::Arc;
use std::time::{Duration, Instant};

use serialport::{SerialPort, TTYPort};
use trimbench::desk::{Desk, Keep};
use trimbench::link::serial::{SerialLink, SerialOptions};
use trimbench::session::file::{Overrides, open};
use trimbench::source::{Address, LinkState, Wishes};
use trimbench::work::Watch;

/// Lets time pass until something holds.
fn until(desk: &mut Desk, what: &str, holds: impl Fn(&Desk) -> bool) {
    let begun = Instant::now();
    while !holds(desk) {
        assert!(begun.elapsed() < Duration::from_secs(20), "never: {what}");
        desk.tick();
        std::thread::sleep(Duration::from_millis(5));
    }
}

fn said(desk: &Desk, words: &str) -> bool {
    desk.notices().list().any(|notice| notice.text.contains(words))
}

fn state(desk: &Desk) -> Option<LinkState> {
    desk.link().state
}

#[test]
fn a_port_is_waited_for_handed_over_and_taken_back() {
    let (_master, slave) = TTYPort::pair().expect("a pseudo-terminal");
    let path = slave.name().expect("its name");
    drop(slave);
    let holder = SerialLink::open(&SerialOptions::new(&path, 115_200)).expect("opened");
    let mut desk = Desk::new(Arc::new(|| ()));
    let address: Address = format!("serial:{path}").parse().expect("an address");
    desk.connect(&address, &Wishes::default(), Keep::Nothing).expect("waited for");
    assert!(said(&desk, "tried again for 30 s") && state(&desk).is_none());
    drop(holder);
    until(&mut desk, "open", |desk| state(desk) == Some(LinkState::Live));
    desk.hand_over();
    until(&mut desk, "handed over", |desk| state(desk) == Some(LinkState::HandedOver));
    let other = SerialLink::open(&SerialOptions::new(&path, 115_200)).expect("another has it");
    desk.hand_over();
    until(&mut desk, "told why", |desk| said(desk, "busy"));
    drop(other);
    until(&mut desk, "taken back", |desk| state(desk) == Some(LinkState::Live));
    until(&mut desk, "the proof", |desk| said(desk, "Proof holds a fresh session"));
    assert!(said(&desk, "is back after"));
}

#[test]
fn the_last_minutes_become_a_recording_of_their_own() {
    let folder = tempfile::tempdir().expect("a folder");
    let mut desk = Desk::new(Arc::new(|| ()));
    desk.keep_last();
    assert!(said(&desk, "connect a board first"));
    let address: Address = "virtual:healthy".parse().expect("an address");
    desk.connect(&address, &Wishes::default(), Keep::Into(folder.path())).expect("connected");
    until(&mut desk, "rows", |desk| desk.session().rows() > 700);
    desk.keep_last();
    until(&mut desk, "kept", |desk| said(desk, "Kept the last"));
    let entries = std::fs::read_dir(folder.path()).expect("listed").flatten();
    let kept =
        entries.map(|e| e.path()).find(|path| path.to_string_lossy().contains("-last.session"));
    let read = open(&kept.expect("there"), &Overrides::default(), &Watch::unwatched(), &mut |_| ());
    let read = read.expect("it opens");
    assert!(read.damage.is_empty() && read.session.rows() > 250, "{:?}", read.damage);
}

#[test]
fn what_a_crash_left_is_a_notice_at_the_start() {
    let folder = tempfile::tempdir().expect("a folder");
    std::fs::write(folder.path().join("a.session"), "trimbench-session 1\n").expect("written");
    std::fs::write(folder.path().join(".a.session.recording"), "").expect("written");
    let mut desk = Desk::new(Arc::new(|| ()));
    desk.look_for_recovered(folder.path());
    until(&mut desk, "listed", |desk| said(desk, "a.session: it was not ended"));
    assert!(!folder.path().join(".a.session.recording").exists());
}
