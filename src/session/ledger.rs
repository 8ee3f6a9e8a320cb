//! What counter and clock say of completeness: lost, duplicated, resets, gaps, unwrapped time.
//!
//! Rows are followed from the last trusted one, the anchor. A row that does not continue it is
//! accepted only when the rows behind it agree with it; when they continue the anchor instead, a
//! digit of that row was damaged, and it is stepped over. Losses are counted from trusted row to
//! trusted row, so a damaged number never changes their sum.
use crate::wire::clock::Turn;
use crate::wire::sequence;

/// Rows looked at before a break in counter or clock is accepted.
const AHEAD: usize = 3;
/// Damaged rows in a row after which the next one is accepted as it is.
const MOST_DAMAGED: usize = 8;
/// Frames that may be missing at once when only the counter says so and nothing follows.
const NEAR: u64 = 50;
/// One in so many counter values may agree with the clock by chance for the agreement to count.
const CHANCE: f64 = 8.0;

/// The columns that tell completeness.
pub(super) struct Columns<'a> {
    /// Counter by row.
    pub(super) seq: Option<&'a [i32]>,
    /// Width at which the counter wraps, bits.
    pub(super) seq_bits: u8,
    /// Board clock by row, in its own unit.
    pub(super) clock: Option<&'a [i32]>,
    /// Microseconds in a unit of the clock.
    pub(super) unit_us: u64,
    /// Host time by row, µs; empty without.
    pub(super) host_us: &'a [u64],
    /// Where the clock begins anew.
    pub(super) turn: Turn,
    /// Rows before which the record itself is broken, and how many records are left out there.
    pub(super) breaks: &'a [(usize, u64)],
    /// Rows before which the link had been away.
    pub(super) away: &'a [usize],
    /// Number of rows.
    pub(super) rows: usize,
}

/// What following them gave.
#[derive(Debug, Default, PartialEq)]
pub(super) struct Followed {
    /// Unwrapped board time by row, µs; empty without a clock.
    pub(super) t_us: Vec<u64>,
    /// Frames that should have come and did not; `None` without counter and clock.
    pub(super) lost: Option<u64>,
    /// Frames with the counter and clock of the frame before.
    pub(super) duplicated: u64,
    /// Rows before which the board restarted.
    pub(super) resets: Vec<usize>,
    /// Row before which frames are missing, and how many.
    pub(super) gaps: Vec<(usize, u64)>,
    /// Rows before which the link had been away.
    pub(super) away: Vec<usize>,
    /// Those of them where the record itself is broken.
    pub(super) file_gaps: Vec<(usize, u64)>,
    /// Typical interval in units of the clock, finer than its unit; 0 when unknown.
    pub(super) period: f64,
}

/// How one row continues another.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Link {
    /// Frames from one to the other; `None` when the counter goes back or there is none.
    frames: Option<u64>,
    /// Clock units; `None` when the clock goes back or there is none.
    units: Option<u32>,
    fit: Fit,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
enum Fit {
    /// Counter or clock do not go on.
    Broken,
    /// One of them goes on in an unusual way: a stall, or a gap that only one of them shows.
    Odd,
    /// So many frames are missing by the clock that a narrow counter would agree by chance too.
    Far,
    /// Frames are missing, and counter and clock tell about as many.
    Loose,
    /// Frames are missing, and all that is there agrees on it.
    Gap,
    /// The next frame after the usual time.
    Next,
}

impl Fit {
    /// What a row that fits so says for the row that it was followed from.
    fn evidence(self) -> u32 {
        match self {
            Fit::Broken | Fit::Odd | Fit::Far => 0,
            Fit::Loose => 1,
            Fit::Gap => 2,
            Fit::Next => 4,
        }
    }
}

struct Walk<'a> {
    columns: &'a Columns<'a>,
    period: f64,
    found: Followed,
    anchor: usize,
    /// Gaps that the clock alone tells, and the sum of cos 2π of their lengths in periods: near their
    /// number where they are whole ones, as lost frames leave them.
    whole: (u32, f64),
}

