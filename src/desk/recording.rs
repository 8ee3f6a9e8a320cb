//! The session file of a live link: its name and place, what it holds, beginning and ending one.
use std::io::{self, Write};
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::sync::atomic::Ordering;
use std::time::{Duration, Instant, SystemTime};

use crate::rig::Rig;
use crate::session::About;
use crate::session::file::Writer;
use crate::source::{Address, DiskWriter};
use crate::wire::Dialect;

use super::connect::{ConnectError, now_text};
use super::feed::Feed;
use super::output::{Cause, OutputError};
use super::steady::{Health, Steady};
use super::{Desk, Weight};

/// Where a live link is recorded.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Keep<'a> {
    /// Nowhere.
    #[default]
    Nothing,
    /// Into a new file with a name of its own in this folder; the link does not depend on it.
    Into(&'a Path),
}

/// A session file being written.
#[derive(Debug)]
pub(super) struct Recording {
    path: PathBuf,
    health: Arc<Health>,
    begun: Instant,
}

impl Recording {
    pub(super) fn path(&self) -> &Path {
        &self.path
    }

    pub(super) fn bytes(&self) -> u64 {
        self.health.written.load(Ordering::Relaxed)
    }

    pub(super) fn elapsed(&self) -> Duration {
        self.begun.elapsed()
    }

    pub(super) fn health(&self) -> &Health {
        &self.health
    }
}

/// A recording that cannot be written there.
pub(super) fn refused(path: &Path, cause: impl Into<Cause>) -> ConnectError {
    ConnectError::Refused(OutputError::at(path, cause).to_string())
}

/// Creates a session file with its header, never over a file that is there.
pub(super) fn create(
    path: &Path,
    about: &About,
    dialect: Option<&Dialect>,
) -> Result<(DiskWriter, Recording), ConnectError> {
    let (file, health) = Steady::create(path).map_err(|e| {
        refused(
            path,
            match e.kind() {
                io::ErrorKind::AlreadyExists => Cause::There,
                _ => Cause::System(e),
            },
        )
    })?;
    let out: Box<dyn Write + Send> = Box::new(file);
    let writer = Writer::new(out, about, dialect).map_err(|e| refused(path, e))?;
    Ok((writer, Recording { path: path.to_owned(), health, begun: Instant::now() }))
}

/// Creates a session file with a name that nothing has yet, making the folder where it is missing.
pub(super) fn create_in(
    folder: &Path,
    stem: &str,
    about: &About,
    dialect: Option<&Dialect>,
) -> Result<(DiskWriter, Recording), ConnectError> {
    let refuse = |e: io::Error| {
        let words = format!("{}: no folder for sessions ({e})", folder.display());
        ConnectError::Refused(words)
    };
    std::fs::create_dir_all(folder).map_err(refuse)?;
    let mut path = folder.join(format!("{stem}.session"));
    let mut turn = 1;
    while path.exists() {
        turn += 1;
        path = folder.join(format!("{stem}-{turn}.session"));
    }
    create(&path, about, dialect)
}

/// The name of a session file: the controller or the source, then date and time in UTC.
pub(super) fn stem(address: &Address, rig: Option<&Rig>, now: SystemTime) -> String {
    let source = match address {
        Address::Virtual { scenario } => format!("virtual {scenario}"),
        Address::Serial { path, .. } => path.rsplit('/').next().unwrap_or(path).to_owned(),
        Address::File { path } => path.to_string_lossy().into_owned(),
    };
    let named = rig.map(|r| format!("{} {}", r.name, r.board_id));
    let name = match (address, named) {
        (Address::Serial { .. }, Some(name)) if !name.trim().is_empty() => name,
        _ => source,
    };
    // 2026-11-25T14:05:17Z → 20261125-140517
    let time: String = humantime::format_rfc3339_seconds(now)
        .to_string()
        .chars()
        .filter_map(|c| match c {
            'T' => Some('-'),
            c => c.is_ascii_digit().then_some(c),
        })
        .collect();
    format!("{}-{time}", plain_name(&name))
}

/// A file name made of a person's words: lower-case letters, digits, single dashes.
pub fn plain_name(words: &str) -> String {
    let clean: String = words
        .chars()
        .map(|c| if c.is_ascii_alphanumeric() { c.to_ascii_lowercase() } else { '-' })
        .collect();
    let words: Vec<&str> = clean.split('-').filter(|w| !w.is_empty()).collect();
    if words.is_empty() { "controller".to_owned() } else { words.join("-") }
}

/// A file ready to be written, if one is wanted and can be; else perhaps why not.
pub(super) type Begun = (Option<(DiskWriter, Recording)>, Option<String>);

/// Opens the file that a link is to be recorded into.
///
/// # Errors
/// A named file cannot be written.
pub(super) fn begin(
    keep: Keep<'_>,
    address: &Address,
    about: &About,
    dialect: Option<&Dialect>,
) -> Result<Begun, ConnectError> {
    match keep {
        Keep::Nothing => Ok((None, None)),
        Keep::Into(folder) => {
            let stem = stem(address, about.rig.as_ref(), SystemTime::now());
            Ok(match create_in(folder, &stem, about, dialect) {
                Ok(made) => (Some(made), None),
                Err(e) => (None, Some(not_recording(&e.to_string()))),
            })
        }
    }
}

fn not_recording(why: &str) -> String {
    format!(
        "Not recording: {why}. Choose a folder that you may write to in Link, then record again"
    )
}

impl Desk {
    /// True while a live link is written into a session file.
    pub fn is_recording(&self) -> bool {
        matches!(&self.feed, Feed::Live(live) if live.recording.is_some())
    }

