//! A measured figure as it leaves `measure`: value, interval, count and the span it came from.
use serde::{Deserialize, Serialize};

use crate::units::Unit;

/// The stretch of board time that a figure was taken from, both ends included.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Span {
    /// First sample used, µs of unwrapped board time.
    pub start_us: u64,
    /// Last sample used, µs of unwrapped board time.
    pub end_us: u64,
}

impl Span {
    /// The smallest span that holds both.
    pub fn join(self, other: Span) -> Span {
        Span { start_us: self.start_us.min(other.start_us), end_us: self.end_us.max(other.end_us) }
    }

    /// Length in seconds.
    pub fn seconds(self) -> f64 {
        self.end_us.saturating_sub(self.start_us) as f64 * 1e-6
    }
}

/// A value with its two-sided 95 % interval and the number of samples behind it; no unit, no place.
///
/// `low ≤ value ≤ high`; the interval is (−∞, ∞) where the method gives none.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Estimate {
    /// Best value.
    pub value: f64,
    /// Lower end of the 95 % interval.
    pub low: f64,
    /// Upper end of the 95 % interval.
    pub high: f64,
    /// Number of independent items behind it (samples, releases, turns, presses: the doc of the
    /// function says which).
    pub n: usize,
}

impl Estimate {
    /// The estimate with its unit and the span that it was taken from.
    pub fn over(self, span: Span, unit: Unit) -> Reading {
        Reading { value: self.value, low: self.low, high: self.high, n: self.n, unit, span }
    }
}

/// A measured figure: value, 95 % interval, unit, number of items and span.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Reading {
    /// Best value, in `unit` (fractions are stored as shares of one).
    pub value: f64,
    /// Lower end of the two-sided 95 % interval.
    pub low: f64,
    /// Upper end of the two-sided 95 % interval.
    pub high: f64,
    /// Number of independent items behind it.
    pub n: usize,
    /// Unit of value and interval.
    pub unit: Unit,
    /// Where in the session it came from.
    pub span: Span,
}

/// Why a figure could not be given, and what to do about it. A value, never a zero.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Shortage {
    /// What is short, in words: "releases of the left stick".
    pub what: String,
    /// How many there are.
    pub have: usize,
    /// How many the method needs.
    pub need: usize,
    /// What the person should do next, one sentence without a full stop.
    pub advice: String,
}

impl std::fmt::Display for Shortage {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{}: {} of {} needed; {}", self.what, self.have, self.need, self.advice)
    }
}

/// A figure, or the reason why there is none.
pub type Measured<T = Reading> = Result<T, Shortage>;
