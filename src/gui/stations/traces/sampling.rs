//! From rows to pixels: extremes by pixel column from the envelope, or runs of samples when few.
use std::ops::Range;

use egui::{Pos2, Rect, pos2};

use crate::gui::parts::lane::Extent;
use crate::session::{SPAN_ROWS, Sums};

/// What a lane needs to know of the rows behind it.
pub trait Rows {
    /// Number of rows.
    fn rows(&self) -> usize;
    /// Time of a row, µs; never decreasing.
    fn t_us(&self, row: usize) -> u64;
    /// Least and greatest value over rows; `None` when there are none.
    fn min_max(&self, rows: Range<usize>) -> Option<(i32, i32)>;
    /// Value of one row.
    fn value(&self, row: usize) -> i32;

    /// A number that changes when rows of one session that were there get other values; `None`
    /// while any of them may do so at any time.
    fn state(&self) -> Option<u64> {
        None
    }

    /// Least and greatest value of each of many runs of rows, as pixel columns are.
    fn spans(&self, runs: &[Range<usize>]) -> Vec<Option<(i32, i32)>> {
        runs.iter().map(|rows| self.min_max(rows.clone())).collect()
    }

    /// The values of rows; `None` while they are not known.
    fn cells(&self, rows: Range<usize>) -> Option<Vec<i32>> {
        Some(rows.map(|row| self.value(row)).collect())
    }

    /// Number, sum and sum of squares of the values of rows; `None` while they are not known.
    fn sums(&self, rows: Range<usize>) -> Option<Sums> {
        self.cells(rows).map(|cells| Sums::of(&cells))
    }

    /// The same as [`Rows::row_at`], found sooner when the row lies near `guess`.
    fn row_near(&self, t_us: u64, _guess: usize) -> usize {
        self.row_at(t_us)
    }

    /// A row less than 1 024 behind [`Rows::row_at`], at which an entry of the envelope begins where
    /// there are such; found sooner when it lies near `guess`.
    fn entry_near(&self, t_us: u64, guess: usize) -> usize {
        self.row_near(t_us, guess)
    }

    /// First row at or after a time; the number of rows when there is none. Cost: log₂ rows.
    fn row_at(&self, t_us: u64) -> usize {
        let (mut low, mut high) = (0, self.rows());
        while low < high {
            let middle = usize::midpoint(low, high);
            if self.t_us(middle) < t_us { low = middle + 1 } else { high = middle }
        }
        low
    }
}

/// Rows behind each pixel column; shared by all lanes of a picture.
///
/// Columns of very many rows share edges on whole entries of the envelope, less than an eighth of a
/// column behind their own.
pub fn column_rows(rows: &(impl Rows + ?Sized), columns: &[Option<[u64; 2]>]) -> Vec<Range<usize>> {
    let mut found = Vec::with_capacity(columns.len());
    let mut before: Option<(u64, Range<usize>)> = None;
    for (k, column) in columns.iter().enumerate() {
        let Some([from, to]) = *column else {
            found.push(0..0);
            continue;
        };
        let (first, step) = match &before {
            // Neighbouring columns share an edge: its row is known already, and the next edge lies
            // about as far on.
            Some((edge, rows)) if *edge == from => (rows.end, rows.len()),
            _ => (rows.row_at(from), 0),
        };
        let shared = columns.get(k + 1).is_some_and(|next| next.is_some_and(|n| n[0] == to));
        let end = match shared && step >= SPAN_ROWS * ENTRIES_A_COLUMN {
            true => rows.entry_near(to, first + step),
            false => rows.row_near(to, first + step),
        };
        let shown = first..end.max(first);
        before = Some((to, shown.clone()));
        found.push(shown);
    }
    found
}

/// Rows under the entries that the envelope is read by, from few to many.
const ENTRIES: [usize; 3] = [16, 256, SPAN_ROWS];
/// A column has at least so many entries, so that an edge moves by less than an eighth of a pixel.
const ENTRIES_A_COLUMN: usize = 8;

