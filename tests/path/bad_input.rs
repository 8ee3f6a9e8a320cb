//! Hostile and broken input through the command line: one clear line, exit 2, nothing half-written.
use std::io::Write;
use std::path::Path;
use std::process::{Command, Output, Stdio};

use tempfile::TempDir;

fn trimbench(words: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_trimbench"))
        .args(words)
        .stdin(Stdio::null())
        .env("RUST_BACKTRACE", "0")
        .output()
        .expect("the program runs")
}

/// Refused with exit 2, exactly one line on stderr that holds all of `words`, no panic; gives the lines
/// behind it that show what was refused, which are set in.
fn shown(line: &[&str], words: &[&str]) -> Vec<String> {
    let output = trimbench(line);
    let said = String::from_utf8_lossy(&output.stderr).into_owned();
    assert_eq!(output.status.code(), Some(2), "{line:?}: {said}");
    assert!(!said.contains("panicked"), "{said}");
    assert!(said.chars().all(|c| c == '\n' || !c.is_control()), "{said:?}");
    let mut lines = said.lines();
    let first = lines.next().unwrap_or_default();
    for word in words {
        assert!(first.contains(word), "{line:?}: no \"{word}\" in: {said}");
    }
    let rest: Vec<String> = lines.map(str::to_owned).collect();
    assert!(rest.iter().all(|line| line.starts_with("  ")), "{line:?}: {said}");
    rest
}

/// The same where nothing is shown behind the one line.
fn refused(line: &[&str], words: &[&str]) {
    assert_eq!(shown(line, words), [""; 0], "{line:?}");
}

fn file(folder: &TempDir, name: &str, bytes: &[u8]) -> String {
    let path = folder.path().join(name);
    std::fs::write(&path, bytes).expect("written");
    path.to_string_lossy().into_owned()
}

#[test]
fn files_that_hold_no_session_are_refused_by_name() {
    let folder = TempDir::new().expect("a folder");
    let empty = file(&folder, "empty.log", b"");
    refused(&["solve", &empty], &["empty.log", "empty"]);
    let binary: Vec<u8> =
        (0..20_000_u32).map(|i| (i.wrapping_mul(2_654_435_761) >> 11) as u8).collect();
    let binary = file(&folder, "photo.bin", &binary);
    refused(&["solve", &binary], &["photo.bin"]);
    let prose = "It was a fine morning, and nothing moved on the bench.\n".repeat(200);
    let prose = file(&folder, "prose.txt", prose.as_bytes());
    let said = shown(&["solve", &prose], &["prose.txt", "dialect"]);
    assert!(said[0].contains("line 1: It was a fine morning"), "{said:#?}");
    assert!(said[2].contains("no number stands in this line"), "{said:#?}");
    assert_eq!(said[9..], ["  lines refused: 200 not a frame"]);
    refused(&["solve", "/no/such/file.session"], &["/no/such/file.session"]);
    refused(&["solve", &folder.path().to_string_lossy()], &[]);
}

#[test]
fn a_decimal_point_in_a_field_of_whole_numbers_is_refused() {
    let folder = TempDir::new().expect("a folder");
    let mut text = String::from("seq,t_us,lx,ly\n");
    for i in 0..300 {
        text.push_str(&format!("{i},{},{}.5,500\n", i * 4000, 500 + i % 3));
    }
    let log = file(&folder, "float.log", text.as_bytes());
    let whole = text.replace(".5,500", ",500");
    let dialect = trimbench::wire::recognise(whole.as_bytes()).expect("a dialect");
    let dialect = ron::to_string(&dialect).expect("written");
    let dialect = file(&folder, "whole.ron", dialect.as_bytes());
    let said = shown(&["solve", &log, "--dialect", &dialect], &["float.log", "no frame"]);
    let at = "column 5, \"500.5\": field 3 (lx) is read as a whole decimal number; a decimal point";
    assert!(said[0].ends_with("line 2: 0,0,500.5,500"), "{said:#?}");
    assert_eq!(said[1].trim_end_matches('^').len(), said[0].len() - "500.5,500".len());
    assert!(said[2].contains(at), "{said:#?}");
    assert!(said.iter().any(|line| line.contains("300 decimal point in a field")), "{said:#?}");
    let nearest = "nearest form: 4 columns with commas (seq t_us lx ly), which reads 300 of 300";
    assert!(said.iter().any(|line| line.contains(nearest)), "{said:#?}");
}

