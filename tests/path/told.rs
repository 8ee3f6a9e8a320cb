//! Damage and identity in every output, of the program itself: what, where, how much, and the exit code.
use std::path::{Path, PathBuf};
use std::process::Command;

use serde_json::Value;

const SAMPLE: &str =
    concat!(env!("CARGO_MANIFEST_DIR"), "/sample_sessions/sandpiper-10bit-250hz.session");

fn run(words: &[&str]) -> (Option<i32>, String, String) {
    let output = Command::new(env!("CARGO_BIN_EXE_trimbench")).args(words).output().expect("runs");
    let text = |bytes: Vec<u8>| String::from_utf8(bytes).expect("UTF-8");
    (output.status.code(), text(output.stdout), text(output.stderr))
}

struct Folder(tempfile::TempDir);

impl Folder {
    fn new() -> Folder {
        Folder(tempfile::tempdir().expect("a folder"))
    }

    fn path(&self, name: &str) -> PathBuf {
        self.0.path().join(name)
    }

    fn text(&self, name: &str) -> String {
        self.path(name).to_str().expect("plain").to_owned()
    }

    fn read(&self, name: &str) -> String {
        std::fs::read_to_string(self.path(name)).expect("written")
    }

    fn json(&self, name: &str) -> Value {
        serde_json::from_str(&self.read(name)).expect("valid")
    }

    /// The sample with one bit of one record wrong; gives the byte.
    fn hit(&self, name: &str) -> usize {
        let mut bytes = std::fs::read(SAMPLE).expect("the sample");
        let at = bytes.len() / 3;
        let at = at + bytes[at..].iter().position(u8::is_ascii_digit).expect("a digit");
        bytes[at] ^= 1;
        std::fs::write(self.path(name), bytes).expect("written");
        at
    }
}

/// The one piece of damage that a document lists, which holds the byte that was hit.
fn check_damage(document: &Value, at: usize) -> u64 {
    let all = document["damage"].as_array().expect("a list");
    assert_eq!(all.len(), 1, "{all:?}");
    assert_eq!(all[0]["kind"], "block");
    let (byte, rows) = (all[0]["byte"].as_u64(), all[0]["rows"].as_u64().expect("a number"));
    assert!(byte <= Some(at as u64) && byte > Some(at as u64 - 30_000), "{:?}", all[0]);
    assert!(all[0]["time_s"].as_f64() > Some(1.0), "{:?}", all[0]);
    assert!((100..400).contains(&rows), "{rows}");
    rows
}

fn sum(path: &Path) -> Option<String> {
    let said = Command::new("sha256sum").arg(path).output().ok()?;
    Some(String::from_utf8_lossy(&said.stdout).split(' ').next()?.to_owned())
}

#[test]
fn a_whole_recording_is_said_to_be_whole_and_by_which_bytes() {
    let folder = Folder::new();
    let [json, trim, sheet, header] =
        ["a.json", "a.trim.ron", "a.html", "a.h"].map(|name| folder.text(name));
    let (code, out, said) = run(&[
        "solve", SAMPLE, "--json", &json, "--trim", &trim, "--sheet", &sheet, "--header", &header,
    ]);
    assert_eq!((code, said.as_str()), (Some(0), ""), "{out}");
    let document = folder.json("a.json");
    assert_eq!(document["damage"], serde_json::json!([]));
    assert_eq!(document["stream"]["lost_in_file"], 0);
    let version = format!("trimbench {}", env!("CARGO_PKG_VERSION"));
    assert_eq!(document["trim"]["origin"]["tool"], version.as_str());
    assert_eq!(document["source"]["time"], "board");
    let inputs = document["source"]["inputs"].as_array().expect("a list");
    assert!(
        inputs.iter().any(|name| name.as_str().is_some_and(|n| n.contains("lx"))),
        "{inputs:?}"
    );
    let Some(sum) = sum(Path::new(SAMPLE)) else { return };
    assert_eq!(document["source"]["sha256"], sum.as_str());
    for name in ["a.trim.ron", "a.html", "a.h"] {
        assert!(folder.read(name).contains(&sum), "{name}");
    }
    // In groups where people read it.
    assert!(out.replace(' ', "").contains(&sum) && !folder.read("a.h").contains("DAMAGED"));
}

