//! What the header's functions cost on a small core: figures measured by `tests/firmware/cost.rs`.
use serde::{Deserialize, Serialize};

/// The figures as they were measured, RON.
const MEASURED: &str = include_str!("../../assets/costs-avr.ron");

/// A table of costs with what it was measured on.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Costs {
    /// Version of this layout: 1.
    pub format: u32,
    /// The chip that was emulated.
    pub chip: String,
    /// First line of the compiler's `--version`.
    pub compiler: String,
    /// How it optimised.
    pub options: String,
    /// One row a variant.
    pub rows: Vec<Cost>,
}

/// One variant.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Cost {
    /// Machine key, a word.
    pub key: String,
    /// In words.
    pub words: String,
    /// Mean over the grid of codes, cycles, the call itself left out.
    pub mean: u32,
    /// Greatest over the grid, cycles, the call itself left out.
    pub worst: u32,
    /// Calls of the grid.
    pub calls: u32,
    /// Flash that it takes, bytes: code and tables.
    pub flash: u32,
    /// Memory that it takes, bytes, the stack left out.
    pub ram: u32,
}

impl Costs {
    /// Reads a table.
    ///
    /// # Errors
    /// As the text's grammar asks.
    pub fn from_ron(text: &str) -> Result<Costs, ron::error::SpannedError> {
        ron::from_str(text)
    }

    /// The table measured with this version of the header.
    pub fn measured() -> Costs {
        // A test holds that the file is read; without it the table would be empty, not wrong.
        Costs::from_ron(MEASURED).unwrap_or_else(|_| Costs {
            format: 1,
            chip: String::new(),
            compiler: String::new(),
            options: String::new(),
            rows: Vec::new(),
        })
    }

    /// The row of a variant.
    pub fn row(&self, key: &str) -> Option<&Cost> {
        self.rows.iter().find(|r| r.key == key)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_measured_table_is_read() {
        let costs = Costs::from_ron(MEASURED).expect("a table");
        assert!(costs.rows.len() >= 12, "{}", costs.rows.len());
        assert!(costs.rows.iter().all(|r| r.mean <= r.worst && r.calls > 0), "{costs:?}");
        assert!(costs.row("scan").is_some());
        assert_eq!(Costs::measured(), costs);
    }
}
