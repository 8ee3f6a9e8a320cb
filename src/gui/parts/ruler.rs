//! How places and lengths along a session are written: in time, or in rows where nothing tells the time.
use super::area::round_step;
use super::numbers::{clock, grouped, minutes, number, signed};

/// What the axis of a session counts.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub enum Ruler {
    /// Time, from the first row.
    #[default]
    Time,
    /// Rows, the first is 1: each takes so many µs of the axis, which mean nothing.
    Rows(f64),
}

impl Ruler {
    /// The ruler of a session whose rows take so many µs each because nothing tells the time.
    pub fn of(row_us: Option<f64>) -> Ruler {
        row_us.filter(|us| *us > 0.0).map_or(Ruler::Time, Ruler::Rows)
    }

    /// True where there is a time.
    pub fn is_time(self) -> bool {
        self == Ruler::Time
    }

    /// A length that is `time_us` in time, and so many rows where there is none; µs of the axis.
    pub fn either(self, time_us: u64, rows: u32) -> u64 {
        match self {
            Ruler::Time => time_us,
            Ruler::Rows(row_us) => (f64::from(rows) * row_us) as u64,
        }
    }

    /// A place: "02:41.306" or "row 12 345".
    pub fn place(self, t_us: u64) -> String {
        match self {
            Ruler::Time => clock(t_us),
            Ruler::Rows(row_us) => format!("row {}", grouped(row(t_us, row_us))),
        }
    }

    /// A place and the end: "02:41.306 of 05:00.000" or "row 12 345 of 27 500".
    pub fn place_of(self, t_us: u64, end_us: u64) -> String {
        let end = match self {
            Ruler::Time => clock(end_us),
            Ruler::Rows(row_us) => grouped(row(end_us, row_us)),
        };
        format!("{} of {end}", self.place(t_us))
    }

    /// A place in wordings, the longest first, for where there may be no room.
    pub fn wordings(self, t_us: u64, end_us: u64) -> Vec<String> {
        match self {
            Ruler::Time => vec![clock(t_us), minutes(t_us)],
            Ruler::Rows(row_us) => {
                let short = grouped(row(t_us, row_us));
                vec![self.place_of(t_us, end_us), self.place(t_us), short]
            }
        }
    }

    /// A length: "20 ms", "5 s", "60.0 min" or "1 250 rows".
    pub fn length(self, us: u64) -> String {
        let s = us as f64 / 1e6;
        match self {
            Ruler::Rows(row_us) => match (us as f64 / row_us).round().max(1.0) as u64 {
                1 => "1\u{a0}row".to_owned(),
                rows => format!("{}\u{a0}rows", grouped(rows)),
            },
            Ruler::Time if s < 1.0 => format!("{:.0}\u{a0}ms", s * 1e3),
            Ruler::Time if s < 120.0 => format!("{}\u{a0}s", (s * 10.0).round() / 10.0),
            Ruler::Time if s < 7200.0 => format!("{:.1}\u{a0}min", s / 60.0),
            Ruler::Time => format!("{:.1}\u{a0}h", s / 3600.0),
        }
    }

    /// A length with all its digits: "1.25 s" or "313 rows".
    pub fn exactly(self, us: u64) -> String {
        match self {
            Ruler::Time => format!("{} s", us as f64 / 1e6),
            Ruler::Rows(_) => self.length(us),
        }
    }

    /// What lies between two places: the length with its sign, and in time how often that goes into a second.
    pub fn between(self, a_us: u64, b_us: u64) -> Vec<String> {
        let us = b_us as f64 - a_us as f64;
        match self {
            Ruler::Rows(row_us) => vec![format!("B − A {}\u{a0}rows", signed(us / row_us, 0))],
            Ruler::Time => {
                let mut words = vec![format!("Δt {}\u{a0}ms", signed(us / 1e3, 2))];
                if us != 0.0 {
                    words.push(format!("1/Δt {}\u{a0}Hz", number((1e6 / us).abs(), 2)));
                }
                words
            }
        }
    }

    /// How fast a session is played: "speed ×2" or "500 rows/s".
    pub fn speed(self, times: f64) -> String {
        match self {
            Ruler::Time => format!("speed ×{times}"),
            Ruler::Rows(row_us) => {
                let rows = times * 1e6 / row_us;
                format!("{} rows/s", number(rows, usize::from(rows.fract() != 0.0)))
            }
        }
    }

    /// Places of an axis and what is written there, at most about `most` of them.
    pub fn ticks(self, [left_us, right_us]: [u64; 2], most: f64) -> Vec<(u64, String)> {
        // Row n begins n − 1 rows behind the first.
        let (unit_us, before) = match self {
            Ruler::Time => (1e6, 0.0),
            Ruler::Rows(row_us) => (row_us, 1.0),
        };
        let [left, right] = [left_us, right_us].map(|us| us as f64 / unit_us + before);
        let least = (right - left) / most;
        let step = match self {
            Ruler::Time => time_step(least),
            Ruler::Rows(_) => round_step(least.max(1.0)).max(1.0),
        };
        let (first, last) = ((left / step).ceil() as u64, (right / step).floor() as u64);
        let tick = |k: u64| {
            let at = k as f64 * step;
            let words = match self {
                Ruler::Time => time_words(at, step),
                Ruler::Rows(_) => grouped(at as u64),
            };
            (((at - before) * unit_us).round() as u64, words)
        };
        (first.max(before as u64)..=last).map(tick).collect()
    }

