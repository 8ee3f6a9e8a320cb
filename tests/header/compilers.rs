//! The compilers: which are here, and how a program is built and run.
use std::path::Path;
use std::process::{Command, Output};

/// Every warning that the header must pass.
pub const WARNINGS: [&str; 8] = [
    "-Wall",
    "-Wextra",
    "-Werror",
    "-pedantic",
    "-Wconversion",
    "-Wsign-conversion",
    "-Wshadow",
    "-Wundef",
];

/// A C standard with the host compiler.
pub const C99: [&str; 2] = ["cc", "-std=c99"];
/// A C++ standard with the host compiler.
pub const CPP11: [&str; 2] = ["c++", "-std=c++11"];

/// True when the compiler answers; otherwise says that its part is skipped, or fails when
/// `TRIMBENCH_STRICT` is 1.
pub fn present(compiler: &str) -> bool {
    if Command::new(compiler).arg("--version").output().is_ok_and(|o| o.status.success()) {
        return true;
    }
    let strict = std::env::var("TRIMBENCH_STRICT").is_ok_and(|v| v == "1");
    assert!(!strict, "{compiler} is not installed, and TRIMBENCH_STRICT=1 asks for it");
    println!("skipped: {compiler} is not installed");
    false
}

/// Runs the compiler in a folder; gives whatever it said.
pub fn compile(folder: &Path, compiler: &[&str], rest: &[&str]) -> Output {
    Command::new(compiler[0])
        .args(&compiler[1..])
        .args(WARNINGS)
        .args(rest)
        .current_dir(folder)
        .output()
        .expect("the compiler starts")
}

/// Runs the compiler and fails with its words unless it accepts.
pub fn accepts(folder: &Path, compiler: &[&str], rest: &[&str]) {
    let out = compile(folder, compiler, rest);
    assert!(out.status.success(), "{compiler:?}: {}", String::from_utf8_lossy(&out.stderr));
}

/// Runs a built program; gives its standard output.
pub fn run(program: &Path) -> Vec<u8> {
    let out = Command::new(program).output().expect("the program starts");
    assert!(out.status.success(), "{}: {}", program.display(), out.status);
    out.stdout
}
