//! The guided run as a pure machine: columns and time in; prompt, share done, refusal, marks out.
//!
//! One task at a time. [`Guide::observe`] is given the columns since the task began, as often as
//! its owner likes; it says what to show and, when the data suffice, goes on by itself. It has no
//! clock and does nothing by itself: what must happen outside (a mark, the next task) comes back
//! as [`Out`].
mod progress;
mod words;

use crate::rig::{AxisId, Control, Half, Mark, POSITIONS, Rig, Task, Word};
use crate::segment::{self, Levels, Segments};
use crate::session::{Inputs, Tracks};
use crate::survey::{self, HeardAll};

pub use words::direction_words;

/// The parts that a run asks about.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Parts {
    /// Sticks present.
    pub sticks: Vec<Half>,
    /// Triggers present.
    pub triggers: Vec<Half>,
    /// Number of buttons.
    pub buttons: usize,
    /// What the roll-call asks for, in its order, and what a person calls it.
    pub controls: Vec<(Control, String)>,
}

impl Parts {
    /// The parts whose fields are in the stream; `fields` = how many fields may be the reading of a
    /// control, single button lines counted as one.
    ///
    /// The roll-call asks for what the rig lists. Without a list it asks for what a line of so many
    /// fields has room for, whatever the fields are called: stick, stick, triggers, buttons.
    pub fn of(tracks: &Tracks, fields: usize, rig: &Rig) -> Parts {
        let has = |axis: AxisId| tracks.axis(axis).is_some();
        let buttons = if rig.buttons.is_empty() { tracks.button_count } else { rig.buttons.len() };
        let sticks = Half::ALL.into_iter().filter(|h| h.stick().into_iter().all(has)).collect();
        let triggers = Half::ALL.into_iter().filter(|h| has(h.trigger())).collect();
        let buttons = if tracks.buttons.is_some() { buttons } else { 0 };
        let mut parts = Parts { sticks, triggers, buttons, controls: Vec::new() };
        parts.controls = parts.to_call(fields, rig);
        parts
    }

    fn to_call(&self, fields: usize, rig: &Rig) -> Vec<(Control, String)> {
        let listed = rig.controls();
        let named = |c: Control| (c, rig.control_words(c));
        if !listed.is_empty() {
            return listed.into_iter().map(named).collect();
        }
        let sticks = usize::from(fields >= 2) + usize::from(fields >= 4);
        let triggers = if fields >= 6 { Half::ALL.to_vec() } else { self.triggers.clone() };
        let mut halves = self.sticks.clone();
        halves.extend(Half::ALL.into_iter().filter(|h| !self.sticks.contains(h)));
        halves.truncate(sticks.max(self.sticks.len()));
        let axes = halves.into_iter().flat_map(Half::stick);
        let axes: Vec<AxisId> = axes.chain(triggers.iter().map(|h| h.trigger())).collect();
        // A mask at rest does not tell how many lines it has.
        let room = if fields > axes.len() { POSITIONS.len() } else { 0 };
        let buttons = if self.buttons > 0 { self.buttons.max(room) } else { room };
        let buttons = (0..buttons.min(32) as u8).map(Control::Button);
        axes.into_iter().map(Control::Axis).chain(buttons).map(named).collect()
    }

    /// The parts that a rig lists, all of them expected in the stream.
    pub fn listed(rig: &Rig) -> Parts {
        let controls = rig.controls().into_iter().map(|c| (c, rig.control_words(c)));
        Parts {
            sticks: rig.sticks.iter().map(|s| s.half).collect(),
            triggers: rig.triggers.iter().map(|t| t.half).collect(),
            buttons: rig.buttons.len(),
            controls: controls.collect(),
        }
    }

    fn need(&self, task: Task) -> bool {
        match task {
            Task::RollCall => !self.controls.is_empty(),
            Task::Rest => !self.sticks.is_empty() || !self.triggers.is_empty(),
            Task::Roll | Task::Releases => !self.sticks.is_empty(),
            Task::Triggers => !self.triggers.is_empty(),
            Task::Buttons => self.buttons > 0,
        }
    }
}

