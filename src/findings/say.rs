//! Sentences and small sums that findings share: limits in words, differences, ratios, shares.
use super::Severity;
use crate::limits::Band;
use crate::measure::{number, spaced};
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

/// "1 frame", "2 frames".
pub fn count_of(n: u64, one: &str) -> String {
    let many = if one.ends_with('s') { "es" } else { "s" };
    format!("{n} {one}{}", if n == 1 { "" } else { many })
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
