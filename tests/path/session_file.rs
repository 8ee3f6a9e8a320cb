//! The session file: bytes to file to bytes is identity; damage is listed.
use std::path::PathBuf;

use proptest::prelude::*;
use trimbench::rig::{AxisId, HostUs, Mark, Rig};
use trimbench::session::file::{DamageKind, FileError, Opened, Overrides, Writer, open};
use trimbench::session::{About, Session, TimeSource};
use trimbench::wire::{
    ClockUnit, Dialect, Role, Why, encode, encode_heading, encode_text, recognise,
};
use trimbench::work::{Cancelled, Watch};

pub(super) fn about() -> About {
    About { created: "2026-02-03T04:05:06Z".to_owned(), ..About::default() }
}

pub(super) fn dialect() -> Dialect {
    recognise(stream(0..60).as_bytes()).expect("a dialect")
}

pub(super) fn stream(frames: std::ops::Range<u32>) -> String {
    let line = |i: u32| {
        let wobble = i.wrapping_mul(7919) >> 3 & 3;
        format!("{i},{},{},{},{:04X}\n", 500_000 + i * 4000, 510 + wobble, 500 - wobble, i / 50 % 2)
    };
    frames.map(line).collect()
}

fn mark(host_us: u64, word: &str, text: &str) -> Mark<HostUs> {
    Mark::new(word, text).set_at(HostUs(host_us))
}

/// A session of `frames` lines, one every 4 ms.
pub(super) fn recorded(frames: u32) -> Vec<u8> {
    let mut writer = Writer::new(Vec::new(), &about(), Some(&dialect())).expect("a writer");
    for i in 0..frames {
        let at = u64::from(i) * 4000;
        writer.append(at, stream(i..i + 1).as_bytes()).expect("written");
        if i == 100 {
            writer.mark(&mark(at, "rest", "both hands off")).expect("written");
        }
    }
    writer.finish().expect("finished")
}

struct Kept {
    _folder: tempfile::TempDir,
    path: PathBuf,
}

fn kept(bytes: &[u8]) -> Kept {
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("t.session");
    std::fs::write(&path, bytes).expect("written");
    Kept { _folder: folder, path }
}

pub(super) fn opened_as(bytes: &[u8], overrides: &Overrides) -> Result<Opened, FileError> {
    let kept = kept(bytes);
    open(&kept.path, overrides, &Watch::unwatched(), &mut |_| ())
}

pub(super) fn opened(bytes: &[u8]) -> Opened {
    opened_as(bytes, &Overrides::default()).unwrap_or_else(|e| panic!("{e}"))
}

fn refused(bytes: &[u8]) -> String {
    opened_as(bytes, &Overrides::default()).map(|_| ()).expect_err("refused").to_string()
}

pub(super) fn counter(session: &Session) -> Vec<i32> {
    session.column(session.field_of(Role::Seq).expect("a counter"))
}

/// The bytes that the records of a file stand for, by the rules of the format alone.
fn bytes_in(file: &[u8]) -> Vec<u8> {
    let text = std::str::from_utf8(file).expect("ASCII");
    let body = &text[text.find("\n---\n").expect("a rule") + 5..];
    let mut bytes = Vec::new();
    for line in body.lines().filter(|l| l.starts_with(|c: char| c.is_ascii_digit())) {
        let escaped = line.split_once(' ').expect("a time").1;
        if let Some(hex) = escaped.strip_prefix('=') {
            let pairs = (0..hex.len() / 2).map(|k| &hex[2 * k..2 * k + 2]);
            bytes.extend(pairs.map(|d| u8::from_str_radix(d, 16).expect("hexadecimal")));
            continue;
        }
        let mut chars = escaped.bytes();
        let mut open = false;
        while let Some(byte) = chars.next() {
            match (byte, byte == b'\\') {
                (_, false) => bytes.push(byte),
                (_, true) => match chars.next() {
                    None => open = true,
                    Some(b'\\') => bytes.push(b'\\'),
                    Some(_) => {
                        let digits = [chars.next(), chars.next()].map(|d| d.expect("two digits"));
                        let digits = std::str::from_utf8(&digits).expect("digits");
                        bytes.push(u8::from_str_radix(digits, 16).expect("hexadecimal"));
                    }
                },
            }
        }
        if !open {
            bytes.push(b'\n');
        }
    }
    bytes
}

