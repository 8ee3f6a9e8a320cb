//! Connecting a live source and putting it away again.
use std::path::{Path, PathBuf};
use std::time::{Instant, SystemTime};

use crate::session::file::Writer;
use crate::session::{About, Intake};
use crate::source::{self, Address, DiskWriter, Plan, Recorder, Wishes};
use crate::wire::Dialect;

use super::feed::{Feed, Live, RateMeter, Warned};
use super::{Desk, Weight};

/// Why a source could not be connected; the words say what to do.
pub type ConnectError = crate::link::LinkError;

impl Desk {
    /// Connects to a source and records it into `file`, where one is given.
    ///
    /// # Errors
    /// The source or the file cannot be opened; the desk is then as it was.
    pub fn connect(&mut self, address: &Address, file: Option<&Path>) -> Result<(), ConnectError> {
        let opened = source::open(address, &Wishes::default())?;
        let about = About { created: now_text(), notes: String::new(), rig: opened.rig.clone() };
        let path: Option<PathBuf> = file.map(Path::to_owned);
        let disk = path
            .as_deref()
            .map(|path| create(path, &about, opened.dialect.as_ref()))
            .transpose()?;
        let mut intake = Intake::new(opened.dialect);
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
        self.clear(about);
        if let Some(rig) = opened.rig {
            self.rig = rig;
        }
        self.hand = opened.hand;
        self.feed = Feed::Live(Live {
            address: address.clone(),
            recorder,
            path,
            begun: Instant::now(),
            rate: RateMeter::new(),
            warned: Warned::default(),
        });
        Ok(())
    }

    /// Lets the source go; what came stays.
    pub fn disconnect(&mut self) {
        let Feed::Live(live) = std::mem::replace(&mut self.feed, Feed::Nothing) else { return };
        self.hand = None;
        let (path, mut recorder) = (live.path, live.recorder);
        recorder.stop();
        for delivery in recorder.drain() {
            self.take_delivery(&delivery);
        }
        if let Some(path) = path {
            self.notify(Weight::Done, format!("Recorded into {}", path.display()));
            self.feed = Feed::File { path, damage: Vec::new() };
        }
    }
}

/// Creates a session file with its header.
pub(super) fn create(
    path: &Path,
    about: &About,
    dialect: Option<&Dialect>,
) -> Result<DiskWriter, ConnectError> {
    let refuse = |e: std::io::Error| {
        ConnectError::Refused(format!(
            "{}: cannot be written ({e}); choose another place",
            path.display()
        ))
    };
    let file = std::fs::File::create(path).map_err(refuse)?;
    let out: Box<dyn std::io::Write + Send> = Box::new(std::io::BufWriter::new(file));
    Writer::new(out, about, dialect).map_err(refuse)
}

/// The present time as text, to the second.
pub(super) fn now_text() -> String {
    humantime::format_rfc3339_seconds(SystemTime::now()).to_string()
}
