//! The packed dialect under every cut and every kind of damage, recognised without being told, and
//! the virtual board that speaks it and obeys commands.
use proptest::prelude::*;
use trimbench::rig::{AxisId, Rig, Task};
use trimbench::session::{About, Intake, Session, file};
use trimbench::virtual_board::{Options, VirtualBoard, bench_dialect, bench_rig};
use trimbench::wire::command::Command;
use trimbench::wire::{
    Base, Dialect, Field, Framer, Grammar, MAX_LINE_BYTES, Place, Role, Unrecognised, Why, encode,
    encode_heading, encode_text, looks_like_baud_mismatch, recognise,
};
use trimbench::work::Watch;

use super::framing::{Notes, Told, told_in_pieces};

impl Notes {
    fn frames(&self) -> usize {
        self.0.iter().filter(|t| matches!(t, Told::Frame(..))).count()
    }

    fn reasons(&self) -> Vec<Why> {
        let why = |t: &Told| match t {
            Told::Refused(_, why, _) => Some(*why),
            _ => None,
        };
        self.0.iter().filter_map(why).collect()
    }
}

fn dialect() -> Dialect {
    let mut dialect = bench_dialect(&bench_rig(10)).packed();
    dialect.fields.push(Field {
        name: "out_lx".to_owned(),
        role: Role::OutAxis(AxisId::Lx),
        base: Base::I16,
    });
    dialect
}

fn told(bytes: &[u8], cuts: &[usize]) -> Notes {
    Notes(told_in_pieces(&dialect(), bytes, cuts))
}

fn cells(i: i32) -> [i32; 10] {
    [i, i * 4000, 512 - i, 256 + i, 0, 1023, 100, 10, i % 3, -i * 300]
}

fn frame(i: i32) -> Vec<u8> {
    let mut bytes = Vec::new();
    encode(&dialect(), &cells(i), &mut bytes);
    bytes
}

/// Everything that a stream may hold: heading, words, plain text, all kinds of damage.
fn mixed() -> Vec<u8> {
    let mut bytes = frame(0)[9..].to_vec();
    bytes.extend_from_slice(b"boot loader 3\r\n\0\0");
    encode_heading(&dialect(), &mut bytes);
    encode_text(&dialect(), "# identity demo", &mut bytes);
    for i in 0..12 {
        if i == 7 {
            bytes.extend(std::iter::repeat_n(b'7', MAX_LINE_BYTES + 50));
            bytes.push(0);
        }
        let mut one = frame(i);
        match i % 6 {
            1 => one[6] ^= 0x10,
            2 => drop(one.remove(7)),
            3 => drop(one.pop()),
            _ => {}
        }
        bytes.extend(one);
    }
    bytes.pop();
    bytes
}

#[test]
fn every_single_cut_gives_the_same() {
    let bytes = mixed();
    let whole = told(&bytes, &[]);
    assert_eq!(whole.frames(), 4, "{:?}", whole.reasons());
    for cut in 0..=bytes.len() {
        let alike = |at: usize| bytes.get(at) == Some(&b'7');
        if alike(cut.wrapping_sub(1)) && alike(cut) && alike(cut + 1) && cut % 97 != 0 {
            continue;
        }
        assert_eq!(told(&bytes, &[cut]).0, whole.0, "cut at {cut}");
    }
    let each: Vec<usize> = (1..bytes.len()).collect();
    assert_eq!(told(&bytes, &each).0, whole.0, "byte by byte");
}

