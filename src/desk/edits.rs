//! What a person changed by hand on a session, with undo and redo: roles of fields, the parts list.
use crate::rig::Rig;
use crate::wire::Role;

use super::feed::Feed;
use super::naming::Naming;
use super::timebase::Timebase;
use super::{Desk, Weight};

/// Edits kept for undo; the oldest go first.
const KEPT: usize = 100;

/// How the session is understood: all that an edit can change.
#[derive(Clone, Debug, PartialEq)]
struct Reading {
    roles: Vec<Role>,
    rig: Rig,
}

/// States before the edits made, and states that were undone.
#[derive(Debug, Default)]
pub(super) struct Edits {
    done: Vec<Reading>,
    undone: Vec<Reading>,
}

impl Edits {
    /// Forgets everything: another session.
    pub(super) fn clear(&mut self) {
        *self = Edits::default();
    }
}

impl Desk {
    /// Gives a field another meaning; nothing is framed again. Can be undone.
    pub fn set_role(&mut self, field: usize, role: Role) {
        self.begin_edit();
        self.session.set_role(field, role);
        self.end_edit();
    }

    /// Puts another parts list in force for this session. Can be undone.
    pub fn set_rig(&mut self, rig: Rig) {
        self.begin_edit();
        self.rig = rig;
        if let Some(opening) = &mut self.opening {
            opening.rig_given = true;
        }
        self.end_edit();
    }

    /// The parts list that was put on an empty bench: it is meant for the board that comes next.
    pub(super) fn rig_in_waiting(&self) -> Option<Rig> {
        let empty = matches!(self.feed, Feed::Nothing) && self.session.rows() == 0;
        (empty && self.rig != Rig::default()).then(|| self.rig.clone())
    }

    /// Puts the names of a roll-call in force: roles of fields, signs, order of buttons. One edit.
    pub(super) fn take_names(&mut self, naming: &Naming) {
        self.begin_edit();
        self.put(Reading { roles: naming.roles.clone(), rig: naming.rig.clone() });
        let text = format!("{}; the names are in force, Ctrl+Z takes them back", naming.summary());
        self.notify(Weight::Done, text);
    }

    /// Names that the newest results' roll-call found and that are not in force; while a guided
    /// run offers some, those.
    pub fn names_found(&self) -> Option<&Naming> {
        let offered = self.guided().and_then(|run| run.offered());
        let found = self.results().and_then(|results| results.naming.as_ref());
        let fresh = found.filter(|naming| {
            // Results may be a moment behind an edit.
            self.derived_revision() == Some(self.revision) && !naming.changes.is_empty()
        });
        offered.or(fresh)
    }

    /// Puts the names found in force.
    pub fn take_names_found(&mut self) {
        if self.guided().is_some_and(|run| run.offered().is_some()) {
            return self.accept();
        }
        match self.names_found().cloned() {
            Some(naming) => self.take_names(&naming),
            None => self.notify(
                Weight::Note,
                "No names to take: call the roll in the guided run (G), or the names stand already",
            ),
        }
    }

    /// True when there is an edit to undo.
    pub fn can_undo(&self) -> bool {
        !self.edits.done.is_empty()
    }

    /// True when there is an undone edit to do again.
    pub fn can_redo(&self) -> bool {
        !self.edits.undone.is_empty()
    }

    /// Takes back the last edit.
    pub fn undo_edit(&mut self) {
        match self.edits.done.pop() {
            Some(before) => {
                self.edits.undone.push(self.reading());
                self.put(before);
            }
            None => self.notify(Weight::Note, "Nothing to undo: no role or parts list was changed"),
        }
    }

    /// Does the edit that was undone last again.
    pub fn redo_edit(&mut self) {
        match self.edits.undone.pop() {
            Some(after) => {
                self.edits.done.push(self.reading());
                self.put(after);
            }
            None => self.notify(Weight::Note, "Nothing to redo: nothing was undone"),
        }
    }

    fn reading(&self) -> Reading {
        Reading { roles: self.session.roles().to_vec(), rig: self.rig.clone() }
    }

    fn begin_edit(&mut self) {
        if self.edits.done.len() == KEPT {
            self.edits.done.remove(0);
        }
        self.edits.done.push(self.reading());
        self.edits.undone.clear();
    }

    fn put(&mut self, reading: Reading) {
        self.rig = reading.rig;
        // A role stands once: every field is freed before each takes its own.
        for field in 0..reading.roles.len() {
            self.session.set_role(field, Role::Ignore);
        }
        for (field, role) in reading.roles.into_iter().enumerate() {
            self.session.set_role(field, role);
        }
        self.end_edit();
    }

    /// Times, results and the session file follow.
    fn end_edit(&mut self) {
        self.timebase = Timebase::default();
        self.revision += 1;
        if let Feed::Live(live) = &self.feed {
            if let Some(dialect) = self.dialect_in_force() {
                live.recorder.dialect(dialect);
            }
            live.recorder.rig(self.rig.clone());
        }
    }
}

#[cfg(test)]
mod tests {
    use std::sync::Arc;

    use super::*;
    use crate::session::{About, Intake, Session};

    fn desk() -> Desk {
        let mut desk = Desk::new(Arc::new(|| ()));
        let mut intake = Intake::untimed(None);
        for k in 0..80 {
            intake.push(0, format!("{k},{},{},{}\n", k * 4000, 500 + k % 3, 510).as_bytes());
        }
        intake.finish();
        desk.session = Session::new(About::default());
        desk.session.append(&intake.take());
        assert!(desk.session.rows() > 0, "recognised");
        desk
    }

    #[test]
    fn edits_are_undone_and_done_again_in_order() {
        let mut desk = desk();
        let first = desk.session.roles().to_vec();
        desk.set_role(2, Role::Vcc);
        desk.set_role(3, Role::Vcc);
        assert_eq!(desk.session.roles()[2], Role::Ignore, "a role stands once");
        let last = desk.session.roles().to_vec();
        desk.undo_edit();
        assert_eq!(desk.session.roles()[2], Role::Vcc);
        desk.undo_edit();
        assert_eq!(desk.session.roles(), first);
        assert!(!desk.can_undo());
        desk.redo_edit();
        desk.redo_edit();
        assert_eq!(desk.session.roles(), last);
        desk.undo_edit();
        desk.set_rig(Rig { name: "Heron".to_owned(), ..Rig::default() });
        assert!(!desk.can_redo(), "a new edit ends what could be done again");
        desk.undo_edit();
        assert_eq!(desk.rig().name, "");
    }
}
