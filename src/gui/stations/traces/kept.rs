//! Columns that were drawn before: only those that are new on screen are looked up.
use std::collections::BTreeMap;
use std::ops::Range;

use super::lanes::LineKey;
use crate::gui::parts::lane::{Band, Extent};

/// The columns of every line as they were last drawn.
#[derive(Default)]
pub struct Kept(BTreeMap<LineKey, Line>);

/// The columns of one line.
#[derive(Default)]
struct Line {
    /// The reading of a stream and the state of the line that they are of.
    of: (u64, u64),
    columns: Vec<Range<usize>>,
    band: Band,
}

impl Kept {
    /// The extremes of columns of a line: those of a column of the same rows are taken over from the
    /// picture before, the others looked up by `look`.
    ///
    /// `reading` is that of the session, `state` that of its rows. Cost: the number of columns, and
    /// `look` for new ones.
    pub fn band(
        &mut self,
        key: LineKey,
        (reading, state): (u64, Option<u64>),
        columns: &[Range<usize>],
        look: impl Fn(&[Range<usize>]) -> Vec<Extent>,
    ) -> &Band {
        let line = self.0.entry(key).or_default();
        let of = (reading, state.unwrap_or(0));
        if state.is_none() || line.of != of {
            *line = Line { of, ..Line::default() };
        }
        if line.columns != columns {
            let band = Band::from(carried(&line.columns, &line.band.extents, columns, look));
            *line = Line { of, columns: columns.to_vec(), band };
        }
        &line.band
    }

    /// Forgets lines that are not on screen.
    pub fn keep_only(&mut self, on_screen: impl Fn(&LineKey) -> bool) {
        self.0.retain(|key, _| on_screen(key));
    }
}

/// The extremes of columns, from those that were there before where the rows are the same.
fn carried(
    had: &[Range<usize>],
    extents: &[Extent],
    columns: &[Range<usize>],
    look: impl Fn(&[Range<usize>]) -> Vec<Extent>,
) -> Vec<Extent> {
    let mut found: Vec<Extent> = vec![None; columns.len()];
    let mut new = Vec::new();
    let mut at = 0;
    for (k, column) in columns.iter().enumerate() {
        // Both go up with time, but for the one step back of a sweep.
        if at > 0 && had[at - 1].start > column.start {
            at = 0;
        }
        while had.get(at).is_some_and(|h| h.start < column.start) {
            at += 1;
        }
        match had.get(at) {
            Some(same) if same == column => found[k] = extents[at],
            _ => new.push(k),
        }
    }
    let wanted: Vec<Range<usize>> = new.iter().map(|k| columns[*k].clone()).collect();
    for (k, extent) in new.into_iter().zip(look(&wanted)) {
        found[k] = extent;
    }
    found
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::super::channels::Channel;
    use super::super::lanes::Form;
    use super::*;

    const KEY: LineKey = LineKey { channel: Channel::Field(0), form: Form::Counts };

    /// A line whose values are the numbers of its first `rows` rows.
    fn numbers(rows: usize) -> impl Fn(&[Range<usize>]) -> Vec<Extent> {
        let of = move |column: &Range<usize>| {
            let column = column.start..column.end.min(rows);
            (!column.is_empty()).then_some([column.start as f32, column.end as f32 - 1.0])
        };
        move |columns| columns.iter().map(of).collect()
    }

    fn columns(first: usize, wide: usize, count: usize, turn: usize) -> Vec<Range<usize>> {
        let mut all: Vec<_> =
            (0..count).map(|k| first + k * wide..first + (k + 1) * wide).collect();
        // A sweep: what comes later stands further left.
        all.rotate_left(turn % count.max(1));
        all
    }

    proptest! {
        #[test]
        fn what_is_taken_over_is_what_would_be_found(
            pictures in prop::collection::vec(
                (0_usize..400, 0_usize..9, 1_usize..60, 0_usize..60), 1..12,
            ),
        ) {
            let mut kept = Kept::default();
            for (first, wide, count, turn) in pictures {
                let columns = columns(first, wide, count, turn);
                let band = kept.band(KEY, (1, Some(0)), &columns, numbers(500));
                prop_assert_eq!(&band.extents, &numbers(500)(&columns));
            }
        }
    }

    #[test]
    fn another_reading_another_state_and_none_are_looked_up_anew() {
        let mut kept = Kept::default();
        let columns = columns(0, 5, 4, 0);
        for of in [(2, Some(0)), (1, Some(7)), (1, None)] {
            kept.band(KEY, (1, Some(0)), &columns, numbers(20));
            let before = |_: &[Range<usize>]| panic!("nothing is new");
            kept.band(KEY, (1, Some(0)), &columns, before);
            let band = kept.band(KEY, of, &columns, numbers(3));
            assert_eq!(band.extents, numbers(3)(&columns), "{of:?}");
        }
    }
}
