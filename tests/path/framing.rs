//! The framer under every cut and every kind of damage.
use proptest::prelude::*;
use trimbench::rig::AxisId;
use trimbench::wire::{
    Base, ChecksumForm, ClockUnit, Dialect, Field, Framer, Grammar, MAX_LINE_BYTES, Place, Remark,
    Role, Separator, Sink, Why, encode, encode_heading, looks_like_baud_mismatch, recognise,
};

/// What a sink was told, in order.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Told {
    Frame(Place, Vec<i32>),
    Refused(Place, Why, Vec<u8>),
    Remark(Place, Remark),
}

#[derive(Default)]
pub(super) struct Notes(pub(super) Vec<Told>);

impl Sink for Notes {
    fn frame(&mut self, place: Place, cells: &[i32]) {
        self.0.push(Told::Frame(place, cells.to_vec()));
    }
    fn refused(&mut self, place: Place, why: Why, bytes: &[u8]) {
        self.0.push(Told::Refused(place, why, bytes.to_vec()));
    }
    fn remark(&mut self, place: Place, what: Remark, _bytes: &[u8]) {
        self.0.push(Told::Remark(place, what));
    }
}

fn field(name: &str, role: Role, base: Base) -> Field {
    Field { name: name.to_owned(), role, base }
}

fn dialect(grammar: Grammar, checksum: ChecksumForm) -> Dialect {
    let fields = vec![
        field("seq", Role::Seq, Base::Decimal),
        field("t_us", Role::Clock, Base::Decimal),
        field("lx", Role::Axis(AxisId::Lx), Base::Decimal),
        field("ly", Role::Axis(AxisId::Ly), Base::Decimal),
        field("buttons", Role::Buttons, Base::Hex),
    ];
    Dialect {
        clock_bits: None,
        names: Vec::new(),
        counts: Default::default(),
        line_us: None,
        pattern: String::new(),
        cr_ends: false,
        format: 1,
        grammar,
        fields,
        checksum,
        clock: ClockUnit::Micros,
        seq_bits: None,
        by_order: false,
    }
}

fn commas() -> Dialect {
    dialect(Grammar::Columns(Separator::Comma), ChecksumForm::None)
}

fn told(dialect: &Dialect, bytes: &[u8]) -> Vec<Told> {
    told_in_pieces(dialect, bytes, &[])
}

pub(super) fn told_in_pieces(dialect: &Dialect, bytes: &[u8], cuts: &[usize]) -> Vec<Told> {
    let mut notes = Notes::default();
    let mut framer = Framer::new(dialect);
    let mut from = 0;
    for &cut in cuts {
        framer.push(&bytes[from..cut], &mut notes);
        from = cut;
    }
    framer.push(&bytes[from..], &mut notes);
    framer.finish(&mut notes);
    notes.0
}

fn reasons(dialect: &Dialect, text: &str) -> Vec<Why> {
    let why = |t: &Told| match t {
        Told::Refused(_, why, _) => Some(*why),
        _ => None,
    };
    told(dialect, text.as_bytes()).iter().filter_map(why).collect()
}

fn all_dialects() -> Vec<Dialect> {
    let mut all = Vec::new();
    for grammar in [
        Grammar::Columns(Separator::Comma),
        Grammar::Columns(Separator::Semicolon),
        Grammar::Columns(Separator::Tab),
        Grammar::Columns(Separator::Blanks),
        Grammar::Labelled,
    ] {
        for checksum in [ChecksumForm::None, ChecksumForm::Xor, ChecksumForm::Crc16] {
            all.push(dialect(grammar, checksum));
        }
    }
    all
}

