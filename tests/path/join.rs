//! Several recordings of one board measured together.
use std::process::Command;

use serde_json::Value;

use super::styles::{ROWS, join as joined, log, row};

fn run(words: &[&str]) -> (Option<i32>, String, String) {
    let out = Command::new(env!("CARGO_BIN_EXE_trimbench")).args(words).output().expect("it runs");
    let text = |bytes: &[u8]| String::from_utf8_lossy(bytes).into_owned();
    (out.status.code(), text(&out.stdout), text(&out.stderr))
}

#[test]
fn parts_of_a_log_are_measured_as_one_and_others_are_refused() {
    let folder = tempfile::tempdir().expect("a folder");
    let path = |name: &str| folder.path().join(name).to_string_lossy().into_owned();
    let heading = "seq,t_us,lx,ly,rx,ry,lt,rt,buttons";
    let lines: Vec<String> = (0..ROWS)
        .map(row)
        .map(|r| format!("{},{},{},{:04X}", r.n, r.us, joined(&r, ","), r.keys))
        .collect();
    let part = |name: &str, lines: &[String]| {
        let path = path(name);
        std::fs::write(&path, format!("{heading}\n{}\n", lines.join("\n"))).expect("written");
        path
    };
    let (first, second) = (part("a.log", &lines[..700]), part("b.log", &lines[700..]));
    let whole = part("whole.log", &lines);
    let solved = |files: &[&str]| -> Value {
        let (_, json, err) = run(&[&["solve"], files, &["--json", "-"]].concat());
        serde_json::from_str(&json).unwrap_or_else(|e| panic!("{e}: {err}"))
    };
    let (both, one) = (solved(&[&first, &second]), solved(&[&whole]));
    assert_eq!(both["source"]["file"], "a.log + b.log");
    assert_eq!(both["source"]["frames"], one["source"]["frames"]);
    for key in ["lost", "resets", "malformed"] {
        assert_eq!(both["stream"][key], one["stream"][key], "{key}");
    }
    let presses = |doc: &Value| -> Vec<u64> {
        let all = doc["buttons"].as_object().expect("buttons").values();
        all.filter_map(|b| b["presses"].as_u64()).collect()
    };
    assert_eq!(presses(&both), presses(&one));
    // The same in the other order: what was first in time may be given last.
    assert_eq!(solved(&[&second, &first])["stream"]["resets"], one["stream"]["resets"]);
    let other = path("other.log");
    std::fs::write(&other, log(|r| format!("lx={} ly={}", r.axes[0], r.axes[1]))).expect("written");
    let (code, _, err) = run(&["solve", &first, &other]);
    assert_eq!(code, Some(2));
    assert!(
        err.contains("other.log: not measured together with the first file: it has no"),
        "{err}"
    );
}
