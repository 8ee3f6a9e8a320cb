//! `capture`: record a board's output into a session file.
use std::path::Path;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};

use super::args::CaptureWords;
use super::voice::{beneath, error, rewrite};
use super::{Failure, Outcome, Voice, files, printable, width};
use crate::desk::Naming;
use crate::desk::capture::{CaptureCount, CaptureOrder, CaptureSays, Unread, capture};
use crate::emit::Page;
use crate::link::serial::LIKELY_BAUDS;
use crate::source::{Address, LinkState, Pace, Wishes};
use crate::wire::Account;

pub(super) fn run(words: CaptureWords, voice: Voice) -> Result<Outcome, Failure> {
    let from: Address = words.from.parse().map_err(wrong)?;
    if let Some(seconds) = words.seconds
        && !(seconds > 0.0 && seconds <= 1e7)
    {
        return Err(Failure::Word(format!(
            "--seconds {seconds}: say how long to record, more than 0"
        )));
    }
    let order = CaptureOrder {
        from,
        out: words.out.clone(),
        wishes: Wishes {
            dtr: words.dtr.into(),
            rts: words.rts.into(),
            pace: words.pace.as_deref().map_or(Ok(Pace::default()), str::parse).map_err(wrong)?,
            ..Wishes::default()
        },
        seconds: words.seconds,
        rig: files::rig(words.rig.as_deref())?,
        dialect: files::dialect(words.dialect.as_deref())?,
        send: words.send,
        roll_call: words.roll_call,
    };
    let stop = stop_on_interrupt()?;
    let calling = words.roll_call;
    let live = voice.is_watched() && !calling;
    let captured = capture(order, &stop, &mut |says| match says {
        CaptureSays::Prompt(prompt) => {
            let line = format!("{}  ({})", prompt.title, prompt.detail);
            eprintln!("{}", printable(line.trim_end_matches("  ()")));
        }
        CaptureSays::Count(count) if live => rewrite(&in_words(count)),
        CaptureSays::Count(_) => {}
    })?;
    let count = captured.count;
    if live {
        rewrite("");
    }
    voice.summary(&format!("{}: {}\n", words.out.display(), in_words(&count)))?;
    if count.baud_suspect {
        odd_rate(voice);
    }
    unread(captured.unread.as_ref(), &words.out, voice);
    if !calling {
        return Ok(Outcome::Clean);
    }
    match &captured.naming {
        Some(naming) => {
            voice.summary(&called_words(naming, &words.out))?;
            let whole = naming.silent.is_empty() && naming.doubtful.is_empty();
            Ok(if whole { Outcome::Clean } else { Outcome::Short })
        }
        None => {
            error("the roll-call was not heard to its end; record again");
            Ok(Outcome::Short)
        }
    }
}

/// Which rates a port that reads no text may be tried at.
fn odd_rate(voice: Voice) {
    let rates: Vec<String> = LIKELY_BAUDS.iter().map(u32::to_string).collect();
    voice.note(&format!(
        "the bytes look like another rate or an inverted level; try {}",
        rates.join(", ")
    ));
}

/// Lines came and no frame was among them: why, and the first of them.
fn unread(unread: Option<&Unread>, out: &Path, voice: Voice) {
    let Some(unread) = unread.filter(|_| !voice.quiet) else { return };
    let why = unread.reason.as_deref().unwrap_or("no line fits the dialect");
    voice.note(&format!("{}: recorded, and not one frame was read: {why}", out.display()));
    unread.account.iter().flat_map(Account::lines).for_each(|line| beneath(&line));
}

/// What the roll-call found, and how to make files of it.
fn called_words(naming: &Naming, out: &Path) -> String {
    let mut page = Page::new(width());
    page.line(&printable(&naming.summary()));
    for change in &naming.changes {
        page.wrapped("  ", &printable(change));
    }
    let mut text = page.into_text();
    if !naming.changes.is_empty() {
        text += &format!(
            "To take these names: trimbench solve {} --as-called --dialect-out board.dialect.ron \
             --rig-out board.rig.ron\n",
            out.display()
        );
    }
    text
}

/// A word that says nothing to this verb.
fn wrong(error: impl std::error::Error) -> Failure {
    Failure::Word(error.to_string())
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
