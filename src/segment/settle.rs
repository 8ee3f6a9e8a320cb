//! Settled rows after a motion: still for a while, then up to 0.5 s to average over.
use std::ops::Range;

use super::blocks::Blocks;
use super::{Reason, Rows};
use crate::session::Tracks;

/// How long a part must be still.
#[derive(Clone, Copy)]
pub(super) struct Stillness {
    /// Still this long before the settled rows begin, µs.
    wait_us: u64,
    /// Least length of the settled rows, µs.
    least_us: u64,
}

/// A stick swings out slowly and its rests are what matters.
pub(super) const OF_STICK: Stillness = Stillness { wait_us: 300_000, least_us: 400_000 };
/// A trigger is against a stop at once, and people pull it in quick succession.
pub(super) const OF_TRIGGER: Stillness = Stillness { wait_us: 200_000, least_us: 150_000 };

/// Most, µs.
const MOST_US: u64 = 500_000;
/// Longest way from the let-go to stillness, µs.
const CALM_DOWN_US: u64 = 1_500_000;
/// Stillness shorter than this is the turning point of an overshoot, µs.
const TURN_US: u64 = 100_000;
/// Creep that a hand-off part does not show, counts a second at 10 bits.
const CREEP_PER_S: f64 = 1.0;

/// A part that came to rest.
pub(super) struct Settled {
    /// Last row with motion.
    pub(super) still_from: usize,
    /// The settled rows.
    pub(super) rows: Rows,
}

/// The settled rows of the axes in `mask` after the let-go in block `from`; `Err` says why there
/// are none, with the rows that were looked at. `Ok(None)`: the log ends too early to say.
pub(super) fn after(
    tracks: &Tracks,
    blocks: &Blocks,
    (moves, mask): (&[u8], u8),
    from: usize,
    rule: Stillness,
) -> Result<Option<Settled>, (Reason, Rows)> {
    let run_end = blocks.run_end(from);
    let at_log_end = run_end == blocks.len();
    let start_row = blocks.row(from);
    let looked = |end: usize| Rows { first: start_row, end: blocks.end_row(end) };
    let time = |row: usize| tracks.t_us.get(row).copied().unwrap_or(0);
    let Some((calm, next)) = first_calm(moves, mask, from..run_end, |still: Range<usize>| {
        time(blocks.row(still.end)).saturating_sub(time(blocks.row(still.start))) >= TURN_US
    }) else {
        if at_log_end {
            return Ok(None);
        }
        return Err((Reason::Cut, looked(run_end)));
    };
    let still_from = blocks.row(calm);
    if time(still_from).saturating_sub(time(start_row)) > CALM_DOWN_US {
        return Err((Reason::KeptMoving, looked(calm)));
    }
    let last_row = blocks.end_row(next);
    let begin_us = time(still_from) + rule.wait_us;
    let begin = still_from + tracks.t_us[still_from..last_row].partition_point(|&t| t < begin_us);
    let end = begin
        + tracks.t_us[begin..last_row].partition_point(|&t| t < begin_us.saturating_add(MOST_US));
    let rows = Rows { first: begin, end };
    let enough = end > begin
        && time(end - 1).saturating_sub(time(begin)) + block_slack(blocks) >= rule.least_us;
    if !enough {
        return match next == run_end {
            true if at_log_end => Ok(None),
            true => Err((Reason::Cut, looked(run_end))),
            false => Err((Reason::TooShort, looked(next))),
        };
    }
    Ok(Some(Settled { still_from, rows }))
}

/// The first still stretch of blocks that is long enough or reaches the end of the run.
fn first_calm(
    moves: &[u8],
    mask: u8,
    run: Range<usize>,
    long_enough: impl Fn(Range<usize>) -> bool,
) -> Option<(usize, usize)> {
    let mut at = run.start;
    loop {
        let calm = (at..run.end).find(|&b| moves[b] & mask == 0)?;
        let next = (calm..run.end).find(|&b| moves[b] & mask != 0).unwrap_or(run.end);
        if next == run.end || long_enough(calm..next) {
            return Some((calm, next));
        }
        at = next;
    }
}

/// One row's time, µs: n rows span n − 1 intervals.
fn block_slack(blocks: &Blocks) -> u64 {
    blocks.row_us() as u64 + 1
}

/// True when the block medians of an axis creep over the settled rows: the slope exceeds 1 count a
/// second (at 10 bits), three standard errors and the flicker of one code together.
pub(super) fn creeps(blocks: &Blocks, median: &[i32], rows: Rows, full_scale: i32) -> bool {
    let (first, end) = (blocks.block_at(rows.first) + 1, blocks.block_at(rows.end));
    let n = end.saturating_sub(first);
    if n < 4 {
        return false;
    }
    let step_s = blocks.block_s();
    let centre = (n as f64 - 1.0) / 2.0;
    let mean = median[first..end].iter().map(|&m| f64::from(m)).sum::<f64>() / n as f64;
    let (mut sxx, mut sxy, mut syy) = (0.0, 0.0, 0.0);
    for (k, &m) in median[first..end].iter().enumerate() {
        let (x, y) = ((k as f64 - centre) * step_s, f64::from(m) - mean);
        (sxx, sxy, syy) = (sxx + x * x, sxy + x * y, syy + y * y);
    }
    let slope = sxy / sxx;
    let error = ((syy - slope * sxy).max(0.0) / (n as f64 - 2.0) / sxx).sqrt();
    let scale = (f64::from(full_scale) / 1023.0).max(1.0);
    let one_code = 1.0 / (n as f64 * step_s);
    slope.abs() > CREEP_PER_S * scale + 3.0 * error + one_code
}