#[test]
fn damage_is_classed_and_keeps_its_place() {
    let mut bytes = frame(0)[9..].to_vec();
    let mut expected = vec![(Why::OpenedMidLine, Place { line: 1, byte: 0 })];
    let mut add = |piece: &[u8], why: Option<Why>, line: u64| {
        if let Some(why) = why {
            expected.push((why, Place { line, byte: bytes.len() as u64 }));
        }
        bytes.extend_from_slice(piece);
    };
    let mut flipped = frame(1);
    flipped[5] ^= 0x10;
    let mut short = frame(2);
    short.remove(7);
    let mut fewer = dialect();
    fewer.fields.pop();
    let (mut narrow, mut wide, mut words) = (Vec::new(), Vec::new(), Vec::new());
    encode(&fewer, &cells(3), &mut narrow);
    fewer.fields.extend(dialect().fields.into_iter().rev().take(1));
    fewer.fields.push(Field { name: "spare".to_owned(), role: Role::Ignore, base: Base::U8 });
    encode(&fewer, &cells(4), &mut wide);
    encode_text(&dialect(), "# done rate 250", &mut words);
    add(&flipped, Some(Why::Checksum), 2);
    add(&frame(5), None, 3);
    add(&short, Some(Why::Torn), 4);
    add(&narrow, Some(Why::Torn), 5);
    add(&wide, Some(Why::FieldCount), 6);
    add(&words, Some(Why::Foreign), 7);
    add(b"Guru meditation at 0x40\r\n\0", Some(Why::Foreign), 8);
    add(&frame(6), None, 9);
    let notes = told(&bytes, &[]);
    let found: Vec<_> = notes
        .0
        .iter()
        .filter_map(|t| match t {
            Told::Refused(place, why, _) => Some((*why, *place)),
            _ => None,
        })
        .collect();
    assert_eq!(found, expected);
    assert_eq!(notes.frames(), 2);
    let said = |t: &Told| matches!(t, Told::Refused(_, _, text) if text == b"# done rate 250");
    assert!(notes.0.iter().any(said), "words are handed on as words");
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(128))]

    #[test]
    fn any_cuts_of_any_bytes_give_the_same(
        bytes in proptest::collection::vec(
            prop_oneof![2 => Just(0_u8), 2 => 1..6_u8, 4 => any::<u8>()], 0..800,
        ),
        cuts in proptest::collection::vec(0_usize..800, 0..12),
    ) {
        let mut cuts: Vec<usize> = cuts.into_iter().map(|c| c.min(bytes.len())).collect();
        cuts.sort_unstable();
        prop_assert_eq!(told(&bytes, &cuts).0, told(&bytes, &[]).0);
        // Neither recognition nor the judge of the symbol rate fails on anything.
        let _ = recognise(&bytes);
        let _ = looks_like_baud_mismatch(&bytes);
    }

    #[test]
    fn what_is_encoded_is_read_back(
        words in proptest::collection::vec(any::<u32>(), 10),
    ) {
        let cut = |k: usize, base: Base| match base {
            Base::U32 => words[k] as i32,
            Base::I16 => i32::from(words[k] as i16),
            Base::U8 => i32::from(words[k] as u8),
            _ => i32::from(words[k] as u16),
        };
        let dialect = dialect();
        let cells: Vec<i32> = dialect.fields.iter().enumerate().map(|(k, f)| cut(k, f.base)).collect();
        let mut bytes = Vec::new();
        encode(&dialect, &cells, &mut bytes);
        prop_assert_eq!(bytes.iter().filter(|b| **b == 0).count(), 1);
        let place = Place { line: 1, byte: 0 };
        prop_assert_eq!(told(&bytes, &[]).0, vec![Told::Frame(place, cells)]);
    }

    #[test]
    fn every_single_changed_byte_is_found(at in 0_usize..200, to in any::<u8>()) {
        let mut bytes = frame(1);
        let first = bytes.len();
        bytes.extend(frame(2));
        let at = first + at % (bytes.len() - 1 - first);
        prop_assume!(bytes[at] != to);
        bytes[at] = to;
        prop_assert_eq!(told(&bytes, &[]).frames(), 1);
    }
}

fn stream(frames: i32, heading: bool) -> Vec<u8> {
    let mut bytes = Vec::new();
    for i in 0..frames {
        if heading && i % 256 == 40 {
            encode_heading(&dialect(), &mut bytes);
        }
        bytes.extend(frame(i));
    }
    bytes
}

#[test]
fn the_dialect_is_recognised_by_its_heading() {
    assert_eq!(recognise(&stream(60, true)), Ok(dialect()));
    assert_eq!(recognise(&stream(60, false)), Err(Unrecognised::NoHeading { frames: 60 }));
    assert!(!looks_like_baud_mismatch(&stream(60, false)));
    let mut joined_late = stream(900, true)[1234..].to_vec();
    (0..joined_late.len()).step_by(311).for_each(|k| joined_late[k] ^= 0x40);
    assert_eq!(recognise(&joined_late), Ok(dialect()));
}

