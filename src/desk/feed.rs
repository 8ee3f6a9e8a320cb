//! What the desk's session comes from: nothing, a live link with its recorder, or a file.
use std::path::PathBuf;
use std::sync::atomic::Ordering;
use std::time::{Duration, Instant};

use crate::session::file::Damage;
use crate::source::{Address, LinkState, Recorder};

use super::parts::Parts;
use super::recording::Recording;

/// Where the session comes from.
pub(super) enum Feed {
    /// Nothing is connected and nothing is open.
    Nothing,
    /// A recorder owns a link.
    Live(Box<Live>),
    /// A file was read.
    File {
        /// Which.
        path: PathBuf,
        /// What was wrong with it.
        damage: Vec<Damage>,
    },
}

/// A live link.
pub(super) struct Live {
    pub(super) address: Address,
    pub(super) recorder: Recorder,
    /// The session file that is being written.
    pub(super) recording: Option<Recording>,
    /// The parts before it, where the recording was begun by itself.
    pub(super) parts: Option<Parts>,
    pub(super) rate: RateMeter,
    pub(super) warned: Warned,
}

/// What has been said of this link already.
#[derive(Default)]
pub(super) struct Warned {
    pub(super) baud: bool,
}

/// Frames a second over the last second or so.
#[derive(Debug)]
pub(super) struct RateMeter {
    since: Instant,
    frames: u64,
    rate_hz: f64,
}

impl RateMeter {
    pub(super) fn new() -> RateMeter {
        RateMeter { since: Instant::now(), frames: 0, rate_hz: 0.0 }
    }

    /// Takes the running total of frames; a new figure once a second.
    pub(super) fn take(&mut self, frames: u64) {
        let elapsed = self.since.elapsed();
        if elapsed >= Duration::from_secs(1) {
            self.rate_hz = (frames.saturating_sub(self.frames)) as f64 / elapsed.as_secs_f64();
            self.since = Instant::now();
            self.frames = frames;
        }
    }
}

/// What feeds the desk, in words.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum FeedKind {
    /// Nothing.
    Nothing,
    /// The virtual board.
    Virtual,
    /// A serial port.
    Serial,
    /// A recording played as if live.
    Played,
    /// A file that was read whole.
    File,
}

/// The link as the link bar shows it.
#[derive(Clone, Debug, PartialEq)]
pub struct LinkView {
    /// What feeds us.
    pub kind: FeedKind,
    /// Name for a person: `serial ttyACM0`, `virtual healthy`, the file's name.
    pub name: String,
    /// Live, waiting for the other end, or ended; `None` for a file or nothing.
    pub state: Option<LinkState>,
    /// Frames a second as they come (live), else `None`.
    pub rate_hz: Option<f64>,
    /// Frames taken in.
    pub frames: u64,
    /// Frames lost, by the counter or the clock; `None` = cannot be known.
    pub lost: Option<u64>,
    /// Lines damaged on the way.
    pub malformed: u64,
    /// 99th percentile of the interval, ms, over the newest frames.
    pub interval_p99_ms: Option<f64>,
    /// Rows that wait in the recorder.
    pub waiting: u64,
    /// What was connected.
    pub address: Option<Address>,
    /// The bytes look like another symbol rate or an inverted level.
    pub odd_rate: bool,
    /// The session file being written.
    pub recording: Option<PathBuf>,
    /// How long it has been recording.
    pub recorded: Duration,
    /// Bytes in the session file.
    pub recorded_bytes: u64,
}

impl Feed {
    /// The parts of the link view that the feed knows by itself.
    pub(super) fn view(&self) -> LinkView {
        let mut view = LinkView {
            kind: FeedKind::Nothing,
            name: "nothing connected".to_owned(),
            state: None,
            rate_hz: None,
            frames: 0,
            lost: None,
            malformed: 0,
            interval_p99_ms: None,
            waiting: 0,
            address: None,
            odd_rate: false,
            recording: None,
            recorded: Duration::ZERO,
            recorded_bytes: 0,
        };
        match self {
            Feed::Nothing => {}
            Feed::File { path, .. } => {
                view.kind = FeedKind::File;
                view.name = file_name(path);
            }
            Feed::Live(live) => {
                let counters = live.recorder.counters();
                view.state = Some(counters.state());
                view.rate_hz = Some(live.rate.rate_hz);
                view.waiting = counters.waiting.load(Ordering::Relaxed);
                view.address = Some(live.address.clone());
                view.odd_rate = counters.baud_suspect.load(Ordering::Relaxed);
                if let Some(recording) = &live.recording {
                    view.recording = Some(recording.path().to_owned());
                    view.recorded = recording.elapsed();
                    view.recorded_bytes = recording.bytes();
                }
                (view.kind, view.name) = match &live.address {
                    Address::Serial { path, .. } => {
                        (FeedKind::Serial, format!("serial {}", file_name(path.as_ref())))
                    }
                    Address::Virtual { scenario } => {
                        (FeedKind::Virtual, format!("virtual {scenario}"))
                    }
                    Address::File { path } => (FeedKind::Played, file_name(path)),
                };
            }
        }
        view
    }
}

/// The last part of a path, as text.
pub(super) fn file_name(path: &std::path::Path) -> String {
    path.file_name().unwrap_or(path.as_os_str()).to_string_lossy().into_owned()
}