/// Packed frames of the same stream, with their heading and some words.
fn packed_stream(frames: std::ops::Range<u32>) -> Vec<u8> {
    let dialect = dialect().packed();
    let mut bytes = Vec::new();
    for i in frames {
        if i % 256 == 0 {
            encode_text(&dialect, "# boot, reset cause power-on", &mut bytes);
            encode_heading(&dialect, &mut bytes);
        }
        let cells = [i as i32, 500_000 + 4000 * i as i32, 510, 500, (i / 50 % 2) as i32];
        encode(&dialect, &cells, &mut bytes);
    }
    bytes
}

#[test]
fn packed_frames_are_recorded_in_hexadecimal_and_read_back_without_being_told() {
    let stream = packed_stream(0..3000);
    // The writer learns the dialect late, as the recorder does.
    let mut writer = Writer::new(Vec::new(), &about(), None).expect("a writer");
    for (k, piece) in stream.chunks(97).enumerate() {
        writer.append(k as u64 * 1000, piece).expect("written");
        if k == 20 {
            writer.framed_by(&dialect().packed());
        }
    }
    let file = writer.finish().expect("finished");
    assert_eq!(bytes_in(&file), stream);
    let opened = opened(&file);
    assert!(opened.damage.is_empty(), "{:?}", opened.damage);
    assert_eq!(opened.session.rows(), 3000);
    assert_eq!(opened.session.refusals().count(Why::Foreign), 12);
    assert_eq!(opened.session.refusals().malformed(), 0);
    assert_eq!(counter(&opened.session), (0..3000).collect::<Vec<_>>());
    let tracks = opened.session.tracks(&Rig::default());
    assert_eq!((tracks.raw_bits, tracks.stream.lost), (10, Some(0)));
    // The raw bytes in a file of their own are a log like any other.
    assert_eq!(self::opened(&stream).session.rows(), 3000);
}

proptest! {
    #[test]
    fn bytes_to_file_to_bytes_is_identity(
        reads in proptest::collection::vec(
            (
                0_u64..200_000,
                proptest::collection::vec(
                    prop_oneof![Just(b'\n'), Just(b'\\'), Just(b'='), any::<u8>()],
                    0..200,
                ),
            ),
            0..20,
        ),
    ) {
        let mut writer = Writer::new(Vec::new(), &about(), None).expect("a writer");
        let (mut at, mut all) = (0, Vec::new());
        for (wait, bytes) in &reads {
            at += wait;
            writer.append(at, bytes).expect("written");
            all.extend_from_slice(bytes);
        }
        let file = writer.finish().expect("finished");
        prop_assert!(file.iter().all(|b| *b == b'\n' || (0x20..=0x7E).contains(b)));
        prop_assert_eq!(bytes_in(&file), all);
    }
}

#[test]
fn a_session_comes_back_whole() {
    let file = recorded(1000);
    let found = opened(&file);
    assert_eq!(found.damage, []);
    let session = found.session;
    assert_eq!(counter(&session), (0..1000).collect::<Vec<i32>>());
    assert_eq!(session.about, about());
    assert_eq!(session.dialect().map(|d| d.as_ref().clone()), Some(dialect()));
    assert_eq!(session.host_part(0..3), [0, 4000, 8000]);
    let tracks = session.tracks(&Rig::default());
    assert_eq!(tracks.time_source, TimeSource::Board);
    assert_eq!((tracks.stream.lost, tracks.stream.malformed), (Some(0), 0));
    assert_eq!((tracks.period_us, tracks.raw_bits, tracks.raw_bits_guessed), (4000.0, 10, true));
    assert_eq!(tracks.axis(AxisId::Rx), None);
    let mark = &tracks.marks[0];
    assert_eq!((mark.word.as_str(), mark.text.as_str()), ("rest", "both hands off"));
    assert_eq!(mark.at.0, 500_000 + 100 * 4000);
    let pressed = tracks.buttons.expect("buttons");
    assert_eq!((pressed[0], pressed[50], tracks.buttons_active_low), (0, 1, false));
}

#[test]
fn the_same_bytes_make_the_same_file() {
    assert_eq!(recorded(300), recorded(300));
}

#[test]
fn lines_cut_anywhere_by_the_reads_are_the_same_frames() {
    let text = stream(0..500);
    let mut writer = Writer::new(Vec::new(), &about(), Some(&dialect())).expect("a writer");
    for (i, piece) in text.as_bytes().chunks(37).enumerate() {
        // Every eighth read is late, so that begun lines are written as they stand.
        let at = i as u64 * 10_000 + if i % 8 == 0 { 70_000 } else { 0 };
        writer.append(at, piece).expect("written");
    }
    let file = writer.finish().expect("finished");
    assert!(file.windows(2).any(|w| w == b"\\\n"), "no begun line was written");
    assert_eq!(counter(&opened(&file).session), (0..500).collect::<Vec<i32>>());
}

