//! From changes to episodes: presses, releases, short closures and dropouts of one contact.
use super::edges::{Change, held_rows};
use super::{DOUBLE_US, Edge, OPEN_LEAST_US, PRESS_LEAST_US, settle_us};

/// What an episode did to the contact.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Transfer {
    /// Open before, closed after.
    Press,
    /// Closed before, open after.
    Release,
    /// Open before and after.
    Closure,
    /// Closed before and after.
    Dropout,
}

/// Changes that follow each other within the settle time.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Episode {
    /// What it did.
    pub transfer: Transfer,
    /// Row of the first change.
    pub first_row: usize,
    /// Row of the last change.
    pub last_row: usize,
    /// Time of the first change as sampled, µs.
    pub first_us: u64,
    /// Time of the last change as sampled, µs.
    pub last_us: u64,
    /// Number of changes.
    pub edges: usize,
    /// Longest stretch, after the first change, at the level that it was leaving, µs as sampled.
    pub longest_wrong_us: u64,
    /// A gap in time longer than the settle time lies right before or after it: its start or end
    /// was not seen.
    pub cut: bool,
}

impl Episode {
    /// First to last change as sampled, µs.
    pub fn bounce_us(&self) -> u64 {
        self.last_us - self.first_us
    }
}

/// Everything that one contact did.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct ContactLog {
    /// Episodes in time order.
    pub episodes: Vec<Episode>,
    /// Rows of one-row changes taken for damage on the line.
    pub blips: Vec<usize>,
    /// Usual sampling interval, µs.
    pub period_us: f64,
    /// First and last row's time, µs.
    pub span_us: (u64, u64),
    /// Number of rows.
    pub rows: usize,
    /// Rows that read closed.
    pub held_rows: usize,
    /// Level of the first row.
    pub starts_closed: bool,
    /// The changes carry their own time: an interval apart, whatever the frames are.
    pub timed: bool,
}

impl ContactLog {
    /// Gathers the changes of one contact into episodes.
    ///
    /// `edges` in row order, levels alternating, rows inside `t_us`; `starts_closed` is the level
    /// of the first row. Cost: linear in the number of changes.
    pub fn of(edges: &[Edge], t_us: &[u64], period_us: f64, starts_closed: bool) -> ContactLog {
        let settle = settle_us(period_us);
        let change = |e: &Edge| Change::at(e.row, e.closed, t_us, settle);
        let changes: Vec<Change> = edges.iter().map(change).collect();
        ContactLog::of_changes(&changes, t_us, period_us, starts_closed)
    }

    /// The same of changes that know their times.
    pub(super) fn of_changes(
        changes: &[Change],
        t_us: &[u64],
        period_us: f64,
        starts_closed: bool,
    ) -> ContactLog {
        let settle = settle_us(period_us);
        let parts = || changes.chunk_by(|a, b| b.t_us - a.t_us < settle);
        // Counted first: the list is laid out once.
        let mut episodes = Vec::with_capacity(parts().count());
        episodes.extend(parts().map(episode));
        let rows = t_us.len();
        let held =
            if changes.is_empty() && starts_closed { rows } else { held_rows(changes, rows) };
        ContactLog {
            episodes,
            blips: Vec::new(),
            period_us,
            span_us: (t_us.first().copied().unwrap_or(0), t_us.last().copied().unwrap_or(0)),
            rows,
            held_rows: held,
            starts_closed,
            timed: false,
        }
    }

    /// The line never changed and reads closed.
    pub fn stuck(&self) -> bool {
        self.rows > 0 && self.starts_closed && self.episodes.is_empty()
    }

    /// Episodes of one kind whose start and end were seen.
    pub fn whole(&self, transfer: Transfer) -> impl Iterator<Item = &Episode> {
        self.episodes.iter().filter(move |e| e.transfer == transfer && !e.cut)
    }

    /// Episodes of one kind, those cut by a gap too.
    pub fn count(&self, transfer: Transfer) -> usize {
        self.episodes.iter().filter(|e| e.transfer == transfer).count()
    }

    /// Closures that begin within 80 ms after a release episode ended: rows of their first change.
    ///
    /// A closure of one row only is damage more often than a contact and is not counted, unless the
    /// changes carry their own time.
    pub fn doubles(&self) -> Vec<usize> {
        let closes = |e: &Episode| match e.transfer {
            Transfer::Press => true,
            Transfer::Closure => self.timed || e.last_row > e.first_row + 1,
            Transfer::Release | Transfer::Dropout => false,
        };
        let soon = |k: &usize| {
            let pair = &self.episodes[*k..*k + 2];
            pair[0].transfer == Transfer::Release
                && closes(&pair[1])
                && !pair[1].cut
                && pair[1].first_us - pair[0].last_us <= DOUBLE_US
                && !self.opens_while_held(*k)
        };
        let pairs = 0..self.episodes.len().saturating_sub(1);
        pairs.filter(soon).map(|k| self.episodes[k + 1].first_row).collect()
    }

    /// Openings that no finger made: shorter than 50 ms, with the contact closed for 30 ms or more before and
    /// after.
    ///
    /// A finger taps at most some ten times a second (physiology, from memory), so that it needs 50 ms to lift
    /// and come back; what rebounds under a finger that lets go closes for less than a press lasts. Times as
    /// sampled, a look taken off each in favour of the finger.
    pub fn held_openings(&self) -> usize {
        (0..self.episodes.len().saturating_sub(1)).filter(|&k| self.opens_while_held(k)).count()
    }

