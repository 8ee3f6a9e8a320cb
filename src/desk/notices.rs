//! Notices: what a person must know, each with what to do, until it is put away.
use std::collections::VecDeque;
use std::time::{Duration, Instant};

/// Notices kept; the oldest go first.
const KEPT: usize = 50;

/// How long it is said that something was done as asked; everything else stays until put away.
pub const DONE_STANDS: Duration = Duration::from_secs(12);

/// How much a notice matters.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Weight {
    /// Done as asked.
    Done,
    /// Worth knowing.
    Note,
    /// Something could not be done.
    Refused,
}

/// One notice.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Notice {
    /// Number by which it is put away.
    pub id: u64,
    /// How much it matters.
    pub weight: Weight,
    /// What happened, where, and what to do next; one sentence or two.
    pub text: String,
    /// When it came.
    pub since: Instant,
}

/// The notices of a desk, newest last.
#[derive(Debug, Default)]
pub struct Notices {
    list: VecDeque<Notice>,
    next: u64,
}

impl Notices {
    /// Adds one. The same text again replaces the earlier one.
    pub fn add(&mut self, weight: Weight, text: impl Into<String>) {
        let text = text.into();
        self.list.retain(|n| n.text != text);
        if self.list.len() == KEPT {
            self.list.pop_front();
        }
        self.list.push_back(Notice { id: self.next, weight, text, since: Instant::now() });
        self.next += 1;
    }

    /// Those not put away, oldest first.
    pub fn list(&self) -> impl DoubleEndedIterator<Item = &Notice> {
        self.list.iter()
    }

    /// Takes away what was done as asked and has been said long enough.
    pub fn expire(&mut self) {
        self.list.retain(|n| n.weight != Weight::Done || n.since.elapsed() < DONE_STANDS);
    }

    /// Puts one away.
    pub fn put_away(&mut self, id: u64) {
        self.list.retain(|n| n.id != id);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_same_words_stand_once_and_can_be_put_away() {
        let mut notices = Notices::default();
        notices.add(Weight::Note, "the link went away");
        notices.add(Weight::Done, "saved");
        notices.add(Weight::Note, "the link went away");
        let texts: Vec<&str> = notices.list().map(|n| n.text.as_str()).collect();
        assert_eq!(texts, ["saved", "the link went away"]);
        let id = notices.list().next().expect("one").id;
        notices.put_away(id);
        assert_eq!(notices.list().count(), 1);
    }
}
