//! A second form of lines with the same readings: the same frames from a log, a session, a replay and a link.
use std::path::Path;

use trimbench::session::file::{Overrides, Writer, open};
use trimbench::session::{About, Intake, Session};
use trimbench::wire::Dialect;
use trimbench::work::Watch;

use super::styles::{LETTERS, ROWS, Row, join, log, named};

/// Logs in two forms: lines that take turns, and one form behind the other.
fn logs() -> [(&'static str, String); 2] {
    let columns = |r: &Row| format!("{},{},{:04X}", r.us, join(r, ","), r.keys);
    let labels =
        |r: &Row| format!("us={} {} buttons=0x{:04X}", r.us, named(r, LETTERS, "=", " "), r.keys);
    let turns = log(|r| if r.n % 5 == 3 { labels(r) } else { columns(r) });
    let behind = log(|r| if r.n < 400 { columns(r) } else { labels(r) });
    let heading = "us,lx,ly,rx,ry,lt,rt,buttons\n";
    [("turns", format!("{heading}{turns}")), ("behind", format!("{heading}{behind}"))]
}

fn opened(path: &Path) -> Session {
    let watch = Watch::unwatched();
    open(path, &Overrides::default(), &watch, &mut |_| ()).expect("opened").session
}

fn dialect_of(session: &Session) -> Option<Dialect> {
    session.dialect().map(|dialect| (**dialect).clone())
}

/// What of two sessions must be the same whatever way the bytes took.
fn same_frames(a: &Session, b: &Session, what: &str) {
    assert_eq!((a.rows(), a.second()), (b.rows(), b.second()), "{what}");
    assert_eq!(a.roles(), b.roles(), "{what}");
    assert!((0..a.roles().len()).all(|k| a.column(k) == b.column(k)), "{what}");
    assert_eq!(a.refusals().total(), b.refusals().total(), "{what}");
    assert_eq!(a.second_more(), b.second_more(), "{what}");
}

/// A session file of the text, written in pieces.
fn session_of(text: &str, piece: usize, dialect: Option<&Dialect>) -> Vec<u8> {
    let mut writer = Writer::new(Vec::new(), &About::default(), dialect).expect("a head");
    for (k, part) in text.as_bytes().chunks(piece).enumerate() {
        writer.append(k as u64 * 900, part).expect("written");
    }
    writer.finish().expect("whole")
}

#[test]
fn sessions_and_replays_hold_the_frames_of_the_log_however_they_are_cut() {
    let folder = tempfile::tempdir().expect("a folder");
    let path = |end: &str| folder.path().join(end);
    for (name, text) in logs() {
        std::fs::write(path("log"), &text).expect("written");
        let by_text = opened(&path("log"));
        assert_eq!(by_text.rows() as u64, ROWS);
        assert!(by_text.second() > 100);
        for (piece, framed) in [(7, false), (64, true), (1 << 20, false)] {
            let dialect = dialect_of(&by_text).filter(|_| framed);
            let session = session_of(&text, piece, dialect.as_ref());
            std::fs::write(path("session"), session).expect("written");
            let what = format!("{name} in pieces of {piece}");
            same_frames(&by_text, &opened(&path("session")), &what);
        }
        for from in ["log", "session"] {
            let (address, out) = (format!("file:{}", path(from).display()), path("played"));
            let played = std::process::Command::new(env!("CARGO_BIN_EXE_trimbench"))
                .args(["capture", "--pace", "flat-out", "--from", &address, "--out"])
                .arg(&out)
                .output()
                .expect("run");
            assert!(played.status.success(), "{played:?}");
            let session = opened(&out);
            same_frames(&by_text, &session, &format!("{name}, {from} played"));
            // The board's clock goes on through both forms, and so does the pace.
            let host = session.host_part(0..session.rows());
            assert!(from == "session" || host.windows(2).all(|w| w[1] > w[0]), "{name}, {from}");
            std::fs::remove_file(&out).expect("removed");
        }
    }
}

#[test]
fn from_some_twenty_lines_on_a_link_gives_the_same_frames_however_it_is_cut() {
    for (name, text) in logs() {
        let first = trimbench::wire::recognise(&text.as_bytes()[..8_000]).expect("a form");
        let live = |piece: usize| {
            let mut session = Session::new(About::default());
            let mut intake = Intake::new(Some(first.clone()));
            intake.look_for_second();
            for (k, part) in text.as_bytes().chunks(piece).enumerate() {
                intake.push(k as u64 * 900, part);
                session.append(&intake.take());
            }
            intake.finish();
            session.append(&intake.take());
            session
        };
        let whole = live(1 << 20);
        // Those before are counted as refused, and read when the recording is opened.
        let refused = whole.refusals().total();
        assert_eq!(whole.rows() as u64 + refused, ROWS, "{name}");
        assert!((19..25).contains(&refused), "{name}: {refused}");
        for piece in [1, 13, 500] {
            same_frames(&whole, &live(piece), &format!("{name} in pieces of {piece}"));
        }
    }
}