#[test]
fn one_wrong_bit_is_told_to_people_and_machines_and_in_the_exit_code() {
    let folder = Folder::new();
    let at = folder.hit("hit.session");
    let hit = folder.text("hit.session");
    let [json, trim, sheet, header, csv] =
        ["a.json", "a.trim.ron", "a.html", "a.h", "a.csv"].map(|name| folder.text(name));
    let words = [
        "solve", &hit, "--json", &json, "--trim", &trim, "--sheet", &sheet, "--header", &header,
        "--csv", &csv, "--quiet",
    ];
    let (code, out, said) = run(&words);
    assert_eq!((code, out.as_str(), said.lines().count()), (Some(1), "", 1), "{said}");
    assert!(said.contains("1 damaged place") && said.contains("--accept-damage"), "{said}");
    let document = folder.json("a.json");
    let longest = document["stream"]["interval_us"]["max"].as_f64().expect("a time");
    let median = document["stream"]["interval_us"]["median"].as_f64().expect("a time");
    assert!(longest < 3.0 * median, "{longest}: the damaged place is no interval of the board");
    let rows = check_damage(&document, at);
    assert_eq!(document["stream"]["lost"].as_u64(), Some(rows));
    assert_eq!(document["stream"]["lost_in_file"].as_u64(), Some(rows));
    let codes = document["findings"].as_array().expect("a list");
    assert!(codes.iter().all(|f| f["code"] != "link-loss"), "the link is not blamed: {codes:?}");
    let words_of = format!("{rows} rows lost");
    assert!(folder.read("a.h").contains("DAMAGED:") && folder.read("a.h").contains(&words_of));
    assert!(
        folder.read("a.trim.ron").contains("rows_lost: ")
            && folder.read("a.html").contains(&words_of)
    );
    assert!(
        folder
            .read("a.csv")
            .contains(&format!("stream.lost_in_file,lost in damage of the recording,{rows}"))
    );
    // Taken as it is, it says the same and ends with 0.
    let (code, _, said) = run(&[&words[..], &["--accept-damage"]].concat());
    assert_eq!(code, Some(0), "{said}");
    assert!(said.contains("1 damaged place"), "{said}");

    let columns = folder.text("columns.csv");
    let (code, _, said) = run(&["export", &hit, "--csv", &columns, "--quiet"]);
    assert_eq!((code, said.lines().count()), (Some(1), 1), "{said}");
    let table = folder.read("columns.csv");
    let marked: Vec<&str> = table.lines().filter(|l| l.contains("damaged ")).collect();
    assert_eq!(marked.len(), 1, "{marked:?}");
    assert_eq!(marked[0].split(',').nth(1), Some(rows.to_string().as_str()), "{marked:?}");
    let (code, ..) = run(&["export", &hit, "--csv", &columns, "--quiet", "--accept-damage"]);
    assert_eq!(code, Some(0));
    let (code, _, said) = run(&["dialect", &hit]);
    assert_eq!((code, said.lines().count()), (Some(1), 1), "{said}");

    // Played and recorded again it has lost as many.
    let (again, from) = (folder.text("again.session"), format!("file:{hit}"));
    let (code, _, said) = run(&["capture", "--from", &from, "--pace", "flat-out", "--out", &again]);
    assert_eq!(code, Some(1), "{said}");
    let (_, _, said) = run(&["solve", &again, "--json", &json, "--quiet"]);
    assert_eq!(folder.json("a.json")["stream"]["lost"].as_u64(), Some(rows), "{said}");
}

#[test]
fn a_proof_says_what_is_damaged_in_the_fresh_session() {
    let folder = Folder::new();
    let [fresh, hit, trim, json] =
        ["fresh.session", "hit.session", "a.trim.ron", "proof.json"].map(|name| folder.text(name));
    let (code, _, said) = run(&["solve", SAMPLE, "--trim", &trim, "--quiet"]);
    assert_eq!(code, Some(0), "{said}");
    // The same board, and another run of its hand.
    let (code, _, said) =
        run(&["virtual", "--seed", "7", "--rate", "260", "--quiet", "--out", &fresh]);
    assert_eq!(code, Some(0), "{said}");
    let (good, _, said) = run(&["prove", &fresh, "--against", &trim, "--json", &json, "--quiet"]);
    assert_eq!(said, "");
    let document = folder.json("proof.json");
    assert_eq!(document["damage"], serde_json::json!([]));
    assert_eq!((&document["known_by"], &document["time"]), (&"readings".into(), &"board".into()));
    if let Some(sum) = sum(&folder.path("fresh.session")) {
        assert_eq!(document["sha256"], sum.as_str());
    }
    let mut bytes = std::fs::read(&fresh).expect("read");
    let at = bytes.len() / 2;
    let at = at + bytes[at..].iter().position(u8::is_ascii_digit).expect("a digit");
    bytes[at] ^= 1;
    std::fs::write(&hit, bytes).expect("written");
    let words = ["prove", &hit, "--against", &trim, "--json", &json];
    let (code, out, said) = run(&words);
    assert_eq!((code, said.lines().count()), (Some(1), 1), "{said}");
    let rows = check_damage(&folder.json("proof.json"), at);
    let flat = out.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(flat.contains("damage: line ") && flat.contains(&format!("{rows} rows lost")), "{out}");
    let (code, ..) = run(&[&words[..], &["--accept-damage"]].concat());
    assert_eq!(code, good);
}

#[test]
fn figures_change_only_where_damage_is_listed() {
    let folder = Folder::new();
    let whole = std::fs::read(SAMPLE).expect("the sample");
    let json = folder.text("a.json");
    let solved = |bytes: &[u8]| {
        std::fs::write(folder.path("t.session"), bytes).expect("written");
        let words = ["solve", &folder.text("t.session"), "--json", &json, "--quiet"];
        let (code, _, said) = run(&words);
        assert!(code <= Some(1), "{said}");
        (folder.json("a.json"), code)
    };
    let (clean, code) = solved(&whole);
    assert_eq!(code, Some(0));
    let figures = |document: &Value| {
        let mut document = document.clone();
        for part in ["source", "damage", "trim"] {
            document[part].take();
        }
        document
    };
    let every = if std::env::var("TRIMBENCH_LONG").is_ok_and(|v| v == "1") { 400 } else { 6 };
    for k in 0..every {
        let at = (k * 2_654_435_761_usize + 1_013) % whole.len();
        let mut hit = whole.clone();
        hit[at] ^= 1 << (k % 8);
        let (found, code) = solved(&hit);
        let listed = !found["damage"].as_array().expect("a list").is_empty();
        assert!(listed || figures(&found) == figures(&clean), "byte {at}");
        assert_eq!(code == Some(1), listed, "byte {at}");
    }
    // Line ends that a transfer changed cost nothing, and end with 0.
    let text = String::from_utf8(whole).expect("ASCII").replace('\n', "\r\n");
    let (found, code) = solved(text.as_bytes());
    assert_eq!((figures(&found) == figures(&clean), code), (true, Some(0)));
    assert_eq!(found["damage"][0]["kind"], "line-ends");
}