/// What to show.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Prompt {
    /// What to do, at most six words.
    pub title: String,
    /// How far it has come, in words and numbers.
    pub detail: String,
    /// Share done by the sufficiency of the data, 0 to 1.
    pub share: f64,
    /// The number in the ring: what has been counted so far.
    pub count: usize,
    /// Why the last data do not count, if they do not.
    pub refusal: Option<String>,
    /// The data suffice.
    pub enough: bool,
    /// During the roll: how often each of the 72 sectors of a stick was crossed, up to 255.
    pub visits: Vec<(Half, Vec<u8>)>,
}

/// How a task ended.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Ending {
    /// The data sufficed.
    Sufficed,
    /// The person accepted less.
    Accepted,
    /// The person, or the end of a recording, left it out.
    Skipped,
}

/// What the owner has to do.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Out {
    /// Set a mark at the present place of the stream.
    Mark(Mark),
    /// A task begins here (again): columns from here on belong to it.
    Begin(Task),
    /// Every control of the roll-call was asked for: take or leave what answered, then
    /// [`Guide::go_on`].
    Heard,
    /// All tasks are over: measure, and show the review.
    Review,
}

/// A guided run.
#[derive(Clone, Debug)]
pub struct Guide {
    parts: Parts,
    tasks: Vec<Task>,
    endings: Vec<Ending>,
    prompt: Prompt,
    levels: Option<Levels>,
    pushes: Vec<i32>,
    pushed: Option<usize>,
    heard: Option<HeardAll>,
    /// Controls of the roll-call that were answered or passed over: what was asked for once is not
    /// asked for again when a later look hears it otherwise.
    called: usize,
}

impl Guide {
    /// A run over the tasks that the parts call for; `seed` orders the directions of the releases.
    pub fn new(parts: Parts, seed: u64) -> Guide {
        let tasks = Task::ALL.into_iter().filter(|t| parts.need(*t)).collect();
        let pushes = words::push_order(seed);
        let prompt = Prompt::default();
        let (levels, pushed, heard) = (None, None, None);
        let endings = Vec::new();
        Guide { parts, tasks, endings, prompt, levels, pushes, pushed, heard, called: 0 }
    }

    /// A run of the roll-call alone.
    pub fn roll_call(parts: Parts) -> Guide {
        let tasks = vec![Task::RollCall];
        Guide { tasks, ..Guide::new(parts, 1) }
    }

    /// The first task begins.
    pub fn start(&mut self) -> Vec<Out> {
        self.begin(|task| Word::Task(task).into())
    }

    /// The task under way; `None` once the run has come to its review.
    pub fn task(&self) -> Option<Task> {
        self.tasks.get(self.endings.len()).copied()
    }

    /// What to show.
    pub fn prompt(&self) -> &Prompt {
        &self.prompt
    }

