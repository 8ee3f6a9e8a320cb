//! Every way of printing a stream that is read without a dialect: roles, values, clock, and the way
//! back to text.
use proptest::prelude::*;
use trimbench::rig::AxisId;
use trimbench::wire::{Base, ClockUnit, Dialect, LineCheck, Role, encode, recognise};

use super::framing::{Told, told_in_pieces};

/// One reading of a board with everything.
#[derive(Clone, Copy, Debug)]
pub(super) struct Row {
    pub(super) n: u64,
    pub(super) us: u64,
    pub(super) axes: [i64; 6],
    pub(super) keys: u32,
}

pub(super) const ROWS: u64 = 1_200;

/// A hand that works one control after the other at 250 frames a second.
pub(super) fn row(n: u64) -> Row {
    let turn = |phase: f64| ((n as f64 / 40.0 + phase).sin() * 380.0) as i64;
    let noise = |k: u64| (n * (2 * k + 7) / 3 % 3) as i64;
    let rolling = (n / 200) % 2 == 1;
    let stick =
        |k: u64, phase| 500 + 7 * k as i64 + noise(k) + if rolling { turn(phase) } else { 0 };
    let pull = |k: u64, part: u64| {
        let at = (n % 400).saturating_sub(100 * part).min(50) as i64;
        60 + 40 * k as i64 + noise(k) + if (n / 400) % 2 == part { 13 * at } else { 0 }
    };
    let key = (n / 60) as u32 % 12;
    let keys = if n >= 100 && n % 60 < 20 { 1 << key } else { 0 };
    let axes = [stick(0, 0.0), stick(1, 1.6), stick(2, 0.4), stick(3, 2.0), pull(4, 0), pull(5, 1)];
    Row { n, us: 5_000_000 + n * 4_000 + n % 3, axes, keys }
}

pub(super) fn log(line: impl Fn(&Row) -> String) -> String {
    (0..ROWS).map(|n| line(&row(n)) + "\n").collect()
}

pub(super) fn join(row: &Row, by: &str) -> String {
    row.axes.map(|v| v.to_string()).join(by)
}

/// Axes with names before them.
pub(super) fn named(row: &Row, names: [&str; 6], is: &str, by: &str) -> String {
    let pairs = names.iter().zip(row.axes).map(|(name, v)| format!("{name}{is}{v}"));
    pairs.collect::<Vec<_>>().join(by)
}

pub(super) fn frames(dialect: &Dialect, bytes: &[u8], cuts: &[usize]) -> Vec<Vec<i32>> {
    let cells = |told| match told {
        Told::Frame(_, cells) => Some(cells),
        _ => None,
    };
    told_in_pieces(dialect, bytes, cuts).into_iter().filter_map(cells).collect()
}

