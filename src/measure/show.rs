//! How a reading is written for a person: as many digits as its interval supports, unit, interval, n.
use std::fmt;

use super::Reading;
use crate::units::Unit;

/// Decimals that a figure deserves, from the half-width of its interval.
///
/// Two significant digits of the half-width when they begin with 1 or 2 and one otherwise, as is
/// common for uncertainties; without a half-width that is finite and above zero, four
/// significant digits of the value (none for whole numbers); 0 to 3 decimals. Any input is allowed; costs a logarithm.
pub fn decimals(value: f64, half_width: f64) -> usize {
    let scale = if half_width.is_finite() && half_width > 0.0 {
        let power = half_width.log10().floor();
        let leading = half_width / 10f64.powf(power);
        if leading < 2.95 { 1.0 - power } else { -power }
    } else if value.fract() == 0.0 {
        0.0
    } else if value.is_finite() {
        3.0 - value.abs().log10().floor()
    } else {
        1.0
    };
    // The clamp keeps the cast inside 0..=3.
    if scale.is_finite() { scale.clamp(0.0, 3.0) as usize } else { 1 }
}

/// A number with a true minus sign and never "-0".
pub fn number(value: f64, decimals: usize) -> String {
    if !value.is_finite() {
        return "–".to_owned();
    }
    let text = format!("{value:.decimals$}");
    match text.strip_prefix('-') {
        Some(rest) if rest.bytes().all(|b| matches!(b, b'0' | b'.')) => rest.to_owned(),
        Some(rest) => format!("\u{2212}{rest}"),
        None => text,
    }
}

/// The unit with the space that stands before it: " counts", "°", "" for plain numbers.
pub fn spaced(unit: Unit) -> String {
    match unit {
        Unit::Degrees => "°".to_owned(),
        Unit::Number => String::new(),
        other => format!("\u{a0}{}", other.symbol()),
    }
}

/// Said where there is no figure.
pub const DASH: &str = "–";

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

/// Largest difference of the two sides of an interval, as a share of its half-width, up to which it is
/// written with ±.
const EVEN: f64 = 0.2;

impl Reading {
    /// Value, unit and interval; digits go as far as the interval supports.
    pub fn words(&self) -> Words {
        let k = self.unit.shown_factor();
        let (value, low, high) = (self.value * k, self.low * k, self.high * k);
        let half = (high - low) / 2.0;
        let decimals = self.decimals();
        let interval = if !half.is_finite() || half <= 0.0 {
            String::new()
        } else if ((high - value) - (value - low)).abs() <= EVEN * half {
            format!("±\u{a0}{}", number(half, decimals))
        } else {
            format!("{} to {}", number(low, decimals), number(high, decimals))
        };
        Words { value: number(value, decimals), unit: self.unit.symbol().to_owned(), interval }
    }

    /// One cell of a table whose head names the unit: "0.712 ± 0.021", "1.26, 0.85 to 2.41"; per cent
    /// and degrees stand behind the figures.
    pub fn cell(&self) -> String {
        let words = self.words();
        let sign = match self.unit {
            Unit::Fraction | Unit::Degrees => spaced(self.unit),
            _ => String::new(),
        };
        match words.interval.as_str() {
            "" => format!("{}{sign}", words.value),
            even if even.starts_with('±') => format!("{} {even}{sign}", words.value),
            lopsided => format!("{}{sign}, {lopsided}", words.value),
        }
    }

    /// Decimals for value and interval alike.
    fn decimals(&self) -> usize {
        let k = self.unit.shown_factor();
        decimals(self.value * k, (self.high - self.low) * 0.5 * k)
    }

    /// Value and unit: "0.71 counts".
    pub fn value_text(&self) -> String {
        let shown = number(self.value * self.unit.shown_factor(), self.decimals());
        format!("{shown}{}", spaced(self.unit))
    }

    /// The 95 % interval without unit: "0.69 to 0.73"; empty where the method gives none.
    pub fn interval_text(&self) -> String {
        if !(self.low.is_finite() && self.high.is_finite()) {
            return String::new();
        }
        let (k, d) = (self.unit.shown_factor(), self.decimals());
        format!("{} to {}", number(self.low * k, d), number(self.high * k, d))
    }
}

impl fmt::Display for Reading {
    /// "0.71 counts (0.69 to 0.73, n = 2000)".
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let interval = self.interval_text();
        let comma = if interval.is_empty() { "" } else { ", " };
        write!(f, "{} ({interval}{comma}n\u{a0}=\u{a0}{})", self.value_text(), self.n)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::measure::{Estimate, Span};

    fn reading(value: f64, low: f64, high: f64, unit: Unit) -> Reading {
        Estimate { value, low, high, n: 16 }.over(Span::default(), unit)
    }

    #[test]
    fn digits_follow_the_interval() {
        let r = reading(0.7123, 0.691, 0.7336, Unit::Counts);
        assert_eq!(r.to_string(), "0.712\u{a0}counts (0.691 to 0.734, n\u{a0}=\u{a0}16)");
        assert_eq!(
            reading(395.9654, 395.92, 396.01, Unit::Counts).value_text(),
            "395.97\u{a0}counts"
        );
        assert_eq!(reading(518.33, 517.1, 519.6, Unit::Counts).value_text(), "518.3\u{a0}counts");
        assert_eq!(reading(0.0412, 0.03, 0.05, Unit::Fraction).value_text(), "4.1\u{a0}%");
        assert_eq!(reading(-1.26, -1.5, -1.0, Unit::Degrees).value_text(), "\u{2212}1.26°");
    }

    #[test]
    fn a_lopsided_interval_is_never_written_with_a_sign() {
        let even = reading(518.3123, 517.7, 518.9, Unit::Counts);
        assert_eq!(even.words().interval, "±\u{a0}0.6");
        assert_eq!(even.cell(), "518.3 ±\u{a0}0.6");
        let lopsided = reading(1.26, 0.86, 2.41, Unit::Millis);
        assert_eq!(
            (lopsided.words().interval.as_str(), lopsided.words().unit.as_str()),
            ("0.9 to 2.4", "ms")
        );
        assert_eq!(lopsided.cell(), "1.3, 0.9 to 2.4");
        assert_eq!(reading(0.041, 0.030, 0.0522, Unit::Fraction).cell(), "4.1 ±\u{a0}1.1\u{a0}%");
        assert_eq!(reading(3.0, 3.0, 3.0, Unit::Number).cell(), "3");
    }

    #[test]
    fn no_interval_is_said_by_its_absence() {
        let r = reading(3.0, f64::NEG_INFINITY, f64::INFINITY, Unit::Number);
        assert_eq!(r.to_string(), "3 (n\u{a0}=\u{a0}16)");
        assert_eq!(number(f64::NAN, 1), "–");
        assert_eq!(number(-0.001, 1), "0.0");
    }
}
