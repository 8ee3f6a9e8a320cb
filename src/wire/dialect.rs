//! The grammar of a debug line: separators, number forms, names and the role of each field.
use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use crate::rig::{self, ReadError};

use super::line::MAX_FIELDS;
use super::{Role, pattern};

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

impl Separator {
    /// The byte; `None` for blanks.
    #[inline]
    pub fn mark(self) -> Option<u8> {
        match self {
            Separator::Comma => Some(b','),
            Separator::Semicolon => Some(b';'),
            Separator::Tab => Some(b'\t'),
            Separator::Blanks => None,
        }
    }

    /// One of them in words.
    pub fn word(self) -> &'static str {
        match self {
            Separator::Comma => "comma",
            Separator::Semicolon => "semicolon",
            Separator::Tab => "tab",
            Separator::Blanks => "blank",
        }
    }
}

/// How the lines are built.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Grammar {
    /// Numbers in fixed order, an optional heading line naming them.
    Columns(Separator),
    /// `name:number` or `name=number`, blanks, commas or semicolons between.
    Labelled,
    /// Numbers between pieces of text that stay: [`Dialect::pattern`] shows the line.
    Pattern,
    /// Binary frames: COBS up to a 0x00, fields low byte first, CRC-16 (see [`crate::wire::packed`]).
    Packed,
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
    /// A number of base 2, `0b` allowed before it, the last character = bit 0.
    Binary,
    /// A decimal with a point and up to so many digits behind it, as a whole number of its last
    /// place: `fixed(3)` reads 1.5 as 1500.
    Fixed(u8),
    /// The same with a comma for the point.
    FixedComma(u8),
    /// A time of day, `hh:mm:ss.fff` with or without a date before it, in microseconds.
    DayTime,
    /// A row of marks, the first = bit 0: `..#.`; points, dashes and underlines are not pressed.
    Marks,
    /// A list of names that are pressed, `south+tl` or `none`: bit n is the n-th of [`Dialect::names`].
    Names,
    /// A state in words: `on` and `off`, `pressed` and `released`, `TRUE` and `FALSE`.
    State,
    /// The digits of a mask that may be hexadecimal or decimal: kept as if hexadecimal, and told
    /// apart over the whole session (see [`crate::wire::mask`]).
    Unsettled,
    /// One byte (packed only, like those below).
    U8,
    /// Two bytes, low byte first.
    U16,
    /// Four bytes, low byte first.
    U32,
    /// Two bytes in two's complement, low byte first.
    I16,
}

impl Base {
    /// True for a width of the packed dialect, false for a way to read digits.
    pub fn is_packed(self) -> bool {
        matches!(self, Base::U8 | Base::U16 | Base::U32 | Base::I16)
    }

    /// True where digits behind a point are turned into counts.
    pub fn is_decimal(self) -> bool {
        matches!(self, Base::Fixed(1..) | Base::FixedComma(1..))
    }

    /// True where digits of both bases give the same counts for the same reading.
    pub fn counts_like(self, other: Base) -> bool {
        let own = |base| {
            matches!(
                base,
                Base::Fixed(_)
                    | Base::FixedComma(_)
                    | Base::DayTime
                    | Base::Unsettled
                    | Base::Names
            )
        };
        self == other || !own(self) && !own(other)
    }

    /// As a dialect file has it: `hex`, `fixed(3)`.
    pub fn key(self) -> String {
        // What serde derives is always written.
        ron::to_string(&self).unwrap_or_default()
    }

    /// What it is called: "decimal number".
    pub fn words(self) -> &'static str {
        match self {
            Base::Decimal => "whole decimal number",
            Base::Hex => "hexadecimal number",
            Base::Bits => "string of 0 and 1, bit 0 first",
            Base::Binary => "number of base 2",
            Base::Fixed(_) => "decimal with a point",
            Base::FixedComma(_) => "decimal with a comma",
            Base::DayTime => "time of day",
            Base::Names => "list of names",
            Base::Marks => "row of marks, bit 0 first",
            Base::State => "state in words, as on and off",
            Base::Unsettled => "mask, hexadecimal or decimal",
            Base::U8 => "byte",
            Base::U16 => "number of two bytes",
            Base::U32 => "number of four bytes",
            Base::I16 => "signed number of two bytes",
        }
    }
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
    /// `*HH` of a form not known here: taken off, not verified.
    Unchecked8,
    /// `*HHHH` of a form not known here: taken off, not verified.
    Unchecked16,
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

