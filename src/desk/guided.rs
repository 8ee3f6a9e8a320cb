//! The guided run on the desk: live with prompts and marks, on a recording along its own marks.
use std::time::{Duration, Instant};

use crate::guide::{Ending, Guide, Out, Parts, Prompt};
use crate::rig::{CALL_WORD, Control, Task};
use crate::segment::PUSH_WORD;

use super::feed::Feed;
use super::{Desk, Weight};

/// How often the columns of the task under way are looked at.
const LOOK: Duration = Duration::from_millis(100);
/// Speed at which a recording with marks is played for the run.
const PLAY_SPEED: f64 = 8.0;

/// A guided run under way or at its review.
#[derive(Debug)]
pub struct Guided {
    guide: Guide,
    first_row: usize,
    looked: Instant,
    /// Rows of a recording at which its marks ask for a task (`None` = the end).
    recorded: Vec<(usize, Option<Task>)>,
    /// How many of those have been passed.
    passed: usize,
    /// Rows that were there when the review began: results of fewer do not tell the whole run.
    reviewed_row: usize,
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

    /// Every task, and how it ended where it has.
    pub fn tasks(&self) -> impl Iterator<Item = (Task, Option<Ending>)> + '_ {
        self.guide.tasks()
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
        let tracks = self.session.tracks_of(rows.saturating_sub(64)..rows, &self.rig);
        let mut guide = Guide::new(Parts::of(&tracks, &self.rig), 1);
        let outs = guide.start();
        let recorded = self.recorded_tasks();
        let looked = Instant::now();
        self.guided =
            Some(Guided { guide, first_row: rows, looked, recorded, passed: 0, reviewed_row: 0 });
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
            self.mark("end", "");
            if let Some(hand) = &self.hand {
                hand.prompt(None);
            }
        }
    }

    /// Takes what there is and goes on; at the review, ends the run.
    pub fn accept(&mut self) {
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
            let outs = run.guide.redo();
            self.carry_out(outs);
        }
    }

    /// Leaves the task out.
    pub fn skip(&mut self) {
        if let Some(run) = &mut self.guided {
            let outs = run.guide.skip();
            self.carry_out(outs);
        }
    }

    fn recorded_tasks(&self) -> Vec<(usize, Option<Task>)> {
        if matches!(self.feed, Feed::Live(_)) {
            return Vec::new();
        }
        let mut tasks: Vec<(usize, Option<Task>)> = self
            .session
            .stamps()
            .iter()
            .filter(|s| s.word == "end" || Task::from_word(&s.word).is_some())
            .map(|s| (self.session.row_of(s), Task::from_word(&s.word)))
            .collect();
        tasks.sort_by_key(|(row, _)| *row);
        tasks
    }

    fn carry_out(&mut self, outs: Vec<Out>) {
        let live = matches!(self.feed, Feed::Live(_));
        for out in outs {
            match out {
                // The scripted hand has an order of its own: no push is asked of it.
                Out::Mark { word, .. } if word == PUSH_WORD && self.hand.is_some() => {}
                Out::Mark { word, text } if live => {
                    self.mark(word, &text);
                    if let (CALL_WORD, Some(hand)) = (word, &self.hand)
                        && let Some(control) = Control::from_word(&text)
                    {
                        hand.call(control);
                    }
                }
                Out::Mark { .. } => {}
                Out::Begin(task) => {
                    if let Some(run) = &mut self.guided {
                        run.first_row = self.session.rows();
                    }
                    if let Some(hand) = &self.hand {
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
        if run.task().is_none() || run.looked.elapsed() < LOOK {
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
        let tracks = self.session.tracks_of(rows, &self.rig);
        let outs = run.guide.observe(&tracks, false);
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
            if let Some((begun, _)) = run.passed.checked_sub(1).and_then(|i| run.recorded.get(i)) {
                let tracks = self.session.tracks_of(*begun..row, &self.rig);
                let _marks_stand_already = run.guide.observe(&tracks, true);
            }
            run.passed += 1;
            run.guide.follow(task);
        }
        let Some((begun, _)) = run.passed.checked_sub(1).and_then(|i| run.recorded.get(i)) else {
            return;
        };
        let tracks = self.session.tracks_of(*begun..at_row, &self.rig);
        let _marks_stand_already = run.guide.observe(&tracks, true);
        if over {
            run.guide.follow(None);
        }
    }
}