#[test]
fn a_live_link_is_recognised_and_loses_no_frame_before_the_heading() {
    let mut intake = Intake::new(None);
    let mut session = Session::new(About::default());
    for (k, piece) in stream(1000, true).chunks(53).enumerate() {
        intake.push(k as u64 * 2000, piece);
    }
    intake.finish();
    session.append(&intake.take());
    assert_eq!(session.rows(), 1000);
    assert_eq!(session.refusals().total(), 0);
    let tracks = session.tracks(&Rig::default());
    assert_eq!(tracks.stream.lost, Some(0));
    assert_eq!(tracks.axis(AxisId::Ly).map(|c| c[7]), Some(263));
}

fn packed_board(seed: u64, scenario: &str) -> VirtualBoard {
    let options = Options {
        dialect: Some(bench_dialect(&bench_rig(10)).packed()),
        scenario: scenario.parse().expect("a scenario"),
        seed,
        ..Options::default()
    };
    VirtualBoard::new(&options).expect("a board")
}

/// Frames of a board as its own framer reads them.
fn read_all(bytes: &[u8], board: &VirtualBoard) -> Notes {
    let mut notes = Notes::default();
    let mut framer = Framer::new(board.dialect());
    framer.push(bytes, &mut notes);
    framer.finish(&mut notes);
    notes
}

#[test]
fn a_virtual_board_gives_the_same_readings_packed_as_in_text() {
    let mut packed = packed_board(5, "healthy");
    let mut text = VirtualBoard::new(&Options { seed: 5, ..Options::default() }).unwrap();
    let rows = |board: &mut VirtualBoard| -> Vec<Vec<i32>> {
        let mut bytes = Vec::new();
        board.advance(5_000_000, &mut bytes);
        let notes = read_all(&bytes, board);
        let cells = |t: &Told| match t {
            Told::Frame(_, cells) => Some(cells.clone()),
            _ => None,
        };
        notes.0.iter().filter_map(cells).collect()
    };
    let (packed, text) = (rows(&mut packed), rows(&mut text));
    assert!(packed.len() > 1100);
    assert_eq!(packed, text);
}

#[test]
fn the_book_of_a_lossy_packed_link_agrees_with_the_framer() {
    let mut board = packed_board(71, "lossy-link@4");
    let mut bytes = Vec::new();
    board.advance(60_000_000, &mut bytes);
    let stream = board.truth().stream;
    let notes = read_all(&bytes, &board);
    assert!(stream.destroyed > 150 && stream.altered == 0, "{stream:?}");
    assert_eq!(notes.frames() as u64, stream.sent - stream.dropped - stream.destroyed);
    assert!(notes.reasons().iter().filter(|w| w.is_damage()).count() > 100);
    assert_eq!(recognise(&bytes).map(|d| d.grammar), Ok(Grammar::Packed));
}

#[test]
fn a_virtual_board_obeys_and_answers() {
    let mut dialect = bench_dialect(&bench_rig(10)).packed();
    for role in [Role::Duty(0), Role::Light(2)] {
        let name = if role == Role::Duty(0) { "duty0" } else { "light2" };
        dialect.fields.push(Field { name: name.to_owned(), role, base: Base::U8 });
    }
    for dialect in [dialect.clone(), as_text(&dialect)] {
        let options = Options { dialect: Some(dialect), ..Options::default() };
        let mut board = VirtualBoard::new(&options).unwrap();
        let mut bytes = Vec::new();
        board.advance(1_000_000, &mut bytes);
        bytes.clear();
        board.write(&Command::Motor { motor: 0, duty: 77 }.line());
        board.write(&Command::Light { light: 2, level: 9 }.line());
        board.write(&Command::Rate { hz: 500 }.line());
        board.write(b"identity\nmotor 0 999\n");
        board.advance(3_000_000, &mut bytes);
        let notes = read_all(&bytes, &board);
        let column = |k: usize| {
            notes.0.iter().filter_map(move |t| match t {
                Told::Frame(_, cells) => Some(cells[k]),
                _ => None,
            })
        };
        assert!((980..1005).contains(&notes.frames()), "{}", notes.frames());
        let driven = column(9).filter(|d| *d == 77).count();
        assert!((480..510).contains(&driven), "it stops a second later: {driven}");
        assert!(column(10).skip(5).all(|l| l == 9));
        let said: Vec<String> = notes
            .0
            .iter()
            .filter_map(|t| match t {
                Told::Refused(_, Why::Foreign, text) => {
                    Some(String::from_utf8_lossy(text).into_owned())
                }
                _ => None,
            })
            .collect();
        assert_eq!(said.len(), 5, "{said:?}");
        assert_eq!(said[2], "# done rate 500");
        assert!(said[3].starts_with("# identity Sandpiper"), "{said:?}");
        assert_eq!(said[4], "# refused: numbers out of range");
    }
}

