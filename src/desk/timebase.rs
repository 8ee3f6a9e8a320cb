//! The time of every row while a session grows: what the window's time axis stands on.
use crate::session::{SPAN_ROWS, Session, Tracks};
use crate::wire::clock::Turn;
use crate::wire::{ClockUnit, Role};

/// An interval this many times the usual one is drawn as a gap, never bridged.
const GAP_FACTOR: f64 = 2.5;
/// A clock that leaps further than this between two rows was damaged or restarted, µs.
const LEAP_US: u64 = 60_000_000;
/// Rows taken in at once: a file read in one piece must not hold up whoever draws.
const ROWS_AT_ONCE: usize = 1 << 16;

/// Unwrapped time of each row, µs from the first, and the rows before which something is missing.
///
/// Grows with the session and looks at no row twice. Measurements use [`Tracks`], which weigh
/// damaged clocks with hindsight; once a file has been read whole its times are taken from there.
#[derive(Clone, Debug, Default)]
pub struct Timebase {
    t_us: Vec<u64>,
    /// The time of every 1 024th row.
    coarse_us: Vec<u64>,
    gaps: Vec<usize>,
    period_us: f64,
    last_clock: Option<u32>,
    last_seq: Option<u32>,
}

impl Timebase {
    /// Takes the times of a session that was read whole.
    pub fn of(tracks: &Tracks) -> Timebase {
        let first = tracks.t_us.first().copied().unwrap_or(0);
        let mut gaps: Vec<usize> = tracks.stream.gaps.iter().map(|(row, _)| *row).collect();
        gaps.extend(&tracks.stream.resets);
        let limit = (tracks.period_us * GAP_FACTOR) as u64;
        let stalls = tracks.t_us.windows(2).enumerate();
        gaps.extend(stalls.filter(|(_, w)| w[1] - w[0] > limit).map(|(i, _)| i + 1));
        gaps.sort_unstable();
        gaps.dedup();
        let t_us = tracks.t_us.iter().map(|t| t - first).collect();
        Timebase { gaps, period_us: tracks.period_us, ..Timebase::at(t_us) }
    }

    /// The times alone.
    fn at(t_us: Vec<u64>) -> Timebase {
        let coarse_us = t_us.iter().step_by(SPAN_ROWS).copied().collect();
        Timebase { t_us, coarse_us, ..Timebase::default() }
    }

    /// Follows a session that has grown, by a limited number of rows a call; where nothing tells the time
    /// rows are set `set_at_us` apart.
    pub fn follow(&mut self, session: &Session, set_at_us: f64) {
        if session.rows() < self.t_us.len() {
            *self = Timebase::default();
        }
        let first = self.t_us.len();
        let rows = first..session.rows().min(first + ROWS_AT_ONCE);
        if rows.is_empty() {
            return;
        }
        let clock = session.field_of(Role::Clock).map(|f| session.column_part(f, rows.clone()));
        let seq = session.field_of(Role::Seq).map(|f| session.column_part(f, rows.clone()));
        let host = session.host_part(rows.clone());
        let host_before = rows.start.checked_sub(1).map(|r| session.host_part(r..rows.start));
        let mut host_last = host_before.and_then(|h| h.first().copied());
        let returns = session.returns();
        let turn = session.dialect().map(|d| Turn::of(d)).unwrap_or_default();
        let millis = session.dialect().is_some_and(|d| d.clock == ClockUnit::Millis);
        for i in 0..rows.len() {
            let clock = clock.as_ref().map(|c| c[i] as u32);
            let host = host.get(i).copied();
            let back = returns.binary_search(&(rows.start + i)).is_ok();
            let step_us = match (clock, host) {
                // The board's clock says nothing of the time for which the link was away.
                (Some(clock), Some(now)) if back => {
                    self.last_clock = Some(clock);
                    host_last.map_or(0, |last| now.saturating_sub(last))
                }
                (Some(clock), _) => self.clock_step(clock, turn, if millis { 1000 } else { 1 }),
                (None, Some(now)) => host_last.map_or(0, |last| now.saturating_sub(last)),
                (None, None) => set_at_us as u64,
            };
            host_last = host;
            self.push(step_us, seq.as_ref().map(|s| s[i] as u32), clock.is_some());
        }
    }

    /// True when rows have come whose times are not known yet: follow again.
    pub fn is_behind(&self, session: &Session) -> bool {
        self.t_us.len() < session.rows()
    }

    fn clock_step(&mut self, clock: u32, turn: Turn, unit_us: u64) -> u64 {
        let ahead = |last: u32| u64::from(turn.ahead(last, clock)) * unit_us;
        let step = self.last_clock.map_or(0, ahead);
        self.last_clock = Some(clock);
        if step > LEAP_US { self.period_us as u64 } else { step }
    }

