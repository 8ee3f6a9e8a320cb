//! Travel of the analog inputs: the share of the way from rest to the end that every push passes.
use std::hash::{DefaultHasher, Hash, Hasher};
use std::ops::Range;

use super::block_sums::BlockSums;
use super::channels::FieldRows;
use super::outputs::BLOCK;
use super::sampling::Rows;
use crate::rig::AxisId;
use crate::session::{Session, Sums};
use crate::trim::Trim;
use crate::wire::Role;

/// Blocks whose sums are worked out in one frame at most.
const BLOCKS_AT_ONCE: usize = 24;

/// How codes become travel.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct Scale {
    /// Code at rest.
    pub rest: u16,
    /// Ends that every push passes.
    pub ends: [u16; 2],
    /// A rising code is a negative travel.
    pub falls: bool,
}

impl Scale {
    /// Of an input whose constants are known.
    pub fn of(trim: &Trim, axis: AxisId) -> Option<Scale> {
        if axis.is_trigger() {
            let t = trim.trigger(axis.half())?;
            let ends = [t.rest.min(t.full), t.rest.max(t.full)];
            return Some(Scale { rest: t.rest, ends, falls: t.sign < 0 });
        }
        let a = trim.axis(axis)?;
        Some(Scale { rest: a.centre, ends: [a.low, a.high], falls: a.sign < 0 })
    }

    /// Travel of a code in hundredths of a per cent, with the sign of the output.
    ///
    /// Rising with the code, or falling: extremes of the codes are extremes of the travel.
    pub fn travel(&self, cell: i32) -> i32 {
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

    /// The same for the least and greatest of some codes.
    fn span(&self, (low, high): (i32, i32)) -> (i32, i32) {
        let (a, b) = (self.travel(low), self.travel(high));
        (a.min(b), a.max(b))
    }

    fn sums(&self, codes: &[i32]) -> Sums {
        Sums::of(&codes.iter().map(|c| self.travel(*c)).collect::<Vec<i32>>())
    }
}

/// Sums of the travel of one input.
#[derive(Clone, Debug, Default)]
struct Worked {
    scale: Option<Scale>,
    field: Option<usize>,
    sums: BlockSums,
}

/// Sums of the travel of every input as far as they have been looked at.
///
/// Travel bends at the rest and is rounded, so that the sums of the codes do not tell its own.
#[derive(Clone, Debug, Default)]
pub struct Travels([Worked; 6]);

impl Travels {
    /// Starts an input anew when its constants or its field have changed.
    pub fn follow(&mut self, session: &Session, trim: Option<&Trim>) {
        for (axis, worked) in AxisId::ALL.into_iter().zip(&mut self.0) {
            let scale = trim.and_then(|trim| Scale::of(trim, axis));
            let field = session.field_of(Role::Axis(axis));
            let shrunk = worked.sums.len() > session.rows() / BLOCK;
            if (scale, field) != (worked.scale, worked.field) || shrunk {
                *worked = Worked { scale, field, ..Worked::default() };
            }
        }
    }

    /// Works out the sums that `axes` need over `rows`, a limited number of blocks a call; true
    /// when all are there.
    pub fn prepare(&mut self, session: &Session, axes: &[AxisId], rows: Range<usize>) -> bool {
        let mut left = BLOCKS_AT_ONCE;
        for axis in axes {
            let worked = &mut self.0[axis.index()];
            let (Some(scale), Some(field)) = (worked.scale, worked.field) else { continue };
            for block in rows.start.div_ceil(BLOCK)..rows.end.min(session.rows()) / BLOCK {
                if worked.sums.has(block) {
                    continue;
                }
                if left == 0 {
                    return false;
                }
                left -= 1;
                let codes = session.column_part(field, block * BLOCK..(block + 1) * BLOCK);
                worked.sums.keep(block, scale.sums(&codes));
            }
        }
        true
    }

    /// The sums of one input.
    pub fn sums(&self, axis: AxisId) -> &BlockSums {
        &self.0[axis.index()].sums
    }
}

/// The travel of one input in hundredths of a per cent, with the sign of its output.
pub struct TravelRows<'a> {
    /// The codes behind it.
    pub codes: FieldRows<'a>,
    /// How they become travel.
    pub scale: Scale,
    /// What has been worked out.
    pub sums: &'a BlockSums,
}

impl Rows for TravelRows<'_> {
    fn rows(&self) -> usize {
        self.codes.rows()
    }

    fn t_us(&self, row: usize) -> u64 {
        self.codes.t_us(row)
    }

    fn min_max(&self, rows: Range<usize>) -> Option<(i32, i32)> {
        self.codes.min_max(rows).map(|span| self.scale.span(span))
    }

    fn state(&self) -> Option<u64> {
        let mut state = DefaultHasher::new();
        (self.codes.field, self.scale).hash(&mut state);
        Some(state.finish())
    }

    fn spans(&self, runs: &[Range<usize>]) -> Vec<Option<(i32, i32)>> {
        let spans = self.codes.spans(runs);
        spans.into_iter().map(|span| span.map(|span| self.scale.span(span))).collect()
    }

    fn value(&self, row: usize) -> i32 {
        self.scale.travel(self.codes.value(row))
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
        self.sums.over(rows, |part| Some(self.scale.sums(&self.codes.cells(part)?)))
    }

    fn cells(&self, rows: Range<usize>) -> Option<Vec<i32>> {
        let cells = self.codes.cells(rows)?;
        Some(cells.into_iter().map(|c| self.scale.travel(c)).collect())
    }
}
