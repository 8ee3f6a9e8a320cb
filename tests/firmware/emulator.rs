//! The harness on libsimavr, built once a run, and the programs that it runs.
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::sync::OnceLock;
use std::time::{Duration, Instant};

use tempfile::TempDir;
use trimbench::session::{Refusal, Session};

/// Every warning that the companion must pass.
pub const WARNINGS: [&str; 7] =
    ["-Wall", "-Wextra", "-Werror", "-pedantic", "-Wconversion", "-Wshadow", "-Wundef"];

/// The companion's sources.
pub fn companion() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("assets/firmware")
}

/// Says that a part is skipped, or fails when `TRIMBENCH_STRICT` is 1.
pub fn skip(why: &str) {
    let strict = std::env::var("TRIMBENCH_STRICT").is_ok_and(|v| v == "1");
    assert!(!strict, "{why}, and TRIMBENCH_STRICT=1 asks for it");
    println!("skipped: {why}");
}

/// True when the program answers; otherwise says that its part is skipped.
pub fn present(program: &str) -> bool {
    let there = Command::new(program).arg("--version").output().is_ok_and(|o| o.status.success());
    if !there {
        skip(&format!("{program} is not installed"));
    }
    there
}

/// Runs a compiler and fails with its words unless it accepts.
pub fn compile(compiler: &[&str], rest: &[&str]) {
    let out = Command::new(compiler[0])
        .args(&compiler[1..])
        .args(rest)
        .output()
        .unwrap_or_else(|e| panic!("{}: {e}", compiler[0]));
    let said = String::from_utf8_lossy(&out.stderr);
    assert!(out.status.success(), "{compiler:?} {rest:?}: {said}");
}

/// The harness, built once; `None` (and said why) when libsimavr or avr-gcc is not installed.
pub fn harness() -> Option<&'static Path> {
    static BUILT: OnceLock<Option<(TempDir, PathBuf)>> = OnceLock::new();
    let built = BUILT.get_or_init(|| {
        if !Path::new("/usr/include/simavr/sim_avr.h").exists() {
            skip("libsimavr-dev is not installed");
            return None;
        }
        if !present("avr-gcc") {
            return None;
        }
        let folder = tempfile::tempdir().expect("a folder");
        let program = folder.path().join("harness");
        let here = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/firmware");
        let sources = ["harness.c", "chip.c", "second_half.c"]
            .map(|name| here.join(name).display().to_string());
        let out = program.display().to_string();
        let mut rest = vec!["-o", &out];
        rest.extend(sources.iter().map(String::as_str));
        rest.extend(["-lsimavr", "-lutil"]);
        compile(&["cc", "-O2", "-Wall", "-Wextra", "-Werror"], &rest);
        Some((folder, program))
    });
    built.as_ref().map(|(_, program)| program.as_path())
}

/// Builds the plain program for the ATmega32U4 with some definitions, and the header where given.
pub fn plain_program(folder: &Path, name: &str, defines: &[&str], header: Option<&str>) -> PathBuf {
    let relay: &[&str] = if defines.contains(&"BENCH_RELAY") { &["avr/twi.c"] } else { &[] };
    let parts: Vec<&str> = ["avr/main.c", "bench_link.c"].iter().chain(relay).copied().collect();
    avr_program(folder, name, &parts, defines, header)
}

/// Builds the second half's program for the ATmega32U4.
pub fn half_program(folder: &Path) -> PathBuf {
    avr_program(folder, "half", &["avr/half.c", "bench_link.c"], &[], None)
}

fn avr_program(
    folder: &Path,
    name: &str,
    parts: &[&str],
    defines: &[&str],
    header: Option<&str>,
) -> PathBuf {
    let program = folder.join(format!("{name}.elf"));
    let sources: Vec<PathBuf> = parts.iter().map(|part| companion().join(part)).collect();
    let include = folder.join(format!("{name}.include"));
    std::fs::create_dir_all(&include).expect("a folder");
    let mut options: Vec<String> = defines.iter().map(|d| format!("-D{d}")).collect();
    if let Some(header) = header {
        std::fs::write(include.join("trim.h"), header).expect("written");
        options.push("-DBENCH_TRIM".to_owned());
    }
    options.push(format!("-I{}", include.display()));
    options.extend(["-o".to_owned(), program.display().to_string()]);
    options.extend(sources.iter().map(|s| s.display().to_string()));
    let mut rest: Vec<&str> = WARNINGS.to_vec();
    rest.extend(options.iter().map(String::as_str));
    compile(&["avr-gcc", "-std=c99", "-Os", "-mmcu=atmega32u4"], &rest);
    program
}