    /// True when the release episode `k` and the press after it are such an opening.
    fn opens_while_held(&self, k: usize) -> bool {
        let [open, close] = &self.episodes[k..k + 2] else { return false };
        let (look, all) = (self.period_us as u64, &self.episodes);
        let before = k.checked_sub(1).map_or(self.span_us.0, |k| all[k].last_us);
        let after = all.get(k + 2).map_or(self.span_us.1, |next| next.first_us);
        let held = |from: u64, to: u64| to.saturating_sub(from) >= PRESS_LEAST_US + look;
        open.transfer == Transfer::Release
            && close.transfer == Transfer::Press
            && !open.cut
            && !close.cut
            && close.first_us - open.last_us + look <= OPEN_LEAST_US
            && held(before, open.first_us)
            && held(close.last_us, after)
    }
}

/// What an episode did, by the levels after its first and its last change.
pub(super) fn transfer_of(first: bool, last: bool) -> Transfer {
    match (first, last) {
        (true, true) => Transfer::Press,
        (false, false) => Transfer::Release,
        (true, false) => Transfer::Closure,
        (false, true) => Transfer::Dropout,
    }
}

/// One episode from its changes (at least one).
fn episode(changes: &[Change]) -> Episode {
    let (first, last) = (changes[0], changes[changes.len() - 1]);
    let wrong = |pair: &[Change]| match pair[0].closed == first.closed {
        true => 0,
        false => pair[1].t_us - pair[0].t_us,
    };
    Episode {
        transfer: transfer_of(first.closed, last.closed),
        first_row: first.row,
        last_row: last.row,
        first_us: first.t_us,
        last_us: last.t_us,
        edges: changes.len(),
        longest_wrong_us: changes.windows(2).map(wrong).max().unwrap_or(0),
        cut: first.by_gap || last.by_gap,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// 1 ms sampling; levels as text, one character a row.
    fn log_of(levels: &str) -> ContactLog {
        let closed: Vec<bool> = levels.chars().map(|c| c == '#').collect();
        let t_us: Vec<u64> = (0..closed.len() as u64).map(|i| i * 1000).collect();
        let edges: Vec<Edge> = (1..closed.len())
            .filter(|&i| closed[i] != closed[i - 1])
            .map(|row| Edge { row, closed: closed[row] })
            .collect();
        ContactLog::of(&edges, &t_us, 1000.0, closed[0])
    }

    fn dots(n: usize) -> String {
        ".".repeat(n)
    }

    fn marks(n: usize) -> String {
        "#".repeat(n)
    }

    #[test]
    fn a_bouncing_press_and_a_clean_release() {
        let log = log_of(&format!("{}#..#.{}{}", dots(20), marks(40), dots(30)));
        assert_eq!(log.episodes.len(), 2);
        let press = log.episodes[0];
        assert_eq!((press.transfer, press.edges, press.bounce_us()), (Transfer::Press, 5, 5000));
        assert_eq!(press.longest_wrong_us, 2000);
        assert_eq!(log.episodes[1].bounce_us(), 0);
        assert_eq!(log.held_rows, 42);
    }

    #[test]
    fn ten_milliseconds_without_a_change_end_an_episode() {
        let near = log_of(&format!("{}#{}{}", dots(20), dots(9), marks(40)));
        assert_eq!(near.episodes.len(), 1);
        let far = log_of(&format!("{}##########{}{}", dots(20), dots(10), marks(40)));
        assert_eq!(far.episodes.len(), 3);
    }

    #[test]
    fn a_second_closure_within_80_ms_is_a_double() {
        let press = |gap| {
            log_of(&format!("{}{}{}{}{}", dots(20), marks(50), dots(gap), marks(20), dots(99)))
        };
        assert_eq!(press(80).doubles(), [150]);
        assert!(press(81).doubles().is_empty());
    }

    #[test]
    fn an_opening_that_no_finger_makes_is_no_double() {
        let press = |gap, after| {
            log_of(&format!("{}{}{}{}{}", dots(20), marks(90), dots(gap), marks(after), dots(99)))
        };
        // Held on for as long as a press lasts: the contact opened. Closed for a moment: it rebounded.
        assert_eq!((press(35, 60).doubles().len(), press(35, 60).held_openings()), (0, 1));
        assert_eq!((press(35, 20).doubles().len(), press(35, 20).held_openings()), (1, 0));
        assert_eq!((press(60, 60).doubles().len(), press(60, 60).held_openings()), (1, 0));
    }

    #[test]
    fn openings_shorter_than_the_settle_time_are_dropouts() {
        let log = log_of(&format!("{}{}...{}{}", dots(20), marks(50), marks(50), dots(20)));
        assert_eq!(log.count(Transfer::Dropout), 1);
        assert_eq!(log.count(Transfer::Press), 1);
        assert!(log.doubles().is_empty());
    }

    #[test]
    fn a_change_across_a_gap_is_counted_but_not_measured() {
        let t_us = [0, 1000, 2000, 300_000, 301_000, 302_000];
        let log = ContactLog::of(&[Edge { row: 3, closed: true }], &t_us, 1000.0, false);
        assert_eq!(log.count(Transfer::Press), 1);
        assert_eq!(log.whole(Transfer::Press).count(), 0);
    }
}