/// Reads `text`, checks it row by row, and writes and reads it again.
pub(super) fn is_read(text: &str, axis: impl Fn(i64) -> i64, clock: Option<ClockUnit>) -> Dialect {
    let shown = text.lines().nth(3).unwrap_or_default();
    let dialect = recognise(text.as_bytes()).unwrap_or_else(|e| panic!("{shown}: {e}"));
    dialect.check().unwrap_or_else(|e| panic!("{shown}: {e:?}"));
    let cells = frames(&dialect, text.as_bytes(), &[]);
    assert_eq!(cells.len() as u64, ROWS, "{shown}\n{dialect:?}");
    let field = |role| dialect.field_of(role);
    let mut first = None;
    for (n, cells) in cells.iter().enumerate() {
        let row = row(n as u64);
        for (k, role) in AxisId::ALL.into_iter().enumerate() {
            let at = field(Role::Axis(role)).unwrap_or_else(|| panic!("{shown}: {dialect:?}"));
            assert_eq!(i64::from(cells[at]), axis(row.axes[k]), "{shown} {role:?}\n{dialect:?}");
        }
        let time = field(Role::Clock).map(|at| u64::from(cells[at] as u32));
        let wanted = clock.map(|unit| match unit {
            ClockUnit::Micros => row.us,
            ClockUnit::Millis => row.us / 1000,
        });
        assert_eq!(time.is_some(), wanted.is_some(), "{shown}\n{dialect:?}");
        assert_eq!(clock.unwrap_or_default(), dialect.clock, "{shown}\n{dialect:?}");
        let (Some(time), Some(wanted)) = (time, wanted) else { continue };
        let kept = if dialect.clock_bits == Some(16) { 0xFFFF } else { u64::from(u32::MAX) };
        let first = *first.get_or_insert(time.wrapping_sub(wanted));
        let off = time.wrapping_sub(wanted).wrapping_sub(first) & kept;
        // A stamp has milliseconds.
        assert!(off <= 1000 || off >= kept - 1000, "{shown}: {off}\n{dialect:?}");
    }
    for step in [7_919, 997, 61] {
        let cuts: Vec<usize> = (1..text.len() / step).map(|k| k * step).collect();
        assert!(
            frames(&dialect, text.as_bytes(), &cuts) == cells,
            "{shown}: cut every {step} bytes"
        );
    }
    let check = LineCheck::new(&dialect);
    let fits = text.split(['\n', '\r']).filter(|line| check.misfit(line.as_bytes()).is_none());
    assert!(fits.count() as u64 >= ROWS, "{shown}: refused by the check and read by the framer");
    let again: Vec<u8> = cells.iter().fold(Vec::new(), |mut out, cells| {
        encode(&dialect, cells, &mut out);
        out
    });
    assert!(
        frames(&dialect, &again, &[]) == cells,
        "{shown}: not the same after writing\n{dialect:?}"
    );
    dialect
}

pub(super) const LETTERS: [&str; 6] = ["lx", "ly", "rx", "ry", "lt", "rt"];

#[test]
fn separators_quotes_and_brackets_are_read() {
    let micros = Some(ClockUnit::Micros);
    let same = |v| v;
    is_read(&log(|r| format!("{} {:X} ;", join(r, " "), r.keys)), same, None);
    is_read(&log(|r| format!("{};{};{:04x};;", r.us, join(r, ";"), r.keys)), same, micros);
    is_read(&log(|r| format!("({}) ({}) ({})", r.us, join(r, ") ("), r.keys)), same, micros);
    is_read(&log(|r| format!("<{}:{}:{:04X}>", r.us, join(r, ":"), r.keys)), same, micros);
    is_read(&log(|r| format!("'{}' '{}' '{}'", r.us, join(r, "' '"), r.keys)), same, micros);
    is_read(
        &log(|r| format!("| {:>9} | {} | {:>5} |", r.us, join(r, " | "), r.keys)),
        same,
        micros,
    );
    is_read(
        &log(|r| {
            format!("{:>12}{:>9}{:>7}", r.us, r.axes.map(|v| format!("{v:>7}")).concat(), r.keys)
        }),
        same,
        micros,
    );
}

#[test]
fn labels_objects_and_sentences_are_read() {
    let same = |v| v;
    let micros = Some(ClockUnit::Micros);
    let object = |r: &Row| {
        let pairs = named(r, LETTERS, "\" : ", ", \"");
        format!("{{ \"micros\": {}, \"{pairs}, \"keys\": {} }}", r.us, r.keys)
    };
    is_read(&log(object), same, micros);
    let nested = |r: &Row| {
        let [a, b, c, d, e, f] = r.axes;
        format!(
            "{{\"l\":{{\"x\":{a},\"y\":{b}}},\"r\":{{\"x\":{c},\"y\":{d}}},\"trig\":[{e},{f}],\"btn\":{}}}",
            r.keys
        )
    };
    is_read(&log(nested), same, None);
    let told = |r: &Row| {
        let [a, b, c, d, e, f] = r.axes;
        let keys = r.keys;
        format!(
            "left joystick at {a}/{b}, right joystick at {c}/{d}; levers left {e}, right {f}; keys {keys}"
        )
    };
    is_read(&log(told), same, None);
    let behind = |r: &Row| {
        let pairs = LETTERS.iter().zip(r.axes).map(|(name, v)| format!("{v} {name}"));
        format!("{}, {} btns", pairs.collect::<Vec<_>>().join(", "), r.keys)
    };
    is_read(&log(behind), same, None);
    is_read(
        &log(|r| {
            format!("{} B{}", named(r, ["LX", "LY", "RX", "RY", "LT", "RT"], "", " "), r.keys)
        }),
        same,
        None,
    );
    is_read(&log(|r| format!("{} mV", named(r, LETTERS, " = ", " mV, "))), same, None);
}

