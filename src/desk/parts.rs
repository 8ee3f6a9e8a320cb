//! A recording that goes on and on is written in parts, of which only the newest are kept.
use std::collections::VecDeque;
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

use super::connect::now_text;
use super::feed::Feed;
use super::keeping::edits_beside;
use super::recording::{Recording, create_in, stem};
use super::{Desk, Weight};
use crate::session::About;

/// How much of a recording is kept.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Bounds {
    /// A part that is so old or so large is ended, and the next one begun.
    pub part: (Duration, u64),
    /// What all parts together have to hold, by age and bytes: a part that is beyond it goes.
    pub whole: (Duration, u64),
}

/// Bounds of a recording that is made by itself: parts of 6 h or 256 MB, the last 24 h or 1 GB.
pub const BY_ITSELF: Bounds = Bounds {
    part: (Duration::from_secs(6 * 3600), 256 << 20),
    whole: (Duration::from_secs(24 * 3600), 1 << 30),
};

impl Bounds {
    /// For the last `span`, whatever it takes: parts of a quarter of it, ten seconds at least.
    pub fn last(span: Duration) -> Bounds {
        let part = (span / 4).max(Duration::from_secs(10));
        Bounds { part: (part, u64::MAX), whole: (span, u64::MAX) }
    }
}

/// The parts of one recording that are ended.
#[derive(Debug)]
pub(super) struct Parts {
    bounds: Bounds,
    ended: VecDeque<Part>,
}

#[derive(Debug)]
struct Part {
    path: PathBuf,
    bytes: u64,
    ended: Instant,
}

impl Parts {
    pub(super) fn new(bounds: Bounds) -> Parts {
        Parts { bounds, ended: VecDeque::new() }
    }

    /// The part under way is to be ended.
    pub(super) fn is_full(&self, now: &Recording) -> bool {
        now.elapsed() >= self.bounds.part.0 || now.bytes() >= self.bounds.part.1
    }

    /// A part has ended.
    pub(super) fn push(&mut self, part: &Recording) {
        let (path, bytes) = (part.path().to_owned(), part.bytes());
        self.ended.push_back(Part { path, bytes, ended: Instant::now() });
    }

    /// The part that was just ended goes on after all.
    pub(super) fn take_back(&mut self) {
        self.ended.pop_back();
    }

    /// Those that are ended, oldest first.
    pub(super) fn paths(&self) -> impl Iterator<Item = &Path> {
        self.ended.iter().map(|part| part.path.as_path())
    }

    /// Deletes the oldest parts that are beyond the bounds, but none that a person has worked on; gives
    /// their names.
    pub(super) fn let_go(&mut self, now: &Recording) -> Vec<PathBuf> {
        let mut gone = Vec::new();
        loop {
            let bytes: u64 = self.ended.iter().map(|part| part.bytes).sum::<u64>() + now.bytes();
            let Some(oldest) = self.ended.front() else { break };
            let old = oldest.ended.elapsed() > self.bounds.whole.0;
            if !old && bytes - oldest.bytes < self.bounds.whole.1 {
                break;
            }
            let Some(oldest) = self.ended.pop_front() else { break };
            if edits_beside(&oldest.path).is_none() && std::fs::remove_file(&oldest.path).is_ok() {
                gone.push(oldest.path);
            }
        }
        gone
    }
}

impl Desk {
    /// Goes on in a new part where a recording that is made by itself has grown large or old; a guided
    /// run is not cut.
    pub(super) fn part_recording(&mut self) {
        let (dialect, rig) = (self.dialect_in_force(), self.rig.clone());
        let about = About { created: now_text(), rig: Some(rig), ..About::default() };
        let guided = self.guided.is_some();
        let Feed::Live(live) = &mut self.feed else { return };
        let (Some(parts), Some(now)) = (&mut live.parts, &mut live.recording) else { return };
        if guided || !parts.is_full(now) {
            return;
        }
        let folder = super::output::folder_of(now.path()).to_owned();
        let stem = stem(&live.address, about.rig.as_ref(), std::time::SystemTime::now());
        let text = match create_in(&folder, &stem, &about, dialect.as_ref()) {
            Ok((writer, next)) => {
                live.recorder.record(Some(writer));
                parts.push(now);
                *now = next;
                let gone: Vec<String> =
                    parts.let_go(now).iter().map(|path| path.display().to_string()).collect();
                if gone.is_empty() {
                    return;
                }
                format!(
                    "{}: deleted, as a recording that is made by itself keeps its last 24 hours or 1 GB; \
                     what is to stay is recorded by hand (Ctrl+R)",
                    gone.join(", ")
                )
            }
            Err(why) => {
                live.parts = None;
                format!("The recording goes on in the file it has: {why}")
            }
        };
        self.notify(Weight::Note, text);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::source::{Address, Wishes};

    #[test]
    fn a_recording_in_parts_keeps_its_newest_and_what_a_person_worked_on() {
        let folder = tempfile::tempdir().expect("a folder");
        let mut desk = Desk::new(std::sync::Arc::new(|| ()));
        let address: Address = "virtual:healthy".parse().expect("an address");
        let keep = crate::desk::Keep::Into(folder.path());
        desk.connect(&address, &Wishes::default(), keep).expect("connected");
        let small = Bounds { part: (Duration::MAX, 20_000), whole: (Duration::MAX, 50_000) };
        let Feed::Live(live) = &mut desk.feed else { panic!("live") };
        assert_eq!(live.parts.as_ref().expect("made by itself").bounds, BY_ITSELF);
        live.parts = Some(Parts::new(small));
        let first = desk.path().expect("recorded").to_owned();
        std::fs::write(format!("{}.edits.ron", first.display()), "(format:1)").expect("kept");
        let begun = Instant::now();
        let turns =
            |desk: &Desk| desk.notices().list().filter(|n| n.text.contains("deleted")).count();
        while turns(&desk) < 3 && begun.elapsed() < Duration::from_secs(60) {
            desk.tick();
            std::thread::sleep(Duration::from_millis(5));
        }
        assert_eq!(turns(&desk), 3);
        assert!(first.is_file(), "a person has worked on it");
        desk.disconnect();
        let sessions = std::fs::read_dir(folder.path()).expect("listed").flatten();
        let bytes: u64 = sessions
            .map(|e| e.path())
            .filter(|p| p.extension().is_some_and(|e| e == "session") && *p != first)
            .map(|p| p.metadata().expect("there").len())
            .sum();
        assert!((30_000..90_000).contains(&bytes), "{bytes}");
    }
}
