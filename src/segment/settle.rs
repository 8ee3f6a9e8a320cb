//! Settled rows after a motion: still for a while, then up to 0.5 s to average over.
//!
//! A stick that is pushed again before that still shows where it came to rest, if it fell freely: its
//! swing is over when the reading stands still, and 120 ms of that tell the level.
use std::ops::Range;

use super::blocks::Blocks;
use super::{Reason, Rows};
use crate::rig::AxisId;
use crate::session::Tracks;

/// How long a part must be still.
#[derive(Clone, Copy)]
pub(super) struct Stillness {
    /// Still this long before the settled rows begin, µs.
    wait_us: u64,
    /// Least length of the settled rows, µs.
    least_us: u64,
    /// What serves when the next motion comes before that.
    brief: Option<Brief>,
}

/// A short rest between two motions.
#[derive(Clone, Copy)]
struct Brief {
    /// Left out after the last motion, µs.
    wait_us: u64,
    /// Least length, µs.
    least_us: u64,
    /// Least rows, and where frames come more than 16 ms apart.
    rows: [usize; 2],
}

/// Frames this far apart come at less than 60 Hz, µs.
const SLOW_US: f64 = 16_500.0;

/// A stick swings out slowly and its rests are what matters.
///
/// A short rest is taken only once the reading stands within 1/256 of full scale; 40 ms more are left
/// out, the shortest decay of a thumbstick's swing (25 Hz, damping 0.2).
pub(super) const OF_STICK: Stillness = Stillness {
    wait_us: 300_000,
    least_us: 400_000,
    brief: Some(Brief { wait_us: 40_000, least_us: 120_000, rows: [12, 5] }),
};
/// A trigger is against a stop at once, and people pull it in quick succession.
pub(super) const OF_TRIGGER: Stillness =
    Stillness { wait_us: 200_000, least_us: 150_000, brief: None };

/// Most, µs.
const MOST_US: u64 = 500_000;
/// Longest way from the let-go to stillness, µs.
const CALM_DOWN_US: u64 = 1_500_000;
/// Stillness shorter than this is the turning point of an overshoot, µs.
const TURN_US: u64 = 100_000;
/// A row stands at a level within this share of full scale,
const NEAR_SHARE: f64 = 1.0 / 256.0;
/// so many counts
const NEAR_COUNTS: f64 = 2.0;
/// or so many σ, whichever is most.
const NEAR_SIGMAS: f64 = 5.0;
/// Standard errors that a creep must exceed besides.
const CREEP_ERRORS: f64 = 3.0;
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
    let lasts = |rows: Rows| time(rows.end).saturating_sub(time(rows.first));
    let serves = |still: Range<usize>| {
        let rows = grown(tracks, blocks, mask, still);
        rule.brief.and_then(|brief| brief.of(tracks, blocks.row_us(), rows))
    };
    // Looked for no farther than it counts, or every let-go of a signal that is never still walks to the end.
    let begins = (from + blocks.count_in(CALM_DOWN_US as f64) + 2).min(run_end);
    let Some((calm, next)) =
        first_calm(moves, mask, from..run_end, begins, |still: Range<usize>| {
            let rows = Rows { first: blocks.row(still.start), end: blocks.row(still.end) };
            lasts(rows) >= TURN_US || serves(still).is_some()
        })
    else {
        if begins < run_end {
            return Err((Reason::KeptMoving, looked(begins)));
        }
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
    if !enough
        && next < run_end
        && let Some(rows) = serves(calm..next)
    {
        return Ok(Some(Settled { still_from, rows }));
    }
    if !enough {
        return match next == run_end {
            true if at_log_end => Ok(None),
            true => Err((Reason::Cut, looked(run_end))),
            false => Err((Reason::TooShort, looked(next))),
        };
    }
    Ok(Some(Settled { still_from, rows }))
}

impl Brief {
    /// What is left of a still stretch after the wait; `None` when it is too short.
    fn of(self, tracks: &Tracks, row_us: f64, still: Rows) -> Option<Rows> {
        let t_us = still.of(&tracks.t_us);
        let from = t_us.first()? + self.wait_us;
        // The last two rows may belong to the next motion already.
        let end = still.end.saturating_sub(2);
        let rows = Rows { first: still.first + t_us.partition_point(|&t| t < from), end };
        let least = self.rows[usize::from(row_us > SLOW_US)];
        let t_us = rows.of(&tracks.t_us);
        let long = t_us.last()?.saturating_sub(*t_us.first()?).saturating_add(row_us as u64)
            >= self.least_us;
        (long && rows.len() >= least).then_some(rows)
    }
}

/// A still stretch of blocks with the rows to both sides that stand at its level: motion is judged over
/// several blocks, and a short rest is made of what that leaves out.
///
/// A row stands at the level when the median of it and its neighbours lies within 1/256 of full scale,
/// two counts or five times the spread. Never beyond the run, nor farther than five blocks.
fn grown(tracks: &Tracks, blocks: &Blocks, mask: u8, still: Range<usize>) -> Rows {
    let (calm, next) = (still.start, still.end);
    let mut rows = Rows { first: blocks.row(calm), end: blocks.end_row(next) };
    let least = (NEAR_SHARE * f64::from(tracks.full_scale())).max(NEAR_COUNTS);
    let levels: Vec<(&[i32], f64, f64)> = AxisId::ALL
        .into_iter()
        .filter(|axis| mask & (1 << axis.index()) != 0)
        .filter_map(|axis| {
            let (median, spread) = (blocks.median(axis)?, blocks.spread16(axis)?);
            let mut of_blocks = median.get(calm..next)?.to_vec();
            of_blocks.sort_unstable();
            let level = f64::from(*of_blocks.get(of_blocks.len() / 2)?);
            let spread = spread.get(calm..next)?.iter().map(|&s| f64::from(s)).sum::<f64>();
            let limit = least.max(NEAR_SIGMAS * spread / (16.0 * of_blocks.len() as f64));
            Some((tracks.axis(axis)?, level, limit))
        })
        .collect();
    let near = |row: usize| {
        levels.iter().all(|(column, level, limit)| {
            let at = |r: usize| column[r.min(column.len() - 1)];
            let (a, b, c) = (at(row.saturating_sub(1)), at(row), at(row + 1));
            (f64::from(a.max(b).min(a.min(b).max(c))) - level).abs() <= *limit
        })
    };
    let first = blocks.row(calm.saturating_sub(GROWS).max(blocks.run_first(calm)));
    let end = blocks.end_row((next + GROWS).min(blocks.run_end(calm)));
    while rows.first > first && near(rows.first - 1) {
        rows.first -= 1;
    }
    while rows.end < end && near(rows.end) {
        rows.end += 1;
    }
    rows
}

/// Blocks that a still stretch may grow by at either side: those that motion is judged over, and one.
const GROWS: usize = 5;

/// The first still stretch of blocks that is long enough or reaches the end of the run and begins before
/// `begins`.
fn first_calm(
    moves: &[u8],
    mask: u8,
    run: Range<usize>,
    begins: usize,
    long_enough: impl Fn(Range<usize>) -> bool,
) -> Option<(usize, usize)> {
    let mut at = run.start;
    loop {
        let calm = (at..begins).find(|&b| moves[b] & mask == 0)?;
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
    slope.abs() > CREEP_PER_S * scale + CREEP_ERRORS * error + one_code
}