/// A count from the number in a line: number × times / over + plus, rounded to the nearest.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Counts {
    /// Factor, not 0.
    #[serde(default = "one")]
    pub times: i32,
    /// Divisor, not 0.
    #[serde(default = "one")]
    pub over: i32,
    /// Added in the end: 512 makes codes of a converter of 10 bits out of −512 to 511.
    #[serde(default)]
    pub plus: i32,
}

fn one() -> i32 {
    1
}

impl Counts {
    /// The count that a number stands for.
    #[inline]
    pub(super) fn of(self, number: i64) -> i64 {
        rounded(number.saturating_mul(i64::from(self.times)), i64::from(self.over))
            .saturating_add(i64::from(self.plus))
    }

    /// The number that stands for a count.
    pub(super) fn back(self, count: i64) -> i64 {
        rounded((count - i64::from(self.plus)) * i64::from(self.over), i64::from(self.times))
    }
}

/// A quotient, halves away from 0.
fn rounded(value: i64, by: i64) -> i64 {
    let (value, by) = if by < 0 { (value.saturating_neg(), -by) } else { (value, by) };
    let half = by / 2;
    value.saturating_add(if value < 0 { -half } else { half }) / by
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
    /// Width at which the clock wraps: 16, 24 or 32; `None` = found from the data. A time of day turns at
    /// midnight, one without hours at the full hour.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub clock_bits: Option<u8>,
    /// A line as it stands, for the pattern grammar: `{}` where each field is, `{*}` for text that
    /// varies. Blanks in it and colours of a terminal may be there or not.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub pattern: String,
    /// The names that a field of base `names` may hold, at most 31.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub names: Vec<String>,
    /// How the number that stands in a line becomes a count, for fields where it is none, by their names.
    #[serde(default, skip_serializing_if = "BTreeMap::is_empty")]
    pub counts: BTreeMap<String, Counts>,
    /// Microseconds from line to line, stated where nothing in the lines tells the time.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub line_us: Option<u32>,
    /// Lines end with a carriage return alone.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub cr_ends: bool,
    /// Width at which the counter wraps: 8, 16 or 32; `None` = found from the data.
    #[serde(default)]
    pub seq_bits: Option<u8>,
    /// Nobody declared what the fields mean: the roles were given by the order of the columns.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub by_order: bool,
}

impl Dialect {
    /// The byte that ends each line or packed frame.
    pub fn delimiter(&self) -> u8 {
        match self.grammar {
            Grammar::Packed => super::packed::DELIMITER,
            _ if self.cr_ends => b'\r',
            _ => b'\n',
        }
    }

    /// The form in words: "9 columns with commas".
    pub fn words(&self) -> String {
        let fields = self.fields.len();
        match self.grammar {
            Grammar::Columns(separator) => format!("{fields} columns with {}s", separator.word()),
            Grammar::Labelled => format!("{fields} labelled numbers"),
            Grammar::Pattern => format!("{fields} numbers between text"),
            Grammar::Packed => format!("packed frames of {fields} fields"),
        }
    }

    /// The same fields as packed frames, each as wide as its role usually is.
    pub fn packed(&self) -> Dialect {
        let field = |f: &Field| Field { base: super::packed::usual_base(f.role), ..f.clone() };
        Dialect {
            grammar: Grammar::Packed,
            fields: self.fields.iter().map(field).collect(),
            checksum: ChecksumForm::None,
            pattern: String::new(),
            counts: BTreeMap::new(),
            names: Vec::new(),
            cr_ends: false,
            ..self.clone()
        }
    }

