//! Differences and ratios of independent readings, with their intervals to first order.
use super::{Estimate, Reading};
use crate::units::Unit;

/// a − b for independent readings: half-widths add in squares, n is the smaller, the span holds
/// both. The unit is that of `a`.
pub fn difference(a: &Reading, b: &Reading) -> Reading {
    let value = a.value - b.value;
    let low = value - (a.value - a.low).hypot(b.high - b.value);
    let high = value + (a.high - a.value).hypot(b.value - b.low);
    Estimate { value, low, high, n: a.n.min(b.n) }.over(a.span.join(b.span), a.unit)
}

/// a ÷ b for independent readings, by relative half-widths (first order). `None` unless both
/// values are above zero and finite.
pub fn ratio(a: &Reading, b: &Reading, unit: Unit) -> Option<Reading> {
    if !(a.value > 0.0 && b.value > 0.0 && a.value.is_finite() && b.value.is_finite()) {
        return None;
    }
    let value = a.value / b.value;
    let down = ((a.value - a.low) / a.value).hypot((b.high - b.value) / b.value);
    let up = ((a.high - a.value) / a.value).hypot((b.value - b.low) / b.value);
    let low = (value * (1.0 - down)).max(0.0);
    let high = value * (1.0 + up);
    Some(Estimate { value, low, high, n: a.n.min(b.n) }.over(a.span.join(b.span), unit))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::measure::Span;

    fn counts(value: f64, half: f64) -> Reading {
        Estimate { value, low: value - half, high: value + half, n: 9 }
            .over(Span::default(), Unit::Counts)
    }

    #[test]
    fn independent_intervals_add_in_squares() {
        let d = difference(&counts(900.0, 3.0), &counts(500.0, 4.0));
        assert_eq!((d.value, d.low, d.high), (400.0, 395.0, 405.0));
        let r = ratio(&counts(400.0, 12.0), &counts(200.0, 8.0), Unit::Number).expect("positive");
        assert!((r.value - 2.0).abs() < 1e-12 && (r.high - 2.1).abs() < 1e-12);
        assert!(ratio(&counts(0.0, 1.0), &counts(1.0, 1.0), Unit::Number).is_none());
    }
}