#[test]
fn prefixes_colours_and_chatter_are_passed_over() {
    let same = |v| v;
    let (micros, millis) = (Some(ClockUnit::Micros), Some(ClockUnit::Millis));
    let level = |r: &Row| ["V", "N", "E"][(r.n % 7 % 3) as usize];
    is_read(
        &log(|r| {
            format!("{} ({}) poll: {}, 0x{:04x}", level(r), r.us / 1000, join(r, ", "), r.keys)
        }),
        same,
        millis,
    );
    is_read(
        &log(|r| {
            format!("[note] {} bench/loop: {} b={:04x}", r.us, named(r, LETTERS, "=", " "), r.keys)
        }),
        same,
        micros,
    );
    is_read(
        &log(|r| format!("\x1b[1;3{}m{}\x1b[0m {}\x1b[K {}", r.n % 5, r.us, join(r, " "), r.keys)),
        same,
        micros,
    );
    is_read(&log(|r| format!("$> {} {} {}", r.us, join(r, " "), r.keys)), same, micros);
    let chatty = |r: &Row| {
        let note = if r.n % 40 == 5 { "\n// still here\nqueue depth 3" } else { "" };
        format!("{};{};{}{note}", r.us, join(r, ";"), r.keys)
    };
    is_read(&log(chatty), same, micros);
}

#[test]
fn clocks_of_every_kind_are_read() {
    let same = |v| v;
    let (micros, millis) = (Some(ClockUnit::Micros), Some(ClockUnit::Millis));
    let day = |r: &Row, mark: &str| {
        let ms = r.us / 1000 + 50_000_000;
        let (h, m, s) = (ms / 3_600_000, ms / 60_000 % 60, ms / 1000 % 60);
        format!("{h:02}:{m:02}:{s:02}{mark}{:03}", ms % 1000)
    };
    is_read(&log(|r| format!("{} | {} {}", day(r, "."), join(r, " "), r.keys)), same, micros);
    is_read(
        &log(|r| format!("2031-07-09T{}Z {} {}", day(r, "."), join(r, ","), r.keys)),
        same,
        micros,
    );
    is_read(
        &log(|r| format!("2031/07/09 {} - {}", day(r, ","), named(r, LETTERS, ":", " "))),
        same,
        micros,
    );
    // Stamps in two groups of three, with and without the hour's second digit; and one whose line ends in
    // a column of three digits behind a comma, which is no part of it.
    let groups = |r: &Row| {
        let (ms, us) = (r.us / 1000 + 3_600_000, r.us % 1000);
        format!("{:02}:{:02}.{:03},{us:03}", ms / 60_000 % 60, ms / 1000 % 60, ms % 1000)
    };
    let stamped =
        |r: &Row| format!("[01:{}] bench <dbg>: {}", groups(r), named(r, LETTERS, "=", " "));
    is_read(&log(stamped), same, micros);
    let stamped = |r: &Row| format!("(9:{}) {} {}", groups(r), join(r, " "), r.keys);
    is_read(&log(stamped), same, micros);
    is_read(&log(|r| format!("{},{},{}", day(r, "."), r.keys, join(r, ","))), same, micros);
    is_read(
        &log(|r| {
            format!("{}.{:06} {} {}", r.us / 1_000_000, r.us % 1_000_000, join(r, " "), r.keys)
        }),
        same,
        micros,
    );
    is_read(
        &log(|r| {
            format!("{}.{:03};{};{}", r.us / 1_000_000, r.us / 1000 % 1000, join(r, ";"), r.keys)
        }),
        same,
        millis,
    );
    is_read(
        &log(|r| format!("{}.{:03}\t{}\t{}", r.us / 1000, r.us % 1000, join(r, "\t"), r.keys)),
        same,
        micros,
    );
    let narrow =
        is_read(&log(|r| format!("{} {} {}", r.us & 0xFFFF, join(r, " "), r.keys)), same, micros);
    assert_eq!(narrow.clock_bits, Some(16));
    for stuck in ["4711", "0"] {
        is_read(&log(|r| format!("{} {} {stuck}", join(r, " "), r.keys)), same, None);
    }
    is_read(&log(|r| format!("{} {} {}", 90_000_000 - r.us, join(r, " "), r.keys)), same, None);
    is_read(&log(|r| format!("[{}] {} {}", &day(r, ".")[..8], join(r, " "), r.keys)), same, None);
}

