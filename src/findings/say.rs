//! Sentences and small sums that findings share: limits in words, differences, ratios, shares.
use super::Severity;
use crate::limits::Band;
use crate::measure::{Estimate, Reading, number, spaced};
use crate::units::Unit;

/// What to mind when the supply, a regulator or a cell is touched.
pub const SUPPLY_CAUTION: &str = "Disconnect the supply before changing it; keep to the datasheet \
    of every part on the rail. Leave lithium cells and mains supplies to people qualified for \
    them, under the local rules";

/// What to mind when motors or lights share the supply.
pub const LOAD_CAUTION: &str = "Keep motors, lights and the USB port inside the currents of their \
    datasheets; a motor may start while it is being wired";

/// The limit that a finding of this severity misses: "limit 3.0 counts".
pub fn missed(band: &Band, severity: Severity, unit: Unit) -> String {
    let range = match severity {
        Severity::Fault => band.reject,
        Severity::Warning => band.marginal,
        Severity::Note => band.good,
    };
    let show = |value: f64| {
        let text = number(value * unit.shown_factor(), 2);
        let text = text.trim_end_matches('0').trim_end_matches('.').to_owned();
        if text.is_empty() { "0".to_owned() } else { text }
    };
    let after = spaced(unit);
    match (range.low, range.high) {
        (Some(low), Some(high)) => format!("limits {} to {}{after}", show(low), show(high)),
        (None, Some(high)) => format!("limit {}{after}", show(high)),
        (Some(low), None) => format!("limit {}{after} at least", show(low)),
        (None, None) => String::new(),
    }
}

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

/// k of n as a share with its Wilson score interval at 95 % (Wilson 1927); `None` for n = 0 or
/// k > n. The lower end is 0 for k = 0 and above 0 for every k ≥ 1.
pub fn share(k: u64, n: u64) -> Option<Estimate> {
    if n == 0 || k > n {
        return None;
    }
    let z2 = 1.959_963_984_540_054_f64.powi(2);
    let (n_f, p) = (n as f64, k as f64 / n as f64);
    let middle = (p + z2 / (2.0 * n_f)) / (1.0 + z2 / n_f);
    let half = (z2 * (p * (1.0 - p) / n_f + z2 / (4.0 * n_f * n_f))).sqrt() / (1.0 + z2 / n_f);
    let low = if k == 0 { 0.0 } else { (middle - half).max(0.0) };
    let high = if k == n { 1.0 } else { (middle + half).min(1.0) };
    Some(Estimate { value: p, low, high, n: usize::try_from(n).unwrap_or(usize::MAX) })
}

/// "1 frame", "2 frames".
pub fn count_of(n: u64, one: &str) -> String {
    format!("{n} {one}{}", if n == 1 { "" } else { "s" })
}

/// A probability in words: "1 in 2000", to one digit; from a millionth down "less than 1 in a million".
pub fn chance(p: f64) -> String {
    if p < 1e-6 {
        return "less than 1 in a million".to_owned();
    }
    let times = 1.0 / p.min(1.0);
    let digit = 10f64.powf(times.log10().floor());
    format!("1 in {:.0}", (times / digit).round() * digit)
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

    #[test]
    fn wilson_interval_of_one_in_ten() {
        // Closed form worked by hand: centre (0.1 + 0.19207)/(1.38415), half-width 0.1929.
        let s = share(1, 10).expect("ten");
        assert!((s.low - 0.017_876).abs() < 1e-5, "{}", s.low);
        assert!((s.high - 0.404_150).abs() < 1e-5, "{}", s.high);
        assert_eq!(share(0, 10).map(|s| s.low), Some(0.0));
        assert!(share(1, 0).is_none() && share(2, 1).is_none());
    }

    #[test]
    fn chances_are_written_to_one_digit() {
        assert_eq!(chance(4.3e-4), "1 in 2000");
        assert_eq!(chance(0.3), "1 in 3");
        assert_eq!(chance(2.0), "1 in 1");
        assert_eq!(chance(0.0), "less than 1 in a million");
    }

    #[test]
    fn limits_are_written_without_trailing_zeros() {
        let band = Band::at_most(0.0125, 2.0, 150.0);
        assert_eq!(missed(&band, Severity::Fault, Unit::Counts), "limit 150\u{a0}counts");
        assert_eq!(missed(&band, Severity::Note, Unit::Fraction), "limit 1.25\u{a0}%");
    }
}