    fn push(&mut self, step_us: u64, seq: Option<u32>, clocked: bool) {
        let row = self.t_us.len();
        let t_us = self.t_us.last().map_or(0, |t| t + step_us);
        let skipped = match (self.last_seq, seq) {
            (Some(last), Some(now)) => !matches!(now.wrapping_sub(last), 0 | 1) && now > last,
            _ => false,
        };
        let stalled = clocked && row > 8 && step_us as f64 > self.period_us * GAP_FACTOR;
        if skipped || stalled {
            self.gaps.push(row);
        } else if row > 0 && step_us > 0 {
            let weight = if row < 16 { 0.5 } else { 0.02 };
            self.period_us += (step_us as f64 - self.period_us) * weight;
        }
        self.last_seq = seq;
        if row.is_multiple_of(SPAN_ROWS) {
            self.coarse_us.push(t_us);
        }
        self.t_us.push(t_us);
    }

    /// Time of a row from the first, µs; the last row's for rows not yet there.
    pub fn time_us(&self, row: usize) -> u64 {
        self.t_us.get(row).or(self.t_us.last()).copied().unwrap_or(0)
    }

    /// First row at or after a time.
    pub fn row_at(&self, t_us: u64) -> usize {
        self.t_us.partition_point(|t| *t < t_us)
    }

    /// The same, found sooner when the row lies near `guess`: cost 2·log₂ of the distance.
    pub fn row_near(&self, t_us: u64, guess: usize) -> usize {
        first_from(&self.t_us, t_us, guess)
    }

    /// The first multiple of 1 024 rows whose row is at or after a time, or all rows: it lies less
    /// than 1 024 rows behind [`Timebase::row_at`]. Cost as there, by 1 024 rows.
    pub fn entry_near(&self, t_us: u64, guess: usize) -> usize {
        let entry = first_from(&self.coarse_us, t_us, guess / SPAN_ROWS);
        (entry * SPAN_ROWS).min(self.t_us.len())
    }

    /// Time of the newest row, µs.
    pub fn end_us(&self) -> u64 {
        self.t_us.last().copied().unwrap_or(0)
    }

    /// Usual interval between rows, µs; 0 before two rows have come.
    pub fn period_us(&self) -> f64 {
        self.period_us
    }

    /// Rows before which frames are missing or time stood still, in order.
    pub fn gaps(&self) -> &[usize] {
        &self.gaps
    }

    /// The gaps within a range of rows.
    pub fn gaps_in(&self, rows: std::ops::Range<usize>) -> &[usize] {
        let from = self.gaps.partition_point(|g| *g <= rows.start);
        let to = self.gaps.partition_point(|g| *g < rows.end);
        self.gaps.get(from..to.max(from)).unwrap_or(&[])
    }
}

/// Place of the first of some ascending times that is not before `t_us`, looked for from `guess` on.
fn first_from(times: &[u64], t_us: u64, guess: usize) -> usize {
    let guess = guess.min(times.len());
    let mut step = 1;
    if times.get(guess).is_some_and(|t| *t < t_us) {
        let mut low = guess + 1;
        while times.get(low + step).is_some_and(|t| *t < t_us) {
            low += step + 1;
            step *= 2;
        }
        let part = &times[low..(low + step).min(times.len())];
        return low + part.partition_point(|t| *t < t_us);
    }
    let mut high = guess;
    while high >= step && times[high - step] >= t_us {
        high -= step;
        step *= 2;
    }
    let low = high.saturating_sub(step);
    low + times[low..high].partition_point(|t| *t < t_us)
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    proptest! {
        #[test]
        fn a_guess_changes_the_way_and_not_the_row(
            steps in prop::collection::vec(prop_oneof![Just(0_u64), 1..4_u64, 1..5_000_u64], 0..300),
            guess in 0_usize..320,
            at in 0.0..1.1_f64,
        ) {
            let mut t = 0;
            let t_us: Vec<u64> = steps.iter().map(|s| { t += s; t }).collect();
            let timebase = Timebase::at(t_us);
            let t_us = (t as f64 * at) as u64;
            prop_assert_eq!(timebase.row_near(t_us, guess), timebase.row_at(t_us));
        }

        #[test]
        fn an_entry_begins_less_than_its_rows_behind_the_row(
            seed in 1_u64..1_000,
            rows in 0_usize..9_000,
            guess in 0_usize..10_000,
            at in 0.0..1.1_f64,
        ) {
            let mut t = 0;
            let t_us: Vec<u64> = (0..rows as u64).map(|k| { t += k * seed % 7; t }).collect();
            let timebase = Timebase::at(t_us);
            let t_us = (t as f64 * at) as u64;
            let (entry, row) = (timebase.entry_near(t_us, guess), timebase.row_at(t_us));
            prop_assert!(entry == rows || entry.is_multiple_of(SPAN_ROWS));
            prop_assert!((row..row + SPAN_ROWS).contains(&entry), "{} {}", row, entry);
        }
    }
}