/// A stream with everything in it: heading, banner, damage, an endless line, no final LF.
fn mixed(dialect: &Dialect) -> Vec<u8> {
    let mut bytes = b"3,12\r\nbooting, please wait\r\n".to_vec();
    encode_heading(dialect, &mut bytes);
    for i in 0..20_i32 {
        if i == 7 {
            bytes.extend(std::iter::repeat_n(b'7', MAX_LINE_BYTES + 100));
            bytes.extend_from_slice(b"\n\n  \r\n");
        }
        let start = bytes.len();
        encode(dialect, &[i, i * 4000, 512 - i, 498 + i, i % 3], &mut bytes);
        match i % 5 {
            1 => bytes[start + 1] = b'q',
            2 => drop(bytes.remove(start + 5)),
            3 => bytes.insert(bytes.len() - 1, b'\r'),
            _ => {}
        }
    }
    bytes.pop();
    bytes
}

#[test]
fn every_single_cut_gives_the_same() {
    for dialect in all_dialects() {
        let bytes = mixed(&dialect);
        let whole = told(&dialect, &bytes);
        assert!(whole.iter().filter(|t| matches!(t, Told::Frame(..))).count() >= 8, "{whole:?}");
        for cut in 0..=bytes.len() {
            // Inside the endless line most cuts are alike.
            let alike = |at: usize| bytes.get(at) == Some(&b'7');
            if alike(cut.wrapping_sub(1)) && alike(cut) && alike(cut + 1) && cut % 97 != 0 {
                continue;
            }
            assert_eq!(told_in_pieces(&dialect, &bytes, &[cut]), whole, "cut at {cut}");
        }
        let each: Vec<usize> = (1..bytes.len()).collect();
        assert_eq!(told_in_pieces(&dialect, &bytes, &each), whole, "byte by byte");
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(96))]

    #[test]
    fn any_cuts_of_any_bytes_give_the_same(
        bytes in proptest::collection::vec(
            prop_oneof![
                4 => proptest::sample::select(b"0123456789,,,\n\r -+.*:=x".to_vec()),
                1 => any::<u8>(),
            ],
            0..600,
        ),
        cuts in proptest::collection::vec(0_usize..600, 0..12),
    ) {
        let mut cuts: Vec<usize> = cuts.into_iter().map(|c| c.min(bytes.len())).collect();
        cuts.sort_unstable();
        for dialect in all_dialects() {
            let whole = told(&dialect, &bytes);
            prop_assert_eq!(told_in_pieces(&dialect, &bytes, &cuts), whole);
        }
    }

    #[test]
    fn what_is_encoded_is_read_back(
        seq in any::<u32>(), clock in any::<u32>(),
        lx in -65_535..=65_535_i32, ly in 0..4096_i32, buttons in any::<u32>(),
        bits in any::<bool>(),
    ) {
        let cells = [seq as i32, clock as i32, lx, ly, buttons as i32];
        for mut dialect in all_dialects() {
            if bits {
                dialect.fields[4].base = Base::Bits;
            }
            let mut line = Vec::new();
            encode(&dialect, &cells, &mut line);
            let place = Place { line: 1, byte: 0 };
            prop_assert_eq!(told(&dialect, &line), vec![Told::Frame(place, cells.to_vec())]);
        }
    }

    #[test]
    fn a_checksum_finds_every_single_changed_byte(at in 0_usize..60, to in any::<u8>()) {
        for form in [ChecksumForm::Xor, ChecksumForm::Crc16] {
            let dialect = dialect(Grammar::Columns(Separator::Comma), form);
            let mut bytes = Vec::new();
            encode(&dialect, &[1, 4000, 512, 498, 3], &mut bytes);
            let first = bytes.len();
            encode(&dialect, &[2, 8000, 511, 499, 3], &mut bytes);
            let at = first + at % (bytes.len() - 1 - first);
            // A hexadecimal digit of the checksum may change its case and be the same number.
            let same = bytes[at].eq_ignore_ascii_case(&to);
            prop_assume!(!same && !matches!(to, b'\n' | b'\r' | b' ' | b'\t' | b'$'));
            bytes[at] = to;
            let frames = told(&dialect, &bytes);
            let frames = frames.iter().filter(|t| matches!(t, Told::Frame(..))).count();
            prop_assert_eq!(frames, 1, "{}", String::from_utf8_lossy(&bytes));
        }
    }
}

