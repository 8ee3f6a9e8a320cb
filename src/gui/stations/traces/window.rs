//! The stretch of time that the traces show: follow, freeze, zoom, drag; scroll or sweep.

/// Shortest span, µs.
pub const LEAST_US: u64 = 5_000;
/// Longest span, µs: a day.
pub const MOST_US: u64 = 86_400_000_000;

/// How a live trace moves.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Motion {
    /// The newest sample stands at the right edge and the past moves left.
    #[default]
    Scroll,
    /// The picture stands still and the newest sample writes over the oldest.
    Sweep,
}

impl Motion {
    /// The other one.
    pub fn other(self) -> Motion {
        match self {
            Motion::Scroll => Motion::Sweep,
            Motion::Sweep => Motion::Scroll,
        }
    }
}

/// Which stretch is shown.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TimeWindow {
    /// Length of the stretch, µs.
    pub span_us: u64,
    /// Its right edge; `None` = the newest sample, wherever that is.
    pub held_at_us: Option<u64>,
    /// How it moves while it follows.
    pub motion: Motion,
}

impl Default for TimeWindow {
    fn default() -> Self {
        TimeWindow { span_us: 5_000_000, held_at_us: None, motion: Motion::Scroll }
    }
}

impl TimeWindow {
    /// Left and right edge in µs for a session that ends at `end_us`.
    ///
    /// In a sweep that follows, the left edge is the sweep's beginning: the stretch reaches past
    /// the newest sample, and what stands right of it is one span older.
    pub fn edges(&self, end_us: u64) -> [u64; 2] {
        if self.sweeps() {
            let left = end_us - end_us % self.span_us;
            return [left, left + self.span_us];
        }
        let right = self.held_at_us.unwrap_or(end_us);
        // Before the first span is full, time runs from the left edge.
        [right.saturating_sub(self.span_us), right.max(self.span_us)]
    }

    /// True while the picture stands and is written over.
    pub fn sweeps(&self) -> bool {
        self.motion == Motion::Sweep && self.held_at_us.is_none()
    }

    /// Holds the picture where it is, or lets it follow again.
    pub fn toggle_freeze(&mut self, end_us: u64) {
        self.held_at_us = match self.held_at_us {
            None => Some(end_us.max(self.span_us)),
            Some(_) => None,
        };
    }

    /// Makes the span `factor` times as long; the time under the pointer keeps its place.
    ///
    /// A picture that follows keeps following: its right edge stays the newest sample.
    pub fn zoom(&mut self, factor: f64, pivot_us: f64, end_us: u64) {
        let [left, right] = self.edges(end_us).map(|t| t as f64);
        let old = self.span_us as f64;
        let span = (old * factor).clamp(LEAST_US as f64, MOST_US as f64);
        self.span_us = span as u64;
        if self.held_at_us.is_some() {
            let share = ((pivot_us - left) / (right - left)).clamp(0.0, 1.0);
            let new_left = (pivot_us - share * span).max(0.0);
            self.held_at_us = Some((new_left + span) as u64);
        }
    }

    /// Moves the picture by `by_us` (to later times when positive) and holds it there.
    ///
    /// Dragged past the newest sample it follows again.
    pub fn pan(&mut self, by_us: f64, end_us: u64) {
        let right = self.held_at_us.unwrap_or_else(|| end_us.max(self.span_us)) as f64 + by_us;
        let right = right.max(self.span_us as f64);
        self.held_at_us = (right < end_us.max(self.span_us + 1) as f64).then_some(right as u64);
    }

    /// Shows a span found elsewhere (a finding, a mark), with a tenth of it on either side.
    pub fn show(&mut self, from_us: u64, to_us: u64) {
        let length = to_us.saturating_sub(from_us).max(LEAST_US);
        self.span_us = (length + length / 5).clamp(LEAST_US, MOST_US);
        self.held_at_us = Some((to_us + length / 10).max(self.span_us));
    }

    /// Shows a stretch from edge to edge, as a person drew it.
    pub fn show_exactly(&mut self, from_us: u64, to_us: u64) {
        self.span_us = to_us.saturating_sub(from_us).clamp(LEAST_US, MOST_US);
        self.held_at_us = Some(from_us.saturating_add(self.span_us));
    }

    /// Where a time stands between the edges, 0 to 1; times one span back wrap round in a sweep.
    pub fn share(&self, t_us: u64, end_us: u64) -> Option<f64> {
        let [left, right] = self.edges(end_us);
        let t = if self.sweeps() && t_us < left && end_us < t_us + self.span_us {
            t_us + self.span_us
        } else {
            t_us
        };
        (left..=right).contains(&t).then(|| (t - left) as f64 / (right - left) as f64)
    }

