//! How fast a recording is played: so many times real time, or flat out.
use std::str::FromStr;

/// A pace.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Pace {
    /// So many times real time, more than 0.
    Times(f64),
    /// As fast as the bytes can be read.
    FlatOut,
}

impl Default for Pace {
    /// Real time.
    fn default() -> Pace {
        Pace::Times(1.0)
    }
}

/// A pace that cannot be read.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("pace `{0}`: give how many times real time (0.01 to 1000), or `flat-out`")]
pub struct BadPace(String);

impl FromStr for Pace {
    type Err = BadPace;

    fn from_str(text: &str) -> Result<Pace, BadPace> {
        if text == "flat-out" {
            return Ok(Pace::FlatOut);
        }
        match text.parse::<f64>() {
            Ok(times) if (0.01..=1000.0).contains(&times) => Ok(Pace::Times(times)),
            _ => Err(BadPace(text.escape_debug().to_string())),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_and_the_word_are_paces_and_nothing_else_is() {
        assert_eq!("2.5".parse(), Ok(Pace::Times(2.5)));
        assert_eq!("flat-out".parse(), Ok(Pace::FlatOut));
        for text in ["0", "-1", "inf", "NaN", "fast", "", "1e9"] {
            let words = text.parse::<Pace>().expect_err(text).to_string();
            assert!(words.contains("flat-out"), "{words}");
        }
    }
}
