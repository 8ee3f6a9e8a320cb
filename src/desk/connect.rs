//! Connecting a live source and putting it away again.
use std::time::SystemTime;

use crate::session::About;
use crate::source::{self, Address, Plan, Recorder, Wishes};

use super::feed::{Feed, Live, RateMeter, Warned};
use super::parts::{BY_ITSELF, Parts};
use super::recording::{self, Keep};
use super::{Desk, Weight};

/// Why a source could not be connected; the words say what to do.
pub type ConnectError = crate::link::LinkError;

impl Desk {
    /// Connects to a source as `wishes` say and records it where `keep` says. A port that another
    /// program holds is tried again for a while.
    ///
    /// # Errors
    /// The source or a named file cannot be opened; the desk is then as it was, but that the same
    /// port, had it been open, is closed.
    pub fn connect(
        &mut self,
        address: &Address,
        wishes: &Wishes,
        keep: Keep<'_>,
    ) -> Result<(), ConnectError> {
        match self.try_connect(address, wishes, keep) {
            Err(ConnectError::Busy(why)) => {
                self.wait_for_port(address, wishes, keep, &why);
                Ok(())
            }
            done => {
                self.busy = None;
                done
            }
        }
    }

    /// Connects, or says why not now.
    pub(super) fn try_connect(
        &mut self,
        address: &Address,
        wishes: &Wishes,
        keep: Keep<'_>,
    ) -> Result<(), ConnectError> {
        // The port that is open now may be the one that is asked for, with other settings.
        let same = matches!(&self.feed, Feed::Live(live) if live.address.same_device(address));
        if same {
            self.disconnect();
        }
        let opened = source::open(address, wishes)?;
        let rig = opened.rig.clone().or_else(|| self.rig_in_waiting());
        let clockless = opened.clockless;
        let about = About { created: now_text(), notes: String::new(), rig, clockless };
        let (file, unkept) = recording::begin(keep, address, &about, opened.dialect.as_ref())?;
        let (disk, recording) = file.unzip();
        let mut intake = opened.intake(None);
        let said = opened.said();
        intake.keep_lines(true);
        let wake = self.wake.clone();
        let plan = Plan {
            link: opened.link,
            reopen: opened.reopen,
            intake,
            file: disk,
            wake: Box::new(move || wake()),
        };
        let recorder = Recorder::start(plan)
            .map_err(|e| ConnectError::Refused(format!("no thread for the recorder: {e}")))?;
        self.disconnect();
        self.clear(about);
        self.hand = opened.hand;
        self.feed = Feed::Live(Box::new(Live {
            address: address.clone(),
            recorder,
            parts: recording.is_some().then(|| Parts::new(BY_ITSELF)),
            recording,
            rate: RateMeter::new(),
            warned: Warned::default(),
        }));
        if let Some(why) = unkept {
            self.notify(Weight::Refused, why);
        }
        said.into_iter().for_each(|words| self.notify(Weight::Note, words));
        Ok(())
    }

    /// Lets the source go and closes the session file; what came stays.
    pub fn disconnect(&mut self) {
        self.busy = None;
        self.handed_over = false;
        let Feed::Live(live) = std::mem::replace(&mut self.feed, Feed::Nothing) else { return };
        self.hand = None;
        let (recording, mut recorder) = (live.recording, live.recorder);
        recorder.stop();
        for delivery in recorder.drain() {
            self.take_delivery(&delivery);
        }
        if let Some(recording) = recording {
            let path = recording.path().to_owned();
            self.notify(Weight::Done, format!("Recorded into {}", path.display()));
            self.feed = Feed::File { path, damage: Vec::new() };
        }
    }
}

/// The present time as text, to the second.
pub(super) fn now_text() -> String {
    humantime::format_rfc3339_seconds(SystemTime::now()).to_string()
}
