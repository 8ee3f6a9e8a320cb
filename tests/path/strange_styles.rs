//! Ways of printing that strangers brought: lists of names, digits run together, remarks behind a frame, clocks in
//! other units, names in pairs.
use std::process::Command;

use trimbench::rig::AxisId;
use trimbench::wire::{Base, ClockUnit, Dialect, Role, recognise};

use super::styles::{LETTERS, ROWS, Row, frames, is_read, join, log, named, row};

/// Twelve names, in the order of the alphabet so that bit n is key n.
const KEYS: [&str; 12] = ["A", "B", "DN", "HOME", "LB", "LT", "RB", "ST", "UP", "X", "Y", "Z"];

fn pressed(row: &Row, by: &str, none: &str) -> String {
    let names = (0..12).filter(|k| row.keys >> k & 1 == 1).map(|k| KEYS[k]);
    let list = names.collect::<Vec<_>>().join(by);
    if list.is_empty() { none.to_owned() } else { list }
}

fn field(dialect: &Dialect, text: &str, role: Role) -> Vec<i32> {
    let at = dialect.field_of(role).unwrap_or_else(|| panic!("{role:?}: {dialect:?}"));
    frames(dialect, text.as_bytes(), &[]).iter().map(|cells| cells[at]).collect()
}

#[test]
fn lists_of_names_are_masks() {
    let same = |v| v;
    let behind = |r: &Row| {
        let [a, b, c, d, e, f] = r.axes;
        format!("pos({a};{b})({c};{d}) pull({e};{f}) held:{}", pressed(r, "+", "none"))
    };
    let array = |r: &Row| {
        let names = pressed(r, "\",\"", "");
        let list = if names.is_empty() { String::new() } else { format!("\"{names}\"") };
        format!("{{\"us\":{},\"{},\"pressed\":[{list}]}}", r.us, named(r, LETTERS, "\":", ",\""))
    };
    let bare = |r: &Row| format!("{} | {}", join(r, " "), pressed(r, " ", "")).trim().to_owned();
    for (text, clock) in
        [(log(behind), None), (log(array), Some(ClockUnit::Micros)), (log(bare), None)]
    {
        let dialect = is_read(&text, same, clock);
        let keys = field(&dialect, &text, Role::Buttons);
        assert!((0..).map(row).zip(&keys).all(|(r, k)| r.keys == *k as u32), "{dialect:?}");
        assert_eq!(dialect.names, KEYS);
    }
    // A word of state at the end of the line is no list.
    let state = |r: &Row| {
        format!("lx {} ly {} {}", r.axes[0], r.axes[1], ["OK", "LOW"][(r.n / 300 % 2) as usize])
    };
    let dialect = recognise(log(state).as_bytes()).expect("read");
    assert!(dialect.fields.iter().all(|f| f.base != Base::Names), "{dialect:?}");
}

fn said(words: &[&str]) -> (Option<i32>, String, String) {
    let out = Command::new(env!("CARGO_BIN_EXE_trimbench")).args(words).output().expect("it runs");
    let text = |bytes: &[u8]| String::from_utf8_lossy(bytes).into_owned();
    (out.status.code(), text(&out.stdout), text(&out.stderr))
}

#[test]
fn digits_run_together_are_refused_and_a_dialect_says_their_widths() {
    let glued = |r: &Row| {
        let axes = r.axes.map(|v| format!("{v:04}")).concat();
        format!("{:08}{axes}{:03X}", r.us, r.keys)
    };
    let folder = tempfile::tempdir().expect("a folder");
    let path = |name: &str| folder.path().join(name).to_string_lossy().into_owned();
    let text = log(glued);
    std::fs::write(path("board.log"), &text).expect("written");
    let (code, _, err) = said(&["dialect", &path("board.log")]);
    assert_eq!(code, Some(2));
    assert!(err.contains("one run of digits") && err.contains("{6}{4}{4}"), "{err}");
    let mut fields = String::from("(name: \"us\", role: clock, base: decimal),");
    for axis in LETTERS {
        fields += &format!("(name: \"{axis}\", role: axis({axis}), base: decimal),");
    }
    fields += "(name: \"keys\", role: buttons, base: hex)";
    let form = |pattern: &str| {
        format!("(format: 1, grammar: pattern, pattern: \"{pattern}\", fields: [{fields}])")
    };
    let dialect = Dialect::from_ron(&form("{8}{4}{4}{4}{4}{4}{4}{3}"), "d.ron").expect("a dialect");
    let cells = frames(&dialect, text.as_bytes(), &[]);
    assert_eq!(cells.len() as u64, ROWS);
    for (row, cells) in (0..).map(row).zip(&cells) {
        let wanted =
            [&[row.us as i32][..], &row.axes.map(|v| v as i32), &[row.keys as i32]].concat();
        assert_eq!(*cells, wanted);
    }
    for (pattern, word) in
        [("{}{}{}{}{}{}{}{}", "{4}"), ("{8}{4}", "2 places"), ("{8}{0}{4}{4}{4}{4}{4}{3}", "{0}")]
    {
        let error = Dialect::from_ron(&form(pattern), "d.ron").expect_err("refused");
        assert!(error.to_string().contains(word), "{error}");
    }
}

