//! `capture`: record a board's output into a session file.
use std::path::Path;
use std::time::Duration;

use super::args::CaptureWords;
use super::names::Names;
use super::signals::{hand_over_on_signal, stop_on_interrupt};
use super::voice::{beneath, error, rewrite, say};
use super::{Failure, Outcome, Voice, files, printable, width};
use crate::desk::Naming;
use crate::desk::capture::{
    CaptureCount, CaptureHears, CaptureOrder, CaptureSays, Captured, Unread, capture,
};
use crate::desk::output::{folder_of, is_standard, numbered};
use crate::desk::recovered;
use crate::emit::Page;
use crate::link::serial::LIKELY_BAUDS;
use crate::source::{Address, LinkState, Pace, Wishes};
use crate::trim::damaged_places;
use crate::wire::Account;

pub(super) fn run(words: CaptureWords, voice: Voice) -> Result<Outcome, Failure> {
    let (order, silent) = order(&words)?;
    let (out, port) = (order.out.clone(), matches!(order.from, Address::Serial { .. }));
    let (stop, hand_over) = (stop_on_interrupt()?, hand_over_on_signal()?);
    let hears = CaptureHears { stop: &stop, hand_over: &hand_over };
    let calling = words.roll_call;
    if !is_standard(&out) {
        recovered(folder_of(&out)).iter().for_each(|line| voice.note(line));
    }
    let live = voice.is_watched() && !calling;
    let captured = capture(order, hears, &mut |says| match says {
        CaptureSays::Prompt(prompt) => {
            let line = format!("{}  ({})", prompt.title, prompt.detail);
            say(line.trim_end_matches("  ()"));
        }
        CaptureSays::Trouble(words) => error(words),
        CaptureSays::Link(words) => voice.note(words),
        CaptureSays::Count(count) if live => rewrite(&in_words(count)),
        CaptureSays::Count(_) => {}
    })?;
    let count = captured.count;
    if live {
        rewrite("");
    }
    if !silent {
        voice.summary(&format!("{}: {}\n", out.display(), in_words(&count)))?;
    }
    if count.baud_suspect {
        odd_rate(voice);
    }
    unread(captured.unread.as_ref(), &out, voice);
    let whole = tell_missing(&captured, &out, port);
    if !calling {
        return Ok(whole);
    }
    match &captured.naming {
        Some(naming) => {
            voice.summary(&called_words(naming, &out))?;
            let called = naming.silent.is_empty() && naming.doubtful.is_empty();
            Ok(if called { whole } else { Outcome::Short })
        }
        None => {
            error("the roll-call was not heard to its end; record again");
            Ok(Outcome::Short)
        }
    }
}

/// What is to be recorded; and whether it goes to standard output, where nothing else is then said.
fn order(words: &CaptureWords) -> Result<(CaptureOrder, bool), Failure> {
    let from: Address = words.from.parse().map_err(wrong)?;
    if let Some(seconds) = words.seconds
        && !(seconds > 0.0 && seconds <= 1e7)
    {
        return Err(Failure::Word(format!(
            "--seconds {seconds}: say how long to record, more than 0"
        )));
    }
    if let Some(minutes) = words.keep
        && !(minutes > 0.0 && minutes <= 1e5)
    {
        return Err(Failure::Word(format!("--keep {minutes}: say how many minutes, more than 0")));
    }
    let source = match &from {
        Address::File { path } => Some(path.clone()),
        Address::Serial { .. } | Address::Virtual { .. } => None,
    };
    let names = Names::default()
        .reads("--from", source.as_deref())
        .reads("--rig", words.rig.as_deref())
        .reads("--dialect", words.dialect.as_deref())
        .writes("--out", Some(&words.out));
    let silent = names.check_apart()?;
    let out = if words.number { numbered(&words.out) } else { words.out.clone() };
    let order = CaptureOrder {
        from,
        out,
        wishes: Wishes {
            dtr: words.dtr.into(),
            rts: words.rts.into(),
            pace: words.pace.as_deref().map_or(Ok(Pace::default()), str::parse).map_err(wrong)?,
            ..Wishes::default()
        },
        seconds: words.seconds,
        rig: files::rig(words.rig.as_deref())?,
        dialect: files::dialect(words.dialect.as_deref())?,
        send: words.send.clone(),
        roll_call: words.roll_call,
        keep: words.keep.map(|minutes| Duration::from_secs_f64(60.0 * minutes)),
    };
    Ok((order, silent))
}

/// Says what did not come or did not reach the disk.
fn tell_missing(captured: &Captured, out: &Path, port: bool) -> Outcome {
    if captured.missing > 0 {
        error(&format!(
            "{}: the last word: {} of {} bytes are not in the file",
            out.display(),
            captured.missing,
            captured.count.bytes
        ));
        return Outcome::Short;
    }
    if let (places @ 1.., lines) = captured.damaged {
        error(&format!(
            "the recording that was played has {}; {lines} lines are left out",
            damaged_places(places, "")
        ));
        return Outcome::Short;
    }
    if port && captured.count.bytes == 0 {
        error(
            "nothing came from the port: does the board print on this one, is its rate right, does \
             it wait for data terminal ready (--dtr on), is the wire from its TX in our RX?",
        );
        return Outcome::Short;
    }
    Outcome::Clean
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

fn in_words(count: &CaptureCount) -> String {
    let state = match count.state {
        LinkState::Waiting => ", waiting for the board to come back",
        LinkState::HandedOver => ", handed over",
        LinkState::Live | LinkState::Ended => "",
    };
    // A banner, or what the firmware answered to a program that had looked at the port.
    let first = match count.before_first {
        0 => String::new(),
        n => format!(" ({n} before the first frame)"),
    };
    format!(
        "{:.1} s, {} frames, {} lines refused{first}, {} bytes{state}",
        count.elapsed.as_secs_f64(),
        count.frames,
        count.refused,
        count.bytes
    )
}
