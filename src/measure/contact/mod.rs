//! Contacts of buttons: episodes of bounce, doubles, dropouts, sampling limit, proposed windows.
//!
//! A bounce episode starts at the first change and ends when the settle time, max(10 ms, 2T),
//! passes without another; its figure is first to last change as sampled at the interval T. Where
//! the pulses last at least T the true bounce lies between figure − T and figure + 2T; shorter pulses
//! are seen with probability width/T only ([`seen_probability`]), so that 0 means "nothing seen".
//! Terms: contact bounce and its measurement from first change to stable, EIA-448 method 15; edges
//! and windows, J. Ganssle, "A Guide to Debouncing" (2004).
mod debounce;
mod edges;
mod episode;
mod figures;
mod timed;

pub use debounce::{Debounce, debounced};
pub use episode::{ContactLog, Episode, Transfer};
pub use figures::{BounceFigures, ContactFigures, figures};
pub use timed::{TimedMask, timed_logs};

/// Shortest settle time, µs.
pub const SETTLE_MIN_US: u64 = 10_000;

/// A closure that begins this soon after a release episode ended is a double, µs.
pub const DOUBLE_US: u64 = 80_000;

/// The least that a finger needs to lift and close a contact again, µs: ten taps a second (physiology, from
/// memory) leave half of each for it.
pub const OPEN_LEAST_US: u64 = 50_000;

/// The shortest that a finger closes a contact, µs (common practice).
pub const PRESS_LEAST_US: u64 = 30_000;

/// Frames farther apart than this do not tell a closure of a released contact from a tap, µs: a row seen
/// closed may have been two of them long, and quick taps last 40 ms and more (physiology, from memory).
pub const CLOSURE_US: f64 = 20_000.0;

/// Shortest debounce window proposed, ms (common practice).
pub const WINDOW_MIN_MS: f64 = 5.0;

/// One change of a contact as sampled.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Edge {
    /// First row that shows the new level.
    pub row: usize,
    /// True: the contact reads closed from here on.
    pub closed: bool,
}

/// Time without a change after which a contact counts as settled: max(10 ms, 2T), µs.
///
/// `period_us` is the sampling interval T, µs; a non-finite or negative one counts as 0.
pub fn settle_us(period_us: f64) -> u64 {
    // `as` saturates and turns NaN into 0.
    SETTLE_MIN_US.max((2.0 * period_us) as u64)
}

/// Probability that a pulse of the given width is seen at all when sampled every `period_us`.
///
/// w/T, at most 1; both in µs, `period_us` > 0. At 250 Hz (T = 4 000 µs) a pulse of 500 µs is seen
/// 12.5 % of the time. Assumes that pulse and sampling are not locked to each other.
pub fn seen_probability(width_us: f64, period_us: f64) -> f64 {
    (width_us / period_us).clamp(0.0, 1.0)
}

/// Follows every contact of a mask column: changes, damage taken out, episodes.
///
/// `masks[i]`: bit k set while contact k reads closed, at `t_us[i]` (unwrapped, never decreasing;
/// the shorter column decides). `period_us` is the usual sampling interval. One log for each of the
/// first `count` contacts. Cost: one pass over the column plus work in proportion to the changes.
pub fn logs(masks: &[u32], t_us: &[u64], count: usize, period_us: f64) -> Vec<ContactLog> {
    let rows = masks.len().min(t_us.len());
    let (masks, t_us) = (&masks[..rows], &t_us[..rows]);
    let settle = settle_us(period_us);
    let mut lists = edges::changes(masks, t_us, count, settle);
    let blips = edges::take_blips(&mut lists, rows, settle);
    let first = masks.first().copied().unwrap_or(0);
    lists
        .iter()
        .zip(blips)
        .enumerate()
        .map(|(bit, (list, blips))| {
            let starts_closed = rows > 0 && first >> bit & 1 == 1;
            ContactLog { blips, ..ContactLog::of_changes(list, t_us, period_us, starts_closed) }
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn settle_time_follows_slow_sampling() {
        assert_eq!(settle_us(1_000.0), 10_000);
        assert_eq!(settle_us(4_000.0), 10_000);
        assert_eq!(settle_us(8_000.0), 16_000);
        assert_eq!(settle_us(f64::NAN), 10_000);
    }

    #[test]
    fn seen_probability_is_width_over_interval() {
        assert_eq!(seen_probability(500.0, 4_000.0), 0.125);
        assert_eq!(seen_probability(500.0, 1_000.0), 0.5);
        assert_eq!(seen_probability(9_000.0, 4_000.0), 1.0);
    }

    #[test]
    fn a_line_held_closed_throughout_is_stuck_and_an_idle_one_is_not() {
        let t_us: Vec<u64> = (0..100).map(|i| i * 4000).collect();
        let logs = logs(&[0b01; 100], &t_us, 2, 4000.0);
        assert!(logs[0].stuck() && !logs[1].stuck());
        assert!(figures(&logs[0]).press.typical_ms.is_err());
    }
}
