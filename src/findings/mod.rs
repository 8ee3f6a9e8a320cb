//! Readings to named faults with evidence and remedy.
//!
//! One function a code, gathered in [`ALL`]. A fault needs the whole interval beyond the reject
//! limit, a warning the whole interval beyond marginal, a note the whole interval beyond good.
mod centre;
mod contact;
mod converter;
mod data;
mod follow;
mod gate;
mod ghost;
mod link_rate;
mod motion;
mod noise;
mod outputs;
mod reference;
mod remote;
mod rotation;
mod say;
mod stream;
mod supply;
mod together;
mod track;
mod travel;
mod trigger;
mod wires;
mod wiring;

#[cfg(test)]
pub(crate) mod built;

use serde::{Deserialize, Serialize};

use crate::limits::{Band, Grade, Limits};
use crate::measure::{Reading, Span};
use crate::segment::{Rows, Segments};
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

impl Finding {
    fn new(code: &str, place: &str, severity: Severity, evidence: String, remedy: &str) -> Self {
        Finding {
            code: code.to_owned(),
            place: place.to_owned(),
            severity,
            evidence,
            remedy: remedy.to_owned(),
            caution: None,
            span: None,
        }
    }

    /// True when the remedy touches what can hurt a board or a person: supply, motors, cells, chargers,
    /// the current of a USB port. Such a finding carries a caution.
    pub fn touches_power(&self) -> bool {
        const WORDS: [&str; 9] = [
            "supply",
            "supplies",
            "motor",
            "cell",
            "charger",
            "USB",
            "regulator",
            "pull-up",
            "divide",
        ];
        WORDS.iter().any(|word| self.remedy.contains(word))
    }

    fn with_caution(mut self, caution: &str) -> Self {
        self.caution = Some(caution.to_owned());
        self
    }

    fn at(mut self, span: Span) -> Self {
        self.span = Some(span);
        self
    }
}

/// What a finding is drawn from.
#[derive(Clone, Copy)]
pub struct Bench<'a> {
    /// The session's readings.
    pub survey: &'a Survey,
    /// The columns behind them.
    pub tracks: &'a Tracks,
    /// Which rows show what.
    pub segments: &'a Segments,
    /// The acceptance bands, scaled to the raw width.
    pub limits: &'a Limits,
}

impl Bench<'_> {
    /// Seconds from the first frame to `t_us`.
    fn since_start_s(&self, t_us: u64) -> f64 {
        t_us.saturating_sub(self.tracks.t_us.first().copied().unwrap_or(0)) as f64 * 1e-6
    }

    /// Board time of a stretch of rows.
    fn span(&self, rows: Rows) -> Span {
        let at = |row: usize| self.tracks.t_us.get(row).copied().unwrap_or(0);
        Span { start_us: at(rows.first), end_us: at(rows.end.saturating_sub(1).max(rows.first)) }
    }

    /// One 10-bit count in counts of this raw width.
    fn count_unit(&self) -> f64 {
        2f64.powi(i32::from(self.survey.raw_bits) - 10)
    }
}

/// True when one of these codes has been found at a place already.
fn has(found: &[Finding], codes: &[&str], place: &str) -> bool {
    found.iter().any(|f| f.place == place && codes.contains(&f.code.as_str()))
}

/// The severity that a reading's interval calls for in a band.
fn severity_of(band: &Band, reading: &Reading) -> Option<Severity> {
    Severity::of(band.grade(reading.low, reading.high))
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
pub const ALL: &[Kind] = &[
    link_rate::BAUD_MISMATCH,
    stream::LINK_LOSS,
    supply::BROWN_OUT,
    stream::BOARD_RESET,
    remote::HALF_HANG,
    stream::STALE_HALF,
    stream::SLOW_LOOP,
    travel::STUCK_RAIL,
    follow::FLOATING_INPUT,
    follow::MUX_CROSSTALK,
    wiring::HALVES_EXCHANGED,
    wiring::SWAPPED_AXES,
    wiring::MIRRORED_HALF,
    wiring::INVERTED_AXIS,
    reference::REFERENCE_MISMATCH,
    together::REFERENCE_NOISE,
    track::WORN_TRACK,
    converter::CONVERTER_STEPS,
    noise::NOISY_INPUT,
    noise::MAINS_HUM,
    centre::WARM_UP_DRIFT,
    centre::STICKY_RETURN,
    motion::RELEASE_OVERSHOOT,
    motion::PRESS_SHIFT,
    outputs::PWM_COUPLING,
    outputs::GROUND_STEP,
    travel::SATURATED,
    travel::SHORT_TRAVEL,
    travel::UNEVEN_TRAVEL,
    gate::GATE_DEFECT,
    gate::SKEWED_AXES,
    rotation::ROTATED_STICK,
    trigger::NON_MONOTONIC,
    trigger::TRIGGER_PLATEAU,
    wires::BRIDGED_BUTTONS,
    ghost::MATRIX_GHOST,
    contact::CHATTER,
    contact::DOUBLE_FIRE,
    contact::MISSING_PULL_UP,
    data::NOT_ENOUGH_DATA,
];

/// All findings of a session, the gravest first, then in the order of [`ALL`].
pub fn examine(
    survey: &Survey,
    tracks: &Tracks,
    segments: &Segments,
    limits: &Limits,
) -> Vec<Finding> {
    let bench = Bench { survey, tracks, segments, limits };
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

#[cfg(test)]
mod tests;