    /// The column that carries a role, if any.
    pub fn field_of(&self, role: Role) -> Option<usize> {
        self.fields.iter().position(|f| f.role == role)
    }

    /// Reads a dialect file; `name` says in messages where the text came from.
    ///
    /// # Errors
    /// See [`rig::from_ron`] and [`Dialect::check`].
    pub fn from_ron(text: &str, name: &str) -> Result<Dialect, ReadError> {
        let dialect: Dialect = rig::from_ron(text, name)?;
        dialect.check().map_err(|(key, what)| {
            let at = text.lines().position(|l| l.trim_start().starts_with(key));
            ReadError { name: name.to_owned(), line: at.map_or(1, |i| i + 1), what }
        })?;
        Ok(dialect)
    }

    /// Says what makes a dialect unusable: the key concerned and words for a person.
    ///
    /// # Errors
    /// An unknown format; no field or more than 64; a role that may stand once standing twice; a
    /// button above 31; labels that are empty, equal or hold separators; an odd counter width; a
    /// width for a line of text, or a way to read digits for a packed field.
    pub fn check(&self) -> Result<(), (&'static str, String)> {
        if self.format != 1 {
            let what = format!("format {} is not known; this is format 1", self.format);
            return Err(("format", what));
        }
        if self.fields.is_empty() || self.fields.len() > MAX_FIELDS {
            let what = format!("{} fields; a line has 1 to {MAX_FIELDS}", self.fields.len());
            return Err(("fields", what));
        }
        if self.grammar == Grammar::Packed && self.checksum != ChecksumForm::None {
            let what = "a packed frame has its own checksum; leave this key out".to_owned();
            return Err(("checksum", what));
        }
        if let Some(bits) = self.seq_bits.filter(|bits| ![8, 16, 32].contains(bits)) {
            return Err(("seq_bits", format!("seq_bits is {bits}; it must be 8, 16 or 32")));
        }
        if self.clock_bits.is_some_and(|bits| ![16, 24, 32].contains(&bits)) {
            return Err(("clock_bits", "clock_bits must be 16, 24 or 32".to_owned()));
        }
        match (self.grammar == Grammar::Pattern, self.pattern.is_empty()) {
            (true, _) => pattern::check(&self.pattern, self.fields.len())
                .map_err(|what| ("pattern", what))?,
            (false, false) => {
                return Err(("pattern", "only the pattern grammar has a pattern".to_owned()));
            }
            (false, true) => {}
        }
        self.check_names()?;
        self.check_counts()?;
        self.check_fields()
    }

    /// Names stand where a field needs them, and nowhere else.
    fn check_names(&self) -> Result<(), (&'static str, String)> {
        let listed = self.fields.iter().any(|f| f.base == Base::Names);
        let odd = |name: &String| {
            let inside = |b: u8| b.is_ascii_alphanumeric() || b == b'_';
            name.is_empty() || !name.bytes().all(inside)
        };
        if listed == self.names.is_empty() || self.names.len() > 31 {
            let what = "a field of base names needs 1 to 31 names, and only such a field has any";
            return Err(("names", what.to_owned()));
        }
        match self.names.iter().find(|name| odd(name)) {
            Some(name) => Err(("names", format!("name \"{name}\" is no word"))),
            None => Ok(()),
        }
    }

    fn check_counts(&self) -> Result<(), (&'static str, String)> {
        if self.line_us == Some(0) {
            return Err(("line_us", "line_us is 0; it must be above 0".to_owned()));
        }
        for (name, counts) in &self.counts {
            if counts.times == 0 || counts.over == 0 {
                return Err(("counts", format!("counts of \"{name}\": times and over are not 0")));
            }
            if !self.fields.iter().any(|field| field.name == *name) {
                return Err(("counts", format!("counts of \"{name}\": no field has this name")));
            }
        }
        Ok(())
    }