fn as_text(packed: &Dialect) -> Dialect {
    let base = |f: &Field| Field { base: Base::Decimal, ..f.clone() };
    Dialect {
        clock_bits: None,
        names: Vec::new(),
        counts: Default::default(),
        line_us: None,
        pattern: String::new(),
        cr_ends: false,
        grammar: Grammar::Columns(trimbench::wire::Separator::Comma),
        fields: packed.fields.iter().map(base).collect(),
        ..packed.clone()
    }
}

/// Runs the tool; gives what it said on standard error.
fn trimbench(words: &[&str]) -> (Option<i32>, String) {
    let output = std::process::Command::new(env!("CARGO_BIN_EXE_trimbench"))
        .args(words)
        .output()
        .expect("it starts");
    (output.status.code(), String::from_utf8_lossy(&output.stderr).into_owned())
}

#[test]
fn a_packed_session_is_solved_to_the_same_constants_as_one_in_text() {
    let folder = tempfile::tempdir().expect("a folder");
    let at = |name: &str| folder.path().join(name).display().to_string();
    let dialect = concat!(env!("CARGO_MANIFEST_DIR"), "/assets/dialect-packed.ron");
    let date = "2026-01-01T00:00:00Z";
    let played = ["virtual", "--seed", "9", "--created", date, "--out"];
    for (name, extra) in [("text", &[][..]), ("packed", &["--dialect", dialect])] {
        let out = at(name);
        let words: Vec<&str> =
            played.into_iter().chain([out.as_str()]).chain(extra.iter().copied()).collect();
        assert_eq!(trimbench(&words).0, Some(0));
    }
    // Once more as a link that nobody describes.
    let from = format!("file:{}", at("packed"));
    let again =
        trimbench(&["capture", "--from", &from, "--pace", "flat-out", "--out", &at("again")]);
    assert_eq!(again.0, Some(0), "{}", again.1);
    let file = std::fs::read_to_string(at("again")).expect("ASCII");
    let records = file.lines().filter(|l| l.starts_with(|c: char| c.is_ascii_digit()));
    let (hex, all) =
        records.fold((0, 0), |(hex, all), l| (hex + usize::from(l.contains(" =")), all + 1));
    assert!(all > 20_000 && hex == all, "{hex} of {all} records in hexadecimal");
    let trims = ["text", "packed", "again"].map(|name| {
        let (session, trim) = (at(name), at(&format!("{name}.ron")));
        let (code, said) = trimbench(&["solve", &session, "--trim", &trim]);
        assert_ne!(code, Some(2), "{said}");
        let text = std::fs::read_to_string(trim).expect("a record");
        // Date, name and bytes of a recording are its own.
        let own = ["session_date", "source: ", "sha256: ", "bytes: "];
        let same = |line: &&str| !own.iter().any(|word| line.contains(word));
        text.lines().filter(same).collect::<Vec<_>>().join("\n")
    });
    assert!(trims[0].contains("gain_neg"), "{}", trims[0]);
    assert_eq!(trims[0], trims[1]);
    assert_eq!(trims[1], trims[2]);
}

#[test]
fn a_packed_log_is_played_by_the_boards_clock() {
    let folder = tempfile::tempdir().expect("a folder");
    let at = |name: &str| folder.path().join(name).display().to_string();
    std::fs::write(at("log"), stream(2000, true)).expect("written");
    let from = format!("file:{}", at("log"));
    let words = ["capture", "--from", &from, "--pace", "flat-out", "--out", &at("session")];
    let (code, said) = trimbench(&words);
    assert_eq!(code, Some(0), "{said}");
    let watch = trimbench::work::Watch::unwatched();
    let place = folder.path().join("session");
    let opened = trimbench::session::file::open(&place, &Default::default(), &watch, &mut |_| ());
    let session = opened.expect("it opens").session;
    assert_eq!(session.rows(), 2000);
    let times = session.host_part(0..2000);
    assert_eq!(times[1999] - times[0], 1999 * 4000, "paced by the frames' own clock");
}

