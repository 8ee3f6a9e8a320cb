//! No verb on the line: the window; a verb: do it; the result becomes the exit code.
use std::process::ExitCode;

use trimbench::cli::args::WindowWords;
use trimbench::cli::{self, Request};

fn main() -> ExitCode {
    match cli::request() {
        Request::Ended(code) => code,
        Request::Verb(verb, quiet) => cli::run(*verb, quiet),
        Request::Window(words) => window(words),
    }
}

/// Opens the window on the named files, else on the virtual board, so that a newcomer sees a live
/// controller at once.
#[cfg(feature = "gui")]
fn window(words: WindowWords) -> ExitCode {
    use trimbench::gui::{self, Start};
    use trimbench::source::Address;

    let scenario = "healthy".to_owned();
    let connect = words.files.is_empty().then_some(Address::Virtual { scenario });
    let start = Start { connect, open: words.files.clone(), frame_log: words.frame_log.clone() };
    match gui::run(start) {
        Ok(()) => ExitCode::SUCCESS,
        Err(why) => cli::without_window(&why, &words),
    }
}

/// The headless build has no window.
#[cfg(not(feature = "gui"))]
fn window(words: WindowWords) -> ExitCode {
    cli::without_window("built without the window", &words)
}
