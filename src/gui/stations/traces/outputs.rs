//! Travel and output of the analog inputs, row by row: what the firmware makes of the codes.
//!
//! The output of a stick depends on both of its axes, so no envelope of the codes tells it. It is
//! worked out in blocks as they come on screen, by the firmware's own integers, and kept: the
//! extremes of every 64 rows for good, the rows themselves for what was looked at last.
use std::collections::BTreeMap;
use std::ops::Range;

use super::channels::FieldRows;
use super::sampling::Rows;
use crate::rig::{AxisId, Half};
use crate::session::Session;
use crate::trim::{Trim, apply};
use crate::wire::Role;

/// Rows of a block.
const BLOCK: usize = 4_096;
/// Rows that share one pair of extremes.
const CELL: usize = 64;
/// Blocks worked out in one frame at most.
const BLOCKS_AT_ONCE: usize = 16;
/// Blocks whose rows are kept, of each input.
const KEPT: usize = 512;
/// From this many rows a column on, its edges are those of whole cells: a sixteenth of it at most.
const COARSE: usize = 16 * CELL;

/// What is worked out of one input.
#[derive(Default)]
struct Worked {
    rows: BTreeMap<usize, Vec<i16>>,
    /// Extremes of each cell of each block; empty = not worked out.
    cells: Vec<Vec<(i16, i16)>>,
}

/// Outputs of every input as far as they have been looked at.
#[derive(Default)]
pub struct Outputs {
    sticks: [Option<apply::Stick>; 2],
    triggers: [Option<apply::Trigger>; 2],
    fields: [Option<usize>; 6],
    worked: [Worked; 6],
}

impl Outputs {
    /// Starts anew when constants or fields have changed.
    pub fn follow(&mut self, session: &Session, trim: Option<&Trim>) {
        let sticks = Half::ALL.map(|h| trim.and_then(|t| apply::Stick::of(t, h)));
        let triggers = Half::ALL.map(|h| trim.and_then(|t| apply::Trigger::of(t, h)));
        let fields = AxisId::ALL.map(|a| session.field_of(Role::Axis(a)));
        let shrunk = self.worked.iter().any(|w| w.cells.len() > session.rows().div_ceil(BLOCK));
        if (sticks, triggers, fields) != (self.sticks, self.triggers, self.fields) || shrunk {
            *self = Outputs { sticks, triggers, fields, ..Outputs::default() };
        }
    }

    /// Works out what `axes` need over `rows`, a limited number of blocks a call; true when all is
    /// there. `fine` = the rows themselves are wanted, not only extremes.
    pub fn prepare(
        &mut self,
        session: &Session,
        axes: &[AxisId],
        rows: Range<usize>,
        fine: bool,
    ) -> bool {
        let mut left = BLOCKS_AT_ONCE;
        let end = rows.end.min(session.rows());
        for block in rows.start / BLOCK..end.div_ceil(BLOCK) {
            let whole = BLOCK.min(session.rows() - block * BLOCK);
            let lacks = |axis: &AxisId| {
                let worked = &self.worked[axis.index()];
                let cells = worked.cells.get(block).map_or(0, Vec::len);
                let held = worked.rows.get(&block).map(Vec::len);
                cells < whole.div_ceil(CELL)
                    || held.is_some_and(|n| n < whole)
                    || (fine && held.is_none())
            };
            let halves = |trigger: bool| {
                Half::ALL.map(|h| {
                    axes.iter().any(|a| a.is_trigger() == trigger && a.half() == h && lacks(a))
                })
            };
            let (sticks, triggers) = (halves(false), halves(true));
            for (k, half) in Half::ALL.into_iter().enumerate() {
                if !(sticks[k] || triggers[k]) {
                    continue;
                }
                if left == 0 {
                    return false;
                }
                left -= 1;
                if sticks[k] {
                    self.work_stick(session, half, block);
                }
                if triggers[k] {
                    self.work_trigger(session, half, block);
                }
            }
        }
        true
    }

    fn work_stick(&mut self, session: &Session, half: Half, block: usize) {
        let [x, y] = half.stick();
        let (Some(stick), Some(fx), Some(fy)) =
            (self.sticks[half as usize], self.fields[x.index()], self.fields[y.index()])
        else {
            return;
        };
        let rows = block * BLOCK..(block + 1) * BLOCK;
        let (xs, ys) = (session.column_part(fx, rows.clone()), session.column_part(fy, rows));
        let pairs = xs.iter().zip(&ys).map(|(x, y)| stick.run(code(*x), code(*y)));
        let (out_x, out_y): (Vec<i16>, Vec<i16>) = pairs.unzip();
        self.worked[x.index()].keep(block, out_x);
        self.worked[y.index()].keep(block, out_y);
    }