#[test]
fn numbers_of_every_form_are_read() {
    let (micros, none) = (Some(ClockUnit::Micros), None);
    let hex = |r: &Row| r.axes.map(|v| format!("{v:03X}")).join(" ");
    is_read(&log(|r| format!("{:08X} {} {:03X}", r.us, hex(r), r.keys)), |v| v, micros);
    let prefixed = |r: &Row| r.axes.map(|v| format!("0x{v:03x}")).join(",");
    is_read(&log(|r| format!("{},0x{:04x}", prefixed(r), r.keys)), |v| v, none);
    let padded = |r: &Row| r.axes.map(|v| format!("{v:05}")).join(",");
    let dialect = is_read(&log(|r| format!("{},{:05}", padded(r), r.keys)), |v| v, none);
    assert_eq!(dialect.fields[6].base, Base::Unsettled);
    let signed = |r: &Row| r.axes.map(|v| format!("{:+}", v - 512)).join(" ");
    is_read(&log(|r| format!("{} {}", signed(r), r.keys)), |v| v - 512, none);
    let volts = |r: &Row| r.axes.map(|v| format!("{}.{:03}", v / 1000, v % 1000)).join(" ");
    is_read(&log(|r| format!("{} {:x}", volts(r), r.keys)), |v| v, none);
    let comma = |r: &Row| r.axes.map(|v| format!("{},{:02}", v / 100, v % 100)).join(";");
    is_read(&log(|r| format!("{};{:x}", comma(r), r.keys)), |v| v, none);
    let share = |r: &Row| r.axes.map(|v| format!("{}.{}%", v / 10, v % 10)).join(", ");
    is_read(&log(|r| format!("{} {}, {}", r.us, share(r), r.keys)), |v| v, micros);
}