    /// Records the live link into a new file in `folder`; one under way is closed first.
    pub fn record_into(&mut self, folder: &Path) {
        let dialect = self.dialect_in_force();
        let Feed::Live(live) = &mut self.feed else {
            let text = "Nothing to record: connect a board first";
            return self.notify(Weight::Refused, text);
        };
        let about = About { created: now_text(), rig: Some(self.rig.clone()), ..About::default() };
        let stem = stem(&live.address, about.rig.as_ref(), SystemTime::now());
        match create_in(folder, &stem, &about, dialect.as_ref()) {
            Ok((writer, recording)) => {
                live.recorder.record(Some(writer));
                live.recording = Some(recording);
                // Asked for by a person: all of it stays.
                live.parts = None;
            }
            Err(e) => self.notify(Weight::Refused, not_recording(&e.to_string())),
        }
    }

    /// Closes the session file; the link goes on.
    pub fn stop_recording(&mut self) {
        let Feed::Live(live) = &mut self.feed else { return };
        let Some(recording) = live.recording.take() else { return };
        live.recorder.record(None);
        let text = format!("Recorded into {}; the link goes on", recording.path().display());
        self.notify(Weight::Done, text);
    }

    /// The dialect with the roles as they are now.
    pub(super) fn dialect_in_force(&self) -> Option<Dialect> {
        let mut dialect = self.session.dialect().map(|d| Dialect::clone(d))?;
        dialect.by_order = self.session.roles_by_order();
        for (field, role) in dialect.fields.iter_mut().zip(self.session.roles()) {
            field.role = *role;
        }
        Some(dialect)
    }

    /// Says when the session file can no longer be written or is no longer there.
    pub(super) fn watch_recording(&mut self) {
        let Feed::Live(live) = &mut self.feed else { return };
        let failed = live.recorder.counters().disk_failed.load(Ordering::Relaxed);
        let Some(recording) = &live.recording else { return };
        let news: Vec<String> = recording.health().news().collect();
        let file = recording.path().display().to_string();
        let held = recording.bytes();
        if failed {
            live.recorder.record(None);
            live.recording = None;
        }
        for text in news {
            self.notify(Weight::Refused, text);
        }
        if failed {
            let text = format!(
                "{file}: can no longer be written after {held} bytes, what is in it is whole; free \
                 some space or choose another folder in Link, then record again (Ctrl+R); the link \
                 goes on"
            );
            self.notify(Weight::Refused, text);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_name_says_source_and_time() {
        let at = SystemTime::UNIX_EPOCH + Duration::from_secs(1_800_000_000);
        let address: Address = "virtual:healthy".parse().expect("an address");
        assert_eq!(stem(&address, None, at), "virtual-healthy-20270115-080000");
        let address: Address = "serial:/dev/ttyACM0@9600".parse().expect("an address");
        assert_eq!(stem(&address, None, at), "ttyacm0-20270115-080000");
        let rig = Rig { name: "Heron rig".to_owned(), board_id: "7C".to_owned(), ..Rig::default() };
        assert_eq!(stem(&address, Some(&rig), at), "heron-rig-7c-20270115-080000");
    }

    #[test]
    fn no_recording_replaces_another() {
        let folder = tempfile::tempdir().expect("a folder");
        let inner = folder.path().join("sessions");
        let about = About::default();
        let made = |()| create_in(&inner, "a", &about, None).map(|(_, r)| r.path().to_owned());
        assert_eq!(made(()).expect("made"), inner.join("a.session"));
        assert_eq!(made(()).expect("made"), inner.join("a-2.session"));
    }

    /// A disk with room for so many bytes.
    struct Filling(usize);

    impl Write for Filling {
        fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
            if bytes.len() > self.0 {
                return Err(io::ErrorKind::StorageFull.into());
            }
            self.0 -= bytes.len();
            Ok(bytes.len())
        }

        fn flush(&mut self) -> io::Result<()> {
            Ok(())
        }
    }

    #[test]
    fn a_disk_that_fills_up_ends_the_recording_and_not_the_link() {
        let folder = tempfile::tempdir().expect("a folder");
        let mut desk = Desk::new(Arc::new(|| ()));
        let address: Address = "virtual:healthy".parse().expect("an address");
        let keep = Keep::Into(folder.path());
        desk.connect(&address, &crate::source::Wishes::default(), keep).expect("connected");
        let out: Box<dyn Write + Send> = Box::new(Filling(4_000));
        let writer = Writer::new(out, &About::default(), None).expect("room for the header");
        let Feed::Live(live) = &desk.feed else { panic!("live") };
        live.recorder.record(Some(writer));
        let begun = Instant::now();
        while desk.is_recording() && begun.elapsed() < Duration::from_secs(20) {
            desk.tick();
            std::thread::sleep(Duration::from_millis(5));
        }
        assert!(!desk.is_recording());
        let said = desk.notices().list().last().expect("a notice").text.clone();
        assert!(said.contains("free some space"), "{said}");
        let rows = desk.session().rows();
        while desk.session().rows() == rows && begun.elapsed() < Duration::from_secs(20) {
            desk.tick();
        }
        assert!(desk.session().rows() > rows, "the link goes on");
        desk.record_into(folder.path());
        assert!(desk.is_recording());
    }

    #[test]
    fn a_folder_that_cannot_be_made_is_told_with_a_remedy() {
        let address: Address = "virtual:healthy".parse().expect("an address");
        let place = Path::new("/dev/null/sessions");
        let (made, why) = begin(Keep::Into(place), &address, &About::default(), None).expect("on");
        assert!(made.is_none());
        let why = why.expect("a reason");
        assert!(why.contains("/dev/null/sessions") && why.contains("Choose a folder"), "{why}");
    }
}