#[test]
fn a_checkpoint_stands_after_each_second() {
    let file = String::from_utf8(recorded(1000)).expect("ASCII");
    let checkpoints: Vec<(usize, &str)> =
        file.lines().enumerate().filter(|(_, l)| l.starts_with("# ")).collect();
    assert!((4..=6).contains(&checkpoints.len()), "{}", checkpoints.len());
    for (i, line) in checkpoints {
        let number = line.split(' ').nth(1).and_then(|n| n.parse().ok());
        assert_eq!(number, Some(i + 1), "the running number is its own line");
    }
}

/// Byte places of the beginnings of the checkpoint lines.
fn checkpoints(file: &[u8]) -> Vec<usize> {
    let starts = file.windows(3).enumerate().filter(|(_, w)| *w == b"\n# ");
    starts.map(|(i, _)| i + 1).collect()
}

#[test]
fn a_damaged_block_is_kept_listed_and_not_measured() {
    let mut file = recorded(1000);
    let marks = checkpoints(&file);
    // One digit of one line between the second and the third checkpoint.
    let at = (marks[1] + marks[2]) / 2;
    let digit = (at..).find(|i| file[*i].is_ascii_digit()).expect("a digit");
    file[digit] ^= 1;
    let found = opened(&file);
    let [damage] = &found.damage[..] else { panic!("{:?}", found.damage) };
    assert_eq!(damage.kind, DamageKind::Block);
    let suspect = found.session.refusals().count(Why::Suspect);
    assert_eq!(damage.lines, suspect);
    assert_eq!(found.session.rows() as u64 + suspect, 1000 + suspect_marks(&found));
    assert!((file.len() as u64) > damage.byte && damage.at_us.is_some(), "{damage:?}");
    // What the damage took is lost, and told apart from what the link lost.
    let tracks = found.session.tracks(&Rig::default());
    assert_eq!(damage.rows, 1000 - found.session.rows() as u64);
    assert_eq!((tracks.stream.lost, tracks.stream.resets.len()), (Some(damage.rows), 0));
    assert_eq!(tracks.stream.file_gaps.len(), 1);
    assert!(tracks.t_us.last() == Some(&(500_000 + 999 * 4000)));
    assert_eq!(found.session.breaks().len(), 1);
}

/// Marks among the lines of a damaged block (there is one in the first second).
fn suspect_marks(found: &Opened) -> u64 {
    u64::from(!found.session.marks().iter().any(|m| m.word.as_str() == "rest"))
}

#[test]
fn a_missing_checkpoint_spoils_its_neighbours_only() {
    let file = recorded(1000);
    let marks = checkpoints(&file);
    let end = marks[2] + file[marks[2]..].iter().position(|b| *b == b'\n').expect("an end") + 1;
    let mut cut = file[..marks[2]].to_vec();
    cut.extend_from_slice(&file[end..]);
    let found = opened(&cut);
    assert!(found.damage.iter().any(|d| d.kind == DamageKind::Block), "{:?}", found.damage);
    let suspect = found.session.refusals().count(Why::Suspect);
    assert!((400..=520).contains(&suspect), "{suspect} lines of two blocks");
    assert!(found.session.rows() >= 480);
}

#[test]
fn missing_lines_are_seen_by_the_running_number() {
    let file = recorded(1000);
    let marks = checkpoints(&file);
    // A whole block with its checkpoint is gone, so each checksum that is left agrees.
    let mut cut = file[..marks[1]].to_vec();
    cut.extend_from_slice(&file[marks[2]..]);
    let after = cut[marks[1]..].iter().position(|b| *b == b'\n').expect("an end") + 1 + marks[1];
    let mut gone = file[..marks[1]].to_vec();
    gone.extend_from_slice(&cut[after..]);
    // That left the second block without its own checkpoint; put it back.
    let second = file[marks[1]..].iter().position(|b| *b == b'\n').expect("an end") + 1;
    let mut whole = file[..marks[1] + second].to_vec();
    whole.extend_from_slice(&cut[after..]);
    let found = opened(&whole);
    assert_eq!(found.damage.len(), 1, "{:?}", found.damage);
    assert_eq!(found.damage[0].kind, DamageKind::Lines);
    assert!(found.damage[0].words.contains("missing"), "{}", found.damage[0].words);
    let gone = 1000 - found.session.rows() as u64;
    assert_eq!(found.damage[0].rows, gone);
    assert_eq!(found.session.tracks(&Rig::default()).stream.lost, Some(gone));
}

