//! The columns of a line as they were read: name, role, digits, range, and whether each is used.
use crate::wire::{Base, Role, is_further_control};

use super::Session;

/// Share of full scale over which a column must go to count as moving.
const MOVES: f64 = 0.15;
/// Share of rows at each end of the sorted values that may be damage.
const ODD: usize = 500;
/// Share of the range that a column crosses from line to line, in the middle, when it is no control: the
/// fastest hand needs tens of milliseconds from end to end.
const LEAPS: f64 = 0.2;

/// What becomes of a column.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Fate {
    /// It is used for its role.
    Used,
    /// Not used: it hardly moves.
    Still,
    /// Not used: it goes one way, as clocks and counters do.
    RunsOn,
    /// Not used: it leaps from line to line, as checksums do.
    Leaps,
    /// A further stick or trigger by its name: kept, drawn and exported, and not solved.
    Further,
    /// Not used, though it moves as a control does and comes back.
    Moves,
}

impl Fate {
    /// Machine word.
    pub fn key(self) -> &'static str {
        match self {
            Fate::Used => "used",
            Fate::Still => "still",
            Fate::RunsOn => "runs-on",
            Fate::Leaps => "leaps",
            Fate::Further => "further",
            Fate::Moves => "moves",
        }
    }

    /// In words.
    pub fn words(self) -> &'static str {
        match self {
            Fate::Used => "used",
            Fate::Still => "not used: hardly moves",
            Fate::RunsOn => "not used: runs one way",
            Fate::Leaps => "not used: leaps from line to line",
            Fate::Further => "kept, not solved: a further stick or trigger",
            Fate::Moves => "not used, and it moves",
        }
    }
}

/// One column as it was read.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ColumnRead {
    /// Its place in the line, the first is 1.
    pub place: usize,
    /// Its name in the line or the dialect; empty where nothing in the lines names it.
    pub name: String,
    /// What it is taken for.
    pub role: Role,
    /// The role comes from the order of the columns alone.
    pub guessed: bool,
    /// How its digits are read.
    pub base: Base,
    /// Least and greatest value, but for one in 500 at each end; `None` without rows.
    pub range: Option<[i64; 2]>,
    /// What becomes of it.
    pub fate: Fate,
}

impl ColumnRead {
    /// `field 3` or its name and place: `lx (field 3)`.
    pub fn words(&self) -> String {
        match self.name.is_empty() {
            true => format!("field {}", self.place),
            false => format!("{} (field {})", self.name, self.place),
        }
    }

    /// Size of one count in the unit that the line prints: 0.001 for volts with three places.
    pub fn scale(&self) -> f64 {
        match self.base {
            Base::Fixed(places) | Base::FixedComma(places) => 10_f64.powi(-i32::from(places)),
            _ => 1.0,
        }
    }

    /// What it was taken for, in words.
    pub fn taken_for(&self) -> String {
        let guess = if self.guessed { " (guessed)" } else { "" };
        format!("{}{guess}", self.role.words())
    }

    /// How its digits are read, in words; decimals with the size of a count.
    pub fn digits(&self) -> String {
        match self.is_processed() {
            true => format!("{}, a count is {}, processed", self.base.words(), self.scale()),
            false => self.base.words().to_owned(),
        }
    }

    /// Its range in words; empty without rows.
    pub fn range_words(&self) -> String {
        self.range.map_or(String::new(), |[low, high]| format!("{low} to {high}"))
    }

    /// True where decimals were turned into counts.
    pub fn is_processed(&self) -> bool {
        self.base.is_decimal() && self.role != Role::Clock
    }
}

impl Session {
    /// Every column as it was read. Cost: a pass over all cells, and a copy of one column at a time.
    pub fn columns_read(&self) -> Vec<ColumnRead> {
        let Some(dialect) = self.dialect() else { return Vec::new() };
        let by_order = self.roles_by_order();
        let column = |(k, (field, role)): (usize, (&crate::wire::Field, &Role))| {
            let cells = self.column(k);
            let wide = matches!(role, Role::Axis(_) | Role::OutAxis(_) | Role::Ignore);
            let mut values: Vec<i64> = match wide {
                true => cells.iter().map(|c| i64::from(*c)).collect(),
                false => cells.iter().map(|c| i64::from(*c as u32)).collect(),
            };
            let range = inner_range(&mut values);
            let fate = match role {
                Role::Ignore if is_further_control(&field.name) && !by_order => Fate::Further,
                Role::Ignore => fate_of(&cells, range),
                _ => Fate::Used,
            };
            let running = matches!(role, Role::Seq | Role::Clock | Role::Ignore);
            ColumnRead {
                place: k + 1,
                name: if by_order { String::new() } else { field.name.clone() },
                role: *role,
                guessed: by_order && !running,
                base: self.base_of(k),
                range,
                fate,
            }
        };
        dialect.fields.iter().zip(self.roles()).enumerate().map(column).collect()
    }
}

