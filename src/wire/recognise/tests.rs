//! Recognition over the forms that boards print.
use super::*;
use crate::rig::AxisId;
use crate::wire::{Base, ChecksumForm, ClockUnit, Field, Grammar, Role, Separator};

/// `role base` of each field in words that are short to compare.
fn words(dialect: &Dialect) -> String {
    let word = |f: &Field| match f.role {
        Role::Axis(axis) => axis.key().to_owned(),
        Role::Seq => "seq".to_owned(),
        Role::Clock => "clock".to_owned(),
        Role::Buttons => format!("buttons/{:?}", f.base),
        Role::Button(n) => format!("b{n}"),
        Role::Ignore => "-".to_owned(),
        other => format!("{other:?}"),
    };
    dialect.fields.iter().map(word).collect::<Vec<_>>().join(" ")
}

fn noise(i: u64, k: u64) -> u64 {
    (((i * 7919 + k * 104_729) * 2_654_435_761) >> 16) & 3
}

fn lines(make: impl Fn(u64) -> String) -> String {
    (0..60).map(|i| make(i) + "\n").collect()
}

fn found(text: &str) -> Dialect {
    recognise(text.as_bytes()).unwrap_or_else(|e| panic!("{e}\n{text}"))
}

fn full(i: u64, separator: &str) -> String {
    let mut cells = vec![(i + 4000).to_string(), (i * 4000 + noise(i, 9)).to_string()];
    cells.extend((0..4).map(|k| (510 + noise(i, k)).to_string()));
    cells.extend(["0".to_owned(), "1".to_owned(), "0003".to_owned()]);
    cells.join(separator)
}

#[test]
fn the_default_order_with_every_separator() {
    for (mark, separator) in [
        (",", Separator::Comma),
        (", ", Separator::Comma),
        (";", Separator::Semicolon),
        ("\t", Separator::Tab),
        (" ", Separator::Blanks),
        ("   ", Separator::Blanks),
    ] {
        let dialect = found(&lines(|i| full(i, mark)));
        assert_eq!(dialect.grammar, Grammar::Columns(separator), "{mark:?}");
        assert_eq!(words(&dialect), "seq clock lx ly rx ry lt rt buttons/Hex");
        assert_eq!(dialect.clock, ClockUnit::Micros);
    }
}

#[test]
fn trailing_roles_are_absent() {
    let axes = |count: u64| {
        lines(|i| (0..count).map(|k| (500 + noise(i, k)).to_string()).collect::<Vec<_>>().join(","))
    };
    assert_eq!(words(&found(&axes(2))), "lx ly");
    assert_eq!(words(&found(&axes(4))), "lx ly rx ry");
    assert_eq!(words(&found(&axes(6))), "lx ly rx ry lt rt");
}

#[test]
fn counter_and_clock_are_told_by_running() {
    let text = lines(|i| format!("{},{},{}", i * 1003 + 7, 500 + noise(i, 1), 510 + noise(i, 2)));
    assert_eq!(words(&found(&text)), "clock lx ly");
    let text = lines(|i| format!("{},{},{}", i % 256, 500 + noise(i, 1), 510 + noise(i, 2)));
    assert_eq!(words(&found(&text)), "seq lx ly");
    let text =
        lines(|i| format!("{} {} {} {}", (i + 230) % 256, i * 4 + 100, 512, 500 + noise(i, 2)));
    let dialect = found(&text);
    assert_eq!(words(&dialect), "seq clock lx ly");
    assert_eq!((dialect.clock, dialect.fields[1].name.as_str()), (ClockUnit::Millis, "t_ms"));
}

#[test]
fn names_from_a_heading_win() {
    let text = "boot v1\r\nry,rx,BTN,time_ms,vcc\r\n".to_owned()
        + &lines(|i| format!("{},{},0x{:x},{},4980\r", 3, 4, i % 3, 77 + i));
    let dialect = found(&text);
    assert_eq!(words(&dialect), "ry rx buttons/Hex clock Vcc");
    assert_eq!(dialect.clock, ClockUnit::Millis);
    assert_eq!(dialect.fields[2].name, "BTN");
}

#[test]
fn a_heading_in_unknown_words_gives_names_and_the_default_order() {
    let text = "links,oben\n".to_owned() + &lines(|i| format!("{},{}", 500 + noise(i, 1), 510));
    let dialect = found(&text);
    assert_eq!((words(&dialect).as_str(), dialect.fields[1].name.as_str()), ("lx ly", "oben"));
}

