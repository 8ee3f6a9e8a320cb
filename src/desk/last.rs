//! The last minutes of a live link kept as a recording of their own, in the window.
use std::path::PathBuf;
use std::time::Duration;

use crate::session::About;
use crate::session::file::write_last;
use crate::work::{Job, Polled};

use super::connect::now_text;
use super::feed::Feed;
use super::output::{numbered, write_new};
use super::{Desk, Weight};

/// How much is kept.
pub const LAST: Duration = Duration::from_secs(300);

/// The work under way; what it says in the end.
pub(super) type KeepingLast = Option<Job<Result<String, String>>>;

impl Desk {
    /// Writes the last five minutes of the recording under way into a file of their own beside it.
    pub fn keep_last(&mut self) {
        let dialect = self.dialect_in_force();
        let about = About { created: now_text(), rig: Some(self.rig.clone()), ..About::default() };
        let Feed::Live(live) = &self.feed else {
            return self.notify(Weight::Refused, "Nothing to keep: connect a board first");
        };
        let Some(recording) = &live.recording else {
            let text = "Nothing to keep: the link is not recorded; record it (Ctrl+R) first";
            return self.notify(Weight::Refused, text);
        };
        let before = live.parts.iter().flat_map(|parts| parts.paths());
        let parts: Vec<PathBuf> =
            before.chain([recording.path()]).map(std::path::Path::to_owned).collect();
        let stem = recording.path().file_stem().unwrap_or_default().to_string_lossy().into_owned();
        let out = numbered(&recording.path().with_file_name(format!("{stem}-last.session")));
        let work = move || {
            let mut held = Duration::ZERO;
            let fill = |file: &mut dyn std::io::Write| {
                held = write_last(&parts, LAST, &about, dialect.as_ref(), file)?;
                Ok(())
            };
            write_new(&out, fill).map_err(|e| e.to_string())?;
            Ok(format!("Kept the last {:.0} s as {}", held.as_secs_f64(), out.display()))
        };
        let wake = self.wake.clone();
        match Job::start("keep", move || wake(), move |_| Ok(work())) {
            Ok(job) => self.keeping_last = Some(job),
            Err(e) => self.notify(Weight::Refused, format!("no thread to keep them: {e}")),
        }
    }

    pub(super) fn poll_last(&mut self) {
        let Some(job) = &mut self.keeping_last else { return };
        match job.poll() {
            Polled::Running => return,
            Polled::Done(Ok(text)) => self.notify(Weight::Done, text),
            Polled::Done(Err(why)) => self.notify(Weight::Refused, why),
            Polled::Over => {}
        }
        self.keeping_last = None;
    }
}