#[test]
fn a_line_without_end_costs_no_memory() {
    let folder = TempDir::new().expect("a folder");
    let path = folder.path().join("endless.log");
    let mut out = std::io::BufWriter::new(std::fs::File::create(&path).expect("created"));
    let piece = vec![b'7'; 1 << 20];
    for _ in 0..1024 {
        out.write_all(&piece).expect("written");
    }
    out.flush().expect("written");
    drop(out);
    let path = path.to_string_lossy().into_owned();
    // 400 MB of address space are far less than the line.
    let limited = format!("ulimit -v 400000; exec \"$0\" solve '{path}'");
    let output = Command::new("sh")
        .args(["-c", &limited, env!("CARGO_BIN_EXE_trimbench")])
        .output()
        .expect("a shell");
    let said = String::from_utf8_lossy(&output.stderr).into_owned();
    assert_eq!(output.status.code(), Some(2), "{said}");
    assert_eq!(said.lines().count(), 1, "{said}");
    assert!(said.contains("endless.log"), "{said}");
}

#[test]
fn rigs_and_addresses_with_mistakes_are_refused_with_the_place() {
    let folder = TempDir::new().expect("a folder");
    let log = log(&folder);
    let rig = file(&folder, "odd.ron", b"(\n  format: 1,\n  colour: \"red\",\n)\n");
    refused(&["solve", &log, "--rig", &rig], &["odd.ron", "colour", "3"]);
    let out = folder.path().join("x.session").to_string_lossy().into_owned();
    refused(&["capture", "--from", "serial:/dev/no-such-port", "--out", &out], &["no-such-port"]);
    refused(&["capture", "--from", "nonsense", "--out", &out], &["nonsense", "serial:PATH@BAUD"]);
    refused(&["capture", "--from", "serial:/dev/null@1200", "--out", &out], &["bootloader"]);
    refused(&["virtual", "--scenario", "nonsense", "--out", &out], &["nonsense"]);
    refused(&["virtual", "--created", "tomorrow", "--out", &out], &["tomorrow"]);
    refused(&["no-such-verb"], &["no-such-verb"]);
    assert!(!Path::new(&out).exists(), "nothing is left behind");
}

#[test]
fn outputs_that_cannot_be_written_leave_nothing() {
    let folder = TempDir::new().expect("a folder");
    let log = log(&folder);
    refused(&["solve", &log, "--sheet", "/proc/no/sheet.html"], &["/proc/no/sheet.html"]);
    refused(&["export", &log, "--csv", "/proc/no/a.csv"], &["/proc/no/a.csv"]);
    refused(&["virtual", "--out", "/proc/no/a.session", "--seconds", "1"], &["/proc/no/a.session"]);
    // A directory in the file's place: the temporary file beside it must go away again.
    let place = folder.path().join("taken.html");
    std::fs::create_dir(&place).expect("a folder");
    refused(&["solve", &log, "--sheet", &place.to_string_lossy()], &["taken.html"]);
    let names = std::fs::read_dir(folder.path()).expect("listed").count();
    assert_eq!(names, 2, "only the log and the folder are there");
}

/// A plain log of a still board: enough to open, too little for constants.
fn log(folder: &TempDir) -> String {
    let mut text = String::new();
    for i in 0..3000 {
        let noise = [0, 1, 0, -1, 1, 0, 2, -1][i % 8];
        text.push_str(&format!("{i},{},{},{}\n", i * 4000, 512 + noise, 498 - noise));
    }
    file(folder, "still.log", text.as_bytes())
}

#[test]
fn a_header_without_data_is_not_written_and_says_why() {
    let folder = TempDir::new().expect("a folder");
    let log = log(&folder);
    let header = folder.path().join("trim.h");
    let output = trimbench(&["solve", &log, "--header", &header.to_string_lossy()]);
    let said = String::from_utf8_lossy(&output.stderr).into_owned();
    assert_eq!(output.status.code(), Some(1), "{said}");
    assert!(said.contains("trim.h") && said.contains("not written"), "{said}");
    assert!(!header.exists());
}

#[test]
fn a_closed_reader_is_no_failure() {
    let folder = TempDir::new().expect("a folder");
    let log = log(&folder);
    let mut child = Command::new(env!("CARGO_BIN_EXE_trimbench"))
        .args(["solve", &log, "--json", "-"])
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .expect("the program runs");
    drop(child.stdout.take());
    let output = child.wait_with_output().expect("ended");
    let said = String::from_utf8_lossy(&output.stderr).into_owned();
    assert_eq!(output.status.code(), Some(0), "{said}");
}
