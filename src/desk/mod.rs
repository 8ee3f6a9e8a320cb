//! The document under work and the use cases that both fronts call.
//!
//! A [`Desk`] holds one session, live or read from a file, and everything that follows from it.
//! Whoever draws calls [`Desk::tick`] before each frame, reads through the getters, and changes
//! things only through the verbs. Nothing here draws, and nothing here blocks: long work runs in
//! jobs.
pub mod output;
mod small;
mod steady;
pub mod targets;

mod absence;
pub mod analysis;
mod calling;
pub mod capture;
mod checked;
mod connect;
mod derived;
pub mod draft;
mod edits;
mod feed;
mod guided;
mod judging;
mod keeping;
mod kept;
mod last;
mod lines;
pub mod naming;
mod notices;
mod opening;
mod origin;
mod parts;
pub mod play;
mod practice;
mod recording;
mod recovered;
mod review;
mod saving;
mod sights;
pub mod proving;
pub mod solving;
pub mod trial;
pub mod walk;
mod timebase;
mod transport;

use std::path::Path;
use std::sync::Arc;
use std::sync::atomic::Ordering;
use std::time::Instant;

use crate::limits::Limits;
use crate::rig::{Mark, Rig, Word};
use crate::session::file::Damage;
use crate::session::{About, Session};
use crate::source::{Delivery, LinkState};
use crate::trim::Choices;
use crate::virtual_board::Hand;
use crate::wire::Account;

pub use absence::BUSY_FOR;
pub use analysis::Results;
pub use checked::{Checked, by_what_blocks, checked};
pub use feed::{FeedKind, LinkView};
pub use guided::Guided;
pub use judging::{Judgement, Record};
pub use keeping::edits_beside;
pub use last::LAST;
pub use lines::{Fate, KEPT_LINES, Line, RecentLines};
pub use naming::Naming;
pub use notices::{DONE_STANDS, Notice, Notices, Weight};
pub use parts::{BY_ITSELF, Bounds};
pub use practice::{Answer, NOTHING_WRONG, Practice, Score, names as practice_names};
pub use recording::{Keep, plain_name};
pub use recovered::recovered;
pub use review::{Verdict, verdicts};
pub use saving::Saved;
pub use sights::Sight;
pub use small::{SMALL_MOST, small_text};
pub use timebase::Timebase;
pub use transport::{SPEEDS, Transport};

use derived::Derived;
use edits::Edits;
use feed::Feed;
use judging::Judging;
use opening::Opening;
use practice::Practising;
use recording::Recording;

/// Wakes whoever draws, from any thread.
pub type Wake = Arc<dyn Fn() + Send + Sync>;

/// The bench: one session under work and all that follows from it.
pub struct Desk {
    rig: Rig,
    session: Session,
    timebase: Timebase,
    lines: RecentLines,
    feed: Feed,
    opening: Option<Opening>,
    hand: Option<Hand>,
    /// A port that another program holds.
    busy: Option<absence::Busy>,
    /// The port was handed over and is not back yet.
    handed_over: bool,
    recovering: recovered::Looking,
    keeping_last: last::KeepingLast,
    guided: Option<Guided>,
    derived: Derived,
    judging: Judging,
    practising: Practising,
    edits: Edits,
    choices: Choices,
    limits: Option<Limits>,
    /// Counts changes that alter results without new rows: roles, rig.
    revision: u64,
    /// Where the stations look.
    pub transport: Transport,
    notices: Notices,
    wake: Wake,
    ticked: Instant,
}

impl Desk {
    /// An empty desk.
    pub fn new(wake: Wake) -> Desk {
        Desk {
            rig: Rig::default(),
            session: Session::new(About::default()),
            timebase: Timebase::default(),
            lines: RecentLines::default(),
            feed: Feed::Nothing,
            opening: None,
            hand: None,
            busy: None,
            handed_over: false,
            recovering: None,
            keeping_last: None,
            guided: None,
            derived: Derived::default(),
            judging: Judging::default(),
            practising: Practising::default(),
            edits: Edits::default(),
            choices: Choices::default(),
            limits: None,
            revision: 0,
            transport: Transport::default(),
            notices: Notices::default(),
            wake,
            ticked: Instant::now(),
        }
    }

    /// Takes in what came since the last call. Never waits.
    pub fn tick(&mut self) {
        let elapsed_s = self.ticked.elapsed().as_secs_f64();
        self.ticked = Instant::now();
        self.notices.expire();
        self.try_busy();
        self.take_deliveries();
        self.take_link_news();
        self.watch_recording();
        self.part_recording();
        self.poll_recovered();
        self.poll_last();
        self.poll_opening();
        self.tick_practice();
        self.timebase.follow(&self.session, self.session.set_at_us(&self.rig));
        self.tick_derived();
        self.tick_judging();
        self.tick_guided();
        self.transport.advance(elapsed_s, 0, self.timebase.end_us());
    }

    /// True while something moves by itself, so that frames are worth drawing.
    pub fn is_moving(&self) -> bool {
        let live = matches!(&self.feed, Feed::Live(live)
            if live.recorder.counters().state() != LinkState::Ended);
        live || self.busy.is_some()
            || self.opening.is_some()
            || self.practice_is_coming()
            || self.transport.playing
            || self.is_catching_up()
    }

    /// True while rows that have come are still being taken in: tick again soon.
    pub fn is_catching_up(&self) -> bool {
        self.timebase.is_behind(&self.session)
    }

    /// The parts list in force.
    pub fn rig(&self) -> &Rig {
        &self.rig
    }

