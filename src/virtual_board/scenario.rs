//! Named scenarios: which faults a virtual board is built with, and how strongly.
use std::fmt;
use std::str::FromStr;

use super::causes::Causes;
use super::dice::Dice;
use super::faults::FAULTS;

/// One fault that can be planted into a board.
#[derive(Clone, Copy)]
pub struct Fault {
    /// Its word on the command line and in addresses.
    pub word: &'static str,
    /// One line for a person.
    pub line: &'static str,
    pub(super) plant: fn(&mut Causes, &mut Dice, f64),
}

/// What is wrong with a board: any number of faults at once.
///
/// Written as words joined by `+`, each with a strength if it is not 1: `stale-half+lossy-link@0.5`.
#[derive(Clone, Default)]
pub struct Scenario {
    faults: Vec<(&'static Fault, f64)>,
}

/// Why a text names no scenario.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum ScenarioError {
    /// No fault has that word.
    #[error("no scenario is called \"{word}\"; there are: {known}")]
    Unknown {
        /// What was asked for.
        word: String,
        /// The words that there are.
        known: String,
    },
    /// The strength is no number in range.
    #[error("\"{0}\" is no strength; write a number above 0 and up to 4 behind the @")]
    Strength(String),
}

impl Scenario {
    /// A board with nothing wrong.
    pub fn healthy() -> Self {
        Scenario::default()
    }

    /// All words with a line each, `healthy` first.
    pub fn all() -> impl Iterator<Item = (&'static str, &'static str)> {
        let healthy = ("healthy", "nothing is wrong; spread as between decent boards");
        std::iter::once(healthy).chain(FAULTS.iter().map(|f| (f.word, f.line)))
    }

    /// The faults with their strengths, in the order in which they are planted.
    pub fn faults(&self) -> impl Iterator<Item = (&'static Fault, f64)> + '_ {
        self.faults.iter().copied()
    }

    /// Builds the faults into a board.
    pub(super) fn plant(&self, causes: &mut Causes, dice: &mut Dice) {
        for &(fault, strength) in &self.faults {
            (fault.plant)(causes, dice, strength);
        }
    }
}

impl FromStr for Scenario {
    type Err = ScenarioError;

    fn from_str(text: &str) -> Result<Self, ScenarioError> {
        let mut faults = Vec::new();
        for part in text.split('+').map(str::trim) {
            let (word, strength) = part.split_once('@').unwrap_or((part, "1"));
            let number = strength.parse().ok().filter(|s| *s > 0.0 && *s <= 4.0);
            let strength = number.ok_or_else(|| ScenarioError::Strength(strength.to_owned()))?;
            if word == "healthy" {
                continue;
            }
            let fault = FAULTS.iter().find(|f| f.word == word).ok_or_else(|| {
                let known: Vec<&str> = Scenario::all().map(|(word, _)| word).collect();
                ScenarioError::Unknown { word: word.to_owned(), known: known.join(", ") }
            })?;
            faults.push((fault, strength));
        }
        Ok(Scenario { faults })
    }
}

impl fmt::Display for Scenario {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if self.faults.is_empty() {
            return f.write_str("healthy");
        }
        for (k, (fault, strength)) in self.faults.iter().enumerate() {
            let joint = if k > 0 { "+" } else { "" };
            write!(f, "{joint}{}", fault.word)?;
            if *strength != 1.0 {
                write!(f, "@{strength}")?;
            }
        }
        Ok(())
    }
}

impl fmt::Debug for Scenario {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "Scenario({self})")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_written_is_read() {
        for text in ["healthy", "stale-half", "stale-half+lossy-link@0.5"] {
            assert_eq!(text.parse::<Scenario>().unwrap().to_string(), text);
        }
        for (word, line) in Scenario::all() {
            assert_eq!(word.parse::<Scenario>().unwrap().to_string(), word);
            assert!(line.len() > 10 && !line.ends_with('.'));
        }
    }

    #[test]
    fn what_cannot_be_is_said() {
        assert!("nonsense".parse::<Scenario>().unwrap_err().to_string().contains("stale-half"));
        for text in ["stale-half@0", "stale-half@x", "stale-half@-1", "stale-half@NaN"] {
            assert!(matches!(text.parse::<Scenario>(), Err(ScenarioError::Strength(_))));
        }
    }
}