#[test]
fn damage_is_classed_and_keeps_its_place() {
    let good = "17,68000,512,498,0003\n";
    let lines: [(&str, Option<Why>); 11] = [
        ("12,498,0003", Some(Why::OpenedMidLine)),
        ("17,68000,512,498,0003", None),
        ("Reset cause: brown-out", Some(Why::Foreign)),
        ("18,72000,512", Some(Why::Torn)),
        ("18,72000,512,498,00", None),
        ("19,76000,5", Some(Why::Torn)),
        ("20,80000,512,498,000321,84000,512,498,0003", Some(Why::FieldCount)),
        ("22,88000,5~2,498,0003", Some(Why::BadField)),
        ("23,92000,512.5,498,0003", Some(Why::DecimalPoint)),
        ("24,96000,70000,498,0003", Some(Why::BadField)),
        ("E (5123) i2c: bus timeout, retry 3, giving up", Some(Why::Foreign)),
    ];
    let mut text = String::new();
    let mut expected = Vec::new();
    for (i, (line, why)) in lines.iter().enumerate() {
        if let Some(why) = why {
            let place = Place { line: i as u64 + 1, byte: text.len() as u64 };
            expected.push(Told::Refused(place, *why, line.as_bytes().to_vec()));
        }
        text += line;
        text += "\n";
    }
    text += good;
    let mut refused = told(&commas(), text.as_bytes());
    refused.retain(|t| matches!(t, Told::Refused(..)));
    assert_eq!(refused, expected);
}

#[test]
fn labelled_damage_is_classed_too() {
    let dialect = dialect(Grammar::Labelled, ChecksumForm::None);
    let good = "seq:1 t_us:4000 lx:512 ly:498 buttons:0003\n";
    let text = good.to_owned()
        + "seq:2 t_us:8000 lx:512\n"
        + "hello, this is firmware 3\n"
        + "seq:3 t_us:12000 lx:5!2 ly:498 buttons:0003\n"
        + "seq:4 t_us:16000 lx:51.2 ly:498 buttons:0003\n"
        + "seq:5 t_us:20000 lx:512 ly:498 buttons:0003 seq:6 t_us:24000\n";
    let found = reasons(&dialect, &text);
    let expected = [Why::Torn, Why::Foreign, Why::BadField, Why::DecimalPoint, Why::FieldCount];
    assert_eq!(found, expected);
}

#[test]
fn labels_may_come_in_any_order_and_with_any_mark() {
    let dialect = dialect(Grammar::Labelled, ChecksumForm::None);
    let line = b"buttons=0x3, ly: 498; lx = 512\tt_us:4000 seq:1\r\n";
    let place = Place { line: 1, byte: 0 };
    assert_eq!(told(&dialect, line), [Told::Frame(place, vec![1, 4000, 512, 498, 3])]);
}

#[test]
fn a_heading_is_recognised_whenever_it_comes() {
    let heading = "seq,t_us,lx,ly,buttons\r\n";
    let frame = "1,4000,512,498,0003\r\n";
    let text = heading.to_owned() + frame + frame + "\r\n" + heading + frame;
    let found = told(&commas(), text.as_bytes());
    let headings = found.iter().filter(|t| matches!(t, Told::Remark(_, Remark::Heading))).count();
    let frames = found.iter().filter(|t| matches!(t, Told::Frame(..))).count();
    let blanks = found.iter().filter(|t| matches!(t, Told::Remark(_, Remark::Blank))).count();
    assert_eq!((headings, frames, blanks, found.len()), (2, 3, 1, 6));
    // The stream may have been opened behind the heading, so that the names were made up.
    assert_eq!(reasons(&commas(), &(frame.to_owned() + "n,time,x,y,btn\r\n" + frame)), []);
}

