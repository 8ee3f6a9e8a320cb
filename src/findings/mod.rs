//! Readings to named faults with evidence and remedy.
//!
//! One function a code, gathered in [`ALL`]. A fault needs the whole interval beyond the reject
//! limit, a warning the whole interval beyond marginal, a note the whole interval beyond good.
use serde::{Deserialize, Serialize};

use crate::limits::{Grade, Limits};
use crate::measure::Span;
use crate::session::Tracks;
use crate::survey::Survey;

/// How much a finding matters.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Severity {
    /// Surely beyond the reject limit: mend it before the constants are trusted.
    Fault,
    /// Surely beyond marginal, or a thing that a person should look at.
    Warning,
    /// Worth knowing.
    Note,
}

impl Severity {
    /// Machine word: `fault`, `warning`, `note`.
    pub fn word(self) -> &'static str {
        match self {
            Severity::Fault => "fault",
            Severity::Warning => "warning",
            Severity::Note => "note",
        }
    }

    /// The severity that a grade calls for; `None` for good and for cannot tell.
    pub fn of(grade: Grade) -> Option<Severity> {
        match grade {
            Grade::Reject => Some(Severity::Fault),
            Grade::Poor => Some(Severity::Warning),
            Grade::Marginal => Some(Severity::Note),
            Grade::Good | Grade::CannotTell => None,
        }
    }
}

/// One named thing that stands out.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Finding {
    /// Code of the kind, as in [`Kind::code`].
    pub code: String,
    /// Where: `lx`, `left`, `lt`, `b3`, `stream`.
    #[serde(rename = "where")]
    pub place: String,
    /// How much it matters.
    pub severity: Severity,
    /// A sentence with figures and their intervals.
    pub evidence: String,
    /// What to do.
    pub remedy: String,
    /// What to mind while doing it, where supply, motors, cells or USB current are touched.
    pub caution: Option<String>,
    /// Where in the session it shows; `None` = all of it.
    pub span: Option<Span>,
}

/// What a finding is drawn from.
#[derive(Clone, Copy)]
pub struct Bench<'a> {
    /// The session's readings.
    pub survey: &'a Survey,
    /// The columns behind them.
    pub tracks: &'a Tracks,
    /// The acceptance bands, scaled to the raw width.
    pub limits: &'a Limits,
}

/// One kind of finding.
pub struct Kind {
    /// Its code, stable for machines.
    pub code: &'static str,
    /// Words for a person.
    pub title: &'static str,
    /// Adds what it finds.
    pub look: fn(&Bench<'_>, &mut Vec<Finding>),
}

/// Every kind that is looked for, in the order of the path.
pub const ALL: &[Kind] = &[];

/// All findings of a session, the gravest first, then in the order of [`ALL`].
pub fn examine(survey: &Survey, tracks: &Tracks, limits: &Limits) -> Vec<Finding> {
    let bench = Bench { survey, tracks, limits };
    let mut found = Vec::new();
    for kind in ALL {
        (kind.look)(&bench, &mut found);
    }
    found.sort_by_key(|finding| finding.severity);
    found
}

/// Words for a code; the code itself when it is not known.
pub fn title(code: &str) -> &str {
    ALL.iter().find(|kind| kind.code == code).map_or(code, |kind| kind.title)
}