/// Follows the whole of `columns`. Cost: one pass, and a sort of at most 65 536 intervals.
pub(super) fn follow(columns: &Columns) -> Followed {
    let period = period(columns);
    let mut walk = Walk { columns, period, found: Followed::default(), anchor: 0, whole: (0, 0.0) };
    walk.found.period = period;
    if columns.rows == 0 || (columns.seq.is_none() && columns.clock.is_none()) {
        columns.breaks.iter().for_each(|(row, left)| walk.missing_in_file(*row, *left));
        return walk.found;
    }
    walk.found.lost = Some(0);
    if let Some(clock) = columns.clock {
        walk.found.t_us = Vec::with_capacity(columns.rows);
        walk.found.t_us.push(u64::from(clock[0] as u32) * columns.unit_us);
    }
    let mut away = Places(columns.away);
    let mut breaks = columns.breaks.iter().copied().peekable();
    for row in 1..columns.rows {
        while breaks.peek().is_some_and(|b| b.0 < row) {
            let (at, left) = breaks.next().unwrap_or_default();
            // Nothing to count from stands before the first row.
            if at == 0 {
                walk.missing_in_file(0, left);
            }
        }
        let broken = breaks.peek().filter(|(at, _)| *at == row);
        match (away.stands_at(row), broken) {
            (true, _) => walk.step_over_absence(row),
            (false, Some(&(_, left))) => walk.step_over_break(row, left),
            (false, None) => walk.step(row),
        }
    }
    columns
        .breaks
        .iter()
        .filter(|b| b.0 >= columns.rows)
        .for_each(|b| walk.missing_in_file(b.0, b.1));
    walk.finish_damaged(columns.rows);
    walk.forget_stalls();
    walk.found
}

/// Rows in order, passed once.
struct Places<'a>(&'a [usize]);

impl Places<'_> {
    #[inline]
    fn stands_at(&mut self, row: usize) -> bool {
        while let Some((first, rest)) = self.0.split_first()
            && *first < row
        {
            self.0 = rest;
        }
        self.0.first() == Some(&row)
    }
}

/// Mean cos 2π of gaps in periods from which they are whole: lost frames leave whole periods with a
/// jitter of a few per cent, a loop that stalls leaves any length.
const WHOLE: f64 = 0.7;

/// Median of clock units a frame, over pairs of rows far enough apart to be finer than the unit.
fn period(columns: &Columns) -> f64 {
    let coarse = period_over(columns, 1);
    // A narrow clock must not have turned within them.
    let fits = 2.0 * FAR as f64 * coarse < columns.turn.units();
    if columns.rows > 4 * FAR && fits { period_over(columns, FAR) } else { coarse }
}

/// Rows apart over which the unit of the clock no longer matters.
const FAR: usize = 64;

fn period_over(columns: &Columns, apart: usize) -> f64 {
    let Some(clock) = columns.clock else { return 0.0 };
    let pairs = columns.rows.saturating_sub(apart);
    let stride = pairs.div_ceil(65_536).max(1);
    let mut found: Vec<f64> = (0..pairs)
        .step_by(stride)
        .filter_map(|a| {
            let b = a + apart;
            let units = columns.turn.forward(clock[a] as u32, clock[b] as u32)?;
            let frames = match columns.seq {
                Some(seq) => sequence::steps(seq[a] as u32, seq[b] as u32, columns.seq_bits),
                None => apart as u64,
            };
            // A counter that jumped says nothing of the interval.
            let usable = units > 0 && (1..=4 * apart as u64).contains(&frames);
            usable.then(|| f64::from(units) / frames as f64)
        })
        .collect();
    if found.is_empty() {
        return 0.0;
    }
    let middle = found.len() / 2;
    *found.select_nth_unstable_by(middle, f64::total_cmp).1
}

/// Frames by which counter and clock may disagree on a gap: both ends, and a rate that wandered.
fn slack(frames: u64) -> f64 {
    1.0 + 0.05 * frames as f64
}

