//! What a person changed by hand on a session, with undo and redo: roles of fields, the parts list,
//! dead zones and corrections, acceptance bands, marks, steps of the guided run.
use crate::limits::Limits;
use crate::rig::{Half, Mark, Rig};
use crate::session::Stamp;
use crate::trim::{Choices, ZonePlace};
use crate::wire::Role;

use super::feed::Feed;
use super::guided::Guided;
use super::keeping::{Kept, put_roles};
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
    choices: Choices,
    limits: Option<Limits>,
    marks: Vec<Mark<Stamp>>,
}

/// What one undo takes back.
#[derive(Debug)]
enum Step {
    /// A change of how the session is understood.
    Reading(Box<Reading>),
    /// A step of the guided run that a person accepted or left out.
    Run(Option<Box<Guided>>),
}

/// States before the edits made, and states that were undone.
#[derive(Debug, Default)]
pub(super) struct Edits {
    done: Vec<Step>,
    undone: Vec<Step>,
    /// The recording as it was opened.
    original: Option<Box<Reading>>,
}

impl Edits {
    /// Forgets everything: another session.
    pub(super) fn clear(&mut self) {
        *self = Edits::default();
    }

    fn begin(&mut self, step: Step) {
        if self.done.len() == KEPT {
            self.done.remove(0);
        }
        self.done.push(step);
        self.undone.clear();
    }
}

impl Desk {
    /// Gives a field another meaning; nothing is framed again. Can be undone.
    pub fn set_role(&mut self, field: usize, role: Role) {
        self.begin_edit();
        self.session.set_role(field, role);
        self.end_edit(Reach::Session);
    }

    /// Puts another parts list in force for this session. Can be undone.
    pub fn set_rig(&mut self, rig: Rig) {
        self.begin_edit();
        self.rig = rig;
        if let Some(opening) = &mut self.opening {
            opening.rig_given = true;
        }
        self.end_edit(Reach::Session);
    }

    /// Chooses a dead zone in counts, or goes back to the proposed one (`None`). Can be undone.
    pub fn choose_zone(&mut self, place: ZonePlace, counts: Option<f64>) {
        self.begin_edit();
        self.choices.set_zone(place, counts);
        self.end_edit(Reach::Constants);
    }

    /// Uses the correction of skew and rotation that the data offer, or leaves it. Can be undone.
    pub fn correct(&mut self, half: Half, wanted: bool) {
        self.begin_edit();
        self.choices.corrected[half as usize] = wanted;
        self.end_edit(Reach::Constants);
    }

    /// Judges by other acceptance bands; `None` = the usual ones. Can be undone.
    pub fn set_limits(&mut self, limits: Option<Limits>) {
        self.begin_edit();
        self.limits = limits;
        self.end_edit(Reach::Results);
    }

    /// Sets a mark in a recording that is looked at. Can be undone.
    pub(super) fn mark_recording(&mut self, mark: Mark<usize>) {
        self.begin_edit();
        self.session.mark_row(mark);
        self.end_edit(Reach::Results);
    }

    /// What a person has chosen of the constants.
    pub fn choices(&self) -> &Choices {
        &self.choices
    }

    /// Acceptance bands that a person changed.
    pub fn limits(&self) -> Option<&Limits> {
        self.limits.as_ref()
    }

    /// The parts list that was put on an empty bench: it is meant for the board that comes next.
    pub(super) fn rig_in_waiting(&self) -> Option<Rig> {
        let empty = matches!(self.feed, Feed::Nothing) && self.session.rows() == 0;
        (empty && self.rig != Rig::default()).then(|| self.rig.clone())
    }

