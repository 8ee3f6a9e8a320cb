//! What must not compile, what must be absent, and text that must not break out.
use std::fs;

use trimbench::emit::header::{constants, header};
use trimbench::rig::{AxisId, Half, Place};
use trimbench::survey::Code;
use trimbench::trim::{Refusal, Trim};

use crate::compilers::{C99, CPP11, accepts, compile, present, run};
use crate::drawn;

#[test]
fn same_trim_same_bytes_also_through_the_file() {
    let trim = drawn::trim(12, 1);
    let read = Trim::from_ron(&trim.to_ron()).expect("what was written");
    assert_eq!(read, trim);
    assert_eq!(header(&trim), header(&read));
}

#[test]
fn constants_changed_by_hand_do_not_compile() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let text = header(&drawn::trim(10, 2)).expect("a consistent trim");
    let main = "#include \"trim.h\"\nint main(void) { return 0; }\n";
    fs::write(folder.path().join("main.c"), main).expect("a file");
    let lines: Vec<&str> = text.lines().collect();
    let mut changed = 0;
    for name in ["LX_GAIN_NEG", "RY_AXIAL_GAIN_POS", "LT_GAIN", "LEFT_SLOPE", "RX_CENTRE"] {
        let head = format!("#define TB_{name} ");
        let edited: Vec<String> = lines
            .iter()
            .map(|line| match line.strip_prefix(&head) {
                Some(_) => format!("{head}1u"),
                None => (*line).to_owned(),
            })
            .collect();
        changed += usize::from(edited.join("\n") != lines.join("\n"));
        fs::write(folder.path().join("trim.h"), edited.join("\n") + "\n").expect("a file");
        let out = compile(folder.path(), &C99, &["-c", "-o", "out.o", "main.c"]);
        let said = String::from_utf8_lossy(&out.stderr);
        assert!(!out.status.success() && said.contains("tb_check_"), "{name}: {said}");
    }
    assert_eq!(changed, 5);
}

#[test]
fn constants_of_another_board_can_be_refused_by_the_firmware() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let trim = drawn::trim(10, 2);
    let crc = trim.crc().expect("a zone");
    fs::write(folder.path().join("trim.h"), header(&trim).expect("consistent")).expect("a file");
    fs::write(folder.path().join("main.c"), "#include \"trim.h\"\n").expect("a file");
    let with = |expected: u16| {
        let define = format!("-DTB_EXPECT_CRC={expected}u");
        compile(folder.path(), &C99, &["-c", "-o", "out.o", &define, "main.c"]).status.success()
    };
    assert!(with(crc));
    assert!(!with(crc ^ 1));
}

#[test]
fn a_refused_part_is_absent_and_says_why() {
    let mut trim = drawn::trim(10, 5);
    trim.axes.retain(|a| a.axis != AxisId::Rx);
    trim.sticks.retain(|s| s.half != Half::Right);
    trim.refusals.push(Refusal::of(
        AxisId::Rx,
        Code::ShortTravel,
        "travel of 90 counts is less than an eighth of full scale".to_owned(),
        "bring the magnet nearer",
    ));
    let text = header(&trim).expect("consistent");
    for absent in ["TB_RX_CENTRE", "tb_rx(", "tb_right_stick("] {
        assert!(!text.contains(absent), "{absent}");
    }
    for said in ["Absent: right x (short-travel)", "travel of 90 counts", "bring the magnet"] {
        assert!(text.contains(said), "{said}");
    }
    let folder = tempfile::tempdir().expect("a temporary folder");
    let main = "#include \"trim.h\"\n";
    fs::write(folder.path().join("main.c"), main).expect("a file");
    fs::write(folder.path().join("trim.h"), &text).expect("a file");
    accepts(folder.path(), &C99, &["-c", "-o", "out.o", "main.c"]);
    let empty = Trim {
        axes: Vec::new(),
        sticks: Vec::new(),
        triggers: Vec::new(),
        buttons: Vec::new(),
        ..trim
    };
    fs::write(folder.path().join("trim.h"), header(&empty).expect("consistent")).expect("a file");
    accepts(folder.path(), &C99, &["-c", "-o", "out.o", "main.c"]);
}

/// The drawn trim with one text in every place where text can stand.
fn named(seed: u64, name: &str) -> Trim {
    let mut trim = drawn::trim(8, seed);
    let text = || name.to_owned();
    (trim.board_id, trim.rig_name, trim.session_date) = (text(), text(), text());
    trim.buttons[0].name = text();
    trim.refusals.push(Refusal {
        place: Place::Session,
        what: text(),
        why: text(),
        code: Code::ShortTravel,
        advice: text(),
    });
    trim
}

