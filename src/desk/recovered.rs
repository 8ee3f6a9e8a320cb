//! What a crash left: recordings that nobody ended, listed at the next start with their damage.
//!
//! While a recording is written a small file stands beside it, `.NAME.recording`, which a clean end takes
//! away. The recording itself is locked, so that one that still goes on is not taken for one that was left.
use std::fs::{File, TryLockError};
use std::path::{Path, PathBuf};

use crate::session::file::{Overrides, open};
use crate::work::{Job, Polled, Watch};

use super::origin::harm;
use super::{Desk, Weight};

/// Recordings that are listed one by one.
const LISTED: usize = 20;

/// The file that says that a recording goes on.
pub(super) fn sign_of(recording: &Path) -> Option<PathBuf> {
    let name = recording.file_name()?.to_string_lossy().into_owned();
    Some(recording.with_file_name(format!(".{name}.recording")))
}

/// Says that a recording goes on. Where it cannot be said, nothing is listed after a crash.
pub(super) fn put_sign(recording: &Path) {
    if let Some(sign) = sign_of(recording) {
        // The recording does not depend on it.
        let _ = std::fs::write(sign, b"");
    }
}

/// The recording has ended cleanly.
pub(super) fn take_sign(recording: &Path) {
    if let Some(sign) = sign_of(recording) {
        // As for putting it.
        let _ = std::fs::remove_file(sign);
    }
}

/// Lists what was left in a folder, one line each, and forgets it: the recordings stay.
pub fn recovered(folder: &Path) -> Vec<String> {
    let Ok(entries) = std::fs::read_dir(folder) else { return Vec::new() };
    let mut left: Vec<PathBuf> = entries
        .filter_map(|entry| {
            let name = entry.ok()?.file_name().into_string().ok()?;
            let name = name.strip_prefix('.')?.strip_suffix(".recording")?;
            Some(folder.join(name)).filter(|path| !is_going_on(path))
        })
        .collect();
    left.sort();
    left.iter().for_each(|path| take_sign(path));
    let more = left.len().saturating_sub(LISTED);
    left.truncate(LISTED);
    let mut lines: Vec<String> =
        left.iter().filter(|path| path.exists()).map(|path| in_words(path)).collect();
    if more > 0 {
        lines.push(format!("{}: {more} more recordings were not ended", folder.display()));
    }
    lines
}

/// Whoever writes a recording holds a lock on it.
fn is_going_on(recording: &Path) -> bool {
    let Ok(file) = File::open(recording) else { return false };
    matches!(file.try_lock_shared(), Err(TryLockError::WouldBlock))
}

fn in_words(path: &Path) -> String {
    let file = path.display();
    match open(path, &Overrides::default(), &Watch::unwatched(), &mut |_| ()) {
        Ok(opened) => {
            let damage: Vec<String> =
                opened.damage.iter().take(3).map(|d| harm(d).to_string()).collect();
            let damage = match damage.len() {
                0 => "nothing in it is damaged".to_owned(),
                _ => damage.join("; "),
            };
            format!(
                "{file}: recovered, it was not ended (a crash?): {} frames; {damage}",
                opened.session.rows()
            )
        }
        Err(why) => format!("{file}: it was not ended (a crash?) and gives no frames: {why}"),
    }
}

/// Looks on a thread of its own.
pub(super) type Looking = Option<Job<Vec<String>>>;

impl Desk {
    /// Looks in a folder of recordings for those that a crash has left; notices say what was found.
    pub fn look_for_recovered(&mut self, folder: &Path) {
        let (folder, wake) = (folder.to_owned(), self.wake.clone());
        // Without a thread nothing is listed now, and all of it at the next start.
        self.recovering =
            Job::start("recovered", move || wake(), move |_| Ok(recovered(&folder))).ok();
    }

    pub(super) fn poll_recovered(&mut self) {
        let Some(looking) = &mut self.recovering else { return };
        let found = match looking.poll() {
            Polled::Running => return,
            Polled::Done(found) => found,
            Polled::Over => Vec::new(),
        };
        self.recovering = None;
        for line in found {
            self.notify(Weight::Note, line);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::session::About;
    use crate::session::file::Writer;

    #[test]
    fn what_nobody_ended_is_listed_once_with_its_damage() {
        let folder = tempfile::tempdir().expect("a folder");
        let path = folder.path().join("a.session");
        let mut writer = Writer::new(Vec::new(), &About::default(), None).expect("a head");
        for n in 0..2_000_u64 {
            let frame = format!("{n},{},512,510,3FF\n", n * 4_000);
            writer.append(n * 4_000, frame.as_bytes()).expect("written");
        }
        let mut bytes = writer.finish().expect("whole");
        bytes.truncate(bytes.len() - 30);
        std::fs::write(&path, bytes).expect("written");
        put_sign(&path);
        put_sign(&folder.path().join("gone.session"));
        let held = File::open(&path).expect("opened");
        held.try_lock().expect("locked");
        assert!(recovered(folder.path()).is_empty(), "it goes on");
        drop(held);
        let found = recovered(folder.path());
        assert_eq!(found.len(), 1, "{found:?}");
        assert!(found[0].contains("1999 frames") && found[0].contains("line "), "{found:?}");
        assert!(recovered(folder.path()).is_empty(), "listed once");
    }
}
