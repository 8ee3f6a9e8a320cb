//! What is said where: results to standard output, the rest behind one prefix to standard error.
use std::io::{IsTerminal, Write};

use super::Failure;
use crate::emit::Width;

/// Stands before every error, warning and note.
const PREFIX: &str = "trimbench: ";

/// How much this run says.
#[derive(Clone, Copy, Debug)]
pub(super) struct Voice {
    /// Errors and what was asked for, nothing else.
    pub quiet: bool,
}

impl Voice {
    /// What was asked for, on standard output.
    pub(super) fn result(self, text: &str) -> Result<(), Failure> {
        let mut out = std::io::stdout().lock();
        match out.write_all(text.as_bytes()).and_then(|()| out.flush()) {
            Ok(()) => Ok(()),
            // A reader who has gone away ends the verb without a failure.
            Err(e) if e.kind() == std::io::ErrorKind::BrokenPipe => Err(Failure::Closed),
            Err(e) => Err(Failure::Refused(format!("standard output: {e}"))),
        }
    }

    /// What a person may like to read beside it, on standard output.
    pub(super) fn summary(self, text: &str) -> Result<(), Failure> {
        if self.quiet { Ok(()) } else { self.result(text) }
    }

    /// A warning or note that changes no exit code.
    pub(super) fn note(self, text: &str) {
        if !self.quiet {
            error(text);
        }
    }

    /// Whether somebody looks at standard error while the work goes on.
    pub(super) fn is_watched(self) -> bool {
        !self.quiet && std::io::stderr().is_terminal()
    }
}

/// Why something could not be done.
pub(super) fn error(text: &str) {
    // Nobody is left to be told that standard error is closed.
    let _ = writeln!(std::io::stderr(), "{PREFIX}{}", bounded(&printable(text)));
}

/// What a person is asked to do, on standard error.
pub(super) fn say(text: &str) {
    // As for [`error`].
    let _ = writeln!(std::io::stderr(), "{}", printable(text));
}

/// A line that shows what an error before it speaks of.
pub(super) fn beneath(text: &str) {
    let _ = writeln!(std::io::stderr(), "  {}", bounded(&printable(text)));
}

/// Characters of a line on standard error: a name that was typed or read may have any length.
const LINE_MOST: usize = 1200;

/// A line whose middle is left out where it is too long: its end says what to do.
fn bounded(line: &str) -> String {
    let count = line.chars().count();
    if count <= LINE_MOST {
        return line.to_owned();
    }
    let (front, back) = (LINE_MOST / 3, LINE_MOST * 2 / 3 - 3);
    let head = line.chars().take(front);
    head.chain(" … ".chars()).chain(line.chars().skip(count - back)).collect()
}

/// Writes a line over the one before it.
pub(super) fn rewrite(text: &str) {
    let mut out = std::io::stderr().lock();
    let _ = write!(out, "\r\x1b[2K{}", printable(text)).and_then(|()| out.flush());
}

/// Width of standard output: `COLUMNS` where it is set, else the terminal's, else any.
pub(super) fn width() -> Width {
    let asked = std::env::var("COLUMNS").ok().and_then(|text| text.trim().parse().ok());
    match asked.filter(|&columns| columns > 0).or_else(columns_of_terminal) {
        Some(columns) => Width::columns(columns),
        None => Width::FULL,
    }
}

#[cfg(unix)]
fn columns_of_terminal() -> Option<usize> {
    let out = std::io::stdout();
    let size = out.is_terminal().then(|| rustix::termios::tcgetwinsize(&out).ok()).flatten()?;
    Some(usize::from(size.ws_col)).filter(|&columns| columns > 0)
}

#[cfg(not(unix))]
fn columns_of_terminal() -> Option<usize> {
    None
}

/// One line with nothing in it that a terminal would obey.
pub(super) fn printable(text: &str) -> String {
    text.chars().map(|c| if c.is_control() { ' ' } else { c }).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_long_line_keeps_its_beginning_and_its_end() {
        let line = format!("where: {}; what to do", "é".repeat(65_535));
        let shown = bounded(&line);
        assert_eq!(shown.chars().count(), LINE_MOST);
        assert!(shown.starts_with("where: é") && shown.ends_with("; what to do"), "{shown}");
        assert_eq!(bounded("short"), "short");
    }
}