impl Walk<'_> {
    /// How row `b` continues row `a`.
    #[inline]
    fn link(&self, a: usize, b: usize) -> Link {
        let apart = (b - a) as u64;
        let units = self.columns.clock.map(|c| self.columns.turn.forward(c[a] as u32, c[b] as u32));
        let usual = units.flatten().map_or(f64::NAN, |u| f64::from(u) / self.period);
        let steps = self
            .columns
            .seq
            .map(|s| sequence::steps(s[a] as u32, s[b] as u32, self.columns.seq_bits))
            .map(|steps| sequence::resolve(steps, self.columns.seq_bits, usual));
        let n = apart as f64;
        let fit = match (steps, units) {
            (_, Some(None)) => Fit::Broken,
            (Some(frames), Some(Some(_))) => {
                let off = (usual - frames as f64).abs();
                // A clock in milliseconds may be off by one unit.
                let near = 0.5 * n + 1.0 / self.period;
                if frames == apart && off <= near {
                    Fit::Next
                } else if frames > apart && off <= slack(frames) {
                    self.gap(frames, off)
                } else if frames == apart && usual > 0.0 {
                    Fit::Odd
                } else {
                    Fit::Broken
                }
            }
            (Some(frames), None) if frames == apart => Fit::Next,
            (Some(frames), None) if frames > apart && frames - apart <= NEAR => Fit::Gap,
            (Some(_), None) => Fit::Broken,
            (None, Some(Some(units))) => {
                let most = 1.6 * self.period * n + 1.0;
                if f64::from(units) <= most && units > 0 { Fit::Next } else { Fit::Odd }
            }
            (None, None) => Fit::Broken,
        };
        Link { frames: steps, units: units.flatten(), fit }
    }

    /// How well a gap is told: a narrow counter agrees with a long time by chance, and less than half
    /// a frame between counter and clock is better than a whole one.
    fn gap(&self, frames: u64, off: f64) -> Fit {
        let values = 2f64.powi(i32::from(self.columns.seq_bits));
        if 2.0 * slack(frames) * CHANCE >= values {
            Fit::Far
        } else if off > slack(frames) - 0.5 + 1.0 / self.period {
            Fit::Loose
        } else {
            Fit::Gap
        }
    }

    #[inline]
    fn step(&mut self, row: usize) {
        let link = self.link(self.anchor, row);
        if link.fit == Fit::Next {
            return self.accept(row, link);
        }
        self.unusual(row, link);
    }

    #[cold]
    fn unusual(&mut self, row: usize, link: Link) {
        if row == self.anchor + 1
            && link.frames.unwrap_or(0) == 0
            && link.units.unwrap_or(0) == 0
            && (link.units.is_some() || self.columns.clock.is_none())
        {
            self.found.duplicated += 1;
            return self.accept(row, link);
        }
        let ahead = row + 1..(row + 1 + AHEAD).min(self.columns.rows);
        let evidence =
            |from: usize| -> u32 { ahead.clone().map(|j| self.link(from, j).fit.evidence()).sum() };
        let (from_row, from_anchor) = (evidence(row), evidence(self.anchor));
        let patient = row - self.anchor <= MOST_DAMAGED;
        let damaged = match link.fit {
            Fit::Next | Fit::Gap | Fit::Loose | Fit::Far | Fit::Odd => from_anchor > from_row,
            // A restart needs witnesses, and none that the stream just goes on.
            Fit::Broken => from_anchor >= from_row,
        };
        if damaged && patient {
            return;
        }
        if self.anchor == 0 && link.fit == Fit::Broken && row == 1 {
            // The first row was the odd one: the link was opened inside its digits.
            return self.begin_again(row);
        }
        if link.fit == Fit::Broken { self.restart(row, link) } else { self.accept(row, link) }
    }

    /// Without a counter: gaps of any length are a loop that stalled, and nothing was lost.
    ///
    /// Rounding both ends of a gap of whole periods p to a unit leaves (sin(π/p)/(π/p))² of the mean
    /// cosine; below a period of two units nothing can be told.
    fn forget_stalls(&mut self) {
        let (gaps, cosines) = self.whole;
        if self.columns.seq.is_some() || gaps == 0 || self.period < 2.0 {
            return;
        }
        let part = std::f64::consts::PI / self.period;
        if cosines / f64::from(gaps) < WHOLE * (part.sin() / part).powi(2) {
            self.found.gaps.clone_from(&self.found.file_gaps);
            self.found.lost = Some(self.found.gaps.iter().map(|gap| gap.1).sum());
        }
    }

    /// Row `row` continues the anchor; rows between were damaged.
    #[inline]
    fn accept(&mut self, row: usize, link: Link) {
        let apart = (row - self.anchor) as u64;
        let frames = match (link.frames, link.units) {
            (Some(frames), _) => frames,
            (None, Some(units)) if link.fit == Fit::Odd => {
                let periods = f64::from(units) / self.period;
                self.whole.0 += 1;
                self.whole.1 += (std::f64::consts::TAU * periods).cos();
                periods.round() as u64
            }
            (None, _) => apart,
        };
        if frames > apart {
            self.missing(self.anchor + 1, frames - apart);
        }
        self.advance(row, u64::from(link.units.unwrap_or(0)) * self.columns.unit_us);
    }

    fn missing(&mut self, row: usize, frames: u64) {
        self.found.gaps.push((row, frames));
        self.found.lost = self.found.lost.map(|lost| lost.saturating_add(frames));
    }

    /// So many frames stood in a part of the record that is left out.
    fn missing_in_file(&mut self, row: usize, frames: u64) {
        if frames > 0 {
            self.missing(row, frames);
            self.found.file_gaps.push((row, frames));
        }
    }

    /// Sets the times up to `row`, which stands `span_us` after the anchor, and moves the anchor.
    #[inline]
    fn advance(&mut self, row: usize, span_us: u64) {
        if self.columns.clock.is_some() {
            let apart = (row - self.anchor) as u64;
            let start = self.found.t_us[self.anchor];
            for k in 1..apart {
                self.found.t_us.push(start.saturating_add(span_us / apart * k));
            }
            self.found.t_us.push(start.saturating_add(span_us));
        }
        self.anchor = row;
    }

    /// Counter or clock do not continue the anchor, and what follows agrees with `row`.
    fn restart(&mut self, row: usize, link: Link) {
        let both = self.columns.seq.is_some() && self.columns.clock.is_some();
        let apart = (row - self.anchor) as u64;
        let usual_us = self.period * self.columns.unit_us as f64;
        let host_us = self.host_span(row);
        match link.units {
            // The clock goes on: the counter alone jumped, so the clock says what is missing.
            Some(units) if both => {
                let frames = (f64::from(units) / self.period).round() as u64;
                if frames > apart {
                    self.missing(self.anchor + 1, frames - apart);
                }
                self.advance(row, u64::from(units) * self.columns.unit_us);
            }
            // The clock went back and the counter goes on: the clock was set, nothing restarted.
            None if both && link.frames.is_some_and(|f| f >= apart && f - apart <= NEAR) => {
                let frames = link.frames.unwrap_or(apart);
                if frames > apart {
                    self.missing(self.anchor + 1, frames - apart);
                }
                self.advance(row, host_us.unwrap_or((frames as f64 * usual_us) as u64));
            }
            _ if !both && self.columns.clock.is_none() && !self.went_back(row) => {
                // A counter alone that jumps ahead: frames are missing.
                let frames = link.frames.unwrap_or(apart);
                self.missing(self.anchor + 1, frames.saturating_sub(apart));
                self.advance(row, 0);
            }
            _ => {
                self.found.resets.push(row);
                // The board has been up for what its clock shows, so at least that much passed.
                let clock = self.columns.clock.map_or(0, |c| u64::from(c[row] as u32));
                let up_us = (clock * self.columns.unit_us).min(10_000_000);
                self.advance(row, host_us.unwrap_or(up_us.max(usual_us as u64)));
            }
        }
    }

    fn went_back(&self, row: usize) -> bool {
        self.columns.seq.is_some_and(|s| (s[row] as u32) < s[self.anchor] as u32)
            && self.columns.seq_bits > 8
    }

    fn host_span(&self, row: usize) -> Option<u64> {
        let (before, after) =
            (self.columns.host_us.get(self.anchor)?, self.columns.host_us.get(row)?);
        Some(after.saturating_sub(*before))
    }

    /// Forgets the first row's numbers: they were cut.
    fn begin_again(&mut self, row: usize) {
        if let Some(clock) = self.columns.clock {
            let start = u64::from(clock[row] as u32) * self.columns.unit_us;
            let usual_us = (self.period * self.columns.unit_us as f64) as u64;
            self.found.t_us.clear();
            self.found.t_us.extend([start.saturating_sub(usual_us), start]);
        }
        self.anchor = row;
    }

    /// The record is broken before `row`: time goes on, and what is missing is the file's loss.
    ///
    /// Counter and clock say how many frames that is where they go on; else it is as many as the
    /// records that are left out.
    fn step_over_break(&mut self, row: usize, left: u64) {
        self.finish_damaged(row);
        let Columns { seq, seq_bits, clock, turn, .. } = *self.columns;
        let units = clock.and_then(|c| turn.forward(c[self.anchor] as u32, c[row] as u32));
        let by_clock = units.map(|u| f64::from(u) / self.period).filter(|n| n.is_finite());
        let by_counter = seq.map(|s| {
            let steps = sequence::steps(s[self.anchor] as u32, s[row] as u32, seq_bits);
            sequence::resolve(steps, seq_bits, by_clock.unwrap_or(left as f64 + 1.0))
        });
        let frames = match (by_counter, by_clock) {
            (Some(frames), Some(n)) if (n - frames as f64).abs() <= slack(frames) => Some(frames),
            (Some(frames), None) if clock.is_none() && frames <= 4 * left + NEAR => Some(frames),
            (None, Some(n)) => Some(n.round() as u64),
            _ => None,
        };
        self.missing_in_file(row, frames.map_or(left, |frames| frames.saturating_sub(1)));
        let span_us = units.map(|u| u64::from(u) * self.columns.unit_us);
        let usual_us = (self.period * self.columns.unit_us as f64) as u64;
        self.advance(row, span_us.or(self.host_span(row)).unwrap_or(usual_us));
    }

    /// The link was away before `row`: the host's clock alone spans that, and nothing is counted.
    fn step_over_absence(&mut self, row: usize) {
        self.finish_damaged(row);
        self.found.away.push(row);
        let usual_us = (self.period * self.columns.unit_us as f64) as u64;
        self.advance(row, self.host_span(row).unwrap_or(usual_us));
    }

    /// Rows up to `end` that nothing confirmed: they get the usual interval.
    fn finish_damaged(&mut self, end: usize) {
        let last = end - 1;
        if last > self.anchor {
            let usual_us = self.period * self.columns.unit_us as f64;
            self.advance(last, (usual_us * (last - self.anchor) as f64) as u64);
        }
    }
}

#[cfg(test)]
mod tests;
