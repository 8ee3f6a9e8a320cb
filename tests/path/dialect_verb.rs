//! The verb that says in which form lines are: its file is read back, it shows ten lines, and the page of
//! examples holds; standard input in place of a file; every line of a log in its account.
use std::io::Write;
use std::process::{Command, Stdio};

use serde_json::Value;
use tempfile::TempDir;
use trimbench::wire::{Dialect, LineCheck};

use super::framing::{Told, told_in_pieces};

/// What the program says with `input` on its standard input: exit code, output, errors.
fn run(words: &[&str], input: &[u8]) -> (Option<i32>, String, String) {
    let mut child = Command::new(env!("CARGO_BIN_EXE_trimbench"))
        .args(words)
        .env_remove("COLUMNS")
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .expect("the program runs");
    let mut stdin = child.stdin.take().expect("a pipe");
    // A verb that reads nothing may have gone.
    let _ = stdin.write_all(input);
    drop(stdin);
    let done = child.wait_with_output().expect("it ends");
    let text = |bytes: Vec<u8>| String::from_utf8(bytes).expect("UTF-8");
    (done.status.code(), text(done.stdout), text(done.stderr))
}

/// Frames with counter and clock; each fifth is a line of another form instead.
fn log(other: bool) -> String {
    let mut text = String::from("seq,t_us,lx,ly,keys\n");
    for n in 0..3_000_u64 {
        let (sway, key) = ((n as f64 / 50.0).sin() * 300.0, if n % 200 < 20 { 4 } else { 0 });
        match other && n % 5 == 4 {
            true => text += &format!("cell {} mV, load {}\n", 3_900 - n / 300, n % 9),
            false => {
                let lx = 512 + sway as i64;
                text += &format!("{n},{},{lx},{},{key}\n", n * 4_000, 500 + n % 3);
            }
        }
    }
    text
}

fn written(folder: &TempDir, name: &str, text: &str) -> String {
    let path = folder.path().join(name);
    std::fs::write(&path, text).expect("written");
    path.to_string_lossy().into_owned()
}

#[test]
fn the_form_is_printed_read_back_and_tried() {
    let folder = TempDir::new().expect("a folder");
    let path = written(&folder, "a.log", &log(true));
    let (code, ron, said) = run(&["dialect", &path], b"");
    assert_eq!((code, said.as_str()), (Some(0), ""));
    let dialect = Dialect::from_ron(&ron, "printed").expect("a dialect");
    assert_eq!(dialect.fields.len(), 5);
    assert!(ron.starts_with("// The form of the lines of a.log: 5 columns with commas; 2400 of"));
    let form = written(&folder, "form.ron", &ron);
    let (code, shown, said) = run(&["dialect", &path, "--dialect", &form], b"");
    assert_eq!((code, said.as_str()), (Some(0), ""));
    // The first with a key down, the farthest left x, the first that is refused, and the last ones.
    let numbers: Vec<u64> = shown.lines().filter_map(line_number).collect();
    assert_eq!(numbers.len(), 10 + 3, "ten lines, and three of the account: {shown}");
    let numbers = &numbers[..10];
    assert!(numbers.is_sorted() && numbers[0] == 2 && numbers[9] == 3_001, "{numbers:?}");
    for piece in [
        "(frame counter)",
        "(left x)",
        "ly 50",
        "keys 0x0000",
        "keys 0x0004",
        "refused: not a frame",
        "^^^^",
    ] {
        assert!(shown.contains(piece), "{piece}: {shown}");
    }
    let lx = shown.lines().filter_map(|line| line.split("lx ").nth(1)?.split(' ').next());
    let farthest = lx.filter_map(|n| n.parse::<i64>().ok()).map(|lx| (lx - 512).abs()).max();
    assert!(farthest >= Some(298), "{farthest:?}");
    let (code, out, _) = run(&["dialect", "-"], log(true).as_bytes());
    let place = |text: &str| text.replace("a.log", "standard-input");
    assert_eq!((code, out), (Some(0), place(&ron)));
}

/// The number in `line 17: …`.
fn line_number(line: &str) -> Option<u64> {
    let (number, rest) = line.strip_prefix("line ")?.split_once(':')?;
    number.parse().ok().filter(|_| !rest.trim_start().starts_with('^'))
}