#[test]
fn lines_of_text_between_packed_frames_cost_no_frame_and_are_told_one_by_one() {
    let dialect = bench_dialect(&bench_rig(10)).packed();
    let mut bytes = Vec::new();
    let mut text = 0;
    for n in 0..900 {
        // Frames, a part in text, frames again; now and then a line among the frames.
        if (300..600).contains(&n) || n % 50 == 7 {
            bytes.extend_from_slice(format!("{n},{},512,498,0000\r\n", n * 4_000).as_bytes());
            text += 1;
        } else {
            encode(&dialect, &[n, n * 4_000, 10, 2_570, 13], &mut bytes);
        }
    }
    let framed = |piece: usize| {
        let mut session = Session::new(About::default());
        let mut intake = Intake::new(Some(dialect.clone()));
        bytes.chunks(piece).for_each(|part| intake.push(0, part));
        intake.finish();
        session.append(&intake.take());
        session
    };
    let whole = framed(bytes.len());
    assert_eq!((whole.rows(), whole.refusals().total()), (900 - text, text as u64));
    assert_eq!(whole.refusals().count(Why::Foreign), text as u64);
    let other = whole.refusals().other_form().expect("a form");
    assert_eq!((other.count, other.place.line), (text as u64, 8), "named where one in twenty is");
    let first = whole.refusals().kept().next().expect("one").place;
    assert_eq!(first.line, 8, "each has its place");
    for piece in [1, 2, 7, 64, 997] {
        let cut = framed(piece);
        assert_eq!(cut.refusals(), whole.refusals(), "in pieces of {piece}");
        assert!((0..5).all(|k| cut.column(k) == whole.column(k)), "in pieces of {piece}");
    }
}

/// Lines of text with their last number, hexadecimal digits, in decimal ones.
fn in_decimals(lines: &[u8]) -> Vec<u8> {
    let text = String::from_utf8_lossy(lines);
    let line = |line: &str| match line.rsplit_once(',') {
        Some((rest, mask)) if mask.len() == 4 => {
            let mask = u32::from_str_radix(mask, 16).expect("digits");
            format!("{rest},{mask}\r\n")
        }
        _ => format!("{line}\r\n"),
    };
    text.lines().map(line).collect::<String>().into_bytes()
}

#[test]
fn a_log_that_turns_from_packed_to_text_and_back_is_read_whole() {
    let heading = "\r\nseq,t_us,lx,ly,rx,ry,lt,rt,buttons\r\n".as_bytes();
    let [packed, whole] = [packed_board(5, "healthy"), packed_board(5, "healthy")].map(three_parts);
    let text = VirtualBoard::new(&Options { seed: 5, ..Options::default() }).unwrap();
    let text = three_parts(text);
    let whole = opened(&whole.concat());
    let decimals = in_decimals(&text[1]);
    let logs: [&[&[u8]]; 3] = [
        &[&packed[0], heading, &text[1], &packed[2]],
        &[&packed[0], heading, &decimals, &packed[2]],
        &[&text[0], &text[1], b"\0", &packed[2]],
    ];
    for log in logs {
        let read = opened(&log.concat());
        assert_eq!(read.rows(), whole.rows(), "{:?}", read.refusals().kept().nth(1));
        let dialect = whole.dialect().expect("known");
        assert!((0..dialect.fields.len()).all(|k| read.column(k) == whole.column(k)));
        let buttons = dialect.field_of(Role::Buttons).expect("a mask");
        assert!(read.column(buttons).iter().any(|mask| *mask > 9), "pressed in the part of text");
    }
}

/// Twenty seconds of rest, thirty of buttons, ten of rest.
fn three_parts(mut board: VirtualBoard) -> [Vec<u8>; 3] {
    let parts = [(None, 20_000_000), (Some(Task::Buttons), 50_000_000), (None, 60_000_000)];
    parts.map(|(task, until_us)| {
        let mut bytes = Vec::new();
        board.hand().prompt(task);
        board.advance(until_us, &mut bytes);
        bytes
    })
}

/// A log of these bytes.
fn opened(bytes: &[u8]) -> Session {
    let mut file = tempfile::NamedTempFile::new().expect("a file");
    std::io::Write::write_all(&mut file, bytes).expect("written");
    let (wishes, watch) = (file::Overrides::default(), Watch::unwatched());
    file::open(file.path(), &wishes, &watch, &mut |_| ()).expect("opened").session
}