#[test]
fn the_page_on_dialects_is_printed_without_a_log() {
    let (code, page, err) = said(&["dialect"]);
    assert_eq!((code, err.as_str()), (Some(0), ""));
    assert!(page.contains("{6}") && page.contains("base: names") && page.contains("// Bases:"));
}

#[test]
fn remarks_behind_a_frame_lose_nothing() {
    let same = |v| v;
    let micros = Some(ClockUnit::Micros);
    let key = |r: &Row| if r.keys == 0 { "" } else { " # key" };
    let text = log(|r| format!("{},{},{}{}", r.us, join(r, ","), r.keys, key(r)));
    is_read(&text, same, micros);
    let named_key = |r: &Row| match pressed(r, " ", "") {
        none if none.is_empty() => none,
        names => format!(" ({names})"),
    };
    let text =
        log(|r| format!("{} keys=0x{:03X}{}", named(r, LETTERS, "=", " "), r.keys, named_key(r)));
    is_read(&text, same, None);
    let star = |r: &Row| if r.keys == 0 { "" } else { " *" };
    let text = log(|r| format!("{} {:03X}{}", join(r, " "), r.keys, star(r)));
    assert_eq!(is_read(&text, same, None).fields[6].role, Role::Buttons);
}

#[test]
fn a_clock_in_another_unit_is_not_taken_for_one() {
    for (name, scale) in [("t_ns", 1000), ("cyc_84MHz", 84), ("rtc_32768hz", 3), ("t [10us]", 2)] {
        let heading = format!("{name},{},buttons\n", LETTERS.join(","));
        let text = heading + &log(|r| format!("{},{},{}", r.us * scale, join(r, ","), r.keys));
        let dialect = recognise(text.as_bytes()).expect("read");
        assert_eq!(dialect.fields[0].role, Role::Ignore, "{name}");
        assert_eq!(dialect.field_of(Role::Clock), None, "{name}");
        assert_eq!(dialect.field_of(Role::Axis(AxisId::Rt)), Some(6), "{name}");
    }
}

fn roles(text: &str) -> Vec<Role> {
    let dialect = recognise(text.as_bytes()).unwrap_or_else(|e| panic!("{text:.60}: {e}"));
    dialect.fields.iter().map(|f| f.role).collect()
}

#[test]
fn what_names_something_else_is_no_mask_and_single_buttons_go_on_behind_one() {
    // Values that name something else are no masks.
    let others = log(|r| {
        format!(
            "fps:{} {} vbat:{} keys:{}",
            249 + r.n / 400,
            named(r, LETTERS, ":", " "),
            3900 - r.n / 500,
            r.keys
        )
    });
    let found = roles(&others);
    assert_eq!((found[0], found[7], found[8]), (Role::Ignore, Role::Ignore, Role::Buttons));
    // Buttons of their own beside a mask go on behind it.
    let pad = |r: &Row, k: u32| r.keys >> (8 + k) & 1;
    let beside = log(|r| {
        format!(
            "{},{},{},{},{},{}",
            join(r, ","),
            pad(r, 0),
            pad(r, 1),
            pad(r, 2),
            pad(r, 3),
            r.keys & 0xFF
        )
    });
    let found = roles(&format!("lx,ly,rx,ry,lt,rt,up,down,left,right,buttons\n{beside}"));
    assert_eq!(found[10], Role::Buttons);
    assert_eq!(found[6..10], [8, 9, 10, 11].map(Role::MoreButtons));
}

#[test]
fn names_of_a_strangers_own_are_understood() {
    let axes = AxisId::ALL.map(Role::Axis);
    let six = |heading: &str, sep: &str| {
        roles(&format!("{heading}\n{}", log(|r| format!("{}{sep}{}", join(r, sep), r.keys))))
    };
    // Pairs in their order, triggers by number, German words in two.
    assert_eq!(six("ax,ay,bx,by,LT1,RT1,keys", ",")[..6], axes);
    let german =
        "Quer links\tHoch links\tQuer rechts\tHoch rechts\tAbzug links\tAbzug rechts\tTasten";
    assert_eq!(six(german, "\t")[..6], axes);
    let further = log(|r| {
        format!(
            "{} LT2:{} RT2:{} keys:{}",
            named(r, LETTERS, "1:", " "),
            600 + r.n % 2,
            620,
            r.keys
        )
    });
    assert_eq!(roles(&further)[..8], [&axes[..], &[Role::Ignore; 2]].concat());
    let one = log(|r| format!("{};{};{}", r.axes[0], r.axes[1], r.axes[4]));
    assert_eq!(roles(&format!("thumb_h;thumb_v;trig\n{one}")), [axes[0], axes[1], axes[4]]);
    // A sentence whose readings are joined by words.
    let told = |r: &Row| {
        let [a, b, c, d, e, f] = r.axes;
        format!("left stick is at ({a}, {b}), the right stick at ({c}, {d}); triggers {e} and {f}")
    };
    assert_eq!(roles(&log(told)), axes);
    let nested = |r: &Row| {
        let [a, b, c, d, e, f] = r.axes;
        format!(
            "{{\"sticks\":[[{a},{b}],[{c},{d}],[{},{}]],\"triggers\":[{e},{f}]}}",
            480 + r.n % 3,
            543
        )
    };
    let found = roles(&log(nested));
    assert_eq!([&found[..4], &found[6..]].concat(), axes, "{found:?}");
    // A decimal clock among hexadecimal readings.
    let hex = log(|r| {
        let pairs = LETTERS.iter().zip(r.axes).map(|(name, v)| format!("{name}={:04X}", v * 17));
        format!("t={} {} b={:04X}", r.us / 1000, pairs.collect::<Vec<_>>().join(" "), r.keys)
    });
    let dialect = recognise(hex.as_bytes()).expect("read");
    assert_eq!((dialect.fields[0].base, dialect.fields[1].base), (Base::Decimal, Base::Hex));
}