    /// Puts the names of a roll-call in force: roles of fields, signs, order of buttons. One edit.
    pub(super) fn take_names(&mut self, naming: &Naming) {
        self.begin_edit();
        let (roles, rig) = (naming.roles.clone(), naming.rig.clone());
        let named = Reading { roles, rig, ..self.reading() };
        self.put_reading(named);
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
        // Under practice the names would give the answer away.
        offered.or(fresh).filter(|_| !self.keeps_back())
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
                let after = self.put(before);
                self.edits.undone.push(after);
            }
            None => self.notify(Weight::Note, "Nothing to undo: nothing was changed or accepted"),
        }
    }

    /// Does the edit that was undone last again.
    pub fn redo_edit(&mut self) {
        match self.edits.undone.pop() {
            Some(after) => {
                let before = self.put(after);
                self.edits.done.push(before);
            }
            None => self.notify(Weight::Note, "Nothing to redo: nothing was undone"),
        }
    }

    /// Remembers the guided run as it stands, before a person goes on to its next step.
    pub(super) fn begin_step(&mut self) {
        let run = self.guided.clone().map(Box::new);
        self.edits.begin(Step::Run(run));
    }

    /// Remembers a recording as it is without any change.
    pub(super) fn note_original(&mut self) {
        self.edits.original = Some(Box::new(self.reading()));
    }

    /// What differs from the recording as it was opened; of a live link what its file cannot hold.
    pub(super) fn changes(&self) -> Kept {
        let mut kept =
            Kept { choices: self.choices.clone(), limits: self.limits.clone(), ..Kept::default() };
        if let Some(original) = self.edits.original.as_ref().filter(|_| self.is_recording_open()) {
            let roles = self.session.roles();
            kept.roles = (roles != original.roles).then(|| roles.to_vec());
            kept.rig = (self.rig != original.rig).then(|| self.rig.clone());
            let added = self.session.marks().iter().filter(|m| !original.marks.contains(m));
            kept.marks = added.map(|m| m.clone().set_at(m.at.row)).collect();
        }
        kept
    }

    /// Puts kept changes in force, as one edit.
    pub(super) fn put_kept(&mut self, kept: Kept) {
        self.begin_edit();
        let given = kept.put_into(&mut self.session, &mut self.rig);
        (self.choices, self.limits) = (given.choices, given.limits);
        self.end_edit(Reach::Session);
    }

    fn reading(&self) -> Reading {
        Reading {
            roles: self.session.roles().to_vec(),
            rig: self.rig.clone(),
            choices: self.choices.clone(),
            limits: self.limits.clone(),
            marks: self.session.marks().to_vec(),
        }
    }

    fn begin_edit(&mut self) {
        let before = self.reading();
        self.edits.begin(Step::Reading(Box::new(before)));
    }

    /// Puts a state in force and gives the one that was.
    fn put(&mut self, step: Step) -> Step {
        match step {
            Step::Reading(reading) => {
                let was = self.reading();
                self.put_reading(*reading);
                Step::Reading(Box::new(was))
            }
            Step::Run(run) => Step::Run(self.put_run(run.map(|run| *run)).map(Box::new)),
        }
    }

    fn put_reading(&mut self, reading: Reading) {
        let framed = reading.roles != self.session.roles() || reading.rig != self.rig;
        let judged = reading.limits != self.limits || reading.marks != self.session.marks();
        self.rig = reading.rig;
        put_roles(&mut self.session, reading.roles);
        self.choices = reading.choices;
        self.limits = reading.limits;
        // Marks that a live link sets meanwhile are no edits: they stay.
        if !matches!(self.feed, Feed::Live(_)) {
            self.session.set_marks(reading.marks);
        }
        self.end_edit(match (framed, judged) {
            (true, _) => Reach::Session,
            (false, true) => Reach::Results,
            (false, false) => Reach::Constants,
        });
    }

    /// Times, results, constants and the session file follow, as far as the edit reaches.
    fn end_edit(&mut self, reach: Reach) {
        match reach {
            Reach::Constants => self.solve_again(),
            Reach::Results => self.revision += 1,
            Reach::Session => {
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
        self.keep_edits();
    }
}

/// How much of what follows from a session an edit changes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Reach {
    /// The constants alone.
    Constants,
    /// What was measured and found.
    Results,
    /// The meaning of the columns.
    Session,
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
