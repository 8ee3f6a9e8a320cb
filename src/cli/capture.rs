//! `capture`: record a board's output into a session file.
use std::io::IsTerminal;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};

use super::args::CaptureWords;
use super::{Failure, Outcome, files, say};
use crate::desk::capture::{CaptureCount, CaptureOrder, capture};
use crate::link::serial::LIKELY_BAUDS;
use crate::source::{Address, LinkState, Pace, Wishes};

pub(super) fn run(words: CaptureWords) -> Result<Outcome, Failure> {
    let from: Address = words.from.parse()?;
    if let Some(seconds) = words.seconds
        && !(seconds > 0.0 && seconds <= 1e7)
    {
        return Err(Failure::Refused(format!(
            "--seconds {seconds}: say how long to record, more than 0"
        )));
    }
    let order = CaptureOrder {
        from,
        out: words.out.clone(),
        wishes: Wishes {
            dtr: words.dtr.into(),
            rts: words.rts.into(),
            pace: words.pace.as_deref().map_or(Ok(Pace::default()), str::parse)?,
            ..Wishes::default()
        },
        seconds: words.seconds,
        rig: files::rig(words.rig.as_deref())?,
        dialect: files::dialect(words.dialect.as_deref())?,
        send: words.send,
    };
    let stop = stop_on_interrupt()?;
    let live = std::io::stderr().is_terminal();
    let count = capture(order, &stop, &mut |count| {
        if live {
            eprint!("\r{}   ", in_words(count));
        }
    })?;
    if live {
        eprintln!();
    }
    say(&format!("{}: {}\n", words.out.display(), in_words(&count)))?;
    if count.baud_suspect {
        let rates: Vec<String> = LIKELY_BAUDS.iter().map(u32::to_string).collect();
        eprintln!(
            "the bytes look like another rate or an inverted level; try {}",
            rates.join(", ")
        );
    }
    Ok(Outcome::Clean)
}

/// A flag that Ctrl-C or a request to terminate sets.
pub(super) fn stop_on_interrupt() -> Result<Arc<AtomicBool>, Failure> {
    let stop = Arc::new(AtomicBool::new(false));
    let flag = Arc::clone(&stop);
    ctrlc::set_handler(move || flag.store(true, Ordering::Relaxed))?;
    Ok(stop)
}

fn in_words(count: &CaptureCount) -> String {
    let state = match count.state {
        LinkState::Waiting => ", waiting for the board to come back",
        LinkState::Live | LinkState::Ended => "",
    };
    format!(
        "{:.1} s, {} frames, {} lines refused, {} bytes{state}",
        count.elapsed.as_secs_f64(),
        count.frames,
        count.refused,
        count.bytes
    )
}
