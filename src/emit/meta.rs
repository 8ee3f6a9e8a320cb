//! What every output is written from: the session's facts and all that was found in it.
use crate::findings::Finding;
use crate::limits::Limits;
use crate::rig::Place;
use crate::session::{ColumnRead, LineCounts};
use crate::survey::Survey;
use crate::survey::catalogue::Entry;
use crate::trim::{Origin, Solution};

/// Facts of a session that no reading holds. All text in it may be hostile; writers escape it.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct SessionFacts {
    /// What the builder calls the controller.
    pub rig_name: String,
    /// Which board of that kind.
    pub board_id: String,
    /// Date of the session as it stands in the file; empty when unknown.
    pub created: String,
    /// The recording that the bytes came from, and its damage.
    pub origin: Origin,
    /// Position names of the buttons in bit order; may be shorter than the buttons, or empty.
    pub button_names: Vec<String>,
    /// Remarks of the person, in order.
    pub notes: Vec<String>,
    /// Every column of a line as it was read.
    pub columns: Vec<ColumnRead>,
    /// Every line but the frames, by what it is.
    pub lines: LineCounts,
}

/// All that an output may say of a session.
#[derive(Clone, Copy)]
pub struct Report<'a> {
    /// Names, dates, source.
    pub facts: &'a SessionFacts,
    /// Readings.
    pub survey: &'a Survey,
    /// What stands out.
    pub findings: &'a [Finding],
    /// Constants with the figures behind them.
    pub solution: &'a Solution,
    /// The bands that the findings were judged by.
    pub limits: &'a Limits,
}

impl<'a> Report<'a> {
    /// Every figure and constant of the catalogue with its judgement, in the order of the parts.
    pub fn entries(&self) -> Vec<Entry<'a>> {
        let mut all = self.survey.entries(self.limits);
        all.extend(self.solution.entries(self.survey, self.limits));
        all
    }

    /// The same of the part at one place alone.
    pub fn entries_at(&self, place: Place) -> Vec<Entry<'a>> {
        let mut all = self.survey.entries_at(place, self.limits);
        all.extend(self.solution.entries_at(place, self.survey, self.limits));
        all
    }
}

/// What read a recording, in words.
pub fn tool_words() -> String {
    format!("{} {}", env!("CARGO_PKG_NAME"), env!("CARGO_PKG_VERSION"))
}

/// What wrote a document, for those who keep it.
pub fn tool() -> serde_json::Value {
    serde_json::json!({ "name": env!("CARGO_PKG_NAME"), "version": env!("CARGO_PKG_VERSION") })
}