/// Columns of many rows with the edges that they share moved back to whole entries of the envelope,
/// by less than an eighth of a column: then a column costs little however many rows it has.
///
/// Every row stays in one column; edges beside a column of few rows, or of none, stay in place.
pub fn on_entries(columns: &[Range<usize>]) -> Vec<Range<usize>> {
    let mut moved = columns.to_vec();
    for k in 1..moved.len() {
        let edge = columns[k].start;
        let least = columns[k - 1].len().min(columns[k].len());
        let fits = |entry: &&usize| **entry * ENTRIES_A_COLUMN <= least;
        let Some(entry) = ENTRIES.iter().rev().find(fits) else { continue };
        if columns[k - 1].end == edge {
            let edge = edge / entry * entry;
            (moved[k - 1].end, moved[k].start) = (edge, edge);
        }
    }
    moved
}

/// Extremes of each pixel column.
pub fn extents(rows: &(impl Rows + ?Sized), columns: &[Range<usize>]) -> Vec<Extent> {
    let spans = rows.spans(columns);
    spans.into_iter().map(|span| span.map(|(low, high)| [low as f32, high as f32])).collect()
}

/// Extremes of each pixel column of a contact: between two samples it keeps its level.
pub fn held_extents(rows: &(impl Rows + ?Sized), columns: &[Range<usize>]) -> Vec<Extent> {
    let mut extents = extents(rows, columns);
    for (extent, column) in extents.iter_mut().zip(columns) {
        if column.is_empty() {
            let row = column.start.checked_sub(1).filter(|_| column.start < rows.rows());
            *extent = row.map(|row| rows.value(row) as f32).map(|level| [level, level]);
        }
    }
    extents
}

/// True when the picture shows so few samples that each deserves a place of its own.
pub fn is_sparse(columns: &[Range<usize>]) -> bool {
    let shown: usize = columns.iter().map(Range::len).sum();
    let filled = columns.iter().filter(|c| !c.is_empty()).count();
    shown <= columns.len() * 2 || (filled > 0 && shown / filled < 2)
}

/// Samples as runs of points; a run ends where the time between two samples is more than
/// `gap_us`, or where `broken` says that frames are missing before a row.
///
/// One sample beyond either edge is taken along, so that lines reach the edges.
pub fn runs(
    rows: &(impl Rows + ?Sized),
    shown: Range<usize>,
    gap_us: f64,
    broken: &[usize],
    place: impl Fn(u64, i32) -> Pos2,
) -> Vec<Vec<Pos2>> {
    let shown = shown.start.saturating_sub(1)..(shown.end + 1).min(rows.rows());
    let mut runs = vec![Vec::new()];
    let mut before: Option<u64> = None;
    let mut next_break = broken.partition_point(|b| *b <= shown.start);
    for row in shown {
        let t = rows.t_us(row);
        let mut cut = before.is_some_and(|b| (t - b) as f64 > gap_us);
        while broken.get(next_break).is_some_and(|b| *b <= row) {
            cut = true;
            next_break += 1;
        }
        if cut {
            runs.push(Vec::new());
        }
        if let Some(run) = runs.last_mut() {
            run.push(place(t, rows.value(row)));
        }
        before = Some(t);
    }
    runs.retain(|run| !run.is_empty());
    runs
}

/// Horizontal pixel of a share of a rectangle.
pub fn x_of(rect: Rect, share: f64) -> f32 {
    rect.left() + share as f32 * rect.width()
}

/// A pixel from shares of a rectangle, y upwards.
pub fn point(rect: Rect, x_share: f64, y_share: f32) -> Pos2 {
    pos2(x_of(rect, x_share), rect.bottom() - y_share * rect.height())
}

#[cfg(test)]
mod tests {
    use super::*;

    struct Made(Vec<(u64, i32)>);

