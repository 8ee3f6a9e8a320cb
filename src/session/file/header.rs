//! The head of a session file: who, when, with which parts list and dialect.
use serde::{Deserialize, Serialize};

use crate::rig::{ReadError, Rig, from_ron};
use crate::session::About;
use crate::wire::Dialect;

/// True for the first bytes of a session file of any version.
pub(super) fn begins_session(head: &[u8]) -> bool {
    let head = head.strip_prefix("\u{feff}".as_bytes()).unwrap_or(head);
    head.starts_with(FAMILY)
}

/// The first line of every version begins so.
pub(super) const FAMILY: &[u8] = b"trimbench-session ";
/// The first line as it is written, without its LF. Version 2: the last checkpoint says that it is.
pub(super) const MAGIC: &str = "trimbench-session 2";
/// Versions that are read.
pub(super) const KNOWN: [&[u8]; 2] = [b"trimbench-session 1", MAGIC.as_bytes()];
/// The line between head and records.
pub(super) const RULE: &str = "---";

/// The head as it is written.
#[derive(Debug, Default, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Header {
    #[serde(default)]
    pub(super) created: String,
    #[serde(default)]
    pub(super) notes: String,
    #[serde(default)]
    pub(super) rig: Option<Rig>,
    #[serde(default)]
    pub(super) dialect: Option<Dialect>,
    /// Left out where it is not so: most sessions tell the time.
    #[serde(default, skip_serializing_if = "is_not")]
    pub(super) clockless: bool,
}

fn is_not(said: &bool) -> bool {
    !said
}

impl Header {
    pub(super) fn of(about: &About, dialect: Option<&Dialect>) -> Header {
        Header {
            created: about.created.clone(),
            notes: about.notes.clone(),
            rig: about.rig.clone(),
            dialect: dialect.cloned(),
            clockless: about.clockless,
        }
    }

    /// The lines of the head, each with its LF.
    pub(super) fn text(&self) -> Result<String, ron::Error> {
        let layout = ron::ser::PrettyConfig::new().new_line("\n").indentor("  ");
        let body = ron::ser::to_string_pretty(self, layout)?;
        Ok(format!("{MAGIC}\n{}\n{RULE}\n", ascii(&body)))
    }

    /// Reads what stands between the first line and the rule.
    pub(super) fn read(text: &str, name: &str) -> Result<Header, ReadError> {
        // The first line of the file stands before this text.
        let shifted = |error: ReadError| ReadError { line: error.line + 1, ..error };
        let header: Header = from_ron(text, name).map_err(shifted)?;
        if let Some(dialect) = &header.dialect {
            let refuse = |(_, what)| ReadError { name: name.to_owned(), line: 2, what };
            dialect.check().map_err(refuse)?;
        }
        Ok(header)
    }
}

/// One line of RON.
pub(super) fn one_line<T: Serialize>(value: &T) -> Result<String, ron::Error> {
    Ok(ascii(&ron::ser::to_string(value)?))
}

/// Characters beyond ASCII can only stand in strings, where RON knows `\u{…}`.
fn ascii(ron: &str) -> String {
    let mut out = String::with_capacity(ron.len());
    for c in ron.chars() {
        if c.is_ascii() {
            out.push(c);
        } else {
            out.extend(c.escape_unicode());
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_head_comes_back_and_is_ascii() {
        let rig = Rig { name: "Brücke \"3\"\n---\n".to_owned(), ..Rig::default() };
        let about = About {
            created: "2026-01-02T03:04:05Z".to_owned(),
            notes: "zwei\nZeilen – und \\ mehr".to_owned(),
            rig: Some(rig),
            clockless: true,
        };
        let text = Header::of(&about, None).text().expect("text");
        assert!(text.bytes().all(|b| b == b'\n' || (0x20..=0x7E).contains(&b)), "{text}");
        assert_eq!(text.lines().filter(|l| *l == RULE).count(), 1);
        let body = text.strip_prefix("trimbench-session 2\n").expect("magic");
        let body = body.strip_suffix("\n---\n").expect("rule");
        let header = Header::read(body, "t").expect("a head");
        assert_eq!(header.created, about.created);
        assert_eq!(header.notes, about.notes);
        assert_eq!(header.rig, about.rig);
        assert_eq!(header.dialect, None);
        assert!(header.clockless);
        let told = Header::of(&About::default(), None).text().expect("text");
        assert!(!told.contains("clockless"), "{told}");
    }

    #[test]
    fn an_unknown_key_is_named_with_the_line_of_the_file() {
        let error = Header::read("(\n  wrong: 1,\n)", "t").expect_err("refused");
        assert_eq!(error.line, 3, "{error}");
    }
}
