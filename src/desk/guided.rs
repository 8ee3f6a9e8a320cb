//! The guided run on the desk: live with prompts and marks, on a recording along its own marks.
use std::ops::Range;
use std::time::{Duration, Instant};

use crate::guide::{Ending, Guide, Out, Parts, Prompt};
use crate::rig::{Rig, Task, Word};
use crate::segment;
use crate::session::{Inputs, Session, is_input};
use crate::survey::HeardAll;
use crate::wire::Role;

use super::feed::Feed;
use super::naming::{Naming, name_fields};
use super::{Desk, Weight};

/// How often the columns of the task under way are looked at.
const LOOK: Duration = Duration::from_millis(100);
/// Speed at which a recording with marks is played for the run.
const PLAY_SPEED: f64 = 8.0;

/// A guided run under way or at its review.
#[derive(Clone, Debug)]
pub struct Guided {
    guide: Guide,
    /// Rows that were there when the run and when the task under way began.
    begun_row: usize,
    first_row: usize,
    looked: Instant,
    /// Rows of a recording at which its marks ask for a task (`None` = the end).
    recorded: Vec<(usize, Option<Task>)>,
    /// How many of those have been passed.
    passed: usize,
    /// Rows that were there when the review began: results of fewer do not tell the whole run.
    reviewed_row: usize,
    /// Names that the roll-call found and that are not in force: taken or left before it goes on.
    offered: Option<Naming>,
}

impl Guided {
    /// The task under way; `None` = the review.
    pub fn task(&self) -> Option<Task> {
        self.guide.task()
    }

    /// What to show of the task under way.
    pub fn prompt(&self) -> &Prompt {
        self.guide.prompt()
    }

    /// Names that the roll-call found, while they wait to be taken or left.
    pub fn offered(&self) -> Option<&Naming> {
        self.offered.as_ref()
    }

    /// What has answered the roll-call under way.
    pub fn heard(&self) -> Option<&HeardAll> {
        self.guide.heard()
    }

    /// Every task, and how it ended where it has.
    pub fn tasks(&self) -> impl Iterator<Item = (Task, Option<Ending>)> + '_ {
        self.guide.tasks()
    }

    /// Judges the task whose mark was passed last by its rows up to `end`.
    ///
    /// A recording may hold tasks that this run does not ask for, and a person may have gone on
    /// before the recording: such rows say nothing of the task under way.
    fn look_at_recorded(&mut self, end: usize, session: &Session, rig: &Rig) {
        let passed = self.passed.checked_sub(1).and_then(|i| self.recorded.get(i));
        let Some(&(begun, Some(task))) = passed else { return };
        if self.guide.task() == Some(task) {
            let rows = begun..end.max(begun);
            let _stand_already = look(&mut self.guide, session, rows, rig, true);
        }
    }

    /// Number of the task under way, from 1, and of all, the review included.
    pub fn step(&self) -> (usize, usize) {
        let ended = self.tasks().filter(|(_, ending)| ending.is_some()).count();
        (ended + 1, self.tasks().count() + 1)
    }
}

impl Desk {
    /// The guided run, if one is under way or at its review.
    pub fn guided(&self) -> Option<&Guided> {
        self.guided.as_ref()
    }

    /// True when the newest results hold all that the run at its review has gathered.
    pub fn review_is_ready(&self) -> bool {
        let needed = self.guided.as_ref().map_or(0, |run| run.reviewed_row);
        self.results().is_some_and(|results| results.rows >= needed)
    }

    /// Begins a guided run: live with prompts; on a recording along its marks or its segments.
    pub fn start_guided(&mut self) {
        let rows = self.session.rows();
        if rows == 0 {
            let text =
                "No frames yet: connect a board or open a session, then begin the guided run";
            self.notify(Weight::Refused, text);
            return;
        }
        if self.opening.is_some() {
            // Marks that have not been read yet would be missing, and their tasks left out.
            let text = "The file is still being read; begin the guided run when it is whole";
            self.notify(Weight::Refused, text);
            return;
        }
        let tracks = self.session.tracks_of(rows.saturating_sub(64)..rows, &self.rig);
        let fields = control_fields(&self.session);
        let mut guide = Guide::new(Parts::of(&tracks, fields, &self.rig), 1);
        let outs = guide.start();
        let recorded = self.recorded_tasks();
        let looked = Instant::now();
        self.guided = Some(Guided {
            guide,
            begun_row: rows,
            first_row: rows,
            looked,
            recorded,
            passed: 0,
            reviewed_row: 0,
            offered: None,
        });
        if matches!(self.feed, Feed::Live(_)) {
            self.transport.following = true;
            self.carry_out(outs);
        } else if !self.guided.as_ref().is_some_and(|g| g.recorded.is_empty()) {
            self.transport.seek(0);
            self.transport.speed = PLAY_SPEED;
            self.transport.playing = true;
        }
    }