    /// The times that `columns` pixel columns show, each from its first to its last µs.
    ///
    /// In a sweep the columns behind the newest sample show the span before, save a narrow blank.
    pub fn columns(&self, columns: usize, end_us: u64) -> Grid {
        let [left, right] = self.edges(end_us);
        let (count, span) = (columns.max(1) as u128, u128::from((right - left).max(1)));
        // Edges are counted from time 0, so that a picture that moves keeps its columns.
        let edge = |k: u128| (k * span / count) as u64;
        let first = u128::from(left) * count / span;
        let begun_us = left - edge(first);
        let blank_us = (self.span_us / 50).max(1);
        let whole = count + u128::from(begun_us > 0);
        let times = (first..first + whole)
            .map(|k| {
                let (from, to) = (edge(k), edge(k + 1));
                if !self.sweeps() || from <= end_us {
                    Some([from, to])
                } else if from < end_us + blank_us {
                    None
                } else {
                    Some([from.checked_sub(self.span_us)?, to - self.span_us])
                }
            })
            .collect();
        Grid { times, begun: (begun_us as f64 * count as f64 / span as f64) as f32 }
    }
}

/// Pixel columns in time.
#[derive(Clone, Debug, PartialEq)]
pub struct Grid {
    /// From the first to the last µs of each; `None` where nothing is shown.
    pub times: Vec<Option<[u64; 2]>>,
    /// The part of the first one that lies left of the picture.
    pub begun: f32,
}

#[cfg(test)]
mod tests {
    use super::*;

    const S: u64 = 1_000_000;

    #[test]
    fn following_ends_at_the_newest_sample() {
        let window = TimeWindow::default();
        assert_eq!(window.edges(20 * S), [15 * S, 20 * S]);
        assert_eq!(window.edges(S), [0, 5 * S], "the first span fills from the left");
    }

    #[test]
    fn a_frozen_picture_stays_while_time_goes_on() {
        let mut window = TimeWindow::default();
        window.toggle_freeze(20 * S);
        assert_eq!(window.edges(90 * S), [15 * S, 20 * S]);
        window.toggle_freeze(90 * S);
        assert_eq!(window.edges(90 * S), [85 * S, 90 * S]);
    }

    #[test]
    fn zoom_keeps_the_time_under_the_pointer() {
        let mut window = TimeWindow::default();
        window.toggle_freeze(20 * S);
        let pivot = 16.0e6;
        let share = |w: &TimeWindow| w.share(16 * S, 90 * S).expect("shown");
        let before = share(&window);
        window.zoom(0.5, pivot, 90 * S);
        assert_eq!(window.span_us, 5 * S / 2);
        assert!((share(&window) - before).abs() < 1e-5);
    }

    #[test]
    fn zoom_stops_at_its_limits() {
        let mut window = TimeWindow::default();
        window.zoom(1e-9, 0.0, S);
        assert_eq!(window.span_us, LEAST_US);
        window.zoom(1e30, 0.0, S);
        assert_eq!(window.span_us, MOST_US);
    }

    #[test]
    fn dragging_back_holds_and_dragging_past_the_end_follows() {
        let mut window = TimeWindow::default();
        window.pan(-2.0e6, 20 * S);
        assert_eq!(window.edges(60 * S), [13 * S, 18 * S]);
        window.pan(90.0e6, 20 * S);
        assert_eq!(window.held_at_us, None);
    }

    #[test]
    fn a_sweep_shows_the_span_before_behind_a_blank() {
        let window = TimeWindow { motion: Motion::Sweep, ..TimeWindow::default() };
        let Grid { times: columns, begun } = window.columns(100, 12 * S);
        assert_eq!((columns.len(), begun), (100, 0.0));
        assert_eq!(window.edges(12 * S), [10 * S, 15 * S]);
        assert_eq!(columns[0], Some([10 * S, 10 * S + 50_000]));
        assert_eq!(columns[41], None, "just behind the newest sample");
        assert_eq!(columns[99], Some([9 * S + 950_000, 10 * S]));
        assert_eq!(window.share(9 * S + 500_000, 12 * S), Some(0.9));
    }

    #[test]
    fn a_picture_that_moves_keeps_its_columns() {
        let grid = |end_us| TimeWindow::default().columns(300, end_us);
        let (before, after) = (grid(20 * S), grid(20 * S + 50_000));
        assert_eq!(before.begun, 0.0);
        // Three columns of a sixtieth of a second are 50 000 µs.
        assert_eq!(before.times[3..], after.times[..297]);
        let between = grid(20 * S + 7_000);
        assert_eq!(between.times.len(), 301, "one more where the first is begun");
        assert!((between.begun - 0.42).abs() < 1e-3, "{}", between.begun);
        assert_eq!(between.times[..300], before.times[..]);
        let joined = |w: &[Option<[u64; 2]>]| w[0].map(|c| c[1]) == w[1].map(|c| c[0]);
        assert!(between.times.windows(2).all(joined));
    }

    #[test]
    fn a_drawn_stretch_is_shown_from_edge_to_edge() {
        let mut window = TimeWindow::default();
        window.show_exactly(3 * S, 4 * S);
        assert_eq!(window.edges(99 * S), [3 * S, 4 * S]);
        window.show_exactly(3 * S, 3 * S);
        assert_eq!(window.edges(99 * S), [3 * S, 3 * S + LEAST_US]);
    }

    #[test]
    fn showing_a_span_leaves_air_on_both_sides() {
        let mut window = TimeWindow::default();
        window.show(10 * S, 20 * S);
        assert_eq!(window.edges(99 * S), [9 * S, 21 * S]);
    }
}