/// The values but for one in 500 at each end, where damage may stand.
fn inner_range(values: &mut [i64]) -> Option<[i64; 2]> {
    let last = values.len().checked_sub(1)?;
    let cut = values.len() / ODD;
    let low = *values.select_nth_unstable(cut).1;
    let high = *values.select_nth_unstable(last - cut).1;
    Some([low, high])
}

/// Whether a column that is not used moves as a control does.
fn fate_of(cells: &[i32], range: Option<[i64; 2]>) -> Fate {
    let Some([low, high]) = range else { return Fate::Still };
    let most = low.abs().max(high.abs());
    let full = [4, 8, 10, 12, 14, 16].map(|bits| (1_i64 << bits) - 1);
    let full = full.into_iter().find(|full| most <= *full).unwrap_or(i64::from(u32::MAX));
    let span = high - low;
    if span == 0 || (span as f64) < MOVES * full as f64 {
        let steps = || cells.windows(2).map(|w| i64::from(w[1]) - i64::from(w[0]));
        let falls = steps().filter(|d| *d < 0).count();
        let rises = steps().filter(|d| *d > 0).count();
        let one_way = rises.min(falls) * 10 < rises.max(falls) && rises.max(falls) > 2;
        return if one_way { Fate::RunsOn } else { Fate::Still };
    }
    let mut steps: Vec<i64> = Vec::with_capacity(cells.len());
    steps.extend(cells.windows(2).map(|w| i64::from(w[1]) - i64::from(w[0])));
    let (rises, falls) =
        (steps.iter().filter(|d| **d > 0).count(), steps.iter().filter(|d| **d < 0).count());
    // A counter that goes round falls once a turn.
    if rises.min(falls) * 10 < rises.max(falls) {
        return Fate::RunsOn;
    }
    let middle = steps.len() / 2;
    steps.iter_mut().for_each(|d| *d = d.abs());
    if *steps.select_nth_unstable(middle).1 as f64 > LEAPS * span as f64 {
        return Fate::Leaps;
    }
    if comes_back(cells, low, span) { Fate::Moves } else { Fate::Still }
}

/// Went through at least half of its range and back.
fn comes_back(cells: &[i32], low: i64, span: i64) -> bool {
    let (mut above, mut changes) = (None, 0);
    for cell in cells {
        let at = i64::from(*cell) - low;
        let now = if 4 * at >= 3 * span {
            Some(true)
        } else if 4 * at <= span {
            Some(false)
        } else {
            None
        };
        if now.is_some() && now != above {
            changes += usize::from(above.is_some());
            above = now;
        }
    }
    changes >= 2
}

#[cfg(test)]
mod tests {
    use super::*;

    fn fate(cells: &[i32]) -> Fate {
        let mut values: Vec<i64> = cells.iter().map(|c| i64::from(*c)).collect();
        let range = inner_range(&mut values);
        fate_of(cells, range)
    }

    #[test]
    fn what_moves_is_told_from_what_runs_leaps_or_rests() {
        let of = |cell: &dyn Fn(i32) -> i32| fate(&(0..2000).map(cell).collect::<Vec<i32>>());
        assert_eq!(of(&|k| 512 + (300.0 * (f64::from(k) / 60.0).sin()) as i32), Fate::Moves);
        let share = |part: f64| of(&|k| 512 + (part * (f64::from(k) / 60.0).sin()) as i32);
        assert_eq!((share(70.0), share(80.0)), (Fate::Still, Fate::Moves), "15 % of 1023 are 153");
        assert_eq!(of(&|k| 500 + k % 3), Fate::Still);
        assert_eq!(of(&|_| 7), Fate::Still);
        assert_eq!(of(&|k| k), Fate::RunsOn);
        assert_eq!(of(&|k| k % 256), Fate::RunsOn, "a counter that goes round");
        assert_eq!(of(&|k| 900 - k / 4), Fate::RunsOn);
        let leaps = |k: i32| ((k as u32).wrapping_mul(2_654_435_761) >> 16) as i32;
        assert_eq!(of(&leaps), Fate::Leaps);
        assert_eq!(of(&|k| if k < 1000 { 3 } else { 200 + k % 2 }), Fate::Still, "never back");
        let hit = |k: i32| if k % 700 == 1 { 1023 } else { 512 + k % 2 };
        assert_eq!(of(&hit), Fate::Still, "damage moves nothing");
        assert_eq!(fate(&[]), Fate::Still);
    }
}
