//! One judgement of a figure against its band: good, missed or undecided.
use crate::limits::{Band, Grade, Limits};
use crate::measure::Reading;
use crate::survey::{Code, Survey};

/// The figure as its band is written: a share of the travel, a ratio. `None` = not judged, since what
/// it depends on is missing or the band does not hold for such a part.
pub type Scaled<T> = fn(&T, usize, &Survey) -> Option<Reading>;

/// The limit of a row.
pub struct Judge<T: 'static> {
    /// Its band.
    pub band: fn(&Limits) -> &Band,
    /// The code of the finding that a missed one belongs to.
    pub code: Code,
    /// The figure as the band is written.
    pub scaled: Scaled<T>,
    /// A nuisance: beyond the reject limit it is a warning and no fault.
    pub is_nuisance: bool,
}

impl<T> Judge<T> {
    /// A figure judged by a band.
    pub const fn by(band: fn(&Limits) -> &Band, code: Code, scaled: Scaled<T>) -> Judge<T> {
        Judge { band, code, scaled, is_nuisance: false }
    }

    /// The same as a nuisance.
    pub const fn nuisance(self) -> Judge<T> {
        Judge { is_nuisance: true, ..self }
    }
}

/// What may be said of a figure that has a limit.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Judgement {
    /// The whole interval is good.
    Good,
    /// The whole interval is beyond good, marginal or reject: the grade says which.
    Missed(Grade),
    /// The interval straddles the edge of good.
    Undecided {
        /// About how many more items narrow it enough, as far as the value stays.
        more: Option<u64>,
    },
}

impl Judgement {
    /// Machine word.
    pub fn key(self) -> &'static str {
        match self {
            Judgement::Good => "good",
            Judgement::Missed(_) => "missed",
            Judgement::Undecided { .. } => "undecided",
        }
    }
}

/// A figure held against its band.
#[derive(Clone, Copy, Debug)]
pub struct Judged {
    /// What may be said.
    pub judgement: Judgement,
    /// The figure as the band is written.
    pub reading: Reading,
    /// The band.
    pub band: Band,
    /// The code of the finding that a missed one belongs to.
    pub code: Code,
}

impl Judged {
    /// Holds a reading against a band.
    pub fn of(reading: Reading, band: Band, code: Code, is_nuisance: bool) -> Judged {
        let judgement = match band.grade(reading.low, reading.high) {
            Grade::Good => Judgement::Good,
            Grade::CannotTell => Judgement::Undecided { more: more(&reading, &band) },
            Grade::Reject if is_nuisance => Judgement::Missed(Grade::Poor),
            grade => Judgement::Missed(grade),
        };
        Judged { judgement, reading, band, code }
    }
}

/// About how many more items the interval needs until it no longer straddles the edge of good, if the
/// value stays: n·((h/d)² − 1) with the half-width h and the distance d to the edge; `None` when the
/// value stands on the edge, or without a finite interval.
fn more(reading: &Reading, band: &Band) -> Option<u64> {
    let edges = [band.good.low, band.good.high].into_iter().flatten();
    let edge = edges.filter(|e| (reading.low..=reading.high).contains(e));
    let near = edge.map(|e| (e - reading.value).abs()).fold(f64::INFINITY, f64::min);
    let half = (reading.high - reading.low) / 2.0;
    let times = (half / near).powi(2) - 1.0;
    let more = (reading.n as f64 * times).ceil();
    (more.is_finite() && (1.0..1e6).contains(&more)).then_some(more as u64)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::measure::{Estimate, Span};
    use crate::units::Unit;

    fn judged(value: f64, half: f64) -> Judgement {
        let estimate = Estimate { value, low: value - half, high: value + half, n: 16 };
        let reading = estimate.over(Span::default(), Unit::Counts);
        Judged::of(reading, Band::at_most(1.0, 2.0, 3.0), Code::NoisyInput, false).judgement
    }

    #[test]
    fn three_words_and_no_more() {
        assert_eq!(judged(0.5, 0.1), Judgement::Good);
        assert_eq!(judged(1.5, 0.2), Judgement::Missed(Grade::Marginal));
        assert_eq!(judged(4.0, 0.5), Judgement::Missed(Grade::Reject));
        // Half-width 0.75 at a distance of 0.5: 2.25 times the data, 20 more than 16.
        assert_eq!(judged(0.5, 0.75), Judgement::Undecided { more: Some(20) });
        assert_eq!(judged(1.0, 0.4), Judgement::Undecided { more: None });
    }
}
