//! Reading a RON file that a person wrote: what is wrong is said with its line.
use serde::de::DeserializeOwned;
use serde::{Deserialize, Deserializer};

use super::Rig;

/// What is wrong with a rig or dialect file.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("{name}, line {line}: {what}")]
pub struct ReadError {
    /// The file, or what else the text came from.
    pub name: String,
    /// Line in it, counted from 1.
    pub line: usize,
    /// What is wrong and what to do.
    pub what: String,
}

/// Reads RON text into `T`; `name` says in messages where the text came from.
///
/// # Errors
/// No RON, an unknown key (named, with those that are known), a missing key, a wrong value.
pub fn from_ron<T: DeserializeOwned>(text: &str, name: &str) -> Result<T, ReadError> {
    let options =
        ron::Options::default().with_default_extension(ron::extensions::Extensions::IMPLICIT_SOME);
    options.from_str(text).map_err(|error| {
        let line = error.span.start.line.max(1);
        ReadError { name: name.to_owned(), line, what: words(&error.code) }
    })
}

fn words(error: &ron::Error) -> String {
    match error {
        ron::Error::NoSuchStructField { expected, found, .. } => {
            format!("unknown key \"{found}\"; known here are {}", expected.join(", "))
        }
        ron::Error::NoSuchEnumVariant { expected, found, .. } => {
            format!("unknown word \"{found}\"; known here are {}", expected.join(", "))
        }
        ron::Error::MissingStructField { field, .. } => {
            format!("the key \"{field}\" is missing; add it")
        }
        ron::Error::DuplicateStructField { field, .. } => {
            format!("the key \"{field}\" stands twice; keep one")
        }
        other => format!("{other}; compare it with the commented example in assets"),
    }
}

/// Characters of a name; a longer one, in a session that was made elsewhere, is cut.
pub const NAME_MOST: usize = 80;
/// Stands where a name was cut.
const CUT: char = '…';

pub(super) fn name<'de, D: Deserializer<'de>>(from: D) -> Result<String, D::Error> {
    String::deserialize(from).map(bounded)
}

pub(super) fn names<'de, D: Deserializer<'de>>(from: D) -> Result<Vec<String>, D::Error> {
    let names = Vec::<String>::deserialize(from)?;
    Ok(names.into_iter().map(bounded).collect())
}

fn bounded(name: String) -> String {
    if name.chars().count() <= NAME_MOST {
        return name;
    }
    name.chars().take(NAME_MOST - 1).chain([CUT]).collect()
}

impl Rig {
    /// Reads a rig file; `name` says in messages where the text came from.
    ///
    /// # Errors
    /// See [`from_ron`]; also a value outside its range.
    pub fn from_ron(text: &str, name: &str) -> Result<Rig, ReadError> {
        let rig: Rig = from_ron(text, name)?;
        let refuse = |key: &str, what: String| {
            let at = text.lines().position(|l| l.trim_start().starts_with(key));
            Err(ReadError { name: name.to_owned(), line: at.map_or(1, |i| i + 1), what })
        };
        if rig.format != 1 {
            return refuse(
                "format",
                format!("format {} is not known; this is format 1", rig.format),
            );
        }
        if let Some(bits) = rig.raw_bits.filter(|bits| !(8..=16).contains(bits)) {
            return refuse("raw_bits", format!("raw_bits is {bits}; it must be 8 to 16"));
        }
        // A name that was cut here stands uncut in the text.
        let names = rig.buttons.iter().map(|name| ("buttons", name));
        let names = [("name", &rig.name), ("board_id", &rig.board_id)].into_iter().chain(names);
        for (key, name) in names {
            if name.ends_with(CUT) && name.chars().count() == NAME_MOST && !text.contains(name) {
                let what = format!("a name of more than {NAME_MOST} characters; shorten it");
                return refuse(key, what);
            }
        }
        if rig.buttons.len() > 32 {
            return refuse("buttons", format!("{} buttons; at most 32", rig.buttons.len()));
        }
        if let Some(hz) = rig.deployed_rate_hz.filter(|hz| !(hz.is_finite() && *hz > 0.0)) {
            return refuse(
                "deployed_rate_hz",
                format!("deployed_rate_hz is {hz}; it must be above 0"),
            );
        }
        if let Some((key, what)) = rig.unfit_option() {
            return refuse(key, what);
        }
        if let Some((key, what)) = rig.limits.unfit() {
            return refuse(key, what);
        }
        for half in super::Half::ALL {
            if rig.sticks.iter().filter(|s| s.half == half).count() > 1 {
                return refuse(
                    "sticks",
                    format!("two sticks on the {} half; keep one", half.key()),
                );
            }
            if rig.triggers.iter().filter(|t| t.half == half).count() > 1 {
                return refuse(
                    "triggers",
                    format!("two triggers on the {} half; keep one", half.key()),
                );
            }
        }
        Ok(rig)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_unknown_key_is_named_with_its_line() {
        let error = Rig::from_ron("(\n  format: 1,\n  colour: \"red\",\n)", "my.ron");
        let error = error.expect_err("refused");
        assert_eq!(error.line, 3, "{error}");
        assert!(error.to_string().starts_with("my.ron, line 3: unknown key \"colour\""), "{error}");
    }

    #[test]
    fn the_commented_example_is_read() {
        let rig = Rig::from_ron(include_str!("../../assets/rig-example.ron"), "example");
        let rig = rig.expect("a rig");
        assert_eq!((rig.sticks.len(), rig.triggers.len(), rig.buttons.len()), (2, 2, 15));
        assert_eq!((rig.buttons_active_low, rig.deployed_rate_hz), (Some(true), Some(1000.0)));
    }

    #[test]
    fn a_short_rig_is_enough() {
        let rig = Rig::from_ron("(format: 1, raw_bits: 10, sticks: [(half: left)])", "t");
        let rig = rig.expect("a rig");
        assert_eq!(rig.raw_bits, Some(10));
        assert_eq!(rig.sticks.len(), 1);
    }

    #[test]
    fn limits_are_read_in_short_and_refused_with_their_line() {
        let text = "(format: 1, limits: (dead_zone_share: AtMost(0.08, 0.12, 0.15)))";
        let rig = Rig::from_ron(text, "t").expect("a rig");
        let limits = crate::limits::Limits::default().with(&rig.limits);
        assert_eq!(limits.dead_zone_share.good.high, Some(0.08));
        let text = "(format: 1,\nlimits: (\n  roundness: AtMost(0.2, 0.1, 0.1),\n))";
        let error = Rig::from_ron(text, "t").expect_err("refused");
        assert_eq!(error.line, 3, "{error}");
        assert!(error.what.starts_with("roundness must widen"), "{error}");
        let error = Rig::from_ron("(format: 1, limits: (noise: AtMost(1, 2, 3)))", "t");
        assert!(error.expect_err("refused").what.contains("unknown key \"noise\""));
    }

    #[test]
    fn values_out_of_range_are_named_with_their_line() {
        let error = Rig::from_ron("(\n  format: 1,\n  raw_bits: 24,\n)", "t").expect_err("refused");
        assert_eq!((error.line, error.what.contains("24")), (3, true));
        let error = Rig::from_ron("(format: 2)", "t").expect_err("refused");
        assert!(error.what.contains("format 2"));
        assert!(Rig::from_ron("", "t").is_err());
        assert!(Rig::from_ron("(format: 1, sticks: [(half: left), (half: left)])", "t").is_err());
    }
}
