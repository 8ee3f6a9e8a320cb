//! How figures are written for a person: digits by their interval, units, real minus signs, times.
pub use crate::measure::number;
use crate::measure::{Measured, Reading, decimals, spaced};
use crate::units::Unit;

/// A reading in words, ready to be laid out.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Words {
    /// The value: "13.2".
    pub value: String,
    /// The unit: "counts"; empty for plain numbers.
    pub unit: String,
    /// The interval: "± 0.6", or "12.1 to 14.9" when it is lopsided; empty when there is none.
    pub interval: String,
}

/// The words of a reading; digits go as far as the interval's second significant digit.
pub fn reading(r: &Reading) -> Words {
    let factor = r.unit.shown_factor();
    let (value, low, high) = (r.value * factor, r.low * factor, r.high * factor);
    let half = (high - low) / 2.0;
    let decimals = decimals(value, half);
    let interval = if !half.is_finite() || half <= 0.0 {
        String::new()
    } else if ((high - value) - (value - low)).abs() <= 0.2 * half {
        format!("± {}", number(half, decimals))
    } else {
        format!("{} to {}", number(low, decimals), number(high, decimals))
    };
    Words { value: number(value, decimals), unit: r.unit.symbol().to_owned(), interval }
}

/// The words of a figure that may be missing; `Err` is the advice.
pub fn measured(figure: &Measured) -> Result<Words, String> {
    figure.as_ref().map(reading).map_err(|s| s.to_string())
}

/// "13.2 counts", "4.1 %", "1.3°", "248".
pub fn with_unit(value: f64, decimals: usize, unit: Unit) -> String {
    format!("{}{}", number(value * unit.shown_factor(), decimals), spaced(unit))
}

/// Like [`number`], with a plus sign before positive numbers.
pub fn signed(value: f64, decimals: usize) -> String {
    let text = number(value, decimals);
    let zero = text.bytes().all(|b| b == b'0' || b == b'.');
    if value > 0.0 && !zero { format!("+{text}") } else { text }
}

/// Board time as minutes, seconds and milliseconds: "02:41.306"; hours before them when there are any.
pub fn clock(t_us: u64) -> String {
    let ms = t_us / 1000;
    let (s, m, h) = (ms / 1000, ms / 60_000, ms / 3_600_000);
    let tail = format!("{:02}:{:02}.{:03}", m % 60, s % 60, ms % 1000);
    if h > 0 { format!("{h}:{tail}") } else { tail }
}

/// Minutes and seconds: "02:41".
pub fn minutes(t_us: u64) -> String {
    let s = t_us / 1_000_000;
    if s >= 3600 {
        format!("{}:{:02}:{:02}", s / 3600, s / 60 % 60, s % 60)
    } else {
        format!("{:02}:{:02}", s / 60, s % 60)
    }
}

/// A file's size: "812 B", "41 kB", "3.2 MB", "1.30 GB"; powers of ten.
pub fn bytes(n: u64) -> String {
    let n = n as f64;
    let (value, decimals, unit) = match n {
        n if n < 1e3 => (n, 0, "B"),
        n if n < 1e6 => (n / 1e3, 0, "kB"),
        n if n < 1e9 => (n / 1e6, 1, "MB"),
        n => (n / 1e9, 2, "GB"),
    };
    format!("{}\u{a0}{unit}", number(value, decimals))
}

/// A whole number with thin spaces between groups of three: "3 600 000".
pub fn grouped(n: u64) -> String {
    let digits = n.to_string();
    let mut out = String::with_capacity(digits.len() * 2);
    for (k, c) in digits.chars().enumerate() {
        if k > 0 && (digits.len() - k).is_multiple_of(3) {
            out.push('\u{a0}');
        }
        out.push(c);
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::measure::Span;

    fn made(value: f64, low: f64, high: f64, unit: Unit) -> Reading {
        Reading { value, low, high, n: 16, unit, span: Span::default() }
    }

    #[test]
    fn digits_follow_the_interval() {
        let w = reading(&made(518.3123, 517.7, 518.9, Unit::Counts));
        assert_eq!((w.value.as_str(), w.interval.as_str()), ("518.3", "± 0.6"));
        let w = reading(&made(0.041, 0.030, 0.0522, Unit::Fraction));
        assert_eq!((w.value.as_str(), w.unit.as_str(), w.interval.as_str()), ("4.1", "%", "± 1.1"));
        let w = reading(&made(1.0, 0.9, 2.0, Unit::Millis));
        assert_eq!(w.interval, "0.9 to 2.0");
    }

    #[test]
    fn an_open_interval_is_left_out() {
        let w = reading(&made(120.0, f64::NEG_INFINITY, f64::INFINITY, Unit::Number));
        assert_eq!((w.value.as_str(), w.interval.as_str()), ("120", ""));
    }

    #[test]
    fn minus_is_a_minus_and_zero_has_none() {
        assert_eq!(number(-0.9, 1), "\u{2212}0.9");
        assert_eq!(number(-0.01, 1), "0.0");
        assert_eq!(signed(0.4, 1), "+0.4");
        assert_eq!(signed(0.04, 1), "0.0");
    }

    #[test]
    fn times_and_groups() {
        assert_eq!(clock(161_306_999), "02:41.306");
        assert_eq!(clock(3_600_000_000), "1:00:00.000");
        assert_eq!(minutes(161_000_000), "02:41");
        assert_eq!(grouped(3_600_000), "3\u{a0}600\u{a0}000");
        assert_eq!(grouped(12), "12");
    }
}