#[test]
fn labelled_lines_with_colon_equals_and_commas() {
    let text = lines(|i| format!("LX:{} LY={} n: {}, B:0003", 512 + noise(i, 0), 498, i));
    let dialect = found(&text);
    assert_eq!(dialect.grammar, Grammar::Labelled);
    assert_eq!(words(&dialect), "lx ly seq buttons/Hex");
}

#[test]
fn single_buttons_and_bit_strings() {
    let text = lines(|i| format!("{},{},0,{},0,0", 500 + noise(i, 0), 511, u8::from(i > 30)));
    assert_eq!(words(&found(&text)), "lx ly b0 b1 b2 b3");
    let text = lines(|i| format!("{},511,{}", 500 + noise(i, 0), "0000000000000"));
    assert_eq!(words(&found(&text)), "lx ly buttons/Bits");
    let text = "x,y,south,east\n".to_owned() + &lines(|_| "500,511,0,1".to_owned());
    assert_eq!(words(&found(&text)), "lx ly b0 b1");
}

#[test]
fn what_stands_behind_the_buttons_is_kept_and_not_used() {
    let text =
        lines(|i| format!("{},511,512,513,20,21,0,{}", 500 + noise(i, 0), 4980 + noise(i, 1)));
    assert_eq!(words(&found(&text)), "lx ly rx ry lt rt buttons/Unsettled -");
}

#[test]
fn a_mask_of_bare_digits_stays_open() {
    let text = lines(|i| {
        format!(
            "{i},{},512,513,512,0,0,{}",
            500 + noise(i, 0),
            [0, 1, 2, 8, 10, 20][i as usize / 10]
        )
    });
    assert_eq!(words(&found(&text)), "seq lx ly rx ry lt rt buttons/Unsettled");
}

#[test]
fn hexadecimal_axes() {
    let text = lines(|i| format!("{:x},{:x},{:x}", 500 + i * 7 % 16, 512, 16 + noise(i, 1)));
    let dialect = found(&text);
    assert!(dialect.fields.iter().all(|f| f.base == Base::Hex), "{dialect:?}");
    assert_eq!(dialect.fields[1].role, Role::Axis(AxisId::Ly));
}

#[test]
fn checksums_are_recognised_and_proven() {
    use crate::wire::checksum::{crc16, xor};
    let body = |i| full(i, ",");
    let text = lines(|i| format!("${}*{:02X}", body(i), xor(body(i).as_bytes())));
    assert_eq!(found(&text).checksum, ChecksumForm::Xor);
    let text = lines(|i| format!("{}*{:04x}", body(i), crc16(body(i).as_bytes())));
    assert_eq!(found(&text).checksum, ChecksumForm::Crc16);
    let text = lines(|i| format!("{}*{:02X}", body(i), i));
    assert_eq!(found(&text).checksum, ChecksumForm::Unchecked8);
}

#[test]
fn damage_and_banners_do_not_disturb() {
    let text = "12,51\n".to_owned()
        + "# my board 3, two sticks\n"
        + &lines(|i| match i % 5 {
            0 => "i2c: no answer".to_owned(),
            1 => full(i, ",").replace('1', "q"),
            _ => full(i, ","),
        });
    assert_eq!(words(&found(&text)), "seq clock lx ly rx ry lt rt buttons/Hex");
}

#[test]
fn what_cannot_be_recognised_says_why() {
    let refused = |text: &str| recognise(text.as_bytes()).expect_err(text);
    assert!(matches!(refused(""), Unrecognised::TooShort { lines: 0 }));
    assert!(matches!(refused("1,2,3"), Unrecognised::TooShort { .. }));
    let prose = "This is a letter.\nIt has lines: several of them.\n1,2,3\n1,2,4\nAnd an end.\n";
    let error = refused(prose);
    let Unrecognised::NoDialect { best, explained: 2, lines: 5, account } = error else {
        panic!("{error:?}");
    };
    assert_eq!(best, "3 columns with commas");
    let nearest = account.nearest.as_ref().expect("a form");
    assert_eq!((nearest.reads, nearest.lines), (2, 5));
    assert_eq!(account.kinds, [(Why::Foreign, 3)]);
    assert_eq!(account.first.len(), 3);
    let many = lines(|i| (0..70).map(|k| (i + k).to_string()).collect::<Vec<_>>().join(","));
    assert!(matches!(refused(&many), Unrecognised::TooManyFields { fields: 70 }));
    let points = "lx,ly\n".to_owned() + &lines(|i| format!("{i},12.5"));
    assert_eq!(found(&points).fields[1].base, Base::Fixed(1));
    let fine = "lx,ly\n".to_owned() + &lines(|i| format!("{i},{}.123456", i % 4));
    assert_eq!(found(&fine).fields[1].base, Base::Fixed(4), "16 bits hold no more places");
    let noise: Vec<u8> =
        (0..999_u32).map(|i| (i.wrapping_mul(2_654_435_761) >> 11) as u8).collect();
    assert!(matches!(recognise(&noise), Err(Unrecognised::Binary { .. })));
}

