//! What a person can be asked to do with a controller, one thing at a time.
use serde::{Deserialize, Serialize};

/// One prompt of the guided run. Its word stands in session marks.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Task {
    /// Hands off: nothing is touched.
    Rest,
    /// Each control moved once, when it is asked for.
    RollCall,
    /// Both sticks round the gate, three slow turns each way.
    Roll,
    /// Both sticks pushed to the gate in a direction and let go; eight directions, twice.
    Releases,
    /// Both triggers pulled and let go: four slow pulls, four fast.
    Triggers,
    /// Every button pressed and let go, five times each.
    Buttons,
}

impl Task {
    /// In the order of the guided run.
    pub const ALL: [Task; 6] =
        [Task::Rest, Task::RollCall, Task::Roll, Task::Releases, Task::Triggers, Task::Buttons];

    /// The word that stands for it in marks and on the command line.
    pub fn word(self) -> &'static str {
        match self {
            Task::Rest => "rest",
            Task::RollCall => "roll-call",
            Task::Roll => "roll",
            Task::Releases => "releases",
            Task::Triggers => "triggers",
            Task::Buttons => "buttons",
        }
    }

    /// The task that a word stands for.
    pub fn from_word(word: &str) -> Option<Task> {
        Task::ALL.into_iter().find(|t| t.word() == word)
    }
}