    fn work_trigger(&mut self, session: &Session, half: Half, block: usize) {
        let axis = half.trigger();
        let (Some(trigger), Some(field)) =
            (self.triggers[half as usize], self.fields[axis.index()])
        else {
            return;
        };
        let cells = session.column_part(field, block * BLOCK..(block + 1) * BLOCK);
        let out = cells.iter().map(|c| trigger.run(code(*c))).collect();
        self.worked[axis.index()].keep(block, out);
    }

    /// Least and greatest output over rows; `None` when they are not all worked out.
    fn min_max(&self, axis: AxisId, rows: Range<usize>) -> Option<(i32, i32)> {
        if rows.is_empty() {
            return None;
        }
        let worked = &self.worked[axis.index()];
        let found = if rows.len() >= COARSE { worked.coarse(rows) } else { worked.fine(rows) };
        found.map(|(low, high)| (i32::from(low), i32::from(high)))
    }

    fn value(&self, axis: AxisId, row: usize) -> Option<i16> {
        self.worked[axis.index()].rows.get(&(row / BLOCK))?.get(row % BLOCK).copied()
    }
}

/// True when so many rows over a picture of that width need the rows themselves.
pub fn wants_rows(rows: usize, width: f32) -> bool {
    (rows as f32 / width.max(1.0)) < COARSE as f32
}

/// A cell as the firmware's converter would hand it on.
fn code(cell: i32) -> u16 {
    cell.clamp(0, i32::from(u16::MAX)) as u16
}

impl Worked {
    fn keep(&mut self, block: usize, rows: Vec<i16>) {
        if self.cells.len() <= block {
            self.cells.resize(block + 1, Vec::new());
        }
        let extremes = |part: &[i16]| {
            part.iter().fold((i16::MAX, i16::MIN), |(l, h), v| (l.min(*v), h.max(*v)))
        };
        self.cells[block] = rows.chunks(CELL).map(extremes).collect();
        if self.rows.len() >= KEPT && !self.rows.contains_key(&block) {
            // The farthest from what is looked at goes first.
            let first = self.rows.keys().next().copied().unwrap_or(0);
            let last = self.rows.keys().next_back().copied().unwrap_or(0);
            let farthest = if block.abs_diff(first) > block.abs_diff(last) { first } else { last };
            self.rows.remove(&farthest);
        }
        self.rows.insert(block, rows);
    }

    fn coarse(&self, rows: Range<usize>) -> Option<(i16, i16)> {
        let (mut low, mut high) = (i16::MAX, i16::MIN);
        let (mut cell, end) = (rows.start / CELL, rows.end.div_ceil(CELL));
        let per_block = BLOCK / CELL;
        while cell < end {
            let cells = self.cells.get(cell / per_block)?;
            let to = end.min((cell / per_block + 1) * per_block);
            let from = cell % per_block;
            for (l, h) in cells.get(from..from + (to - cell))? {
                (low, high) = (low.min(*l), high.max(*h));
            }
            cell = to;
        }
        Some((low, high))
    }

    fn fine(&self, rows: Range<usize>) -> Option<(i16, i16)> {
        let (mut low, mut high) = (i16::MAX, i16::MIN);
        let mut at = rows.start;
        while at < rows.end {
            let block = at / BLOCK;
            let to = rows.end.min((block + 1) * BLOCK);
            let part = self.rows.get(&block)?.get(at - block * BLOCK..to - block * BLOCK)?;
            for v in part {
                (low, high) = (low.min(*v), high.max(*v));
            }
            at = to;
        }
        Some((low, high))
    }
}

/// The output of one input, row by row.
pub struct OutputRows<'a> {
    /// The codes behind it.
    pub codes: FieldRows<'a>,
    /// What has been worked out.
    pub outputs: &'a Outputs,
    /// Which input.
    pub axis: AxisId,
}