/// Texts that would like to be code, one of them 12 000 characters long.
fn hostile() -> Vec<String> {
    let mut names: Vec<String> = [
        "\"); int evil; /*",
        "*/ #error out",
        "a\\\nb",
        "??/\n#error t",
        "// ??= ??'",
        "Ünïcødé ✓ \u{202e}",
        "\0\u{7f}\r\t",
        "%s%n",
        "***",
        "/",
        "",
    ]
    .map(str::to_owned)
    .to_vec();
    names.push("*/ #error x\n".repeat(1000));
    names.push("x".repeat(10_000));
    names
}

#[test]
fn hostile_text_stays_in_its_comment_and_string() {
    let names = hostile();
    let names: Vec<&str> = names.iter().map(String::as_str).collect();
    let folder = tempfile::tempdir().expect("a temporary folder");
    let write = |name: &str, text: &str| {
        fs::write(folder.path().join(name), text).expect("a file in it");
    };
    let (mut declarations, mut calls) = (String::new(), String::new());
    let mut files = vec!["main.c".to_owned()];
    for (n, name) in names.iter().enumerate() {
        let text = header(&named(n as u64, name)).expect("consistent");
        assert!(text.is_ascii() && text.lines().all(|l| l.len() < 600));
        write(&format!("t{n}.h"), &text);
        let id = format!("const char *id{n}(void)");
        let body = format!("#include \"t{n}.h\"\n{id};\n{id} {{ return TB_BOARD_ID; }}\n");
        write(&format!("t{n}.c"), &body);
        let alone = constants(&named(n as u64, name)).expect("consistent");
        assert!(alone.is_ascii() && alone.lines().all(|l| l.len() < 600));
        write(&format!("k{n}.h"), &alone);
        let one = format!("const char *alone{n}(void)");
        let body = format!("#include \"k{n}.h\"\n{one};\n{one} {{ return TB_BOARD_ID; }}\n");
        write(&format!("k{n}.c"), &body);
        files.push(format!("k{n}.c"));
        declarations += &format!("{one};\n");
        calls += &format!("    puts(alone{n}());\n");
        declarations += &format!("{id};\n");
        calls += &format!("    puts(id{n}());\n");
        files.push(format!("t{n}.c"));
    }
    write(
        "main.c",
        &format!("#include <stdio.h>\n{declarations}int main(void) {{\n{calls}    return 0;\n}}\n"),
    );
    // A C string ends at its first zero byte; 80 characters are kept.
    let seen = |name: &&str| name.chars().take(80).take_while(|c| *c != '\0').collect::<String>();
    let wanted: String = names.iter().map(|n| (seen(n) + "\n").repeat(2)).collect();
    for (compiler, language) in [(&C99, "c"), (&CPP11, "c++")] {
        let mut rest = vec!["-o", "program", "-trigraphs", "-Wno-trigraphs", "-x", language];
        rest.extend(files.iter().map(String::as_str));
        accepts(folder.path(), compiler, &rest);
        let printed = run(&folder.path().join("program"));
        assert_eq!(String::from_utf8_lossy(&printed), wanted);
    }
}

/// Each with the words that select its language and target.
const EVERY: [&[&str]; 12] = [
    &["cc", "-x", "c", "-std=c99"],
    &["cc", "-x", "c", "-std=c11"],
    &["cc", "-x", "c", "-std=c17"],
    &["c++", "-x", "c++", "-std=c++11"],
    &["c++", "-x", "c++", "-std=c++17"],
    &["c++", "-x", "c++", "-std=c++20"],
    &["clang", "-x", "c", "-std=c99"],
    &["clang", "-x", "c++", "-std=c++11"],
    &["avr-gcc", "-x", "c", "-std=c99", "-mmcu=atmega32u4"],
    &["avr-g++", "-x", "c++", "-std=c++11", "-mmcu=atmega32u4"],
    &["arm-none-eabi-gcc", "-x", "c", "-std=c99", "-mcpu=cortex-m0plus"],
    &["arm-none-eabi-g++", "-x", "c++", "-std=c++11", "-mcpu=cortex-m0plus"],
];

#[test]
fn hostile_text_raises_no_warning_under_any_compiler() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let write = |name: &str, text: &str| {
        fs::write(folder.path().join(name), text).expect("a file in it");
    };
    let names = hostile();
    for (n, name) in names.iter().enumerate() {
        let trim = named(n as u64, name);
        write(&format!("t{n}.h"), &header(&trim).expect("consistent"));
        write(&format!("k{n}.h"), &constants(&trim).expect("consistent"));
        for flavour in ["t", "k"] {
            let id = "extern const char id[];\nconst char id[] = TB_BOARD_ID;\n";
            let text = format!("#include \"{flavour}{n}.h\"\n{id}");
            write(&format!("{flavour}{n}.c"), &text);
        }
    }
    for compiler in EVERY.into_iter().filter(|c| present(c[0])) {
        for n in 0..names.len() {
            for source in [format!("t{n}.c"), format!("k{n}.c")] {
                accepts(folder.path(), compiler, &["-Wcomment", "-c", "-o", "out.o", &source]);
            }
        }
    }
}
