//! Recording without a window: a link into a session file until somebody says stop.
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::{Duration, Instant};

use crate::guide::Prompt;
use crate::rig::{Rig, Word};
use crate::session::{About, Refusals};
use crate::source::{self, Address, Delivery, LinkState, Plan, Recorder, Wishes};
use crate::wire::command::Command;
use crate::wire::{Account, Dialect, Unrecognised};

use super::absence::{BUSY_AGAIN, BUSY_FOR, is_handed_over, told, tried_again};
use super::calling::Caller;
use super::connect::{ConnectError, now_text};
use super::kept::Kept;
use super::naming::Naming;

/// What is to be recorded.
#[derive(Clone, Debug)]
pub struct CaptureOrder {
    /// From where.
    pub from: Address,
    /// Into which file.
    pub out: PathBuf,
    /// How the source is to be opened.
    pub wishes: Wishes,
    /// For how long at most.
    pub seconds: Option<f64>,
    /// Parts list to write into the session.
    pub rig: Option<Rig>,
    /// Dialect to write into the session.
    pub dialect: Option<Dialect>,
    /// Lines to send to the board when the recording has begun.
    pub send: Vec<String>,
    /// Call the roll as soon as the lines are understood; the recording ends with it.
    pub roll_call: bool,
    /// Keep only the last stretch of this length.
    pub keep: Option<Duration>,
}

/// What a recording has to say while it goes on.
#[derive(Clone, Copy, Debug)]
pub enum CaptureSays<'a> {
    /// How it stands.
    Count(&'a CaptureCount),
    /// What the person is asked to do: new words.
    Prompt(&'a Prompt),
    /// What hinders the file, each once, with what to do; the recording goes on.
    Trouble(&'a str),
    /// What the link has done, and what to do.
    Link(&'a str),
}

/// What a recording may be told while it goes on.
#[derive(Clone, Copy, Debug)]
pub struct CaptureHears<'a> {
    /// End cleanly.
    pub stop: &'a AtomicBool,
    /// Hand the port over, or take it back; put down again when it was heard.
    pub hand_over: &'a AtomicBool,
}

/// How a recording ended.
#[derive(Clone, Debug, PartialEq)]
pub struct Captured {
    /// What came.
    pub count: CaptureCount,
    /// What the roll-call says of the fields; `None` when it was not called to its end.
    pub naming: Option<Naming>,
    /// Bytes that came and are not in the file.
    pub missing: u64,
    /// Why nothing was read, where lines came and no frame was among them.
    pub unread: Option<Unread>,
    /// Damaged places of a recording that was played, and how many of its lines they cost.
    pub damaged: (u64, u64),
}

/// Lines that came and gave no frame.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Unread {
    /// Why no form was recognised; `None` where one was given.
    pub reason: Option<String>,
    /// The first lines, and what is wrong with them.
    pub account: Option<Account>,
}

/// What a recording without a window hears of the lines.
#[derive(Default)]
struct Heard {
    dialect: Option<std::sync::Arc<Dialect>>,
    unrecognised: Option<Unrecognised>,
    refusals: Refusals,
    damaged: (u64, u64),
}

impl Heard {
    fn take(&mut self, delivery: &Delivery) {
        let chunk = &delivery.chunk;
        for (_, lines) in &chunk.breaks {
            self.damaged = (self.damaged.0 + 1, self.damaged.1 + lines);
        }
        self.dialect = chunk.dialect.clone().or(self.dialect.take());
        self.unrecognised = chunk.unrecognised.clone().or(self.unrecognised.take());
        self.refusals.merge(&chunk.refusals);
    }

    /// What is to be said where no frame came.
    fn unread(self) -> Option<Unread> {
        if let Some(dialect) = &self.dialect {
            let account = self.refusals.account(dialect)?;
            return Some(Unread { reason: None, account: Some(account) });
        }
        let reason = self.unrecognised?;
        Some(Unread { reason: Some(reason.to_string()), account: reason.account().cloned() })
    }
}

/// How a recording stands.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct CaptureCount {
    /// Since it began.
    pub elapsed: Duration,
    /// Bytes read.
    pub bytes: u64,
    /// Frames framed.
    pub frames: u64,
    /// Lines that gave no frame.
    pub refused: u64,
    /// Those of them that came before the first frame and were never meant as one.
    pub before_first: u64,
    /// What the link is doing.
    pub state: LinkState,
    /// The bytes look like another symbol rate than the port's.
    pub baud_suspect: bool,
}

