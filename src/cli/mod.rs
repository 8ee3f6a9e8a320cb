//! The command line: one file a verb, and the exit codes.
pub mod args;
mod capture;
mod damage;
mod dialect;
mod export;
mod files;
mod names;
mod ports;
mod progress;
mod prove;
mod signals;
mod solve;
mod virtual_board;
mod voice;
mod walk;
mod wrong;

use std::path::{Path, PathBuf};
use std::process::ExitCode;

use clap::Parser;
use clap::error::ErrorKind;

use crate::desk::proving::ProveError;
use crate::desk::solving::SolveError;
use crate::session::file::FileError;
use crate::wire::Account;

use args::{Verb, WindowWords, Words};
use voice::{Voice, printable, width};

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
    /// The same with lines behind it that show what was refused.
    Shown(String, Vec<String>),
    /// The same where a word on the line is wrong: the help of the verb is named behind it.
    Word(String),
    /// Whoever read our output closed it: nothing more to say. Exit 0.
    Closed,
}

impl<E: std::error::Error + 'static> From<E> for Failure {
    fn from(error: E) -> Failure {
        match account(&error) {
            Some(account) => Failure::Shown(error.to_string(), account.lines()),
            None => Failure::Refused(error.to_string()),
        }
    }
}

/// The lines of a file that were refused, where they are the reason.
fn account<'a>(error: &'a (dyn std::error::Error + 'static)) -> Option<&'a Account> {
    let file = if let Some(SolveError::File(file)) = error.downcast_ref() {
        Some(file)
    } else if let Some(ProveError::File(file)) = error.downcast_ref() {
        Some(file)
    } else {
        error.downcast_ref::<FileError>()
    };
    file.and_then(FileError::account)
}

/// What the words on the line ask for.
#[derive(Debug)]
pub enum Request {
    /// No verb: the window.
    Window(WindowWords),
    /// One verb, and whether it is to say nothing but errors and what it is asked for.
    Verb(Box<Verb>, bool),
    /// Help or version were printed, or the words were wrong: end with this code.
    Ended(ExitCode),
}

/// Reads the words on the line.
pub fn request() -> Request {
    match Words::try_parse() {
        Ok(Words { verb: Some(verb), quiet, .. }) => Request::Verb(Box::new(verb), quiet),
        Ok(Words { verb: None, files, frame_log, quiet }) => match unfit(&files) {
            None => Request::Window(WindowWords { files, frame_log, quiet }),
            Some(why) => Request::Ended(conclude("", Err(Failure::Refused(why)))),
        },
        Err(error)
            if matches!(error.kind(), ErrorKind::DisplayHelp | ErrorKind::DisplayVersion) =>
        {
            // A closed stdout is no failure.
            let _ = error.print();
            Request::Ended(ExitCode::SUCCESS)
        }
        Err(error) => Request::Ended(conclude("", Err(Failure::Refused(wrong::line(&error))))),
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
pub fn run(verb: Verb, quiet: bool) -> ExitCode {
    let voice = Voice { quiet };
    let name = verb.name();
    let done = match verb {
        Verb::Ports => ports::run(voice),
        Verb::Capture(words) => capture::run(words, voice),
        Verb::Solve(words) => solve::run(words, voice),
        Verb::Virtual(words) => virtual_board::run(words, voice),
        Verb::Prove(words) => prove::run(words, voice),
        Verb::Export(words) => export::run(words, voice),
        Verb::Dialect(words) => dialect::run(words, voice),
    };
    conclude(name, done)
}

/// No window to be had: says why, and plays the guided run in the terminal, flat out. With files
/// to open it says which verbs read them instead.
pub fn without_window(why: &str, words: &WindowWords) -> ExitCode {
    match words.files.first() {
        None => conclude("", walk::run(why, Voice { quiet: words.quiet })),
        Some(file) => {
            let text = format!(
                "no window ({why}) for {}; `trimbench solve` and `trimbench prove` read it without one",
                file.display()
            );
            conclude("", Err(Failure::Refused(text)))
        }
    }
}

fn conclude(verb: &str, done: Result<Outcome, Failure>) -> ExitCode {
    let line = match done {
        Ok(Outcome::Clean) | Err(Failure::Closed) => return ExitCode::SUCCESS,
        Ok(Outcome::Short) => return ExitCode::from(1),
        Err(Failure::Refused(line)) => line,
        Err(Failure::Shown(line, more)) => {
            voice::error(&line);
            more.iter().for_each(|line| voice::beneath(line));
            return ExitCode::from(2);
        }
        Err(Failure::Word(line)) => wrong::with_help(verb, &line),
    };
    voice::error(&line);
    ExitCode::from(2)
}
