//! Where figures and constants came from: the recording by its SHA-256, who read it, and its damage.
use std::fmt;

use serde::{Deserialize, Serialize};

/// A recording and how it was read. All text in it may be hostile; writers escape it.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Origin {
    /// File or address.
    #[serde(default)]
    pub source: String,
    /// SHA-256 of its bytes, 64 hexadecimal digits; empty where they are not known.
    #[serde(default)]
    pub sha256: String,
    /// What was summed: `file` as it stood on the disk, or `link`: the bytes as they were read.
    #[serde(default)]
    pub of: String,
    /// Bytes that were summed.
    #[serde(default)]
    pub bytes: u64,
    /// Program and version that read it.
    #[serde(default)]
    pub tool: String,
    /// Where times come from: `board`, `arrival`, `stated`, `none`.
    #[serde(default)]
    pub time: String,
    /// The inputs and the columns that they were read from.
    #[serde(default)]
    pub inputs: Vec<String>,
    /// Damage in the order of the file; empty for a whole one. No more than [`HARMS_MOST`].
    #[serde(default)]
    pub damage: Vec<Harm>,
    /// Further damaged places.
    #[serde(default)]
    pub more_damage: u64,
    /// Records that are not measured because of all of it.
    #[serde(default)]
    pub rows_lost: u64,
}

/// Damaged places that are listed one by one.
pub const HARMS_MOST: usize = 100;

/// A damaged place of a recording.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Harm {
    /// Machine word: `head`, `block`, `checkpoint`, `missing`, `moved`, `doubled`, `joined`, `line`,
    /// `unproven`, `not-ended`, `line-ends`.
    pub kind: String,
    /// In words, with what was done about it.
    pub what: String,
    /// First line, counted from 1, and lines concerned.
    pub line: u64,
    /// Lines concerned.
    pub lines: u64,
    /// Byte of the file at which it begins, counted from 0.
    pub byte: u64,
    /// Time since the recording began, µs, of the last record before it; `None` before the first.
    pub at_us: Option<u64>,
    /// Records that are not measured because of it.
    pub rows: u64,
    /// The whole recording is there and proven all the same.
    #[serde(default)]
    pub undone: bool,
}

/// "1 damaged place", "3 more damaged places"; `more` = "" or " more".
pub fn damaged_places(n: u64, more: &str) -> String {
    format!("{n}{more} damaged place{}", if n == 1 { "" } else { "s" })
}

impl fmt::Display for Harm {
    /// "line 253 (byte 10240, 3.21 s): …; 250 rows lost".
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "line {} (byte {}", self.line, self.byte)?;
        if let Some(at_us) = self.at_us {
            write!(f, ", {:.2} s", at_us as f64 * 1e-6)?;
        }
        write!(f, "): {}", self.what)?;
        match self.rows {
            0 => Ok(()),
            1 => write!(f, "; 1 row lost"),
            rows => write!(f, "; {rows} rows lost"),
        }
    }
}

impl Origin {
    /// True where something of the recording is lost or not proven.
    pub fn is_damaged(&self) -> bool {
        self.more_damage > 0 || self.damage.iter().any(|harm| !harm.undone)
    }

    /// One sentence a damaged place, no more than `most` of them, and how many more there are.
    pub fn harms(&self, most: usize) -> Vec<String> {
        let mut all: Vec<String> = self.damage.iter().take(most).map(Harm::to_string).collect();
        let more = self.more_damage + self.damage.len().saturating_sub(most) as u64;
        if more > 0 {
            let places = damaged_places(more, " more");
            all.push(format!("{places}; {} rows lost in all", self.rows_lost));
        }
        all
    }

    /// "SHA-256 … (file, 1685758 bytes)"; empty where the bytes are not known.
    pub fn sum_words(&self) -> String {
        match self.sha256.as_str() {
            "" => String::new(),
            sum => format!("SHA-256 {sum} ({}, {} bytes)", self.of, self.bytes),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn places_are_said_and_counted() {
        let harm = Harm {
            kind: "block".to_owned(),
            what: "hit".to_owned(),
            line: 253,
            lines: 251,
            byte: 10_240,
            at_us: Some(3_210_000),
            rows: 250,
            undone: false,
        };
        assert_eq!(harm.to_string(), "line 253 (byte 10240, 3.21 s): hit; 250 rows lost");
        let undone = Harm { undone: true, rows: 0, ..harm.clone() };
        let mut origin = Origin { damage: vec![undone], ..Origin::default() };
        assert!(!origin.is_damaged());
        origin.damage = vec![harm; 4];
        origin.rows_lost = 1000;
        assert!(origin.is_damaged());
        let said = origin.harms(3);
        assert_eq!(
            (said.len(), said[3].as_str()),
            (4, "1 more damaged place; 1000 rows lost in all")
        );
    }
}