    impl Rows for Made {
        fn rows(&self) -> usize {
            self.0.len()
        }
        fn t_us(&self, row: usize) -> u64 {
            self.0[row].0
        }
        fn min_max(&self, rows: Range<usize>) -> Option<(i32, i32)> {
            let part = self.0.get(rows)?;
            Some((part.iter().map(|r| r.1).min()?, part.iter().map(|r| r.1).max()?))
        }
        fn value(&self, row: usize) -> i32 {
            self.0[row].1
        }
    }

    fn thousand() -> Made {
        Made((0..1000).map(|k| (k * 1000, (k % 7) as i32)).collect())
    }

    #[test]
    fn every_row_falls_into_exactly_one_column() {
        let rows = thousand();
        let columns: Vec<_> = (0..37).map(|k| Some([k * 27_027, (k + 1) * 27_027])).collect();
        let found = column_rows(&rows, &columns);
        assert_eq!(found.iter().map(Range::len).sum::<usize>(), 1000);
        assert!(found.windows(2).all(|w| w[0].end == w[1].start));
    }

    #[test]
    fn edges_on_entries_keep_every_row_in_one_column_near_its_own() {
        // Columns of few rows, of many, of none (a gap), of very many, and the first of a sweep.
        let lengths = [100, 300, 300, 5_000, 5_100, 0, 4_900, 5_000, 70_001, 70_003, 12];
        let mut at = 1_000_037;
        let mut columns: Vec<Range<usize>> = lengths
            .iter()
            .map(|n| {
                at += n;
                at - n..at
            })
            .collect();
        columns.push(37..5_041);
        columns.push(5_041..10_050);
        let moved = on_entries(&columns);
        for (k, (was, now)) in columns.iter().zip(&moved).enumerate() {
            let least = was.len() / ENTRIES_A_COLUMN;
            assert!(was.start.abs_diff(now.start) <= least, "{k}: {was:?} {now:?}");
            assert!(was.end.abs_diff(now.end) <= least, "{k}: {was:?} {now:?}");
        }
        for k in 1..moved.len() {
            let shared = columns[k - 1].end == columns[k].start;
            assert_eq!(moved[k - 1].end == moved[k].start, shared, "{k}");
        }
        let stays = [0, 1, 5, 6, 10, 11];
        assert!(stays.iter().all(|k| moved[*k].start == columns[*k].start), "{moved:?}");
        assert_eq!(moved[2].start % 16, 0);
        assert_eq!(moved[4].start % 256, 0);
        assert_eq!(moved[9].start % SPAN_ROWS, 0);
        assert_eq!(moved[12].start % 256, 0);
    }

    #[test]
    fn one_high_sample_is_never_lost() {
        let mut rows = thousand();
        rows.0[503].1 = 900;
        let columns: Vec<_> = (0..10).map(|k| Some([k * 100_000, (k + 1) * 100_000])).collect();
        let extents = extents(&rows, &column_rows(&rows, &columns));
        assert_eq!(extents[5].map(|e| e[1]), Some(900.0));
    }

    #[test]
    fn a_column_without_rows_is_a_gap() {
        let rows = Made(vec![(0, 1), (1000, 2), (90_000, 3)]);
        let columns = [Some([0, 10_000]), Some([10_000, 20_000]), None, Some([80_000, 99_000])];
        let extents = extents(&rows, &column_rows(&rows, &columns));
        assert_eq!(extents, [Some([1.0, 2.0]), None, None, Some([3.0, 3.0])]);
    }

    #[test]
    fn runs_end_at_gaps_and_breaks() {
        let rows = Made(vec![(0, 1), (1000, 2), (2000, 3), (9000, 4), (10_000, 5)]);
        let at = |t: u64, v: i32| pos2(t as f32, v as f32);
        let lengths = |broken: &[usize]| -> Vec<usize> {
            runs(&rows, 0..5, 1800.0, broken, at).iter().map(Vec::len).collect()
        };
        assert_eq!(lengths(&[]), [3, 2]);
        assert_eq!(lengths(&[1]), [1, 2, 2]);
        assert_eq!(lengths(&[3]), [3, 2], "a break at a gap is one cut");
    }
}
