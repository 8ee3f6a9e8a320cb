//! Opening a file off the caller's thread, with what has been read so far on the way.
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

use crossbeam_channel::{Receiver, bounded};

use crate::session::file::{self, FileError, Opened, Overrides};
use crate::session::{About, Session};
use crate::trim::damaged_places;
use crate::wire::Account;
use crate::work::{Cancelled, Job, Polled};

use super::feed::{Feed, file_name};
use super::{Desk, Weight};

/// A file on its way in.
pub(super) struct Opening {
    path: PathBuf,
    job: Job<Result<Opened, FileError>>,
    partial: Receiver<Session>,
    begun: Instant,
    /// A person put a parts list in force meanwhile: it goes before the file's own.
    pub(super) rig_given: bool,
}

impl Opening {
    /// The file's name.
    pub(super) fn name(&self) -> String {
        file_name(&self.path)
    }

    /// How long it has been read.
    pub(super) fn elapsed(&self) -> Duration {
        self.begun.elapsed()
    }

    /// Share read so far.
    pub(super) fn per_mille(&self) -> u32 {
        self.job.per_mille()
    }
}

impl Desk {
    /// Opens a session file or a plain log; what has been read so far is shown on the way.
    pub fn open(&mut self, path: &Path) {
        let (send, partial) = bounded(1);
        let (path, wake, wake_at_end) = (path.to_owned(), self.wake.clone(), self.wake.clone());
        let file = path.clone();
        let started = Job::start(
            "opening",
            move || wake_at_end(),
            move |watch| {
                let mut show = |session: &Session| {
                    // A front that has not yet drawn the last one misses nothing but a redraw.
                    if send.try_send(session.clone()).is_ok() {
                        wake();
                    }
                };
                match file::open(&file, &Overrides::default(), watch, &mut show) {
                    Err(FileError::Cancelled) => Err(Cancelled),
                    done => Ok(done),
                }
            },
        );
        match started {
            Ok(job) => {
                self.clear(About::default());
                let (begun, rig_given) = (Instant::now(), false);
                self.opening = Some(Opening { path, job, partial, begun, rig_given });
            }
            Err(e) => self.notify(Weight::Refused, format!("{}: {e}", path.display())),
        }
    }

    /// Stops opening a file; what has been read so far stays.
    pub fn stop_opening(&mut self) {
        let Some(mut opening) = self.opening.take() else { return };
        let path = std::mem::take(&mut opening.path);
        drop(opening);
        let rows = self.session.rows();
        let text = format!(
            "{}: reading was stopped; {rows} frames stand here, open it again for the rest",
            path.display()
        );
        self.notify(Weight::Note, text);
        if rows > 0 {
            self.feed = Feed::File { path, damage: Vec::new() };
        }
    }

    pub(super) fn poll_opening(&mut self) {
        let Some(opening) = &mut self.opening else { return };
        if let Ok(session) = opening.partial.try_recv() {
            self.session = session;
        }
        match opening.job.poll() {
            Polled::Running => {}
            Polled::Over => self.opening = None,
            Polled::Done(Err(error)) => {
                self.opening = None;
                self.clear(About::default());
                let first = error.account().and_then(Account::words);
                let first =
                    first.map_or(String::new(), |words| format!(" (first refused: {words})"));
                self.notify(Weight::Refused, format!("{error}{first}"));
            }
            Polled::Done(Ok(Opened { session, damage, last, .. })) => {
                let path = std::mem::take(&mut opening.path);
                let rig_given = opening.rig_given;
                self.opening = None;
                if let (Some(rig), false) = (&session.about.rig, rig_given) {
                    self.rig = rig.clone();
                }
                self.session = session;
                last.iter().for_each(|chunk| self.lines.take(chunk));
                if !damage.is_empty() {
                    let lost: u64 = damage.iter().map(|d| d.rows).sum();
                    let text = format!(
                        "{}: {}, {lost} rows lost; the sheet says where",
                        path.display(),
                        damaged_places(damage.len() as u64, "")
                    );
                    self.notify(Weight::Note, text);
                }
                self.feed = Feed::File { path, damage };
                // A file is looked at from its end, and played from its beginning on request.
                self.transport.following = true;
                self.take_kept_edits();
            }
        }
    }
}
