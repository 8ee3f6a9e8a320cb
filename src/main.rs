//! No words on the line: the window; words: one verb; the result becomes the exit code.
use std::process::ExitCode;

use trimbench::cli::{self, Request};

fn main() -> ExitCode {
    match cli::request() {
        Request::Ended(code) => code,
        Request::Verb(verb) => cli::run(verb),
        Request::Window => ExitCode::SUCCESS,
    }
}
