//! Episodes of contacts from changes that carry their own time, finer than the frames.
use super::episode::{Episode, transfer_of};
use super::{ContactLog, settle_us};

/// One change of the whole mask with its own time.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct TimedMask {
    /// When the new mask was first seen, µs.
    pub t_us: u64,
    /// Time since the look before, which still saw the old mask, µs.
    pub span_us: u32,
    /// Bit k set while contact k reads closed, from here on.
    pub mask: u32,
    /// What the mask did before this is not known.
    pub begins: bool,
}

/// One change of one contact.
#[derive(Clone, Copy, Debug)]
struct Change {
    t_us: u64,
    closed: bool,
}

/// Follows every contact through a log of masks, in time order.
///
/// `rows_us` are the times of the frames, so that an episode also knows the rows that show it. One
/// log for each of the first `count` (at most 32) contacts, `None` for one that the log never saw
/// change. The sampling interval T of a log is the longest time between the two looks round any of
/// its changes; bounce is bounded by it as by the frames' interval. An episode next to a place where
/// lines are missing is cut. Cost: one pass a contact, and a search a change.
pub fn timed_logs(masks: &[TimedMask], rows_us: &[u64], count: usize) -> Vec<Option<ContactLog>> {
    (0..count.min(32)).map(|bit| timed_log(masks, rows_us, bit)).collect()
}

fn timed_log(masks: &[TimedMask], rows_us: &[u64], bit: usize) -> Option<ContactLog> {
    let (first, end_us) = (masks.first()?, *rows_us.last()?);
    let closed = |m: &TimedMask| m.mask >> bit & 1 == 1;
    let mut changes = Vec::new();
    let mut breaks = Vec::new();
    let mut period_us = 0;
    for pair in masks.windows(2) {
        if pair[1].begins {
            breaks.push(pair[1].t_us);
        } else if closed(&pair[0]) != closed(&pair[1]) {
            changes.push(Change { t_us: pair[1].t_us, closed: closed(&pair[1]) });
            period_us = period_us.max(pair[1].span_us);
        }
    }
    if changes.is_empty() {
        return None;
    }
    let settle = settle_us(f64::from(period_us));
    let apart = |a: &Change, b: &Change| {
        let broken = breaks.partition_point(|t| *t <= a.t_us);
        b.t_us - a.t_us >= settle || breaks.get(broken).is_some_and(|t| *t <= b.t_us)
    };
    let cut = |e: &Episode| {
        let from = e.first_us.saturating_sub(settle);
        let near = breaks.partition_point(|t| *t < from);
        breaks.get(near).is_some_and(|t| *t <= e.last_us + settle)
    };
    let mut episodes: Vec<Episode> =
        changes.chunk_by(|a, b| !apart(a, b)).map(|part| episode(part, rows_us)).collect();
    episodes.iter_mut().for_each(|e| e.cut = cut(e));
    Some(ContactLog {
        episodes,
        blips: Vec::new(),
        period_us: f64::from(period_us),
        span_us: (first.t_us.min(end_us), end_us),
        rows: rows_us.len(),
        held_rows: held_rows(&changes, closed(first), rows_us),
        starts_closed: closed(first),
        timed: true,
    })
}

fn episode(changes: &[Change], rows_us: &[u64]) -> Episode {
    let (first, last) = (changes[0], changes[changes.len() - 1]);
    let row = |t_us: u64| rows_us.partition_point(|row| *row < t_us).min(rows_us.len() - 1);
    let wrong = |pair: &[Change]| match pair[0].closed == first.closed {
        true => 0,
        false => pair[1].t_us - pair[0].t_us,
    };
    Episode {
        transfer: transfer_of(first.closed, last.closed),
        first_row: row(first.t_us),
        last_row: row(last.t_us),
        first_us: first.t_us,
        last_us: last.t_us,
        edges: changes.len(),
        longest_wrong_us: changes.windows(2).map(wrong).max().unwrap_or(0),
        cut: false,
    }
}

/// Rows in which the contact reads closed by the changes.
fn held_rows(changes: &[Change], starts_closed: bool, rows_us: &[u64]) -> usize {
    let row = |t_us: u64| rows_us.partition_point(|row| *row < t_us);
    let mut held = if starts_closed { changes.first().map_or(0, |c| row(c.t_us)) } else { 0 };
    for (k, change) in changes.iter().enumerate().filter(|(_, c)| c.closed) {
        let end = changes.get(k + 1).map_or(rows_us.len(), |next| row(next.t_us));
        held += end.saturating_sub(row(change.t_us));
    }
    held
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::measure::contact::{Transfer, figures};

    /// 4 ms frames over 2 s.
    fn rows() -> Vec<u64> {
        (0..500).map(|k| 4000 * k).collect()
    }

    fn masks(changes: &[(u64, u32)]) -> Vec<TimedMask> {
        let begin = TimedMask { t_us: 0, span_us: 0, mask: 0, begins: true };
        let rest = changes.iter().map(|&(t_us, mask)| TimedMask {
            t_us,
            span_us: 250,
            mask,
            begins: false,
        });
        [begin].into_iter().chain(rest).collect()
    }

    #[test]
    fn bounce_far_below_the_frames_is_measured_to_the_look() {
        // Closed at 100.25 ms, open, closed for good 1.5 ms later; opened with one pulse of 0.5 ms.
        let log = masks(&[
            (100_250, 1),
            (100_750, 0),
            (101_750, 1),
            (300_000, 0),
            (300_250, 1),
            (300_500, 0),
        ]);
        let logs = timed_logs(&log, &rows(), 2);
        assert!(logs[1].is_none(), "the second contact never changed");
        let log = logs[0].as_ref().expect("it changed");
        let f = figures(log);
        assert_eq!((f.presses, f.releases, f.press.edges_max), (1, 1, Ok(3)));
        assert_eq!(f.press.typical_ms.expect("one").value, 1.5);
        assert_eq!(f.press.longest_wrong_ms.expect("one").value, 1.0);
        let bound = f.press.bound_ms.expect("one");
        assert_eq!((bound.low, bound.value), (1.5, 1.5 + 9.0 * 0.25));
        assert_eq!(f.release.typical_ms.expect("one").value, 0.5);
        assert_eq!(f.window_ms.expect("one").value, 5.0);
        assert_eq!(log.held_rows, 75 - 26);
    }

    #[test]
    fn a_press_between_two_frames_counts_and_a_double_of_one_row_too() {
        let log = masks(&[(100_250, 1), (101_000, 0), (150_000, 1), (152_000, 0)]);
        let logs = timed_logs(&log, &rows(), 1);
        let log = logs[0].as_ref().expect("it changed");
        assert_eq!(log.count(Transfer::Closure), 2, "{:?}", log.episodes);
        let log = masks(&[(100_000, 1), (200_000, 0), (240_000, 1), (243_000, 0)]);
        let logs = timed_logs(&log, &rows(), 1);
        assert_eq!(logs[0].as_ref().expect("it changed").doubles().len(), 1);
    }

    #[test]
    fn an_episode_next_to_missing_lines_is_cut() {
        let mut log = masks(&[(100_000, 1), (101_000, 0), (103_000, 1), (300_000, 0)]);
        log[2].begins = true;
        let logs = timed_logs(&log, &rows(), 1);
        let log = logs[0].as_ref().expect("it changed");
        assert!(log.whole(Transfer::Press).next().is_none(), "{:?}", log.episodes);
        assert_eq!(log.whole(Transfer::Release).count(), 1);
    }
}
