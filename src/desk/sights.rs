//! What a person jumps to along a session: marks and findings, in the order of time.
use super::Desk;

/// What is jumped to.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Sight {
    /// Marks: prompts of the guided run and those set by hand.
    Mark,
    /// Findings that say where in the session they come from.
    Finding,
}

/// A place this near to the play head is where it stands already, µs.
const HERE_US: u64 = 1_000;

impl Desk {
    /// The times of all of them, µs from the first row, ascending.
    pub fn sights(&self, what: Sight) -> Vec<u64> {
        let mut times: Vec<u64> = match what {
            Sight::Mark => {
                let marks = self.session.marks().iter();
                marks.map(|m| self.timebase.time_us(self.session.row_of(m))).collect()
            }
            Sight::Finding => {
                let Some(results) = self.results() else { return Vec::new() };
                let first_us = results.tracks.t_us.first().copied().unwrap_or(0);
                let spans = results.findings.iter().filter_map(|f| f.span);
                spans.map(|span| span.start_us.saturating_sub(first_us)).collect()
            }
        };
        times.sort_unstable();
        times.dedup();
        times
    }

    /// The next one behind the play head, or the last one before it.
    pub fn sight_from_here(&self, what: Sight, forward: bool) -> Option<u64> {
        let times = self.sights(what);
        let at_us = self.transport.at_us;
        match forward {
            true => times.into_iter().find(|t| *t > at_us.saturating_add(HERE_US)),
            false => times.into_iter().rev().find(|t| t.saturating_add(HERE_US) < at_us),
        }
    }

    /// Goes there and stays; says when there is none on that side.
    pub fn jump(&mut self, what: Sight, forward: bool) {
        match self.sight_from_here(what, forward) {
            Some(at_us) => {
                self.transport.playing = false;
                self.transport.seek(at_us);
            }
            None => {
                let name = if what == Sight::Mark { "mark" } else { "finding" };
                let side = if forward { "behind" } else { "before" };
                let text = format!("There is no {name} {side} this place");
                self.notify(super::Weight::Note, text);
            }
        }
    }
}
