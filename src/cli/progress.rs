//! Progress of long work on standard error, where somebody looks at it.
use std::sync::mpsc::channel;
use std::time::{Duration, Instant};

use super::Failure;
use super::voice::{Voice, rewrite};
use crate::work::{Job, Polled, Watch};

/// Work that is done sooner shows nothing.
const PATIENCE: Duration = Duration::from_secs(1);

/// Between two looks at the work.
const LOOK: Duration = Duration::from_millis(100);

/// Does the work; while it goes on for more than a second, one line says how far it is.
pub(super) fn watched<T: Send + 'static>(
    voice: Voice,
    verb: &'static str,
    work: impl FnOnce(&Watch) -> T + Send + 'static,
) -> Result<T, Failure> {
    if !voice.is_watched() {
        return Ok(work(&Watch::unwatched()));
    }
    let (wake, woken) = channel();
    let wake = move || {
        // Whoever waited has gone; so be it.
        let _ = wake.send(());
    };
    let mut job = Job::start(verb, wake, move |watch| Ok(work(watch)))?;
    let begun = Instant::now();
    let mut line = Line::new(verb);
    let mut written = String::new();
    let done = loop {
        match job.poll() {
            Polled::Done(done) => break Ok(done),
            Polled::Over => {
                let text = format!("{verb}: the work broke off, which is a defect of this program");
                break Err(Failure::Refused(text));
            }
            Polled::Running => {
                let text = line.text(begun.elapsed(), job.per_mille());
                if let Some(text) = text.filter(|text| *text != written) {
                    rewrite(&text);
                    written = text;
                }
            }
        }
        // Time that is up and work that is done are both looked at above.
        let _ = woken.recv_timeout(LOOK);
    };
    if !written.is_empty() {
        rewrite("");
    }
    done
}

/// The line that says how far the work is.
struct Line {
    verb: &'static str,
    /// Work that begins again at nothing is in its next step.
    step: u32,
    last: u32,
}

impl Line {
    fn new(verb: &'static str) -> Line {
        Line { verb, step: 1, last: 0 }
    }

    /// The words, once they are due. Work that does not tell its share tells its time alone.
    fn text(&mut self, elapsed: Duration, per_mille: u32) -> Option<String> {
        if per_mille < self.last {
            self.step += 1;
        }
        self.last = per_mille;
        if elapsed < PATIENCE {
            return None;
        }
        let (verb, step, seconds) = (self.verb, self.step, elapsed.as_secs());
        Some(match (per_mille, step) {
            (0, 1) => format!("{verb}: {seconds} s"),
            _ => format!("{verb}: step {step}, {} %, {seconds} s", per_mille / 10),
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nothing_is_said_within_a_second_and_then_step_share_and_time() {
        let mut line = Line::new("solve");
        assert_eq!(line.text(Duration::from_millis(999), 400), None);
        let at = |line: &mut Line, s, per_mille| line.text(Duration::from_secs(s), per_mille);
        assert_eq!(at(&mut line, 1, 990).as_deref(), Some("solve: step 1, 99 %, 1 s"));
        assert_eq!(at(&mut line, 2, 0).as_deref(), Some("solve: step 2, 0 %, 2 s"));
        assert_eq!(at(&mut line, 3, 455).as_deref(), Some("solve: step 2, 45 %, 3 s"));
        assert_eq!(at(&mut Line::new("export"), 5, 0).as_deref(), Some("export: 5 s"));
    }
}
