//! The stations of the rail and the verbs of the guided run: their words and keys.
use egui::Key;

use crate::survey::Station;

/// The words of a station in the rail.
pub trait Words {
    /// What it is for, said on hovering.
    fn hint(self) -> &'static str;
    /// Its name.
    fn title(self) -> &'static str;
}

impl Words for Station {
    fn hint(self) -> &'static str {
        match self {
            Station::Link => "Source, recognition, last lines, fields and their roles",
            Station::Wiring => "What answers each control, and what is wrong",
            Station::Traces => "Any channels over time, with cursors",
            Station::Sticks => "Reach by direction, rests and dead zone",
            Station::Triggers => "Travel and thresholds",
            Station::Buttons => "Contacts, bounce and doubles",
            Station::Trim => "What the constants cost and do, and the header",
            Station::Proof => "The flashed board against the record of its constants",
            Station::Sheet => "The whole record, ready to be saved",
        }
    }

    fn title(self) -> &'static str {
        match self {
            Station::Link => "Link",
            Station::Wiring => "Wiring",
            Station::Traces => "Traces",
            Station::Sticks => "Sticks",
            Station::Triggers => "Triggers",
            Station::Buttons => "Buttons",
            Station::Trim => "Trim",
            Station::Proof => "Proof",
            Station::Sheet => "Sheet",
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
