//! Fresh data only: readings that the constants were fitted to are known by their content.
use std::collections::HashSet;

use super::windows::{self, Window};
use crate::session::{Session, Tracks};
use crate::trim::{Fitted, Trim};

/// Bits of change that a stretch is charged for being compared with so many others: up to 2¹⁶.
const CHARGE: f64 = 16.0;
/// Bits of change in shared stretches from which no chance explains them.
const EVIDENCE: f64 = 64.0;

/// Time that shared stretches last at least, µs: a second of shared readings holds whole ones over 0.21 s or
/// more, in 600 000 drawn places.
const SPAN_US: u64 = 200_000;

/// The session holds readings that the constants were fitted to.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error(
    "{how} the readings that the constants were fitted to, they prove nothing; record the flashed \
     board anew"
)]
pub struct NotFresh {
    /// Where, and how it was known.
    pub how: String,
}

/// What a record knows its session by.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum KnownBy {
    /// The readings themselves: any second of them is known again.
    Readings,
    /// Its date alone: the record is of format 1, or of no session.
    Date,
}

impl KnownBy {
    /// Of a record.
    pub fn of(trim: &Trim) -> KnownBy {
        if trim.fitted_to.is_empty() { KnownBy::Date } else { KnownBy::Readings }
    }

    /// Machine word: `readings`, `date`.
    pub fn key(self) -> &'static str {
        match self {
            KnownBy::Readings => "readings",
            KnownBy::Date => "date",
        }
    }
}

/// What a session is known by. Stretches without enough change to be told from others are left out.
pub fn fingerprint(tracks: &Tracks) -> Fitted {
    let reach = windows::reach(tracks);
    let all = windows::windows(tracks, reach);
    let telling = all.iter().filter(|window| window.bits > CHARGE);
    Fitted::new(reach, telling.map(|window| (window.print, window.start)))
}

/// Errors: [`NotFresh`].
pub(super) fn ensure(session: &Session, tracks: &Tracks, trim: &Trim) -> Result<(), NotFresh> {
    if let Some((from_us, to_us)) = shared(tracks, &trim.fitted_to) {
        let begun = tracks.t_us.first().copied().unwrap_or(0);
        let at = |t_us: u64| t_us.saturating_sub(begun) as f64 * 1e-6;
        let how = format!("{:.2} s to {:.2} s of it are among", at(from_us), at(to_us));
        return Err(NotFresh { how });
    }
    let created = session.about.created.as_str();
    if trim.fitted_to.is_empty() && !created.is_empty() && created == trim.session_date {
        return Err(NotFresh { how: format!("by their date, {created}, these are") });
    }
    Ok(())
}

/// Stretches in a row that both have.
struct Run {
    /// Rows from the first to behind the last.
    rows: (usize, usize),
    /// The same with what stands still before and behind them.
    wide: (usize, usize),
    bits: f64,
}

impl Run {
    fn tells(&self, tracks: &Tracks) -> bool {
        let lasted_us = time(tracks, self.wide.1).saturating_sub(time(tracks, self.wide.0));
        self.bits >= EVIDENCE && lasted_us >= SPAN_US
    }
}

/// Time of a row, or of the last.
fn time(tracks: &Tracks, row: usize) -> u64 {
    tracks.t_us.get(row).or(tracks.t_us.last()).copied().unwrap_or(0)
}

/// The first run of stretches that both have, with change enough that no chance explains it: its times.
///
/// What both have within a second of a start says nothing: boards start alike.
fn shared(tracks: &Tracks, fitted: &Fitted) -> Option<(u64, u64)> {
    if fitted.is_empty() {
        return None;
    }
    let starts: HashSet<u64> = fitted.starts.iter().copied().collect();
    let others: HashSet<u64> = fitted.others.iter().copied().collect();
    let known = |window: &Window| {
        others.contains(&window.print) || !window.start && starts.contains(&window.print)
    };
    let (mut run, mut still): (Option<Run>, Option<usize>) = (None, None);
    for window in windows::windows(tracks, fitted.reach) {
        let (first, end) = window.rows;
        let charged = window.bits - CHARGE;
        if charged <= 0.0 {
            // Too little to know it by. Where nothing moves it belongs to what stands beside it.
            match &mut run {
                Some(run) => run.wide.1 = end,
                None if window.bits > 0.0 => still = None,
                None => still = still.or(Some(first)),
            }
            continue;
        }
        match run {
            Some(ref run) if !known(&window) && run.tells(tracks) => break,
            _ if !known(&window) => (run, still) = (None, None),
            None => {
                let wide = (still.take().unwrap_or(first), end);
                run = Some(Run { rows: window.rows, wide, bits: charged });
            }
            Some(ref mut run) => {
                (run.rows.1, run.wide.1) = (end, end);
                run.bits += charged;
            }
        }
    }
    let run = run.filter(|run| run.tells(tracks))?;
    Some((time(tracks, run.rows.0), time(tracks, run.rows.1)))
}