    fn check_fields(&self) -> Result<(), (&'static str, String)> {
        for (i, field) in self.fields.iter().enumerate() {
            let earlier = &self.fields[..i];
            let name = &field.name;
            if field.role != Role::Ignore && earlier.iter().any(|f| f.role == field.role) {
                let what = format!("field \"{name}\" repeats the role of an earlier field");
                return Err(("fields", what));
            }
            if matches!(field.role, Role::Button(n) if n > 31) {
                return Err(("fields", format!("field \"{name}\": buttons are 0 to 31")));
            }
            if matches!(field.role, Role::MoreButtons(n) if n == 0 || n > 31) {
                return Err((
                    "fields",
                    format!("field \"{name}\": a further mask begins at 1 to 31"),
                ));
            }
            let odd = |b: u8| !b.is_ascii_graphic() || b",;:=*".contains(&b);
            let packed = self.grammar == Grammar::Packed;
            if packed != field.base.is_packed() {
                let want = if packed { "u8, u16, u32 or i16" } else { "a way to read digits" };
                return Err(("fields", format!("field \"{name}\": its base must be {want}")));
            }
            if matches!(field.base, Base::Fixed(n) | Base::FixedComma(n) if n > 9) {
                return Err(("fields", format!("field \"{name}\": at most 9 decimal places")));
            }
            let labelled = packed || self.grammar == Grammar::Labelled;
            if labelled && (name.is_empty() || name.bytes().any(odd)) {
                let what = format!("label \"{name}\" is empty or holds a separator");
                return Err(("fields", what));
            }
            if labelled && earlier.iter().any(|f| f.name == *name) {
                return Err(("fields", format!("label \"{name}\" stands twice")));
            }
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::rig::AxisId;

    #[test]
    fn the_commented_example_is_read() {
        let text = include_str!("../../assets/dialect-example.ron");
        let dialect = Dialect::from_ron(text, "example").expect("a dialect");
        assert_eq!(dialect.grammar, Grammar::Columns(Separator::Semicolon));
        assert_eq!(dialect.field_of(Role::Axis(AxisId::Lt)), Some(4));
        assert_eq!((dialect.checksum, dialect.seq_bits), (ChecksumForm::Xor, Some(16)));
    }

    #[test]
    fn the_packed_example_is_read_and_refuses_digits() {
        let text = include_str!("../../assets/dialect-packed.ron");
        let dialect = Dialect::from_ron(text, "example").expect("a dialect");
        assert_eq!((dialect.grammar, dialect.delimiter()), (Grammar::Packed, 0));
        assert_eq!(dialect.packed(), dialect);
        let digits = text.replace("role: buttons, base: u16", "role: buttons, base: hex");
        let error = Dialect::from_ron(&digits, "d.ron").expect_err("refused");
        assert!(error.what.contains("u8, u16, u32 or i16"), "{error}");
        let lines = text.replace("grammar: packed", "grammar: labelled");
        assert!(Dialect::from_ron(&lines, "d.ron").is_err());
        let summed = text.replace("clock: micros", "checksum: xor");
        assert!(Dialect::from_ron(&summed, "d.ron").is_err());
    }

    #[test]
    fn what_is_wrong_is_named_with_its_line() {
        let text = include_str!("../../assets/dialect-example.ron");
        let line_of =
            |words: &str| text.lines().position(|l| l.contains(words)).map_or(0, |i| i + 1);
        let refused = |from: &str, to: &str| {
            Dialect::from_ron(&text.replace(from, to), "d.ron").expect_err("refused")
        };
        let error = refused("  clock: micros", "  clok: micros");
        assert_eq!(error.line, line_of("  clock: micros"), "{error}");
        assert!(error.to_string().contains("unknown key \"clok\""), "{error}");
        let error = refused("role: ignore", "role: ignored");
        assert_eq!(error.line, line_of("role: ignore,"), "{error}");
        let error = refused("seq_bits: 16", "seq_bits: 12");
        assert_eq!(error.line, line_of("seq_bits: 16"), "{error}");
        assert!(refused("axis(ly)", "axis(lx)").what.contains("\"y\" repeats"));
        assert!(refused("columns(semicolon)", "columns(slash)").what.contains("unknown word"));
    }
}