/// What the harness is to do besides running a program.
#[derive(Clone, Copy, Debug, Default)]
pub struct Run<'a> {
    /// `atmega32u4` when empty.
    pub mcu: &'a str,
    /// Table of pin levels.
    pub table: Option<&'a Path>,
    /// Lines to send: time in µs and text.
    pub say: &'a [(u64, &'a str)],
    /// Further words.
    pub words: &'a [&'a str],
}

/// Runs a program flat out for `seconds` of its own time; gives what its serial port said.
pub fn run(program: &Path, seconds: f64, run: Run<'_>) -> Vec<u8> {
    let out = program.with_extension("out");
    let say = program.with_extension("say");
    let mut command = begin(program, seconds, run.mcu, run.table);
    command.args([Path::new("--out"), &out]).args(run.words);
    if !run.say.is_empty() {
        let lines: Vec<String> =
            run.say.iter().map(|(at, text)| format!("{at} {text}\n")).collect();
        std::fs::write(&say, lines.concat()).expect("written");
        command.args([Path::new("--say"), &say]);
    }
    let done = command.output().expect("the harness starts");
    assert!(done.status.success(), "{}", String::from_utf8_lossy(&done.stderr));
    std::fs::read(&out).expect("what it said")
}

/// How a served program is paced.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Pace {
    /// In real time; what nobody reads is dropped.
    Real,
    /// As fast as it is read, from the first byte that comes on.
    Flat,
}

/// Starts a program, its serial port on a pseudo-terminal called `link`, and waits for that.
pub fn serve(program: &Path, seconds: f64, table: Option<&Path>, link: &Path, pace: Pace) -> Child {
    let mut command = begin(program, seconds, "", table);
    let word = if pace == Pace::Real { "--pty" } else { "--flat" };
    command.args([Path::new(word), link]).stdout(Stdio::null()).stderr(Stdio::null());
    let child = command.spawn().expect("the harness starts");
    let begun = Instant::now();
    while !link.exists() {
        assert!(begun.elapsed() < Duration::from_secs(20), "the harness never made its link");
        std::thread::sleep(Duration::from_millis(10));
    }
    child
}

/// The real program `trimbench`, run with some words; gives its exit code and what it said.
pub fn trimbench(words: &[&str]) -> (Option<i32>, String) {
    let out =
        Command::new(env!("CARGO_BIN_EXE_trimbench")).args(words).output().expect("it starts");
    let said = [out.stdout, out.stderr].concat();
    (out.status.code(), String::from_utf8_lossy(&said).into_owned())
}

/// Runs a program flat out behind a pseudo-terminal while `trimbench capture` records it as a serial
/// port, until the board is gone; gives the session file.
pub fn captured(program: &Path, seconds: f64, table: &Path, rig: &Path) -> PathBuf {
    let (link, out) = (program.with_extension("port"), program.with_extension("session"));
    let mut board = serve(program, seconds, Some(table), &link, Pace::Flat);
    let from = format!("serial:{}@500000", link.display());
    let words = ["capture", "--from", &from, "--send", "identity", "--out"];
    let mut capture = Command::new(env!("CARGO_BIN_EXE_trimbench"))
        .args(words)
        .args([&out, Path::new("--rig"), rig])
        .stdout(Stdio::null())
        .spawn()
        .expect("it starts");
    assert!(board.wait().expect("it ends").success(), "the emulated board");
    // It waits for the board to come back, until somebody asks it to end.
    let asked = Command::new("kill").arg(capture.id().to_string()).status().expect("asked");
    assert!(asked.success() && capture.wait().expect("it ends").success(), "trimbench capture");
    out
}

fn begin(program: &Path, seconds: f64, mcu: &str, table: Option<&Path>) -> Command {
    let mut command = Command::new(harness().expect("asked for before"));
    command.arg(if mcu.is_empty() { "atmega32u4" } else { mcu }).arg(program);
    command.arg(table.unwrap_or(Path::new("-"))).arg(seconds.to_string());
    command
}

/// Damaged lines of a log, but for a last one that the end of the run cut.
pub fn damaged_inside(session: &Session) -> usize {
    let whole = |r: &&Refusal| r.place.byte + (r.bytes.len() as u64) < session.bytes();
    session.refusals().kept().filter(|r| r.why.is_damage()).filter(whole).count()
}
