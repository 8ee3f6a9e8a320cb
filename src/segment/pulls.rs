//! Pulls of a trigger, of either polarity: up, hold, down.
use super::blocks::Blocks;
use super::levels::Levels;
use super::settle;
use super::windows::Fence;
use super::{Kind, Pace, Part, Pull, Reason, Rejected, Rows, SLOW_PULL_US, Segments};
use crate::rig::Half;
use crate::session::Tracks;

/// Share of the way at which a pull begins.
const BEGUN: f64 = 0.15;
/// Share at which it is over.
const OVER: f64 = 0.10;
/// What stays below is a touch, not a pull.
const TOUCH: f64 = 0.3;
/// What stays below did not go all the way.
const ALL_THE_WAY: f64 = 0.8;
/// Rest and full are reached within this share of the way.
const AT_END: f64 = 0.02;
/// or within so many σ.
const AT_END_SIGMAS: f64 = 4.0;
/// The return to rest is looked for this long beyond the end of a pull, µs.
const RETURN_US: f64 = 500_000.0;
/// What a stroke takes in of the stillness at its ends, µs.
const PAD_US: f64 = 40_000.0;
/// Longest flat stretch between a touch at the start of a pull and the pull, blocks looked back, µs.
const LEAD_US: f64 = 4_000_000.0;

struct Way<'a> {
    column: &'a [i32],
    median: &'a [i32],
    rest: f64,
    per_count: f64,
    /// Share of the way that counts as being at an end; not below four times the noise.
    near: f64,
}

impl Way<'_> {
    fn block(&self, b: usize) -> f64 {
        (f64::from(self.median[b]) - self.rest) * self.per_count
    }

    /// Running median of three rows.
    fn row(&self, row: usize) -> f64 {
        let at = |r: usize| self.column[r.min(self.column.len() - 1)];
        let (a, b, c) = (at(row.saturating_sub(1)), at(row), at(row + 1));
        (f64::from(a.max(b).min(a.min(b).max(c))) - self.rest) * self.per_count
    }
}

/// Adds the pulls of one trigger and what was not used of them.
pub(super) fn find(
    tracks: &Tracks,
    half: Half,
    (blocks, levels, moves): (&Blocks, &Levels, &[u8]),
    fence: &Fence,
    found: &mut Segments,
) {
    let axis = half.trigger();
    let (Some(level), Some(column), Some(median)) =
        (levels.axis(axis), tracks.axis(axis), blocks.median(axis))
    else {
        return;
    };
    let span = level.full() - level.rest;
    if !level.used || column.is_empty() {
        return;
    }
    let near = AT_END.max(AT_END_SIGMAS * level.noise / span.abs()).min(OVER);
    let way = Way { column, median, rest: level.rest, per_count: 1.0 / span, near };
    let mut b = 0;
    while b < blocks.len() {
        if way.block(b) < BEGUN {
            b += 1;
            continue;
        }
        let run_end = blocks.run_end(b);
        let over = (b..run_end).find(|&k| way.block(k) < OVER);
        let end = over.unwrap_or(run_end);
        let rows = Rows { first: blocks.row(b), end: blocks.end_row(end) };
        let peak = peak(&way, b, end);
        let part = Part::Trigger(half);
        let mut reject = |why| found.rejected.push(Rejected { kind: Kind::Pull, part, rows, why });
        let cut_before = blocks.opens_run(b);
        if peak < TOUCH {
        } else if cut_before || (over.is_none() && end < blocks.len()) {
            reject(Reason::Cut);
        } else if over.is_none() {
            // Still pulled at the end of the log: it may yet be let go.
        } else if peak < ALL_THE_WAY {
            reject(Reason::PartPull);
        } else if !fence.allows(Kind::Pull, rows.first + rows.len() / 2) {
            reject(Reason::OffPrompt);
        } else {
            let mut pull = shape(tracks, blocks, &way, (b, end), peak, half);
            let mask = 1u8 << axis.index();
            if let Ok(Some(settled)) =
                settle::after(tracks, blocks, (moves, mask), end, settle::OF_TRIGGER)
            {
                let middle = blocks.block_at(settled.rows.first + settled.rows.len() / 2);
                let still = way.block(middle) < OVER
                    && !settle::creeps(blocks, median, settled.rows, tracks.full_scale());
                pull.settled = still.then_some(settled.rows);
            }
            found.pulls[half as usize].push(pull);
        }
        b = end;
    }
}

/// Highest share held for two blocks.
fn peak(way: &Way, first: usize, end: usize) -> f64 {
    (first + 1..end).map(|b| way.block(b - 1).min(way.block(b))).fold(0.0, f64::max)
}

fn shape(
    tracks: &Tracks,
    blocks: &Blocks,
    way: &Way,
    (begun, over): (usize, usize),
    peak: f64,
    half: Half,
) -> Pull {
    let full = peak - way.near;
    let earliest = begun.saturating_sub(blocks.count_in(LEAD_US));
    let mut at_rest = begun;
    while at_rest > earliest && !blocks.opens_run(at_rest) && way.block(at_rest) >= way.near {
        at_rest -= 1;
    }
    let last = blocks.end_row(over);
    let first_full = blocks.row((begun..over).find(|&b| way.block(b) >= full).unwrap_or(begun));
    let last_full =
        blocks.end_row((begun..over).rfind(|&b| way.block(b) >= full).unwrap_or(begun) + 1);
    // Rows are exact to the block so far; look at the rows round each place.
    let slack = blocks.end_row(1) - blocks.row(0);
    let up_first = (blocks.row(at_rest)..first_full)
        .take(2 * slack)
        .take_while(|&r| way.row(r) < way.near)
        .last()
        .unwrap_or(blocks.row(at_rest));
    let up_end = (first_full.saturating_sub(slack).max(up_first)..last_full)
        .find(|&r| way.row(r) >= full)
        .unwrap_or(first_full);
    let hold_end = (up_end..(last_full + slack).min(last))
        .rfind(|&r| way.row(r) >= full)
        .map_or(up_end + 1, |r| r + 1);
    let run_end = blocks.end_row(blocks.run_end(begun)).min(tracks.rows());
    let rest_reached = (hold_end..run_end.min(last + rows_in(blocks, RETURN_US)))
        .find(|&r| way.row(r) < way.near)
        .unwrap_or(last);
    let time = |row: usize| tracks.t_us.get(row).copied().unwrap_or(0);
    let slow = time(up_end).saturating_sub(time(up_first)) >= SLOW_PULL_US;
    // Each stroke takes in a little of what lies still at both of its ends.
    let pad = rows_in(blocks, PAD_US);
    let pad_full = pad.min((hold_end - up_end) / 3);
    let run_first = blocks.row(blocks.run_first(begun));
    Pull {
        half,
        pace: if slow { Pace::Slow } else { Pace::Fast },
        up: Rows { first: up_first.saturating_sub(pad).max(run_first), end: up_end + pad_full + 1 },
        hold: Rows { first: up_end + pad_full, end: hold_end - pad_full },
        down: Rows { first: hold_end - pad_full - 1, end: (rest_reached + pad + 1).min(run_end) },
        settled: None,
    }
}

fn rows_in(blocks: &Blocks, us: f64) -> usize {
    (us / blocks.row_us()).ceil() as usize
}
