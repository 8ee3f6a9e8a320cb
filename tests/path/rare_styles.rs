//! Rarer ways of printing: states in words, clocks from a far beginning or that turn, frames over lines.
use trimbench::rig::Rig;
use trimbench::session::Fate;
use trimbench::session::file::{Overrides, open};
use trimbench::wire::{Base, ClockUnit, Dialect, Role, Unrecognised, recognise};
use trimbench::work::Watch;

use super::styles::{LETTERS, ROWS, Row, frames, is_read, join, log, named};

/// The twelve keys as words, each with `between` before it.
fn words(row: &Row, is: impl Fn(usize) -> String, states: [&str; 2], by: &str) -> String {
    let one = |k: usize| format!("{}{}", is(k), states[(row.keys >> k & 1) as usize]);
    (0..12).map(one).collect::<Vec<_>>().join(by)
}

/// Twelve fields of one button each hold what was pressed.
fn buttons_agree(dialect: &Dialect, text: &str) {
    let cells = frames(dialect, text.as_bytes(), &[]);
    for n in 0..12 {
        let at = dialect.field_of(Role::Button(n)).unwrap_or_else(|| panic!("{n}: {dialect:?}"));
        assert_eq!(dialect.fields[at].base, Base::State);
        for (row, cells) in (0..).map(super::styles::row).zip(&cells) {
            assert_eq!(cells[at] as u32, row.keys >> n & 1, "row {} button {n}", row.n);
        }
    }
}

#[test]
fn states_in_words_are_buttons() {
    let same = |v| v;
    let micros = Some(ClockUnit::Micros);
    let none = |_| String::new();
    let columns = |r: &Row| {
        format!("{},{},{}", r.us, join(r, ","), words(r, none, ["RELEASED", "PRESSED"], ","))
    };
    let labels = |r: &Row| {
        let keys = words(r, |k| format!("k{k}="), ["Off", "On"], " ");
        format!("{} {keys}", named(r, LETTERS, "=", " "))
    };
    let object = |r: &Row| {
        let keys = words(r, |k| format!("\"key{k}\":"), ["false", "true"], ",");
        format!("{{\"us\":{},\"{},{keys}}}", r.us, named(r, LETTERS, "\":", ",\""))
    };
    let quoted = |r: &Row| {
        let keys = words(r, |k| format!("\"key{k}\": \""), ["open", "closed"], "\", ");
        format!("{{\"{}, {keys}\"}}", named(r, LETTERS, "\": ", ", \""))
    };
    let bare = |r: &Row| {
        let keys = words(r, |k| format!("B{k} "), ["up", "down"], " ");
        format!("{} | {keys}", named(r, LETTERS, " ", " "))
    };
    for (text, clock) in [
        (log(columns), micros),
        (log(labels), None),
        (log(object), micros),
        (log(quoted), None),
        (log(bare), None),
    ] {
        buttons_agree(&is_read(&text, same, clock), &text);
    }
}

/// Board time of a log from its first to its last line, ms, and the gaps in it.
fn lasts(text: &str, resets: usize) -> (f64, u64) {
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("board.log");
    std::fs::write(&path, text).expect("written");
    let opened = open(&path, &Overrides::default(), &Watch::unwatched(), &mut |_| ());
    let tracks = opened.expect("a log").session.tracks(&Rig::default());
    assert_eq!(tracks.stream.resets.len(), resets, "{text:.80}");
    let t = &tracks.t_us;
    ((t[t.len() - 1] - t[0]) as f64 / 1000.0, tracks.stream.lost.unwrap_or(0))
}

#[test]
fn clocks_go_on_where_they_begin_anew() {
    let with = |clock: &dyn Fn(u64) -> String| {
        log(|r| format!("{},{},{}", clock(r.us), join(r, ","), r.keys))
    };
    let time = |us: u64| {
        let s = us / 1_000_000;
        (s / 3600 % 24, s / 60 % 60, s % 60, us % 1_000_000)
    };
    let late = |us: u64, before: u64, turn: u64| us - 5_000_000 + turn - before;
    let day = |us: u64| {
        let (h, m, s, part) = time(late(us, 1_500_000, 86_400_000_000));
        format!("{h:02}:{m:02}:{s:02}.{part:06}")
    };
    let hour = |us: u64| {
        let (_, m, s, part) = time(late(us, 1_500_000, 3_600_000_000));
        format!("{m:02}:{s:02}.{:03}", part / 1000)
    };
    let colons = |us: u64| {
        let (_, m, s, part) = time(late(us, 1_500_000, 3_600_000_000));
        format!("{m:02}:{s:02}:{:03}", part / 1000)
    };
    let epoch = |us: u64| (1_764_547_200_000_000 + us).to_string();
    let epoch_ms = |us: u64| (1_764_547_200_000 + us / 1000).to_string();
    let narrow = |us: u64| (late(us, 1_500_000, 1 << 24) % (1 << 24)).to_string();
    let clocks: [(&str, &dyn Fn(u64) -> String); 6] = [
        ("midnight", &day),
        ("full hour", &hour),
        ("thousandths behind a colon", &colons),
        ("µs since 1970", &epoch),
        ("ms since 1970", &epoch_ms),
        ("24 bits", &narrow),
    ];
    for (what, clock) in clocks {
        let (ms, lost) = lasts(&with(clock), 0);
        let wanted = 4.0 * (ROWS - 1) as f64;
        assert!((ms - wanted).abs() < 2.0 && lost == 0, "{what}: {ms} ms, lost {lost}");
    }
    // A clock that falls by anything else was set anew.
    let restart = |us: u64| {
        let before = if us < 7_000_000 { 1_500_000 } else { 1_000_000_000 };
        let (h, m, s, part) = time(late(us, before, 86_400_000_000));
        format!("{h:02}:{m:02}:{s:02}.{part:06}")
    };
    assert!(lasts(&with(&restart), 1).0 > 4.0 * (ROWS - 1) as f64 - 100.0);
}