#[test]
fn separators_behind_the_last_field_and_blanks_are_tolerated() {
    for line in ["1,4000,512,498,3,", " 1, 4000 , 512,498 ,3 ", "1,4000,512,498,3\r"] {
        let found = told(&commas(), format!("{line}\n").as_bytes());
        assert!(matches!(&found[..], [Told::Frame(_, cells)] if cells[4] == 3), "{line:?}");
    }
}

#[test]
fn a_last_line_without_end_is_taken_only_when_it_may_be_whole() {
    let frames = |text: &str| {
        let found = told(&commas(), text.as_bytes());
        found.iter().filter(|t| matches!(t, Told::Frame(..))).count()
    };
    assert_eq!(frames("1,4000,512,498,0003\n2,8000,512,498,0003"), 2);
    assert_eq!(frames("1,4000,512,498,0003\n2,8000,512,498,00"), 1);
    let summed = dialect(Grammar::Columns(Separator::Comma), ChecksumForm::Xor);
    let mut bytes = Vec::new();
    encode(&summed, &[1000, 4000, 512, 498, 3], &mut bytes);
    encode(&summed, &[1, 4, 5, 4, 3], &mut bytes);
    bytes.pop();
    assert_eq!(told(&summed, &bytes).len(), 2, "a checksum proves a short last line");
}

#[test]
fn an_endless_line_costs_no_memory_and_the_stream_goes_on() {
    let mut notes = Notes::default();
    let mut framer = Framer::new(&commas());
    framer.push(b"1,4000,512,498,0003\n", &mut notes);
    let megabyte = vec![b'7'; 1 << 20];
    for _ in 0..1024 {
        framer.push(&megabyte, &mut notes);
    }
    framer.push(b"\n2,8000,512,498,0003\n", &mut notes);
    framer.finish(&mut notes);
    let [Told::Frame(..), Told::Refused(at, Why::TooLong, kept), Told::Frame(next, _)] =
        &notes.0[..]
    else {
        panic!("{} calls", notes.0.len());
    };
    assert_eq!((at.line, at.byte, kept.len()), (2, 20, MAX_LINE_BYTES));
    assert_eq!((next.line, next.byte), (3, 20 + (1 << 30) + 1));
}

#[test]
fn a_reopened_link_may_begin_mid_line_again() {
    let mut notes = Notes::default();
    let mut framer = Framer::new(&commas());
    framer.push(b"1,4000,512,498,0003\n2,80", &mut notes);
    framer.reopened(&mut notes);
    framer.push(b"8,0003\n9,36000,512,498,0003\n", &mut notes);
    let whys: Vec<Why> = notes
        .0
        .iter()
        .filter_map(|t| if let Told::Refused(_, why, _) = t { Some(*why) } else { None })
        .collect();
    assert_eq!(whys, [Why::Torn, Why::OpenedMidLine]);
}

#[test]
fn every_dialect_is_recognised_from_what_it_prints() {
    for dialect in all_dialects() {
        for heading in [false, true] {
            let mut bytes = Vec::new();
            if heading {
                encode_heading(&dialect, &mut bytes);
            }
            for i in 0..80_i32 {
                let wobble = (i.wrapping_mul(7919) >> 3) & 3;
                let cells = [i + 900, 1_000_000 + i * 4000, 510 + wobble, 500 - wobble, i / 30];
                encode(&dialect, &cells, &mut bytes);
            }
            let found = recognise(&bytes).unwrap_or_else(|e| panic!("{e}"));
            assert_eq!(found.grammar, dialect.grammar);
            assert_eq!(found.checksum, dialect.checksum);
            assert_eq!(found.fields, dialect.fields);
        }
    }
}

#[test]
fn baud_mismatch_shows_in_the_bytes() {
    // Text read at half its rate: each two bits become one, high levels stay.
    let text = "12,48000,512,498,0003\n".repeat(50);
    let wrong: Vec<u8> = text.bytes().map(|b| b.rotate_right(4) | 0x80).collect();
    assert!(looks_like_baud_mismatch(&wrong));
    assert!(!looks_like_baud_mismatch(text.as_bytes()));
}