    /// What stands beside the axis; nothing where its numbers say it themselves.
    pub fn axis_name(self) -> &'static str {
        if self.is_time() { "" } else { "row" }
    }
}

/// The row at a place of the axis, the first is 1.
fn row(t_us: u64, row_us: f64) -> u64 {
    (t_us as f64 / row_us).round() as u64 + 1
}

/// A round step of time in seconds that is at least `least`.
fn time_step(least: f64) -> f64 {
    if least <= 1.0 {
        return round_step(least);
    }
    [2.0, 5.0, 10.0, 15.0, 30.0, 60.0, 120.0, 300.0, 600.0, 900.0, 1800.0, 3600.0, 7200.0, 21600.0]
        .into_iter()
        .find(|s| *s >= least)
        .unwrap_or(86_400.0)
}

fn time_words(t_s: f64, step: f64) -> String {
    let decimals = if step >= 1.0 { 0 } else { (-step.log10()).ceil().clamp(1.0, 4.0) as usize };
    let minutes = (t_s / 60.0).floor();
    let seconds = t_s - minutes * 60.0;
    let width = if decimals == 0 { 2 } else { 3 + decimals };
    if minutes >= 60.0 {
        let hours = (minutes / 60.0).floor();
        return format!("{hours}:{:02}:{seconds:0width$.decimals$}", minutes - hours * 60.0);
    }
    format!("{minutes}:{seconds:0width$.decimals$}")
}

#[cfg(test)]
mod tests {
    use super::*;

    const ROWS: Ruler = Ruler::Rows(4_000.0);

    #[test]
    fn times_are_written_as_finely_as_the_grid() {
        assert_eq!(time_words(65.0, 1.0), "1:05");
        assert_eq!(time_words(65.25, 0.05), "1:05.25");
        assert_eq!(time_words(3725.0, 60.0), "1:02:05");
        assert_eq!(time_step(0.03), 0.05);
        assert_eq!(time_step(40.0), 60.0);
        let ticks = Ruler::Time.ticks([9_500_000, 12_000_000], 3.0);
        assert_eq!(ticks, [10, 11, 12].map(|s| (s * 1_000_000, format!("0:{s}"))));
    }

    #[test]
    fn lengths_are_written_in_fitting_units() {
        assert_eq!(Ruler::Time.length(5_000), "5\u{a0}ms");
        assert_eq!(Ruler::Time.length(5_000_000), "5\u{a0}s");
        assert_eq!(Ruler::Time.length(3_600_000_000), "60.0\u{a0}min");
        assert_eq!(ROWS.length(5_000_000), "1\u{a0}250\u{a0}rows");
        assert_eq!(ROWS.length(5_000), "1\u{a0}row");
    }

    #[test]
    fn without_a_time_places_are_rows_from_1() {
        assert_eq!(Ruler::of(None), Ruler::Time);
        assert_eq!(ROWS.place(0), "row 1");
        assert_eq!(ROWS.place_of(49_376_000, 109_996_000), "row 12\u{a0}345 of 27\u{a0}500");
        assert_eq!(Ruler::Time.place_of(1_000, 2_000), "00:00.001 of 00:00.002");
        let ticks = ROWS.ticks([0, 8_000_000], 5.0);
        let rows: Vec<&str> = ticks.iter().map(|t| t.1.as_str()).collect();
        assert_eq!(rows, ["500", "1\u{a0}000", "1\u{a0}500", "2\u{a0}000"]);
        assert_eq!(ticks[0].0, 499 * 4_000, "where the row of that number stands");
        // However near: no row is named twice, and none before the first.
        let near = ROWS.ticks([0, 5_000], 10.0);
        assert_eq!(near.iter().map(|t| t.1.as_str()).collect::<Vec<_>>(), ["1", "2"]);
    }

    #[test]
    fn what_lies_between_is_said_in_the_same_measure() {
        assert_eq!(ROWS.between(0, 480_000), ["B − A +120\u{a0}rows"]);
        assert_eq!(Ruler::Time.between(0, 500_000), ["Δt +500.00\u{a0}ms", "1/Δt 2.00\u{a0}Hz"]);
        assert_eq!(
            (ROWS.speed(0.25), ROWS.speed(2.0)),
            ("62.5 rows/s".into(), "500 rows/s".into())
        );
        assert_eq!(Ruler::Time.speed(0.25), "speed ×0.25");
        assert_eq!((ROWS.either(20_000, 20), Ruler::Time.either(20_000, 20)), (80_000, 20_000));
    }
}