#[test]
fn a_frame_over_several_lines_is_refused_with_the_reason() {
    let [a, b] = ["left", "right"];
    let two = |r: &Row| {
        let [lx, ly, rx, ry, lt, rt] = r.axes;
        format!("{a} x {lx} y {ly} t {lt}\n{b} x {rx} y {ry} t {rt}")
    };
    let three = |r: &Row| {
        let [lx, ly, rx, ry, lt, rt] = r.axes;
        format!("S,{lx},{ly},{rx},{ry}\nT,{lt},{rt}\nK,{:04X},{}", r.keys, r.us)
    };
    let each = |r: &Row| {
        let pairs = LETTERS.iter().zip(r.axes).map(|(name, v)| format!("{name} {v}\n"));
        format!("{}keys {}", pairs.collect::<String>(), r.keys)
    };
    for (text, lines) in [(log(two), 2), (log(three), 3), (log(each), 7)] {
        let refused = recognise(text.as_bytes()).expect_err("several lines");
        assert_eq!(refused, Unrecognised::SeveralLines { lines });
        assert!(refused.to_string().contains("in one line"), "{refused}");
    }
}

/// One mask whose bits are the keys, by its cells.
fn mask_agrees(dialect: &Dialect, text: &str) {
    let cells = frames(dialect, text.as_bytes(), &[]);
    let at = dialect.field_of(Role::Buttons).unwrap_or_else(|| panic!("{dialect:?}"));
    for (row, cells) in (0..).map(super::styles::row).zip(&cells) {
        assert_eq!(cells[at] as u32, row.keys, "row {}: {dialect:?}", row.n);
    }
}

#[test]
fn rows_of_marks_are_masks() {
    let same = |v| v;
    let micros = Some(ClockUnit::Micros);
    let marks = |r: &Row, on: [char; 12], off: char| -> String {
        (0..12).map(|k| if r.keys >> k & 1 == 1 { on[k] } else { off }).collect()
    };
    let own = ['A', 'B', 'X', 'Y', 'L', 'R', 'S', 'T', 'u', 'd', 'l', 'r'];
    let columns = |r: &Row| format!("{},{},{}", r.us, join(r, ","), marks(r, ['#'; 12], '.'));
    let labels = |r: &Row| format!("{} keys={}", named(r, LETTERS, "=", " "), marks(r, own, '-'));
    let hexes = |r: &Row| {
        let axes = r.axes.map(|v| format!("{v:03X}")).join("~");
        format!("{axes}~[{}]", marks(r, ['x'; 12], '_'))
    };
    for (text, clock) in [(log(columns), micros), (log(labels), None), (log(hexes), None)] {
        let dialect = is_read(&text, same, clock);
        mask_agrees(&dialect, &text);
    }
}

#[test]
fn bits_in_groups_and_letters_between_numbers_are_read() {
    let same = |v| v;
    let group = |r: &Row, from: usize| -> String {
        (from..from + 4).map(|k| char::from(b'0' + (r.keys >> k & 1) as u8)).collect()
    };
    let groups =
        |r: &Row| format!("{},{} {} {}", join(r, ","), group(r, 0), group(r, 4), group(r, 8));
    let dialect = is_read(&log(groups), same, None);
    let roles: Vec<Role> = dialect.fields[6..].iter().map(|f| f.role).collect();
    assert_eq!(roles, [Role::Buttons, Role::MoreButtons(4), Role::MoreButtons(8)], "{dialect:?}");
    let underlined = |r: &Row| {
        let parts = [8, 4, 0].map(|at| format!("{:04b}", r.keys >> at & 15)).join("_");
        format!("({}) 0b{parts}", join(r, " / "))
    };
    let text = log(underlined);
    mask_agrees(&is_read(&text, same, None), &text);
    let glued = |r: &Row| {
        let axes = LETTERS.iter().zip(r.axes);
        axes.map(|(name, v)| format!("{}{v}", name.to_uppercase())).collect::<String>()
            + &format!("BTN{}", r.keys)
    };
    is_read(&log(glued), same, None);
}

#[test]
fn a_hat_is_no_button_and_is_told() {
    let hat = |n: u64| [15, 0, 2, 4, 6, 1, 3, 5, 7][(n / 60 % 9) as usize];
    let text = log(|r| format!("{},{},{},{}", r.us, join(r, ","), r.keys, hat(r.n)));
    let dialect = recognise(text.as_bytes()).expect("read");
    assert_eq!(dialect.fields[8].role, Role::Ignore, "{dialect:?}");
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("board.log");
    std::fs::write(&path, text).expect("written");
    let opened = open(&path, &Overrides::default(), &Watch::unwatched(), &mut |_| ());
    let fates: Vec<Fate> =
        opened.expect("read").session.columns_read().iter().map(|c| c.fate).collect();
    assert_eq!(fates[8], Fate::Moves);
}
