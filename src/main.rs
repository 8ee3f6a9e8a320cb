//! No words on the line: the window; words: one verb; the result becomes the exit code.
use std::process::ExitCode;

use trimbench::cli::{self, Request};

fn main() -> ExitCode {
    match cli::request() {
        Request::Ended(code) => code,
        Request::Verb(verb) => cli::run(verb),
        Request::Window => window(),
    }
}

/// Opens the window on the virtual board, so that a newcomer sees a live controller at once.
#[cfg(feature = "gui")]
fn window() -> ExitCode {
    use trimbench::gui::{self, Start};
    use trimbench::source::Address;

    let scenario = "healthy".to_owned();
    match gui::run(Start { connect: Some(Address::Virtual { scenario }) }) {
        Ok(()) => ExitCode::SUCCESS,
        Err(why) => cli::without_window(&why),
    }
}

/// The headless build has no window.
#[cfg(not(feature = "gui"))]
fn window() -> ExitCode {
    cli::without_window("built without the window")
}
