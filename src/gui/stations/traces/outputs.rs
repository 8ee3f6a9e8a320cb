//! Output of the analog inputs, row by row: what the firmware makes of the codes.
//!
//! The output of a stick depends on both of its axes, so no envelope of the codes tells it. It is
//! worked out in blocks as they come on screen, by the firmware's own integers, and kept: the
//! extremes of every 64 rows and the sums of every block for good, the rows themselves for what was
//! looked at last.
use std::collections::BTreeMap;
use std::ops::Range;

use super::block_sums::BlockSums;
use super::channels::FieldRows;
use super::sampling::Rows;
use super::travel::Travels;
use crate::rig::{AxisId, Half};
use crate::session::{Session, Sums};
use crate::trim::{Trim, apply};
use crate::wire::Role;

/// Rows of a block.
pub const BLOCK: usize = 4_096;
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
    sums: BlockSums,
}

/// Outputs of every input as far as they have been looked at.
#[derive(Default)]
pub struct Outputs {
    sticks: [Option<apply::Stick>; 2],
    triggers: [Option<apply::Trigger>; 2],
    fields: [Option<usize>; 6],
    worked: [Worked; 6],
    /// Travel, of which only the sums need working out.
    pub travels: Travels,
}

impl Outputs {
    /// Starts anew when constants or fields have changed.
    pub fn follow(&mut self, session: &Session, trim: Option<&Trim>) {
        self.travels.follow(session, trim);
        let sticks = Half::ALL.map(|h| trim.and_then(|t| apply::Stick::of(t, h)));
        let triggers = Half::ALL.map(|h| trim.and_then(|t| apply::Trigger::of(t, h)));
        let fields = AxisId::ALL.map(|a| session.field_of(Role::Axis(a)));
        let shrunk = self.worked.iter().any(|w| w.cells.len() > session.rows().div_ceil(BLOCK));
        if (sticks, triggers, fields) != (self.sticks, self.triggers, self.fields) || shrunk {
            let travels = std::mem::take(&mut self.travels);
            *self = Outputs { sticks, triggers, fields, travels, ..Outputs::default() };
        }
    }