#[test]
fn a_refused_log_gets_a_file_to_begin_with_beside_the_reason() {
    let folder = TempDir::new().expect("a folder");
    let turns: String = (0..400)
        .map(|n| match n % 2 {
            0 => format!("stick {} / {}\n", 500 + n % 40, 510 - n % 30),
            _ => format!("pull <{}> key 0x{:X}\n", 20 + n % 50, n / 100),
        })
        .collect();
    // One line in three is like others; the rest is anything.
    let few: String = (0..300)
        .map(|n| match n % 3 {
            0 => format!("lx:{} ly:{}\n", 500 + n % 40, 510 - n % 30),
            1 => format!("{} of {n}\n", ["a", "b c", "d, e", "f"][n % 4].repeat(1 + n % 7)),
            _ => format!("[{}]\n", "-".repeat(n % 23)),
        })
        .collect();
    for (name, text, reason) in [
        ("turns.log", &turns, "a frame is spread over 2 lines"),
        ("few.log", &few, "no dialect explains half of the lines"),
    ] {
        let path = written(&folder, name, text);
        let (code, ron, said) = run(&["dialect", &path], b"");
        assert!(code == Some(2) && said.contains(reason), "{code:?} {said}");
        assert!(ron.starts_with(&format!("// A form for the lines of {name}, to be completed")));
        let dialect = Dialect::from_ron(&ron, "draft").unwrap_or_else(|e| panic!("{e}\n{ron}"));
        assert!(dialect.fields.len() >= 2, "{ron}");
        for key in ["checksum: xor", "line_us: 4000", "// One of its lines: ", "role: "] {
            assert!(ron.contains(key), "{key}: {ron}");
        }
        // As it stands it reads some of the lines.
        let form = written(&folder, "draft.ron", &ron);
        let (code, shown, said) = run(&["dialect", &path, "--dialect", &form], b"");
        assert_eq!(code, Some(0), "{said}\n{ron}");
        assert!(shown.contains("lines are frames"), "{shown}");
    }
    // Nothing to begin with in what holds no number.
    let path = written(&folder, "words.log", &"no number here\n".repeat(50));
    let (code, ron, _) = run(&["dialect", &path], b"");
    assert_eq!((code, ron.as_str()), (Some(2), ""));
}

#[test]
fn standard_input_is_solved_as_a_file_is() {
    let folder = TempDir::new().expect("a folder");
    let path = written(&folder, "standard-input", &log(false));
    let named = run(&["solve", &path, "--json", "-"], b"");
    let piped = run(&["solve", "-", "--json", "-"], log(false).as_bytes());
    assert_eq!(named.0, piped.0);
    assert!(named.1.len() > 1_000 && named.1 == piped.1);
}

#[test]
fn every_line_is_accounted_for_and_another_form_is_no_loss() {
    let folder = TempDir::new().expect("a folder");
    let text = format!("{}# still here\n\nok\n17,8", log(true));
    let path = written(&folder, "b.log", &text);
    let (_, json, _) = run(&["solve", &path, "--json", "-"], b"");
    let doc: Value = serde_json::from_str(&json).expect("JSON");
    let lines = doc["stream"]["lines"].as_object().expect("counts");
    let of = |key: &str| lines[key].as_u64().expect("a count");
    let sum: u64 = lines.values().filter_map(Value::as_u64).sum();
    assert_eq!(sum, text.lines().count() as u64, "{lines:?}");
    let counts = ["frame", "heading", "blank", "comment", "reply", "foreign", "damaged", "cut"];
    assert_eq!(counts.map(of), [2_400, 1, 1, 1, 1, 600, 0, 1]);
    let codes: Vec<&str> = doc["findings"]
        .as_array()
        .expect("a list")
        .iter()
        .filter_map(|f| f["code"].as_str())
        .collect();
    assert!(codes.contains(&"foreign-lines") && !codes.contains(&"link-loss"), "{codes:?}");
    assert_eq!(doc["source"]["time"], "board");
    assert_eq!(doc["columns"][2]["role"], "axis(lx)");
}

#[test]
fn the_page_of_examples_holds() {
    let page = include_str!("../../assets/dialects.md");
    let mut forms = 0;
    for part in page.split("```ron\n").skip(1) {
        let (ron, rest) = part.split_once("```").expect("a closed block");
        let dialect = Dialect::from_ron(ron, "the page").unwrap_or_else(|e| panic!("{e}\n{ron}"));
        let lines = rest.split("```text\n").nth(1).and_then(|text| text.split("```").next());
        let check = LineCheck::new(&dialect);
        let lines = lines.expect("lines");
        let told = told_in_pieces(&dialect, lines.as_bytes(), &[]);
        let read = told.iter().filter(|told| matches!(told, Told::Frame(..))).count();
        assert_eq!(read, lines.lines().count(), "{ron}\n{told:?}");
        for line in lines.lines() {
            assert_eq!(check.misfit(line.as_bytes()), None, "{line}\n{ron}");
        }
        forms += 1;
    }
    assert_eq!(forms, 10);
}
