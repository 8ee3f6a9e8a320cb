//! The stations of the rail and the verbs of the guided run: their words and keys.
use egui::Key;
use serde::{Deserialize, Serialize};

/// The stations in the order of the work.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub enum Place {
    /// Source, recognition, lines, fields.
    #[default]
    Link,
    /// What answers each control, and every finding.
    Wiring,
    /// Any channels over time.
    Traces,
    /// Reach, rests and dead zone of the sticks.
    Sticks,
    /// Travel and thresholds of the triggers.
    Triggers,
    /// Contacts and their bounce.
    Buttons,
    /// What the constants cost and do; the header.
    Trim,
    /// The flashed board against the record of its constants.
    Proof,
    /// The whole record, ready to be saved.
    Sheet,
}

impl Place {
    /// All of them, as in the rail.
    pub const ALL: &[Place] = &[
        Place::Link,
        Place::Wiring,
        Place::Traces,
        Place::Sticks,
        Place::Triggers,
        Place::Buttons,
        Place::Trim,
        Place::Proof,
        Place::Sheet,
    ];

    /// Place in the rail.
    pub fn index(self) -> usize {
        Place::ALL.iter().position(|p| *p == self).unwrap_or(0)
    }

    pub(super) fn hint(self) -> &'static str {
        match self {
            Place::Link => "Source, recognition, last lines, fields and their roles",
            Place::Wiring => "What answers each control, and what is wrong",
            Place::Traces => "Any channels over time, with cursors",
            Place::Sticks => "Reach by direction, rests and dead zone",
            Place::Triggers => "Travel and thresholds",
            Place::Buttons => "Contacts, bounce and doubles",
            Place::Trim => "What the constants cost and do, and the header",
            Place::Proof => "The flashed board against the record of its constants",
            Place::Sheet => "The whole record, ready to be saved",
        }
    }

    pub(super) fn title(self) -> &'static str {
        match self {
            Place::Link => "Link",
            Place::Wiring => "Wiring",
            Place::Traces => "Traces",
            Place::Sticks => "Sticks",
            Place::Triggers => "Triggers",
            Place::Buttons => "Buttons",
            Place::Trim => "Trim",
            Place::Proof => "Proof",
            Place::Sheet => "Sheet",
        }
    }
}

/// Step of the guided run.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum RunVerb {
    /// Begin with the first prompt.
    Start,
    /// Take what has been gathered and go on; in the review, save the header and end.
    Accept,
    /// Throw away the present step's data and do it again.
    Redo,
    /// Leave the present step out.
    Skip,
    /// End the run; what was accepted stays.
    Stop,
}

impl RunVerb {
    pub(super) fn label(self) -> &'static str {
        match self {
            RunVerb::Start => "Start guided run",
            RunVerb::Accept => "Accept",
            RunVerb::Redo => "Redo step",
            RunVerb::Skip => "Skip step",
            RunVerb::Stop => "Stop run",
        }
    }

    pub(super) fn hint(self) -> &'static str {
        match self {
            RunVerb::Start => "Measure the whole controller, one prompt at a time",
            RunVerb::Accept => "Take what was gathered and go on; at the end, save the header",
            RunVerb::Redo => "Throw the step's data away and do it again",
            RunVerb::Skip => "Leave this step out",
            RunVerb::Stop => "End the run; what was recorded stays",
        }
    }

    pub(super) fn key(self) -> Key {
        [Key::G, Key::Space, Key::Backspace, Key::N, Key::Escape][self as usize]
    }
}