#[test]
fn buttons_of_every_form_are_read() {
    let micros = Some(ClockUnit::Micros);
    let bits = |r: &Row, by: &str| {
        (0..12).map(|k| (r.keys >> k & 1).to_string()).collect::<Vec<_>>().join(by)
    };
    let same = |v| v;
    let before =
        is_read(&log(|r| format!("{},{},{}", r.us, bits(r, ","), join(r, ","))), same, micros);
    assert_eq!(before.field_of(Role::Button(11)), Some(12));
    let after = is_read(&log(|r| format!("{}\t{}", join(r, "\t"), bits(r, "\t"))), same, None);
    assert_eq!(after.field_of(Role::Button(0)), Some(6));
    let heading = "us,lx,ly,rx,ry,lt,rt,a,b,x,y,u,d,l,r,m,n,o,p\n";
    let text = log(|r| format!("{},{},{}", r.us, join(r, ","), bits(r, ",")));
    let letters = is_read(&(heading.to_owned() + &text), same, micros);
    assert_eq!(letters.field_of(Role::Button(1)), Some(8));
    let split = |r: &Row| format!("{} {} {} {}", r.us, join(r, " "), r.keys & 0xFF, r.keys >> 8);
    assert_eq!(is_read(&log(split), same, micros).field_of(Role::MoreButtons(8)), Some(8));
    let named = |r: &Row| {
        let (high, low) = (r.keys >> 8, r.keys & 0xFF);
        format!("{}, hi={high:02X}, lo={low:02X}", named(r, LETTERS, "=", ", "))
    };
    assert_eq!(is_read(&log(named), same, None).field_of(Role::MoreButtons(8)), Some(6));
    let binary = is_read(&log(|r| format!("{},0b{:012b}", join(r, ","), r.keys)), same, None);
    assert_eq!(binary.fields[6].base, Base::Binary);
    let bare = is_read(&log(|r| format!("{};{:b}", join(r, ";"), r.keys)), same, None);
    assert_eq!(bare.fields[6].base, Base::Binary);
    let text =
        |r: &Row| format!("{} keys:{:b}", super::styles::named(r, LETTERS, ":", " "), r.keys);
    let bare = is_read(&log(text), same, None);
    assert_eq!(bare.field_of(Role::Buttons).map(|k| bare.fields[k].base), Some(Base::Binary));
    // A checksum that stands as one more column is no buttons.
    let sum = |text: String| {
        let sum = text.bytes().fold(7_u32, |sum, b| (sum ^ u32::from(b)).wrapping_mul(0x0101_6B65));
        (text, sum >> 16)
    };
    let hex = |r: &Row| {
        let (text, sum) = sum(format!("{},{},{:04X}", r.us, join(r, ","), r.keys));
        format!("{text},{sum:04X}")
    };
    let decimal = |r: &Row| {
        let (text, sum) = sum(format!("{}\t{}\t{}", r.us, join(r, "\t"), r.keys));
        format!("{text}\t{sum}")
    };
    for text in [log(hex), log(decimal)] {
        let summed = is_read(&text, same, micros);
        let roles = (summed.fields[7].role, summed.fields[8].role);
        assert_eq!(roles, (Role::Buttons, Role::Ignore), "{summed:?}");
    }
    let low = is_read(&log(|r| format!("{} {:03X}", join(r, " "), 0xFFF & !r.keys)), same, None);
    assert_eq!(low.field_of(Role::Buttons), Some(6));
    let steady = is_read(&log(|r| format!("19 {} {} 255", join(r, " "), r.keys)), same, None);
    assert_eq!(steady.field_of(Role::Buttons), Some(7));
    let one = |r: &Row| format!("x={} y={} k={}", r.axes[0], r.axes[1], r.keys & 0xF);
    let one = recognise(log(one).as_bytes()).expect("one stick");
    assert_eq!(one.field_of(Role::Buttons), Some(2));
}

#[test]
fn line_ends_and_marks_do_not_matter() {
    let same = |v| v;
    let text = log(|r| format!("{},{},{}", r.us, join(r, ","), r.keys));
    is_read(&text.replace('\n', "\r"), same, Some(ClockUnit::Micros));
    is_read(&text.replace('\n', "\r\n"), same, Some(ClockUnit::Micros));
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(24))]

    #[test]
    fn any_cut_gives_the_same_frames(
        cuts in prop::collection::vec(0_usize..40_000, 0..12),
        style in 0_usize..4,
    ) {
        let text = match style {
            0 => log(|r| format!("\x1b[2m[{}]\x1b[0m {} | {}", r.us, join(r, " "), r.keys)),
            1 => log(|r| format!("{}, keys={}", named(r, LETTERS, " at ", ", "), r.keys)),
            2 => log(|r| format!("{},{}", join(r, ","), r.keys)).replace('\n', "\r"),
            _ => log(|r| format!("{}.{:06};{};{}", r.us / 1_000_000, r.us % 1_000_000, join(r, ";"), r.keys)),
        };
        let dialect = recognise(text.as_bytes()).expect("a dialect");
        let mut cuts: Vec<usize> = cuts.into_iter().map(|c| c.min(text.len())).collect();
        cuts.sort_unstable();
        let whole = frames(&dialect, text.as_bytes(), &[]);
        prop_assert_eq!(whole.len() as u64, ROWS);
        prop_assert_eq!(frames(&dialect, text.as_bytes(), &cuts), whole);
    }
}