/// Records until the time is up, the source ends, or it is told to stop; reports twice a second. A
/// port that another program holds is tried again for a while.
///
/// # Errors
/// The source or the file cannot be opened, or the file can no longer be written.
pub fn capture(
    order: CaptureOrder,
    hears: CaptureHears<'_>,
    report: &mut dyn FnMut(CaptureSays<'_>),
) -> Result<Captured, ConnectError> {
    let opened = open(&order, hears.stop, report)?;
    opened.said().iter().for_each(|words| report(CaptureSays::Link(words)));
    let intake = opened.intake(order.dialect.clone());
    let dialect = order.dialect.or(opened.dialect);
    let (rig, clockless) = (order.rig.or(opened.rig), opened.clockless);
    let about = About { created: now_text(), notes: String::new(), rig, clockless };
    let mut caller = order.roll_call.then(|| Caller::new(about.clone(), opened.hand));
    let (file, mut kept) = Kept::begin(&order.out, order.keep, about, dialect)?;
    let plan = Plan {
        link: opened.link,
        reopen: opened.reopen,
        intake,
        file: Some(file),
        wake: Box::new(|| ()),
    };
    let recorder = Recorder::start(plan)
        .map_err(|e| ConnectError::Refused(format!("no thread for the recorder: {e}")))?;
    for text in &order.send {
        recorder.send(line_to_send(text));
    }
    let begun = Instant::now();
    let until = order.seconds.map(Duration::from_secs_f64);
    let mut reported = Instant::now();
    let mut heard = Heard::default();
    let mut hand = Handing::new(&order.from);
    loop {
        std::thread::sleep(Duration::from_millis(20));
        // Without a roll-call nobody looks at the frames here; they are on disk.
        let called = match &mut caller {
            Some(caller) => caller.look(&recorder, report),
            None => {
                recorder.drain().for_each(|delivery| heard.take(&delivery));
                false
            }
        };
        kept.look(&recorder, report);
        hand.look(&recorder, hears, report);
        let count = count(&recorder, begun);
        let over = called
            || hears.stop.load(Ordering::Relaxed)
            || count.state == LinkState::Ended
            || recorder.counters().disk_failed.load(Ordering::Relaxed)
            || until.is_some_and(|until| count.elapsed >= until);
        if over {
            break;
        }
        if reported.elapsed() >= Duration::from_millis(500) {
            reported = Instant::now();
            report(CaptureSays::Count(&count));
        }
    }
    let naming = caller.and_then(|caller| caller.naming());
    let (count, recorder) = finish(recorder, begun, &order.out)?;
    recorder.drain().for_each(|delivery| heard.take(&delivery));
    let damaged = heard.damaged;
    let unread = heard.unread().filter(|_| count.frames == 0);
    kept.news(report);
    let missing = kept.missing();
    kept.end()?;
    Ok(Captured { count, naming, missing, unread, damaged })
}

/// Opens the source; a port that another program holds is tried again for [`BUSY_FOR`].
fn open(
    order: &CaptureOrder,
    stop: &AtomicBool,
    report: &mut dyn FnMut(CaptureSays<'_>),
) -> Result<source::Source, ConnectError> {
    let begun = Instant::now();
    let mut told = false;
    loop {
        match source::open(&order.from, &order.wishes) {
            Err(ConnectError::Busy(why))
                if begun.elapsed() < BUSY_FOR && !stop.load(Ordering::Relaxed) =>
            {
                if !told {
                    report(CaptureSays::Link(&tried_again(&why)));
                    told = true;
                }
                std::thread::sleep(BUSY_AGAIN);
            }
            done => return done,
        }
    }
}

/// The port as it is handed over and comes back.
struct Handing {
    name: String,
    port: bool,
    given: bool,
}

impl Handing {
    fn new(from: &Address) -> Handing {
        let port = matches!(from, Address::Serial { .. });
        Handing { name: from.to_string(), port, given: false }
    }

    fn look(
        &mut self,
        recorder: &Recorder,
        hears: CaptureHears<'_>,
        report: &mut dyn FnMut(CaptureSays<'_>),
    ) {
        if hears.hand_over.swap(false, Ordering::Relaxed) {
            if self.port {
                recorder.hand_over();
            } else {
                report(CaptureSays::Link("only a serial port can be handed over"));
            }
        }
        for mark in recorder.news() {
            report(CaptureSays::Link(&told(&mark, &self.name, "the signal USR1 again")));
            if self.given && mark.word == Word::Back {
                report(CaptureSays::Link(PROVE));
            }
            self.given = is_handed_over(self.given, &mark.word);
        }
    }
}

/// What is offered when a board is back that may have been flashed.
const PROVE: &str = "if the board was flashed: end this recording, capture a fresh session of it, and \
    hold that against its constants with `trimbench prove SESSION --against TRIM.ron`";

/// The bytes of a line for the board: with a checksum where it is a command, else as it is.
pub(super) fn line_to_send(text: &str) -> Vec<u8> {
    Command::read(text.as_bytes()).map_or_else(|_| format!("{text}\n").into_bytes(), Command::line)
}

/// How long an end may take: a disk that hangs for some seconds is no reason to lose what it has.
const END_MOST: Duration = Duration::from_secs(10);

fn finish(
    mut recorder: Recorder,
    begun: Instant,
    out: &Path,
) -> Result<(CaptureCount, Recorder), ConnectError> {
    let ended = recorder.stop_within(END_MOST);
    let last = count(&recorder, begun);
    if !ended {
        let text = format!(
            "{}: takes nothing any more: what waited for it is lost; see what reads it, or where its \
             disk is",
            out.display()
        );
        return Err(ConnectError::Refused(text));
    }
    if recorder.counters().disk_failed.load(Ordering::Relaxed) {
        let text = format!(
            "{}: can no longer be written after {} bytes; free some space and record again",
            out.display(),
            last.bytes
        );
        return Err(ConnectError::Refused(text));
    }
    Ok((last, recorder))
}

fn count(recorder: &Recorder, begun: Instant) -> CaptureCount {
    let counters = recorder.counters();
    CaptureCount {
        elapsed: begun.elapsed(),
        bytes: counters.bytes.load(Ordering::Relaxed),
        frames: counters.frames.load(Ordering::Relaxed),
        refused: counters.refused.load(Ordering::Relaxed),
        before_first: counters.before_first.load(Ordering::Relaxed),
        state: counters.state(),
        baud_suspect: counters.baud_suspect.load(Ordering::Relaxed),
    }
}
