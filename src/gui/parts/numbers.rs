//! How figures are written for a person: digits by their interval, units, real minus signs, times.
pub use crate::measure::number;
use crate::measure::spaced;
use crate::units::Unit;

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