#[test]
fn a_cut_tail_is_read_and_marked_unverified() {
    let file = recorded(1000);
    let last = *checkpoints(&file).last().expect("a checkpoint");
    let found = opened(&file[..last - 10]);
    let kinds: Vec<DamageKind> = found.damage.iter().map(|d| d.kind).collect();
    assert_eq!(kinds, [DamageKind::Unverified, DamageKind::Record]);
    assert_eq!(found.session.rows(), 999);
}

/// The same with the checksum that its head has now.
fn sound(file: &str) -> String {
    let end = file.find("\n# ").expect("a checkpoint") + 1;
    let (line, rest) = file[end..].split_once('\n').expect("a line");
    let number = line.split(' ').nth(1).expect("a number");
    let sum = crc::Crc::<u32>::new(&crc::CRC_32_ISO_HDLC).checksum(&file.as_bytes()[..end]);
    format!("{}# {number} {sum:08X}\n{rest}", &file[..end])
}

#[test]
fn a_damaged_head_is_told() {
    let file = String::from_utf8(recorded(100)).expect("ASCII");
    let found = opened(file.replace("2026-02", "2027-02").as_bytes());
    assert_eq!(found.damage[0].kind, DamageKind::Header);
    assert_eq!(found.session.rows(), 100);
    // A head that cannot be read is set aside; one that is sound and of no known version is not.
    let found = opened(file.replace("notes:", "n0des:").as_bytes());
    assert!(found.damage[0].words.contains("unknown key \"n0des\""), "{:?}", found.damage);
    assert_eq!(found.session.rows(), 100);
    let words = refused(sound(&file.replace("session 2", "session 9")).as_bytes());
    assert!(words.contains("version \"9\""), "{words}");
    let words = refused(sound(&file.replace("notes:", "nodes:")).as_bytes());
    assert!(words.contains("line 4") && words.contains("unknown key \"nodes\""), "{words}");
    let words = refused(b"trimbench-session 1\n(\n");
    assert!(words.contains("no end"), "{words}");
}

#[test]
fn what_was_sent_marked_and_undone_comes_back() {
    let mut writer = Writer::new(Vec::new(), &about(), None).expect("a writer");
    writer.append(0, stream(0..100).as_bytes()).expect("written");
    writer.sent(400_000, b"duty 120\r\n").expect("written");
    let slip = writer.mark(&mark(410_000, "note", "wrong stick")).expect("written");
    writer.mark(&mark(420_000, "note", "Rüttler an \\ 50 %")).expect("written");
    let rig = Rig { name: "Möwe".to_owned(), raw_bits: Some(12), ..Rig::default() };
    writer.rig(430_000, &rig).expect("written");
    let late = writer.rig(440_000, &Rig::default()).expect("written");
    let mut other = dialect();
    other.clock = ClockUnit::Millis;
    writer.dialect(450_000, &other).expect("written");
    writer.undo(460_000, slip).expect("written");
    writer.undo(460_000, late).expect("written");
    assert!(writer.mark(&mark(470_000, "undo", "")).is_err(), "a word of the reader");
    assert!(writer.mark(&mark(470_000, "two words", "")).is_err());
    writer.append(500_000, stream(100..150).as_bytes()).expect("written");
    let found = opened(&writer.finish().expect("finished"));
    assert_eq!(found.damage, []);
    let session = found.session;
    assert_eq!(session.rows(), 150);
    assert_eq!(session.about.rig, Some(rig), "the last rig was withdrawn");
    assert_eq!(session.dialect().map(|d| d.clock), Some(ClockUnit::Millis));
    assert_eq!((session.sent().len(), &session.sent()[0].bytes[..]), (1, &b"duty 120\r\n"[..]));
    let texts: Vec<&str> = session.marks().iter().map(|s| s.text.as_str()).collect();
    assert_eq!(texts, ["Rüttler an \\ 50 %"]);
    assert_eq!(session.row_of(&session.marks()[0]), 100);
}

#[test]
fn a_session_without_dialect_is_recognised() {
    let mut writer = Writer::new(Vec::new(), &about(), None).expect("a writer");
    for i in 0..600_u32 {
        // CRLF, as most print functions end a line.
        let line = stream(i..i + 1).replace('\n', "\r\n");
        writer.append(u64::from(i) * 4000, line.as_bytes()).expect("written");
    }
    let found = opened(&writer.finish().expect("finished"));
    assert_eq!(found.session.rows(), 600);
    assert_eq!(found.session.roles()[0], Role::Seq);
}

