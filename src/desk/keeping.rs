//! The document saved by itself: what a person changed by hand, in a small file beside the session.
//!
//! `NAME.edits.ron` beside the session or log that is open, written whole after each change and read
//! when the file is opened again; the recording itself is never altered. Roles and parts list of a
//! live link stand in its session file. Without changes there is no such file.
use std::path::{Path, PathBuf};

use serde::{Deserialize, Serialize};

use crate::limits::Limits;
use crate::rig::{Mark, Rig};
use crate::session::Session;
use crate::trim::Choices;
use crate::wire::Role;

use super::analysis::Given;
use super::feed::Feed;
use super::small::small_text;
use super::{Desk, Weight, output};

/// Version of the layout.
const FORMAT: u32 = 1;

/// What was changed; what is absent is as the session has it.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub(super) struct Kept {
    pub(super) format: u32,
    /// The role of each field.
    pub(super) roles: Option<Vec<Role>>,
    /// Parts list.
    pub(super) rig: Option<Rig>,
    /// Choices among the constants.
    pub(super) choices: Choices,
    /// Acceptance bands.
    pub(super) limits: Option<Limits>,
    /// Marks set by hand: row, word, text.
    pub(super) marks: Vec<Mark<usize>>,
}

impl Kept {
    /// Puts roles, marks and parts list in force; gives what a person laid down beside them.
    pub(super) fn put_into(self, session: &mut Session, rig: &mut Rig) -> Given {
        if let Some(roles) = self.roles.filter(|r| r.len() == session.roles().len()) {
            put_roles(session, roles);
        }
        if let Some(changed) = self.rig {
            *rig = changed;
        }
        self.marks.into_iter().for_each(|mark| session.mark_row(mark));
        Given { choices: self.choices, limits: self.limits }
    }

    pub(super) fn is_empty(&self) -> bool {
        Kept { format: 0, ..self.clone() } == Kept::default()
    }
}

/// Where the changes to a session are kept.
fn place_of(session: &Path) -> PathBuf {
    let mut name = session.as_os_str().to_owned();
    name.push(".edits.ron");
    PathBuf::from(name)
}

/// A role stands once: every field is freed before each takes its own.
pub(super) fn put_roles(session: &mut Session, roles: Vec<Role>) {
    for field in 0..roles.len() {
        session.set_role(field, Role::Ignore);
    }
    for (field, role) in roles.into_iter().enumerate() {
        session.set_role(field, role);
    }
}

/// The file with the changes made by hand to a session, if there is one.
pub fn edits_beside(session: &Path) -> Option<PathBuf> {
    Some(place_of(session)).filter(|path| path.exists())
}

impl Desk {
    /// Writes what was changed beside the session; nothing where there is no file.
    pub(super) fn keep_edits(&mut self) {
        let Some(path) = self.path().map(place_of) else { return };
        let kept = Kept { format: FORMAT, ..self.changes() };
        if kept.is_empty() {
            // Everything was taken back: what was kept before is of no more use.
            if path.exists()
                && let Err(e) = std::fs::remove_file(&path)
            {
                self.cannot_keep(&path, &e.to_string());
            }
            return;
        }
        let pretty = ron::ser::PrettyConfig::new().struct_names(false).new_line("\n".to_owned());
        let text = match ron::ser::to_string_pretty(&kept, pretty) {
            Ok(text) => text,
            Err(e) => return self.cannot_keep(&path, &e.to_string()),
        };
        if let Err(e) = output::write_whole(&path, text.as_bytes()) {
            self.cannot_keep(&path, &e.cause.to_string());
        }
    }

    fn cannot_keep(&mut self, path: &Path, why: &str) {
        let text = format!(
            "{}: changes cannot be kept there ({why}); they hold until another session is opened",
            path.display()
        );
        self.notify(Weight::Note, text);
    }

    /// Puts what was changed before in force again, when a file has been opened.
    pub(super) fn take_kept_edits(&mut self) {
        self.note_original();
        let Some(path) = self.path().and_then(edits_beside) else { return };
        match read(&path) {
            Ok(kept) => {
                self.put_kept(kept);
                let text =
                    "The changes made by hand before are in force again; Ctrl+Z takes them back";
                self.notify(Weight::Note, text);
            }
            Err(why) => {
                let text = format!(
                    "{}: the changes made before cannot be read ({why}); the session stands as it \
                     was recorded",
                    path.display()
                );
                self.notify(Weight::Note, text);
            }
        }
    }

    /// True for a recording that was opened: its own roles and parts list are known.
    pub(super) fn is_recording_open(&self) -> bool {
        matches!(self.feed, Feed::File { .. })
    }
}

/// Reads the changes; in words why they cannot be read.
pub(super) fn read(path: &Path) -> Result<Kept, String> {
    let text = small_text(path)?;
    let kept: Kept = ron::from_str(&text).map_err(|e| e.to_string())?;
    match kept.format {
        FORMAT => Ok(kept),
        other => Err(format!("format {other} is not known")),
    }
}