#[test]
fn text_beyond_ascii_is_text() {
    let boxed =
        log(|r| format!("│ {} │ {:03X} │", r.axes.map(|v| format!("{v:>5}")).join(" │ "), r.keys));
    is_read(&boxed, |v| v, None);
    for (line, word) in
        [("818'834;464;503", "apostrophe"), ("1.2e+00 4.64e+02 4.98e+02", "exponent")]
    {
        let text = format!("{line}\n").repeat(300);
        let refused = recognise(text.as_bytes()).expect_err("refused");
        let account = refused.account().expect("an account");
        assert!(account.first[0].reason.contains(word), "{account:?}");
    }
}

#[test]
fn numbers_become_counts_and_lines_get_their_stated_time() {
    let text = log(|r| format!("{},{},{}", r.axes[0] - 512, r.axes[1] - 512, r.keys));
    let ron = |more: &str| {
        format!(
            "(format: 1, grammar: columns(comma), {more} fields: [(name: \"x\", role: axis(lx), base: decimal), \
             (name: \"y\", role: axis(ly), base: decimal), (name: \"keys\", role: buttons, base: decimal)])"
        )
    };
    let more =
        "counts: {\"x\": (plus: 512), \"y\": (times: -3, over: 2, plus: 512)}, line_us: 4000,";
    let dialect = Dialect::from_ron(&ron(more), "d.ron").expect("a dialect");
    let cells = frames(&dialect, text.as_bytes(), &[]);
    for (row, cells) in (0..).map(row).zip(&cells) {
        assert_eq!(i64::from(cells[0]), row.axes[0]);
        let exact = 512.0 - 1.5 * (row.axes[1] - 512) as f64;
        assert!((f64::from(cells[1]) - exact).abs() <= 0.5, "{} {exact}", cells[1]);
    }
    let mut again = Vec::new();
    cells.iter().for_each(|cells| trimbench::wire::encode(&dialect, cells, &mut again));
    assert_eq!(frames(&dialect, &again, &[]), cells);
    for (more, word) in [
        ("counts: {\"x\": (over: 0)},", "not 0"),
        ("counts: {\"z\": (plus: 1)},", "no field"),
        ("line_us: 0,", "above 0"),
    ] {
        let error = Dialect::from_ron(&ron(more), "d.ron").expect_err("refused");
        assert!(error.to_string().contains(word), "{error}");
    }
    let folder = tempfile::tempdir().expect("a folder");
    let path = |name: &str| folder.path().join(name).to_string_lossy().into_owned();
    std::fs::write(path("a.log"), &text).expect("written");
    std::fs::write(path("d.ron"), ron(more)).expect("written");
    let (_, json, err) =
        said(&["solve", &path("a.log"), "--dialect", &path("d.ron"), "--json", "-"]);
    assert!(
        json.contains("\"time\": \"stated\"") && json.contains("\"rate_hz\": 250"),
        "{err}{json:.400}"
    );
}

#[test]
fn a_parts_list_says_what_the_boards_own_labels_mean() {
    let folder = tempfile::tempdir().expect("a folder");
    let path = |name: &str| folder.path().join(name).to_string_lossy().into_owned();
    let text = log(|r| format!("knobA:{} knobB:{} zap:{}", r.axes[0], r.axes[1], r.keys & 1));
    std::fs::write(path("a.log"), text).expect("written");
    let rig = "(format: 1, name: \"Wren\", labels: {\"knoba\": axis(rx), \"KNOBB\": axis(ry), \"zap\": button(4)})";
    std::fs::write(path("wren.rig.ron"), rig).expect("written");
    let (_, json, err) =
        said(&["solve", &path("a.log"), "--rig", &path("wren.rig.ron"), "--json", "-"]);
    for piece in ["axis(rx)", "axis(ry)", "button(4)"] {
        assert!(json.contains(piece), "{piece}: {err}");
    }
}