    /// Leaves the guided run; what was recorded stays.
    pub fn stop_guided(&mut self) {
        if self.guided.take().is_some() {
            self.mark(Word::End);
            if let Some(hand) = &self.hand {
                hand.prompt(None);
            }
        }
    }

    /// Takes what there is and goes on; at the review, ends the run. Can be undone.
    ///
    /// Names that the roll-call found are offered first, and taken when they have been offered.
    pub fn accept(&mut self) {
        if self.guided.as_ref().is_some_and(|run| run.offered.is_some()) {
            return self.end_roll_call(true);
        }
        let heard = self.guided.as_ref().and_then(|run| run.guide.heard().cloned());
        if self.guided.as_ref().and_then(Guided::task) == Some(Task::RollCall)
            && heard.is_some_and(|heard| self.offer(&heard))
        {
            return;
        }
        if self.guided.is_some() {
            self.begin_step();
        }
        match &mut self.guided {
            Some(run) if run.task().is_none() => self.guided = None,
            Some(run) => {
                let outs = run.guide.accept();
                self.carry_out(outs);
            }
            None => {}
        }
    }

    /// Does the task again.
    pub fn redo(&mut self) {
        if let Some(run) = &mut self.guided {
            run.offered = None;
            let outs = run.guide.redo();
            self.carry_out(outs);
        }
    }

    /// Leaves the task out, or the names that the roll-call found. Can be undone.
    pub fn skip(&mut self) {
        if self.guided.as_ref().is_some_and(|run| run.offered.is_some()) {
            return self.end_roll_call(false);
        }
        if self.guided.is_some() {
            self.begin_step();
        }
        if let Some(run) = &mut self.guided {
            let outs = run.guide.skip();
            self.carry_out(outs);
        }
    }

    /// Shows the names by what answered if they change anything; gives true when they do.
    fn offer(&mut self, heard: &HeardAll) -> bool {
        let naming = name_fields(&self.session, &self.rig, heard);
        let naming = naming.filter(|naming| !naming.changes.is_empty());
        let Some(run) = &mut self.guided else { return false };
        run.offered = naming;
        run.offered.is_some()
    }

    fn end_roll_call(&mut self, take: bool) {
        let Some(naming) = self.guided.as_mut().and_then(|run| run.offered.take()) else { return };
        if take {
            self.take_names(&naming);
        }
        let rows = self.session.rows();
        let Some(run) = &mut self.guided else { return };
        if take {
            let tracks = self.session.tracks_of(run.begun_row..rows, &self.rig);
            let parts = Parts::of(&tracks, control_fields(&self.session), &self.rig);
            run.guide.renamed(parts, segment::find(&tracks).levels);
        }
        let enough = run.prompt().enough;
        let outs = if enough { run.guide.go_on() } else { run.guide.accept() };
        self.carry_out(outs);
    }

    /// Puts an earlier or later state of the run in force and gives the one that was.
    ///
    /// On a live link what comes from now on belongs to that state's task again, beside what it had.
    pub(super) fn put_run(&mut self, run: Option<Guided>) -> Option<Guided> {
        let was = std::mem::replace(&mut self.guided, run);
        let task = self.guided.as_ref().and_then(Guided::task);
        if let Some(hand) = &self.hand {
            hand.prompt(task);
        }
        self.mark(task.map_or(Word::End, Word::Task));
        was
    }

    fn recorded_tasks(&self) -> Vec<(usize, Option<Task>)> {
        if matches!(self.feed, Feed::Live(_)) {
            return Vec::new();
        }
        let mut tasks: Vec<(usize, Option<Task>)> = self
            .session
            .marks()
            .iter()
            .filter(|mark| mark.ends_task())
            .map(|mark| (self.session.row_of(mark), mark.task()))
            .collect();
        tasks.sort_by_key(|(row, _)| *row);
        tasks
    }