/// Lines of one form with a value that moves.
fn form(line: impl Fn(i64, i64) -> String) -> Vec<u8> {
    let value = |k: i64| 500 + (f64::from(k as i32) / 20.0).sin().mul_add(380.0, 0.0) as i64;
    (0..600).map(|k| line(k, value(k))).collect::<String>().into_bytes()
}

/// What a dialect makes of the sample that it was found in: its frames.
fn frames_of(sample: &[u8]) -> (Dialect, usize) {
    let dialect = recognise(sample).expect("a dialect");
    let mut frames = Frames(0);
    Framer::new(&dialect).push(sample, &mut frames);
    (dialect, frames.0)
}

#[test]
fn text_that_looks_like_a_field_or_is_no_utf8_costs_no_line() {
    let braces = form(|k, x| format!("{{\"meta\":{{}},\"t_us\":{},\"lx\":{x}}}\n", k * 4_000));
    assert_eq!(frames_of(&braces).1, 600);
    let mut odd = Vec::new();
    for line in
        form(|k, x| format!("T=25~C t={} ~s lx={x}\n", k * 4_000)).split_inclusive(|b| *b == b'\n')
    {
        odd.extend(line.iter().map(|b| if *b == b'~' { 0xB0 } else { *b }));
    }
    assert_eq!(frames_of(&odd).1, 600);
    let arrows = form(|k, x| {
        let arrow = if k % 3 == 0 { '\u{2190}' } else { '\u{2192}' };
        format!("{arrow} t={} lx={x} ly={}\n", k * 4_000, 1_000 - x)
    });
    assert_eq!(frames_of(&arrows).1, 600);
}

#[test]
fn the_plain_name_is_the_reading_whatever_stands_before_it() {
    let sample = form(|k, x| format!("centre_left_x=512 left_x={x} left_y={}\n", 900 - x + k % 2));
    let (dialect, frames) = frames_of(&sample);
    assert_eq!(frames, 600);
    let at = dialect.field_of(Role::Axis(AxisId::Lx));
    assert_eq!(at, Some(1), "{dialect:?}");
}

#[test]
fn thousands_and_endless_digits_are_refused_and_never_misread() {
    let thousands = form(|_, x| {
        let marked = |v: i64| match v {
            v if v >= 1_000 => format!("{},{:03}", v / 1_000, v % 1_000),
            v => v.to_string(),
        };
        format!("{}; {}; {}\n", marked(x + 400), marked(x + 420), marked(x + 500))
    });
    assert!(recognise(&thousands).is_err());
    for huge in ["999999999999999999-01-01 00:00:00 ", "900000000000000000.5 "] {
        // Whatever it is taken for, nothing overflows.
        let _ = recognise(&form(|k, x| {
            format!("{}{huge}{x} {k}\n", if k % 2 == 0 { "-" } else { "" })
        }));
    }
}

#[test]
fn pairs_of_readings_are_no_decimals_whatever_parts_the_groups() {
    for line in [
        "\u{1b}[0;36mD (41) pad: A(1807,1911) B(2203,2301) C(151,977)\u{1b}[0m",
        "A(807,911) B(203,301) C(51,77); 9",
    ] {
        let text = form(|k, x| {
            let mut at = 0;
            let mut text = String::new();
            // Every reading wavers; the stamp stands.
            for part in line.split_inclusive(['(', ',', ')']) {
                let number: Option<i64> = part.trim_end_matches([',', ')']).parse().ok();
                match number.filter(|_| part.ends_with([',', ')']) && at > 0) {
                    Some(n) => text += &format!("{}{}", n + (x + k) % 3, &part[part.len() - 1..]),
                    None => text += part,
                }
                at += usize::from(part.contains('('));
            }
            text + "\n"
        });
        let dialect = recognise(&text).expect("read");
        let whole = dialect
            .fields
            .iter()
            .all(|field| !matches!(field.base, Base::Fixed(1..) | Base::FixedComma(1..)));
        assert!(whole && dialect.fields.len() >= 6, "{line}: {dialect:?}");
    }
}