    /// The session under work.
    pub fn session(&self) -> &Session {
        &self.session
    }

    /// The time of each row.
    pub fn timebase(&self) -> &Timebase {
        &self.timebase
    }

    /// µs of the time axis that a row takes where nothing tells the time; `None` where something does.
    pub fn row_us(&self) -> Option<f64> {
        self.session.row_us(&self.rig)
    }

    /// The last lines as they came.
    pub fn lines(&self) -> &RecentLines {
        &self.lines
    }

    /// What must be known, with what to do.
    pub fn notices(&self) -> &Notices {
        &self.notices
    }

    /// The scripted hand of the virtual board; a real board never has one.
    pub fn hand(&self) -> Option<&Hand> {
        self.hand.as_ref()
    }

    /// Puts a notice away.
    pub fn put_away(&mut self, id: u64) {
        self.notices.put_away(id);
    }

    /// Tells the person something.
    pub fn notify(&mut self, weight: Weight, text: impl Into<String>) {
        self.notices.add(weight, text);
    }

    /// The link as the link bar shows it.
    pub fn link(&self) -> LinkView {
        let mut view = self.feed.view();
        if let Some(opening) = &self.opening {
            view.kind = FeedKind::File;
            view.name = opening.name();
        }
        if self.practice().is_some() {
            view.kind = FeedKind::File;
            view.name = "practice board".to_owned();
        }
        view.frames = self.session.rows() as u64;
        view.malformed = self.session.refusals().malformed();
        if let Some(results) = self.results() {
            view.lost = results.tracks.stream.lost;
            let p99 = results.survey.stream.interval_p99_us.as_ref();
            view.interval_p99_ms = p99.ok().map(|reading| reading.value / 1000.0);
        }
        if self.session.about.clockless {
            // The pace at which it is played is ours.
            view.rate_hz = None;
        }
        view
    }

    /// What was wrong with the file that is open.
    pub fn damage(&self) -> &[Damage] {
        match &self.feed {
            Feed::File { damage, .. } => damage,
            _ => &[],
        }
    }

    /// Share of the file read so far in per mille, while one is being opened.
    pub fn opening(&self) -> Option<u32> {
        self.opening.as_ref().map(Opening::per_mille)
    }

    /// Sends a line of text to the board; it is logged as sent. A command gets its checksum.
    pub fn send_text(&mut self, text: &str) {
        match &self.feed {
            Feed::Live(live) => live.recorder.send(capture::line_to_send(text)),
            _ => self.notify(Weight::Refused, "Nothing to send to: connect a board first"),
        }
    }

    /// Sets a mark at the present place of a live session.
    pub fn mark(&mut self, mark: impl Into<Mark>) {
        if let Feed::Live(live) = &self.feed {
            live.recorder.mark(mark.into());
        }
    }

    /// Sets a mark for the person: where a live link stands, or where a recording is looked at.
    pub fn set_mark(&mut self) {
        match &self.feed {
            Feed::Live(_) => self.mark(Word::Note),
            Feed::Nothing if self.practice().is_none() => {
                self.notify(Weight::Note, "Nothing to mark: connect a board or open a session");
            }
            Feed::File { .. } | Feed::Nothing => {
                let row = self.timebase.row_at(self.transport.at_us);
                self.mark_recording(Mark::from(Word::Note).set_at(row));
            }
        }
    }

    fn take_deliveries(&mut self) {
        let Feed::Live(live) = &mut self.feed else { return };
        let counters = live.recorder.counters();
        let frames = counters.frames.load(Ordering::Relaxed);
        let odd_rate = counters.baud_suspect.load(Ordering::Relaxed);
        let deliveries: Vec<Delivery> = live.recorder.drain().collect();
        live.rate.take(frames);
        let name = live.address.to_string();
        let baud = odd_rate && !live.warned.baud;
        live.warned.baud = odd_rate;
        if baud {
            let text = format!(
                "{name}: the bytes look like another rate or an inverted level; likely rates to \
                 try stand in Link"
            );
            self.notices.add(Weight::Note, text);
        }
        for delivery in deliveries {
            self.take_delivery(&delivery);
        }
    }

    fn take_delivery(&mut self, delivery: &Delivery) {
        self.lines.take(&delivery.chunk);
        self.session.append(&delivery.chunk);
        delivery.marks.iter().for_each(|mark| self.session.mark(mark.clone()));
        if let Some(reason) = &delivery.chunk.unrecognised {
            let first = reason.account().and_then(Account::words);
            let first = first.map_or(String::new(), |words| format!(". {words}"));
            let text = format!("The lines are not understood yet: {reason}{first}");
            self.notices.add(Weight::Note, text);
        }
    }

    /// Begins a new, empty session; the one before is closed.
    fn clear(&mut self, about: About) {
        self.feed = Feed::Nothing;
        self.opening = None;
        self.hand = None;
        self.guided = None;
        self.derived.clear();
        self.judging.clear();
        self.practising.clear();
        self.edits.clear();
        self.choices = Choices::default();
        self.limits = None;
        // The parts list belongs to the controller that was looked at, not to the next one.
        self.rig = about.rig.clone().unwrap_or_default();
        self.session = Session::new(about);
        self.timebase = Timebase::default();
        self.lines.clear();
        self.transport = Transport::default();
    }

    /// The file that is open or being written.
    pub fn path(&self) -> Option<&Path> {
        match &self.feed {
            Feed::File { path, .. } => Some(path),
            Feed::Live(live) => live.recording.as_ref().map(Recording::path),
            Feed::Nothing => None,
        }
    }
}