    /// Works out what `axes` need over `rows`, a limited number of blocks a call; true when all is
    /// there. `fine` = the rows themselves are wanted, not only extremes and sums.
    pub fn prepare(
        &mut self,
        session: &Session,
        axes: &[AxisId],
        rows: Range<usize>,
        fine: bool,
    ) -> bool {
        let mut left = BLOCKS_AT_ONCE;
        let end = rows.end.min(session.rows());
        let wanted = Wanted { blocks: rows.start / BLOCK..end.div_ceil(BLOCK), fine };
        for block in wanted.blocks.clone() {
            let whole = BLOCK.min(session.rows() - block * BLOCK);
            let lacks = |axis: &AxisId| {
                let worked = &self.worked[axis.index()];
                let cells = worked.cells.get(block).map_or(0, Vec::len);
                let held = worked.rows.get(&block).map(Vec::len);
                cells < whole.div_ceil(CELL)
                    || held.is_some_and(|n| n < whole)
                    || (held.is_none() && wanted.rows_of(block))
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
                    self.work_stick(session, half, block, &wanted);
                }
                if triggers[k] {
                    self.work_trigger(session, half, block, &wanted);
                }
            }
        }
        true
    }

    fn work_stick(&mut self, session: &Session, half: Half, block: usize, wanted: &Wanted) {
        let [x, y] = half.stick();
        let (Some(stick), Some(fx), Some(fy)) =
            (self.sticks[half as usize], self.fields[x.index()], self.fields[y.index()])
        else {
            return;
        };
        let held = [x, y].map(|axis| self.worked[axis.index()].held(block));
        let rows = block * BLOCK + held[0].min(held[1])..(block + 1) * BLOCK;
        let from = rows.start;
        let (xs, ys) = (session.column_part(fx, rows.clone()), session.column_part(fy, rows));
        let pairs = xs.iter().zip(&ys).map(|(x, y)| stick.run(code(*x), code(*y)));
        let (out_x, out_y): (Vec<i16>, Vec<i16>) = pairs.unzip();
        self.worked[x.index()].keep(from, &out_x, wanted);
        self.worked[y.index()].keep(from, &out_y, wanted);
    }

    fn work_trigger(&mut self, session: &Session, half: Half, block: usize, wanted: &Wanted) {
        let axis = half.trigger();
        let (Some(trigger), Some(field)) =
            (self.triggers[half as usize], self.fields[axis.index()])
        else {
            return;
        };
        let worked = &mut self.worked[axis.index()];
        let from = block * BLOCK + worked.held(block);
        let cells = session.column_part(field, from..(block + 1) * BLOCK);
        let out: Vec<i16> = cells.iter().map(|c| trigger.run(code(*c))).collect();
        worked.keep(from, &out, wanted);
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

/// What a picture wants worked out.
struct Wanted {
    blocks: Range<usize>,
    fine: bool,
}

impl Wanted {
    /// True when the rows themselves of a block are wanted. Of a long stretch the first and the
    /// last block are: it begins and ends within them.
    fn rows_of(&self, block: usize) -> bool {
        let ends = block == self.blocks.start || block + 1 == self.blocks.end;
        self.blocks.contains(&block) && (self.fine || ends)
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
    /// Rows of a block that are kept.
    fn held(&self, block: usize) -> usize {
        self.rows.get(&block).map_or(0, Vec::len)
    }

    /// Takes in outputs from row `from` on, which is a block's first or the next after those held.
    fn keep(&mut self, from: usize, more: &[i16], wanted: &Wanted) {
        let block = from / BLOCK;
        let mut rows = self.rows.remove(&block).unwrap_or_default();
        rows.truncate(from % BLOCK);
        rows.extend_from_slice(more);
        if self.cells.len() <= block {
            self.cells.resize(block + 1, Vec::new());
        }
        let extremes = |part: &[i16]| {
            part.iter().fold((i16::MAX, i16::MIN), |(l, h), v| (l.min(*v), h.max(*v)))
        };
        let cells = &mut self.cells[block];
        cells.truncate(from % BLOCK / CELL);
        cells.extend(rows[cells.len() * CELL..].chunks(CELL).map(extremes));
        if rows.len() == BLOCK {
            let wide: Vec<i32> = rows.iter().map(|v| i32::from(*v)).collect();
            self.sums.keep(block, Sums::of(&wide));
        }
        // An open block is kept, so that it goes on where it ends.
        if rows.len() < BLOCK || wanted.rows_of(block) {
            self.make_room(wanted);
            self.rows.insert(block, rows);
        }
    }

    /// Lets a block go that nobody looks at, when as many as agreed are kept.
    fn make_room(&mut self, wanted: &Wanted) {
        if self.rows.len() >= KEPT {
            let other = self.rows.keys().find(|block| !wanted.rows_of(**block));
            let gone = other.or(self.rows.keys().next()).copied();
            if let Some(block) = gone
                && self.rows.remove(&block).is_some_and(|rows| rows.len() < BLOCK)
            {
                // What is known of an open block would be out of date when it has grown.
                self.cells[block].clear();
            }
        }
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

    fn row_near(&self, t_us: u64, guess: usize) -> usize {
        self.codes.row_near(t_us, guess)
    }

    fn entry_near(&self, t_us: u64, guess: usize) -> usize {
        self.codes.entry_near(t_us, guess)
    }

    fn sums(&self, rows: Range<usize>) -> Option<Sums> {
        let worked = &self.outputs.worked[self.axis.index()];
        worked.sums.over(rows, |part| self.cells(part).map(|cells| Sums::of(&cells)))
    }

    fn cells(&self, rows: Range<usize>) -> Option<Vec<i32>> {
        rows.map(|row| self.outputs.value(self.axis, row).map(i32::from)).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn extremes_of_cells_and_of_rows_agree() {
        let mut worked = Worked::default();
        let made = |row: usize| ((row * 7919) % 60_001) as i32 as i16;
        let wanted = Wanted { blocks: 0..4, fine: true };
        // In pieces, as they come while live.
        for piece in 0..16 {
            let rows = piece * BLOCK / 4..(piece + 1) * BLOCK / 4;
            worked.keep(rows.start, &rows.map(made).collect::<Vec<i16>>(), &wanted);
        }
        let all: Vec<i32> = (0..4 * BLOCK).map(|row| i32::from(made(row))).collect();
        assert_eq!(worked.sums.over(0..4 * BLOCK, |_| Some(Sums::default())), Some(Sums::of(&all)));
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
    fn no_more_rows_are_kept_than_agreed_and_those_looked_at_stay() {
        let mut worked = Worked::default();
        let near = Wanted { blocks: 0..KEPT, fine: true };
        for block in 0..KEPT {
            worked.keep(block * BLOCK, &[1; BLOCK], &near);
        }
        // Then the whole, of which only the ends are wanted row by row.
        let whole = Wanted { blocks: 0..KEPT + 40, fine: false };
        for block in KEPT..KEPT + 40 {
            worked.keep(block * BLOCK, &[1; BLOCK], &whole);
        }
        assert_eq!(worked.rows.len(), KEPT);
        assert!(worked.rows.contains_key(&0) && worked.rows.contains_key(&(KEPT + 39)));
        assert!(!worked.rows.contains_key(&(KEPT + 20)), "in the middle extremes do");
        assert_eq!(worked.coarse(0..BLOCK), Some((1, 1)), "extremes stay");
    }
}