    fn carry_out(&mut self, outs: Vec<Out>) {
        let live = matches!(self.feed, Feed::Live(_));
        for out in outs {
            match out {
                // The scripted hand has an order of its own: no push is asked of it.
                Out::Mark(mark) if mark.word == Word::Push && self.hand.is_some() => {}
                Out::Mark(mark) if live => {
                    let call = mark.call().map(|(control, _)| control);
                    self.mark(mark);
                    if let (Some(hand), Some(control)) = (&self.hand, call) {
                        hand.call(control);
                    }
                }
                Out::Mark(_) => {}
                Out::Heard => {
                    let heard = self.guided.as_ref().and_then(|run| run.guide.heard().cloned());
                    if !heard.is_some_and(|heard| self.offer(&heard))
                        && let Some(run) = &mut self.guided
                    {
                        let outs = run.guide.go_on();
                        self.carry_out(outs);
                    }
                }
                Out::Begin(task) => {
                    if let Some(run) = &mut self.guided {
                        run.first_row = self.session.rows();
                    }
                    if let Some(hand) = &self.hand {
                        // A roll called again begins with its first call again.
                        if task == Task::RollCall {
                            hand.prompt(None);
                        }
                        hand.prompt(Some(task));
                    }
                }
                Out::Review => {
                    if let Some(hand) = &self.hand {
                        hand.prompt(None);
                    }
                    let rows = self.session.rows();
                    if let Some(run) = &mut self.guided {
                        run.reviewed_row = rows;
                    }
                    self.measure_now();
                }
            }
        }
    }

    pub(super) fn tick_guided(&mut self) {
        let Some(run) = &self.guided else { return };
        if run.task().is_none() || run.offered.is_some() || run.looked.elapsed() < LOOK {
            return;
        }
        match &self.feed {
            Feed::Live(_) => self.look_live(),
            _ if run.recorded.is_empty() => self.look_at_segments(),
            _ => self.look_along_marks(),
        }
        if let Some(run) = &mut self.guided {
            run.looked = Instant::now();
        }
    }

    fn look_live(&mut self) {
        let Some(run) = &mut self.guided else { return };
        let rows = run.first_row..self.session.rows();
        let outs = look(&mut run.guide, &self.session, rows, &self.rig, false);
        self.carry_out(outs);
    }

    /// A log without marks: what was found in all of it decides, at once.
    fn look_at_segments(&mut self) {
        let Some(results) = self.results().cloned() else { return };
        let Some(run) = &mut self.guided else { return };
        while run.task().is_some() {
            run.guide.judge(&results.tracks, &results.segments);
            let enough = run.prompt().enough;
            let _outs = if enough { run.guide.accept() } else { run.guide.skip() };
        }
    }

    fn look_along_marks(&mut self) {
        let at_row = self.timebase.row_at(self.transport.at_us);
        let over = !self.transport.playing && at_row + 1 >= self.session.rows();
        let Some(run) = &mut self.guided else { return };
        while let Some(&(row, task)) = run.recorded.get(run.passed).filter(|(r, _)| *r <= at_row) {
            // The task that ends here is judged by all of its rows, not by the last look at it.
            run.look_at_recorded(row, &self.session, &self.rig);
            run.passed += 1;
            run.guide.follow(task);
        }
        run.look_at_recorded(at_row, &self.session, &self.rig);
        if over {
            run.guide.follow(None);
        }
    }
}

/// Looks at the rows of the task under way: the roll-call by fields, all else by roles.
pub(super) fn look(
    guide: &mut Guide,
    session: &Session,
    rows: Range<usize>,
    rig: &Rig,
    follow: bool,
) -> Vec<Out> {
    let tracks = session.tracks_of(rows.clone(), rig);
    if guide.task() != Some(Task::RollCall) {
        return guide.observe(&tracks, follow);
    }
    let inputs = Inputs { first: 0, ..session.inputs_of(rows) };
    guide.listen(&tracks, &inputs, follow)
}

/// How many fields may be the reading of a control, single lines of buttons counted as one.
pub(super) fn control_fields(session: &Session) -> usize {
    let inputs = session.roles().iter().filter(|role| is_input(**role));
    let (lines, others): (Vec<&Role>, Vec<&Role>) =
        inputs.partition(|role| matches!(role, Role::Button(_)));
    others.len() + usize::from(!lines.is_empty())
}
