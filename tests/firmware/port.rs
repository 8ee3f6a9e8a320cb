//! The emulated board on a pseudo-terminal in real time: captured through the serial layer, obeying.
use std::sync::atomic::AtomicBool;

use trimbench::desk::capture::{CaptureHears, CaptureOrder, capture};
use trimbench::session::file::{Overrides, open};
use trimbench::source::Wishes;
use trimbench::wire::{Grammar, Role, Why};
use trimbench::work::Watch;

use crate::emulator::{Pace, damaged_inside, harness, plain_program, serve};

#[test]
fn a_board_is_captured_over_the_port_and_obeys() {
    if harness().is_none() {
        return;
    }
    let folder = tempfile::tempdir().expect("a folder");
    let program = plain_program(folder.path(), "served", &[], None);
    let link = folder.path().join("board");
    let mut board = serve(&program, 60.0, None, &link, Pace::Real);
    let out = folder.path().join("t.session");
    let order = CaptureOrder {
        from: format!("serial:{}@500000", link.display()).parse().expect("an address"),
        out: out.clone(),
        seconds: Some(4.0),
        send: ["rate 500", "packed 1", "motor 1 90", "identity"].map(str::to_owned).to_vec(),
        wishes: Wishes::default(),
        rig: None,
        dialect: None,
        roll_call: false,
        keep: None,
    };
    let never = AtomicBool::new(false);
    let hears = CaptureHears { stop: &never, hand_over: &never };
    let captured = capture(order, hears, &mut |_| ()).expect("captured");
    let count = captured.count;
    board.kill().expect("ended");
    board.wait().expect("ended");
    assert!(count.bytes > 10_000, "{count:?}");
    let opened = open(&out, &Overrides::default(), &Watch::unwatched(), &mut |_| ());
    let session = opened.expect("it opens").session;
    assert_eq!(session.dialect().map(|d| d.grammar), Some(Grammar::Packed));
    // How many frames fit into four seconds is the machine's affair, what they say is not.
    assert!(session.rows() > 300, "{} frames", session.rows());
    let tracks = session.tracks(&Default::default());
    assert_eq!(tracks.stream.lost, Some(0), "{:?}", tracks.stream);
    // What was printed before the switch is text, all of it before the first delimiter.
    let text = session.refusals().kept().filter(|r| r.place.line == 1 && r.why.is_damage()).count();
    assert_eq!(damaged_inside(&session), text);
    assert!((tracks.period_us - 2000.0).abs() < 1.0, "{}", tracks.period_us);
    let duty = session.column(session.field_of(Role::Duty(1)).expect("duty1"));
    let driven = duty.iter().filter(|d| **d == 90).count();
    assert!(2 * driven > duty.len(), "the keep-alive keeps it running: {driven} of {}", duty.len());
    let said: Vec<String> = session
        .refusals()
        .kept()
        .filter(|r| r.why == Why::Foreign)
        .map(|r| String::from_utf8_lossy(&r.bytes).into_owned())
        .collect();
    let heard = |words: &str| said.iter().any(|line| line.contains(words));
    for words in ["# done packed 1", "# done motor 1 90", "# identity bench companion 1"] {
        assert!(heard(words), "{words}: {said:?}");
    }
    // Stopping sends a last word to the motor, and all of it is in the log.
    let sent: Vec<_> = session.sent().iter().map(|s| s.bytes.clone()).collect();
    assert!(sent.last().is_some_and(|last| last.starts_with(b"motor 1 0*")), "{sent:?}");
}
