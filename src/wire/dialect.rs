//! The grammar of a debug line: separators, number forms, names and the role of each field.
use serde::{Deserialize, Serialize};

use super::Role;

/// What stands between the fields of the columns dialect.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Separator {
    /// `,` with optional blanks round it.
    Comma,
    /// `;` with optional blanks round it.
    Semicolon,
    /// One tab.
    Tab,
    /// One or more blanks.
    Blanks,
}

/// How the lines are built.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Grammar {
    /// Numbers in fixed order, an optional heading line naming them.
    Columns(Separator),
    /// `name:number` or `name=number`, blanks, commas or semicolons between.
    Labelled,
}

/// How a field's digits are read.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Base {
    /// Decimal, a sign allowed.
    Decimal,
    /// Hexadecimal with or without `0x`.
    Hex,
    /// A string of 0 and 1, the first character = bit 0.
    Bits,
}

/// The checksum at the end of a line.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum ChecksumForm {
    /// None.
    #[default]
    None,
    /// `*HH`: XOR of every byte before the star (a leading `$` left out).
    Xor,
    /// `*HHHH`: CRC-16/IBM-3740 of every byte before the star.
    Crc16,
}

/// The unit of the board clock.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum ClockUnit {
    /// Microseconds: wraps after 71.6 min at 32 bits.
    #[default]
    Micros,
    /// Milliseconds: wraps after 49.7 days at 32 bits.
    Millis,
}

/// One field of a line.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Field {
    /// Name from the heading or label, else made from the role.
    pub name: String,
    /// What it means.
    pub role: Role,
    /// How its digits are read.
    pub base: Base,
}

/// The grammar of a board's debug line.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Dialect {
    /// Version of this layout: 1.
    pub format: u32,
    /// How the lines are built.
    pub grammar: Grammar,
    /// The fields in order.
    pub fields: Vec<Field>,
    /// Checksum at the end of each line.
    #[serde(default)]
    pub checksum: ChecksumForm,
    /// Unit of the clock field.
    #[serde(default)]
    pub clock: ClockUnit,
    /// Width at which the counter wraps: 8, 16 or 32; `None` = found from the data.
    #[serde(default)]
    pub seq_bits: Option<u8>,
}

impl Dialect {
    /// The column that carries a role, if any.
    pub fn field_of(&self, role: Role) -> Option<usize> {
        self.fields.iter().position(|f| f.role == role)
    }
}
