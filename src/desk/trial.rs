//! The form of a file's lines as a dialect file to edit, and what a dialect makes of ten of them.
use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;

use crate::rig::Rig;
use crate::session::file::{self, FileError, Opened, Overrides, Piece, Pieces};
use crate::session::{Intake, LineKind, Session};
use crate::trim::Origin;
use crate::wire::{Account, Base, Dialect, Role, SecondForm};
use crate::work::Watch;

use super::feed::file_name;
use super::lines::{Fate, Line, RecentLines};
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
    /// Ten lines from all over the file, in order: where inputs stand farthest from their rest, where buttons
    /// are down, what was refused, and the last ones.
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
    let Opened { session, last, damage, second } =
        file::open(path, &overrides, watch, &mut |_| ())?;
    let mut recent = RecentLines::default();
    last.iter().for_each(|chunk| recent.take(chunk));
    // A session with frames has one; without frames it was not opened.
    let dialect = session.dialect().map(|dialect| settled(&session, dialect));
    let dialect = dialect.ok_or_else(|| FileError::Empty { path: path.to_owned() })?;
    let mut told = telling_lines(path, &session, &second, watch)?;
    // What room is left is for the last lines.
    for line in recent.iter().rev() {
        if told.len() >= SHOWN {
            break;
        }
        told.entry(line.place.line).or_insert_with(|| line.clone());
    }
    let lines = told.into_values().map(|line| TrialLine {
        number: line.place.line,
        gives: gives(&session, &dialect, &line.fate),
        text: line.text,
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

/// Rows that show what the fields are: of each input the one farthest from where it mostly is, and the first in
/// which any other button is down. Cost: a pass over these columns.
fn telling_rows(session: &Session) -> BTreeSet<usize> {
    let mut rows = BTreeSet::new();
    for (field, role) in session.roles().iter().enumerate() {
        let cells = session.column(field);
        let mut sorted = cells.clone();
        sorted.sort_unstable();
        let Some(usual) = sorted.get(sorted.len() / 2).copied() else { continue };
        let away = |row: &usize| cells[*row].abs_diff(usual);
        match role {
            Role::Axis(_) => rows.extend((0..cells.len()).rev().max_by_key(away)),
            Role::Buttons | Role::MoreButtons(_) | Role::Button(_) => {
                rows.extend(cells.iter().position(|cell| *cell != usual));
            }
            _ => {}
        }
        // Two are kept for what was refused and for the end.
        if rows.len() >= SHOWN - 2 {
            break;
        }
    }
    rows
}

/// The lines of those rows, and the first line that was refused. Cost: the file is read once more.
fn telling_lines(
    path: &Path,
    session: &Session,
    second: &Option<SecondForm>,
    watch: &Watch,
) -> Result<BTreeMap<u64, Line>, SolveError> {
    let wanted = telling_rows(session);
    let Some(dialect) = session.dialect() else { return Ok(BTreeMap::new()) };
    let mut pieces = Pieces::open_by(path, Some((**dialect).clone()))?;
    let mut intake = Intake::untimed(Some((**dialect).clone()));
    intake.keep_lines(true);
    intake.sum_nothing();
    second.iter().for_each(|second| intake.also_read(second.clone()));
    let (mut told, mut recent) = (BTreeMap::new(), RecentLines::default());
    let (mut bytes, mut row, mut refused) = (Vec::new(), 0, false);
    while let Some(piece) = pieces.next(&mut bytes)? {
        if !matches!(piece, Piece::Bytes(_)) {
            continue;
        }
        intake.push(0, &bytes);
        let chunk = intake.take();
        recent.take(&chunk);
        // A piece is a line, or a part of one.
        for (raw, line) in chunk.lines.iter().rev().zip(recent.iter().rev()) {
            let is_telling = match raw.kind {
                LineKind::Row(at) => wanted.contains(&(row + at)),
                LineKind::Refused(_) => !std::mem::replace(&mut refused, true),
                LineKind::Heading | LineKind::Blank | LineKind::Edge => false,
            };
            if is_telling {
                told.insert(line.place.line, line.clone());
            }
        }
        row += chunk.rows();
        watch.step(row as u64, session.rows() as u64).map_err(FileError::from)?;
    }
    Ok(told)
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
