//! The roll-call: the stretch in which each control was asked for, and how a channel answered.
use super::Rows;
use crate::measure::robust::{SIGMA_PER_MAD, mad, median};
use crate::rig::{Control, Word};
use crate::session::Tracks;

/// The channel's own level is taken from the first part of a stretch: a person needs longer to begin.
const BEFORE_US: u64 = 120_000;
/// Least change that counts, share of full scale.
const LEAST_SHARE: f64 = 0.15;
/// The same in noise deviations.
const LEAST_SIGMA: f64 = 8.0;
/// A channel is back when it lies within this share of its change from where it was.
const BACK: f64 = 0.3;
/// Rows of a running median: one damaged row moves nothing.
const CALM: usize = 5;

/// One control asked for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Call {
    /// Which.
    pub control: Control,
    /// From the prompt to the next mark, and as far beyond it as nobody has begun to move yet: the
    /// rows of the read that a mark followed may stand after it.
    pub rows: Rows,
}

/// The calls of a session in order; of one asked for twice the later.
pub fn calls(tracks: &Tracks) -> Vec<Call> {
    let mut calls: Vec<Call> = Vec::new();
    let mut open: Option<(Control, usize)> = None;
    for mark in &tracks.marks {
        let row = tracks.t_us.partition_point(|&t| t < mark.at.0);
        let ends = mark.word == Word::Call || mark.ends_task();
        if ends && let Some((control, first)) = open.take() {
            let end = tracks.t_us.partition_point(|&t| t < mark.at.0.saturating_add(BEFORE_US));
            keep(&mut calls, Call { control, rows: Rows { first, end } });
        }
        if let Some((control, _)) = mark.call() {
            open = Some((control, row));
        }
    }
    if let Some((control, first)) = open {
        keep(&mut calls, Call { control, rows: Rows { first, end: tracks.rows() } });
    }
    calls
}

fn keep(calls: &mut Vec<Call>, call: Call) {
    calls.retain(|c| c.control != call.control);
    calls.push(call);
}

/// How a channel answered a call.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Answer {
    /// Largest change from where it was, counts; signed.
    pub change: f64,
    /// It came back.
    pub back: bool,
    /// The change is no noise: more than 8 σ and 15 % of full scale; any lasting change of a 0/1
    /// channel.
    pub clear: bool,
}

impl Answer {
    /// Moved clearly and came back.
    pub fn counts(&self) -> bool {
        self.clear && self.back
    }
}

/// The answer of an analog channel; `full_scale` is its greatest code.
pub fn answer(codes: &[i32], t_us: &[u64], full_scale: i32) -> Answer {
    let Some((before, calm)) = calmed(codes, t_us) else { return Answer::default() };
    let level = median(&before);
    let sigma = (SIGMA_PER_MAD * mad(&before)).max(0.5);
    let away = |c: &f64| (c - level).abs();
    let Some(far) = calm.iter().copied().max_by(|a, b| away(a).total_cmp(&away(b))) else {
        return Answer::default();
    };
    let change = far - level;
    let least = (LEAST_SIGMA * sigma).max(LEAST_SHARE * f64::from(full_scale));
    let last = calm.last().copied().unwrap_or(level);
    Answer { change, back: away(&last) <= BACK * change.abs(), clear: change.abs() >= least }
}

/// The answer of a 0/1 channel: closed for two rows or more, and open again.
pub fn pressed(closed: &[bool], t_us: &[u64]) -> Answer {
    let cells: Vec<i32> = closed.iter().map(|&c| i32::from(c)).collect();
    let Some((before, _)) = calmed(&cells, t_us) else { return Answer::default() };
    let idle = median(&before) > 0.5;
    let clear = closed.windows(2).any(|w| w[0] != idle && w[1] != idle);
    let back = closed.last() == Some(&idle);
    let change = if clear { if idle { -1.0 } else { 1.0 } } else { 0.0 };
    Answer { change, back, clear }
}

/// The first part of a stretch, and all of it by running medians; `None` when it is too short.
fn calmed(codes: &[i32], t_us: &[u64]) -> Option<(Vec<f64>, Vec<f64>)> {
    let begin = *t_us.first()?;
    let first = t_us.partition_point(|&t| t < begin + BEFORE_US).clamp(3, codes.len().max(3));
    if codes.len() < first + CALM {
        return None;
    }
    let before = codes[..first].iter().map(|&c| f64::from(c)).collect();
    let calm = codes.windows(CALM).map(|w| {
        let mut five = [0; CALM];
        five.copy_from_slice(w);
        five.sort_unstable();
        f64::from(five[CALM / 2])
    });
    Some((before, calm.collect()))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn times(n: usize) -> Vec<u64> {
        (0..n as u64).map(|k| k * 4_000).collect()
    }

    #[test]
    fn a_push_there_and_back_answers_and_a_spike_does_not() {
        let push = |k: usize| if (60..120).contains(&k) { 900 } else { 510 + (k % 3) as i32 };
        let codes: Vec<i32> = (0..250).map(push).collect();
        let found = answer(&codes, &times(250), 1023);
        assert!(found.counts() && (found.change - 389.0).abs() < 2.0, "{found:?}");
        let held = answer(&codes[..100], &times(100), 1023);
        assert!(held.clear && !held.back);
        let mut quiet: Vec<i32> = (0..250).map(|k| 510 + (k % 3)).collect();
        quiet[100] = 0;
        assert!(!answer(&quiet, &times(250), 1023).clear);
        assert_eq!(answer(&[1, 2], &times(2), 1023), Answer::default());
    }

    #[test]
    fn a_press_of_either_polarity_answers() {
        let press: Vec<bool> = (0..250).map(|k| (80..110).contains(&k)).collect();
        assert!(pressed(&press, &times(250)).counts());
        let low: Vec<bool> = press.iter().map(|p| !p).collect();
        assert_eq!(pressed(&low, &times(250)).change, -1.0);
        assert!(!pressed(&[true; 250], &times(250)).clear);
    }
}