    /// Every task of the run, and how it ended where it has.
    pub fn tasks(&self) -> impl Iterator<Item = (Task, Option<Ending>)> + '_ {
        self.tasks.iter().enumerate().map(|(i, t)| (*t, self.endings.get(i).copied()))
    }

    /// Looks at the columns since the task began. `follow` = a recording tells when to go on.
    pub fn observe(&mut self, tracks: &Tracks, follow: bool) -> Vec<Out> {
        let Some(task) = self.task() else { return Vec::new() };
        let found = segment::find_knowing(tracks, self.levels.as_ref());
        self.judge(tracks, &found);
        if self.prompt.enough && !follow && task != Task::RollCall {
            self.levels = Some(found.levels.clone());
            return self.end(Ending::Sufficed);
        }
        if follow || task != Task::Releases || self.pushed == Some(self.prompt.count) {
            return Vec::new();
        }
        self.pushed = Some(self.prompt.count);
        let deg = self.pushes[self.prompt.count % self.pushes.len()];
        vec![Out::Mark(Mark::new(Word::Push, deg.to_string()))]
    }

    /// Looks at the roll-call since it began, by the fields of the line and not by their roles:
    /// `inputs` are of the same rows as `tracks`. Does nothing during other tasks.
    pub fn listen(&mut self, tracks: &Tracks, inputs: &Inputs, follow: bool) -> Vec<Out> {
        if self.task() != Some(Task::RollCall) {
            return Vec::new();
        }
        self.heard = survey::hear(tracks, inputs);
        let controls = &self.parts.controls;
        self.prompt = progress::roll_call(tracks, self.heard.as_ref(), controls, self.called);
        self.called = self.prompt.count;
        if follow || self.pushed == Some(self.prompt.count) {
            return Vec::new();
        }
        self.pushed = Some(self.prompt.count);
        match self.parts.controls.get(self.prompt.count) {
            Some((control, name)) => vec![Out::Mark(Mark::calling(*control, name))],
            None => vec![Out::Heard],
        }
    }

    /// During the roll-call: the fields have other roles from here on. The tasks that follow are
    /// those that `parts` call for, and know where each axis rests by `levels`.
    pub fn renamed(&mut self, parts: Parts, levels: Levels) {
        if self.task() != Some(Task::RollCall) {
            return;
        }
        self.tasks.truncate(self.endings.len() + 1);
        let later = Task::ALL.into_iter().skip_while(|t| *t != Task::RollCall).skip(1);
        self.tasks.extend(later.filter(|t| parts.need(*t)));
        self.parts = parts;
        self.levels = Some(levels);
    }

    /// What has answered the roll-call so far.
    pub fn heard(&self) -> Option<&HeardAll> {
        self.heard.as_ref()
    }

    /// The roll-call was heard out: on to the next task.
    pub fn go_on(&mut self) -> Vec<Out> {
        match self.prompt.enough && self.task() == Some(Task::RollCall) {
            true => self.end(Ending::Sufficed),
            false => Vec::new(),
        }
    }

    /// Looks at what was found in a whole recording, without going on.
    pub fn judge(&mut self, tracks: &Tracks, found: &Segments) {
        let Some(task) = self.task() else { return };
        let seen = progress::Seen { tracks, found, parts: &self.parts };
        self.prompt = progress::prompt(task, &seen, &self.pushes);
    }

    /// The person takes what there is.
    pub fn accept(&mut self) -> Vec<Out> {
        if self.task().is_none() { Vec::new() } else { self.end(Ending::Accepted) }
    }

    /// The person does the task under way again; with nothing counted yet, the one before it.
    pub fn redo(&mut self) -> Vec<Out> {
        if (self.prompt.count == 0 || self.task().is_none()) && !self.endings.is_empty() {
            self.endings.pop();
        }
        self.begin(Mark::again)
    }

    /// The person leaves the task out.
    pub fn skip(&mut self) -> Vec<Out> {
        if self.task().is_none() { Vec::new() } else { self.end(Ending::Skipped) }
    }

    /// A recording has come to the mark of `task` (`None` = to its end): go on to it.
    pub fn follow(&mut self, task: Option<Task>) {
        let target = match task {
            Some(task) => self.tasks.iter().position(|t| *t == task),
            None => Some(self.tasks.len()),
        };
        while target.is_some_and(|target| self.endings.len() < target) {
            let ending = if self.prompt.enough { Ending::Sufficed } else { Ending::Skipped };
            self.endings.push(ending);
            self.prompt = Prompt::default();
        }
    }

    fn end(&mut self, ending: Ending) -> Vec<Out> {
        self.endings.push(ending);
        if self.task().is_some() {
            return self.begin(|task| Word::Task(task).into());
        }
        self.prompt = Prompt::default();
        vec![Out::Mark(Word::End.into()), Out::Review]
    }

    fn begin(&mut self, mark: fn(Task) -> Mark) -> Vec<Out> {
        self.pushed = None;
        self.heard = None;
        self.called = 0;
        self.prompt = Prompt::default();
        let Some(task) = self.task() else { return vec![Out::Review] };
        self.prompt.title = words::title(task, &self.parts, self.pushes[0]);
        vec![Out::Mark(mark(task)), Out::Begin(task)]
    }
}
