//! The command line: one file a verb, and the exit codes.
pub mod args;
mod capture;
mod export;
mod files;
mod ports;
mod prove;
mod solve;
mod virtual_board;
mod walk;

use std::io::Write;
use std::path::{Path, PathBuf};
use std::process::ExitCode;

use clap::Parser;
use clap::error::ErrorKind;

use args::{Verb, WindowWords, Words};

/// How a verb ended.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Outcome {
    /// Done, nothing of severity fault, every asked-for file written: exit 0.
    Clean,
    /// Done, but a fault, a missed limit, or a file refused for want of data: exit 1.
    Short,
}

/// Why a verb could not be done: one line that says what, where and what to do. Exit 2.
#[derive(Debug)]
pub enum Failure {
    /// The reason in one line.
    Refused(String),
    /// Whoever read our output closed it: nothing more to say. Exit 0.
    Closed,
}

impl<E: std::error::Error> From<E> for Failure {
    fn from(error: E) -> Failure {
        Failure::Refused(error.to_string())
    }
}

/// What the words on the line ask for.
#[derive(Debug)]
pub enum Request {
    /// No verb: the window.
    Window(WindowWords),
    /// One verb.
    Verb(Box<Verb>),
    /// Help or version were printed, or the words were wrong: end with this code.
    Ended(ExitCode),
}

/// Reads the words on the line.
pub fn request() -> Request {
    match Words::try_parse() {
        Ok(Words { verb: Some(verb), .. }) => Request::Verb(Box::new(verb)),
        Ok(Words { verb: None, files, frame_log }) => match unfit(&files) {
            None => Request::Window(WindowWords { files, frame_log }),
            Some(why) => Request::Ended(conclude(Err(Failure::Refused(why)))),
        },
        Err(error)
            if matches!(error.kind(), ErrorKind::DisplayHelp | ErrorKind::DisplayVersion) =>
        {
            // A closed stdout is no failure.
            let _ = error.print();
            Request::Ended(ExitCode::SUCCESS)
        }
        Err(error) => {
            let text = error.to_string();
            let line = text.lines().next().unwrap_or("error: words not understood");
            eprintln!("{}; see `trimbench --help`", printable(line));
            Request::Ended(ExitCode::from(2))
        }
    }
}

/// Why the window cannot begin with these files: said before a window is opened.
fn unfit(files: &[PathBuf]) -> Option<String> {
    let missing = files.iter().find(|path| !path.is_file());
    if let Some(path) = missing {
        let shown = path.display();
        return Some(format!("{shown}: neither a verb nor a file here; see `trimbench --help`"));
    }
    let mut sessions = files.iter().filter(|path| !is_ron(path));
    let (first, second) = (sessions.next()?, sessions.next()?);
    Some(format!(
        "{} and {}: the window holds one session at a time; name one of them",
        first.display(),
        second.display()
    ))
}

fn is_ron(path: &Path) -> bool {
    path.extension().is_some_and(|ending| ending.eq_ignore_ascii_case("ron"))
}

/// Runs one verb and gives the process's exit code.
pub fn run(verb: Verb) -> ExitCode {
    let done = match verb {
        Verb::Ports => ports::run(),
        Verb::Capture(words) => capture::run(words),
        Verb::Solve(words) => solve::run(words),
        Verb::Virtual(words) => virtual_board::run(words),
        Verb::Prove(words) => prove::run(words),
        Verb::Export(words) => export::run(words),
    };
    conclude(done)
}

/// No window to be had: says why, and plays the guided run in the terminal, flat out. With files
/// to open it says which verbs read them instead.
pub fn without_window(why: &str, files: &[PathBuf]) -> ExitCode {
    match files.first() {
        None => conclude(walk::run(why)),
        Some(file) => conclude(Err(Failure::Refused(format!(
            "no window ({why}) for {}; `trimbench solve` and `trimbench prove` read it without one",
            file.display()
        )))),
    }
}

fn conclude(done: Result<Outcome, Failure>) -> ExitCode {
    match done {
        Ok(Outcome::Clean) | Err(Failure::Closed) => ExitCode::SUCCESS,
        Ok(Outcome::Short) => ExitCode::from(1),
        Err(Failure::Refused(line)) => {
            eprintln!("trimbench: {}", printable(&line));
            ExitCode::from(2)
        }
    }
}

/// Prints to standard output; a reader who has gone away ends the verb without a failure.
fn say(text: &str) -> Result<(), Failure> {
    let mut out = std::io::stdout().lock();
    match out.write_all(text.as_bytes()).and_then(|()| out.flush()) {
        Ok(()) => Ok(()),
        Err(e) if e.kind() == std::io::ErrorKind::BrokenPipe => Err(Failure::Closed),
        Err(e) => Err(Failure::Refused(format!("standard output: {e}"))),
    }
}

/// One line with nothing in it that a terminal would obey.
fn printable(text: &str) -> String {
    text.chars().map(|c| if c.is_control() { ' ' } else { c }).collect()
}
