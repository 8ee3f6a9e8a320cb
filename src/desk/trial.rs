//! The form of a file's lines as a dialect file to edit, and what a dialect makes of ten of them.
use std::path::Path;

use crate::rig::Rig;
use crate::session::Session;
use crate::session::file::{self, FileError, Opened, Overrides};
use crate::trim::Origin;
use crate::wire::{Account, Base, Dialect, Role};
use crate::work::Watch;

use super::feed::file_name;
use super::lines::{Fate, RecentLines};
use super::naming::as_ron;
use super::origin::origin;
use super::solving::SolveError;

/// Lines shown.
const SHOWN: usize = 10;

/// What a dialect makes of a file.
#[derive(Clone, Debug, PartialEq)]
pub struct Trial {
    /// The dialect, its open bases settled.
    pub dialect: Dialect,
    /// Lines that are frames.
    pub frames: u64,
    /// Lines that were refused.
    pub refused: u64,
    /// The last ten lines, in order.
    pub lines: Vec<TrialLine>,
    /// The first refused lines, and why; `None` without any.
    pub account: Option<Account>,
    /// The file and its damage.
    pub origin: Origin,
}

/// One line and what it gives.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct TrialLine {
    /// Its number in the stream.
    pub number: u64,
    /// Its bytes, what is not printable as escapes.
    pub text: String,
    /// Field by field, or what else it is, or why it gives nothing.
    pub gives: Vec<String>,
}

/// Reads a session or a plain log by `dialect`, or by the form that is recognised.
///
/// # Errors
/// The file cannot be opened, or no line of it is a frame.
pub fn trial(path: &Path, dialect: Option<Dialect>, watch: &Watch) -> Result<Trial, SolveError> {
    let overrides = Overrides { rig: None, dialect };
    let Opened { session, last, damage, .. } = file::open(path, &overrides, watch, &mut |_| ())?;
    let mut recent = RecentLines::default();
    last.iter().for_each(|chunk| recent.take(chunk));
    // A session with frames has one; without frames it was not opened.
    let dialect = session.dialect().map(|dialect| settled(&session, dialect));
    let dialect = dialect.ok_or_else(|| FileError::Empty { path: path.to_owned() })?;
    let all: Vec<_> = recent.iter().collect();
    let shown = all.len().min(SHOWN);
    let lines = all[all.len() - shown..].iter().map(|line| TrialLine {
        number: line.place.line,
        text: line.text.clone(),
        gives: gives(&session, &dialect, &line.fate),
    });
    Ok(Trial {
        lines: lines.collect(),
        frames: session.rows() as u64,
        refused: session.refusals().total(),
        account: session.refusals().account(&dialect),
        origin: origin(&session, &Rig::default(), &file_name(path), &damage),
        dialect,
    })
}

/// The dialect with the roles in force; masks of open base in the one that their changes show.
fn settled(session: &Session, dialect: &Dialect) -> Dialect {
    let mut dialect = dialect.clone();
    for (k, (field, role)) in dialect.fields.iter_mut().zip(session.roles()).enumerate() {
        field.role = *role;
        field.base = session.base_of(k);
    }
    dialect
}

fn gives(session: &Session, dialect: &Dialect, fate: &Fate) -> Vec<String> {
    match fate {
        Fate::Frame(cells) => {
            let fields = dialect.fields.iter().zip(cells).enumerate();
            fields
                .map(|(k, (field, cell))| {
                    let value = value(field.role, field.base, session.settled_cell(k, *cell));
                    format!("{} {value} ({})", field.name, field.role.words())
                })
                .collect()
        }
        Fate::Refused(why, None) => vec![format!("refused: {}", why.words())],
        Fate::Refused(why, Some(at)) => vec![format!("refused: {}; {at}", why.words())],
        Fate::Heading => vec!["the heading that names the columns".to_owned()],
        Fate::Blank => vec!["blank".to_owned()],
        Fate::Edge => vec!["a change of the buttons".to_owned()],
    }
}

/// A cell as a person writes it: masks in hexadecimal, decimals as counts of their last place.
fn value(role: Role, base: Base, cell: i32) -> String {
    match (role, base) {
        (Role::Buttons | Role::MoreButtons(_) | Role::OutButtons, _) => {
            format!("{:#06x}", cell as u32)
        }
        (Role::Axis(_) | Role::OutAxis(_) | Role::Ignore, Base::Fixed(n) | Base::FixedComma(n)) => {
            format!("{cell}, in steps of {}", 10_f64.powi(-i32::from(n)))
        }
        (Role::Axis(_) | Role::OutAxis(_) | Role::Ignore, _) => cell.to_string(),
        _ => (cell as u32).to_string(),
    }
}

impl Trial {
    /// The dialect as a file to edit; it says which field was only guessed.
    pub fn to_ron(&self, source: &str) -> String {
        let source: String = source.chars().filter(|c| !c.is_control()).collect();
        let mut head = format!(
            "// The form of the lines of {source}: {}; {} of {} lines are frames.\n\
             // Edit it, then try it: trimbench dialect LOG --dialect THIS.ron. trimbench dialect alone\n\
             // prints what such a file can say. In a pattern {{}} is a field and {{*}} text that changes.\n",
            self.dialect.words(),
            self.frames,
            self.frames + self.refused,
        );
        if self.dialect.by_order {
            head += "// Nobody named the fields: their roles go by their order alone. Put them right and take\n\
                     // by_order out.\n";
        }
        as_ron(&self.dialect, &head)
    }
}