impl Rows for OutputRows<'_> {
    fn rows(&self) -> usize {
        self.codes.rows()
    }

    fn t_us(&self, row: usize) -> u64 {
        self.codes.t_us(row)
    }

    fn min_max(&self, rows: Range<usize>) -> Option<(i32, i32)> {
        self.outputs.min_max(self.axis, rows.start..rows.end.min(self.rows()))
    }

    fn value(&self, row: usize) -> i32 {
        self.outputs.value(self.axis, row).map_or(0, i32::from)
    }

    fn row_at(&self, t_us: u64) -> usize {
        self.codes.row_at(t_us)
    }

    fn cells(&self, rows: Range<usize>) -> Option<Vec<i32>> {
        rows.map(|row| self.outputs.value(self.axis, row).map(i32::from)).collect()
    }
}

/// The travel of one input in hundredths of a per cent, with the sign of its output.
pub struct TravelRows<'a> {
    /// The codes behind it.
    pub codes: FieldRows<'a>,
    /// Code at rest.
    pub rest: u16,
    /// Ends that every push passes.
    pub ends: [u16; 2],
    /// A rising code is a negative travel.
    pub falls: bool,
}

impl<'a> TravelRows<'a> {
    /// Of an input whose constants are known.
    pub fn of(codes: FieldRows<'a>, trim: &Trim, axis: AxisId) -> Option<TravelRows<'a>> {
        if axis.is_trigger() {
            let t = trim.trigger(axis.half())?;
            let (ends, falls) = ([t.rest.min(t.full), t.rest.max(t.full)], t.sign < 0);
            return Some(TravelRows { codes, rest: t.rest, ends, falls });
        }
        let a = trim.axis(axis)?;
        Some(TravelRows { codes, rest: a.centre, ends: [a.low, a.high], falls: a.sign < 0 })
    }

    /// Rising with the code, or falling: extremes of the codes are extremes of the travel.
    fn travel(&self, cell: i32) -> i32 {
        let past = f64::from(cell) - f64::from(self.rest);
        let end = if past < 0.0 { self.ends[0] } else { self.ends[1] };
        // A trigger has travel on one side only; the other side goes by the same measure.
        let whole = f64::from(self.ends[1] - self.ends[0]);
        let span = match f64::from(end.abs_diff(self.rest)) {
            0.0 => whole,
            span => span,
        };
        let share = if span > 0.0 { past / span * 10_000.0 } else { 0.0 };
        (if self.falls { -share } else { share }).round() as i32
    }
}

impl Rows for TravelRows<'_> {
    fn rows(&self) -> usize {
        self.codes.rows()
    }

    fn t_us(&self, row: usize) -> u64 {
        self.codes.t_us(row)
    }

    fn min_max(&self, rows: Range<usize>) -> Option<(i32, i32)> {
        let (low, high) = self.codes.min_max(rows)?;
        let (a, b) = (self.travel(low), self.travel(high));
        Some((a.min(b), a.max(b)))
    }

    fn value(&self, row: usize) -> i32 {
        self.travel(self.codes.value(row))
    }

    fn row_at(&self, t_us: u64) -> usize {
        self.codes.row_at(t_us)
    }

    fn cells(&self, rows: Range<usize>) -> Option<Vec<i32>> {
        let cells = self.codes.cells(rows)?;
        Some(cells.into_iter().map(|c| self.travel(c)).collect())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn extremes_of_cells_and_of_rows_agree() {
        let mut worked = Worked::default();
        let made = |row: usize| ((row * 7919) % 60_001) as i32 as i16;
        for block in 0..4 {
            worked.keep(block, (0..BLOCK).map(|k| made(block * BLOCK + k)).collect());
        }
        for rows in [0..64, 100..5_000, 4_090..4_100, 64..16_384] {
            let want = rows.clone().map(made);
            let want = (want.clone().min().expect("rows"), want.max().expect("rows"));
            assert_eq!(worked.fine(rows.clone()), Some(want), "{rows:?}");
            let whole = rows.start / CELL * CELL..rows.end.div_ceil(CELL) * CELL;
            assert_eq!(worked.coarse(rows.clone()), worked.fine(whole), "{rows:?}");
        }
        assert_eq!(worked.fine(16_380..16_390), None, "not worked out");
        assert_eq!(worked.coarse(0..20_000), None);
    }

    #[test]
    fn no_more_rows_are_kept_than_agreed() {
        let mut worked = Worked::default();
        for block in 0..KEPT + 40 {
            worked.keep(block, vec![1; BLOCK]);
        }
        assert_eq!(worked.rows.len(), KEPT);
        assert!(worked.rows.contains_key(&(KEPT + 39)));
        assert_eq!(worked.coarse(0..BLOCK), Some((1, 1)), "extremes stay");
    }
}
