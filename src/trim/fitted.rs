//! The readings that constants were fitted to, known by the content of stretches of them.
use serde::{Deserialize, Serialize};

/// First word of the text form; another way of cutting stretches gets another number.
const FORM: &str = "stretches-1";
/// Stretches that are kept at most: those with the least fingerprints.
const MOST: usize = 65_536;
/// Hexadecimal digits of a fingerprint: 48 bits.
const DIGITS: usize = 12;

/// Fingerprints of stretches of readings. How they are cut: `proof::windows`.
///
/// As text: form, rows of reach, how many of the fingerprints are of starts of the board, the
/// fingerprints in hexadecimal without blanks, those of starts first. Some 95 bytes a second of session.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(try_from = "String", into = "String")]
pub struct Fitted {
    /// Rows to either side that decide where a stretch is cut; 0 = nothing is known.
    pub reach: usize,
    /// Fingerprints of stretches within a second of a start, in order.
    pub starts: Vec<u64>,
    /// Those of all others, in order.
    pub others: Vec<u64>,
}

impl Fitted {
    /// From the fingerprints of stretches, each with whether it is of a start.
    pub fn new(reach: usize, stretches: impl IntoIterator<Item = (u64, bool)>) -> Fitted {
        let (mut starts, mut others) = (Vec::new(), Vec::new());
        for (print, start) in stretches {
            if start { starts.push(print) } else { others.push(print) }
        }
        for list in [&mut starts, &mut others] {
            list.sort_unstable();
            list.dedup();
            list.truncate(MOST);
        }
        Fitted { reach, starts, others }
    }

    /// True where no stretch is known: nothing was solved, or the record is of format 1.
    pub fn is_empty(&self) -> bool {
        self.reach == 0
    }
}

impl From<Fitted> for String {
    fn from(fitted: Fitted) -> String {
        if fitted.is_empty() {
            return String::new();
        }
        let mut text = format!("{FORM} {} {} ", fitted.reach, fitted.starts.len());
        for print in fitted.starts.iter().chain(&fitted.others) {
            text.push_str(&format!("{print:0DIGITS$x}"));
        }
        text
    }
}

impl TryFrom<String> for Fitted {
    type Error = String;

    /// Other text than [`FORM`]'s is what earlier versions knew a session by: it says nothing now.
    fn try_from(text: String) -> Result<Fitted, String> {
        let Some(rest) = text.strip_prefix(FORM) else { return Ok(Fitted::default()) };
        let bad =
            || format!("fitted_to is no list of {FORM}; write the record again with solve --trim");
        let mut words = rest.split(' ').skip(1);
        let mut number = || words.next().and_then(|w| w.parse::<usize>().ok()).ok_or_else(bad);
        let (reach, starts) = (number()?, number()?);
        let prints = words.next().unwrap_or("").as_bytes();
        if prints.len() % DIGITS != 0 || words.next().is_some() || reach == 0 {
            return Err(bad());
        }
        let print = |digits: &[u8]| {
            let digits = std::str::from_utf8(digits).ok()?;
            u64::from_str_radix(digits, 16).ok()
        };
        let all: Option<Vec<u64>> = prints.chunks_exact(DIGITS).map(print).collect();
        let mut all = all.filter(|all| all.len() >= starts).ok_or_else(bad)?;
        let others = all.split_off(starts);
        Ok(Fitted { reach, starts: all, others })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_text_comes_back_and_that_of_earlier_versions_says_nothing() {
        let fitted =
            Fitted::new(31, [(9, false), (0xFFFF_FFFF_FFFF, true), (3, false), (9, false)]);
        let text = String::from(fitted.clone());
        assert_eq!(text, "stretches-1 31 1 ffffffffffff000000000003000000000009");
        assert_eq!(Fitted::try_from(text), Ok(fitted));
        let former = "first 2000 rows, CRC-32 0BADCAFE".to_owned();
        assert_eq!(Fitted::try_from(former), Ok(Fitted::default()));
        assert_eq!(String::from(Fitted::default()), "");
        for bad in ["stretches-1", "stretches-1 31 2 000000000003", "stretches-1 31 0 00x"] {
            assert!(Fitted::try_from(bad.to_owned()).is_err(), "{bad}");
        }
    }
}