#[test]
fn a_plain_log_is_a_session_without_host_times() {
    for text in [
        stream(0..700),
        stream(0..700).replace('\n', "\r\n"),
        "\u{feff}".to_owned() + &stream(0..700),
    ] {
        let found = opened(text.as_bytes());
        assert_eq!(found.damage, []);
        assert_eq!(counter(&found.session), (0..700).collect::<Vec<i32>>());
        assert!(!found.session.is_timed());
        let tracks = found.session.tracks(&Rig::default());
        assert_eq!((tracks.stream.lost, tracks.stream.clock_ppm), (Some(0), None));
    }
}

#[test]
fn hostile_files_are_refused_in_one_clear_line() {
    let prose = "Dear reader,\nthis is no log.\nIt has words: many.\n";
    let noise: Vec<u8> =
        (0..9000_u32).map(|i| (i.wrapping_mul(2_654_435_761) >> 9) as u8).collect();
    for (bytes, words) in [
        (&b""[..], "the file is empty"),
        (&noise[..], "binary file"),
        (prose.as_bytes(), "no dialect explains half of the lines"),
        (&vec![b'7'; 3 << 20][..], "no line end"),
        (&b"\n\n\n"[..], "too few"),
    ] {
        let said = refused(bytes);
        assert!(said.contains(words) && said.lines().count() == 1, "{said}");
    }
    let missing = open(
        &PathBuf::from("/nowhere/a.log"),
        &Overrides::default(),
        &Watch::unwatched(),
        &mut |_| (),
    );
    assert!(matches!(missing, Err(FileError::Io { .. })));
    let folder = tempfile::tempdir().expect("a folder");
    let said = open(folder.path(), &Overrides::default(), &Watch::unwatched(), &mut |_| ());
    assert!(said.expect_err("refused").to_string().contains("folder"));
}

#[test]
fn a_dialect_that_does_not_fit_is_said() {
    let overrides = Overrides { dialect: Some(dialect()), ..Overrides::default() };
    let said = opened_as(b"a:1 b:2\na:1 b:3\n", &overrides).map(|_| ()).expect_err("refused");
    assert!(matches!(said, FileError::NoFrames { lines: 2, .. }), "{said}");
}

proptest! {
    #[test]
    fn no_bytes_bring_the_reader_down(
        tail in proptest::collection::vec(
            prop_oneof![
                3 => proptest::sample::select(b"0123456789 ,\\x@>#=\n".to_vec()),
                1 => any::<u8>(),
            ],
            0..400,
        ),
        cut in 0_usize..5000,
    ) {
        let mut file = recorded(60);
        file.truncate(cut.max(30));
        file.extend_from_slice(&tail);
        // Any outcome but a panic will do.
        let _ = opened_as(&file, &Overrides::default());
    }
}

#[test]
fn an_unfinished_load_is_shown_and_can_be_stopped() {
    // Some 20 MB of short lines, so that there is something to show on the way.
    let text = stream(0..60_000).repeat(13);
    let kept = kept(text.as_bytes());
    let mut shown = Vec::new();
    let done = open(&kept.path, &Overrides::default(), &Watch::unwatched(), &mut |session| {
        shown.push(session.clone());
    });
    let rows = done.expect("opened").session.rows();
    assert!(!shown.is_empty() && shown.iter().all(|s| s.rows() > 0 && s.rows() <= rows));
    let watch = Watch::unwatched();
    watch.stop();
    let stopped = open(&kept.path, &Overrides::default(), &watch, &mut |_| ());
    assert!(matches!(stopped, Err(FileError::Cancelled)), "{Cancelled:?}");
}

#[test]
fn every_version_ever_written_still_opens() {
    for name in ["v1.session", "v2.session"] {
        check_version(name);
    }
}

fn check_version(name: &str) {
    let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/path/versions");
    let path = PathBuf::from(folder).join(name);
    let found =
        open(&path, &Overrides::default(), &Watch::unwatched(), &mut |_| ()).expect("opens");
    assert_eq!((found.damage.len(), found.session.rows()), (0, 120));
    assert_eq!(found.session.marks().len(), 1);
    let rig = found.session.about.rig.clone().expect("a rig");
    assert_eq!((rig.name.as_str(), rig.raw_bits), ("Kiebitz", Some(10)));
    assert_eq!(found.session.sent()[0].bytes, b"?\n");
    assert_eq!(found.session.refusals().count(Why::Foreign), 1);
}
