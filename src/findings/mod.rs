//! Readings to named faults with evidence and remedy.
//!
//! One function a code, gathered in `ALL`. A fault needs the whole interval beyond the reject
//! limit, a warning the whole interval beyond marginal, a note the whole interval beyond good. What is
//! loud needs the 99 % interval, where 95 % are printed: of a hundred figures on a sound board a few
//! lie beyond their 95 % intervals.
mod centre;
mod contact;
mod above;
mod converter;
mod data;
mod follow;
mod foreign;
mod gate;
mod ghost;
mod link_rate;
mod missed;
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
mod unused;
mod wires;
mod wiring;

#[cfg(test)]
pub(crate) mod built;

pub use missed::own_missed;

use serde::{Deserialize, Serialize};

use crate::limits::{Band, Grade, Limits};
use crate::measure::{Reading, Span};
use crate::rig::Place;
use crate::segment::{Rows, Segments};
use crate::session::Tracks;
use crate::survey::{Code, Page, Survey};

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
    /// What it is.
    pub code: Code,
    /// Where.
    #[serde(rename = "where")]
    pub place: Place,
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
    fn new(
        code: Code,
        place: impl Into<Place>,
        severity: Severity,
        evidence: String,
        remedy: &str,
    ) -> Self {
        Finding {
            code,
            place: place.into(),
            severity,
            evidence,
            remedy: remedy.to_owned(),
            caution: None,
            span: None,
        }
    }

    /// True when it belongs on a station: by its code, or by the part that it stands at.
    pub fn concerns(&self, page: Page) -> bool {
        self.code.page() == page || Page::of(self.place) == page
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
fn has(found: &[Finding], codes: &[Code], place: impl Into<Place>) -> bool {
    let place = place.into();
    found.iter().any(|f| f.place.is_at(place) && codes.contains(&f.code))
}

/// The severity that a reading's interval calls for in a band: loud where its 99 % interval lies
/// beyond, else a note.
fn severity_of(band: &Band, reading: &Reading) -> Option<Severity> {
    loud(band, [reading.value, reading.low, reading.high])
}

/// Half-width of a 99 % interval over that of a 95 % one, normal law: 2.576/1.960.
const SURER: f64 = 1.314;

/// As [`severity_of`] for a value with its 95 % interval.
fn loud(band: &Band, [value, low, high]: [f64; 3]) -> Option<Severity> {
    let said = Severity::of(band.grade(low, high))?;
    let wider = |end: f64| value + SURER * (end - value);
    let sure = Severity::of(band.grade(wider(low), wider(high)));
    Some(sure.map_or(Severity::Note, |sure| sure.max(said)))
}

/// Adds what it finds of one code to what has been found already.
type Look = fn(&Bench<'_>, &mut Vec<Finding>);

/// Everything that is looked for, in the order in which names shut out others.
const ALL: &[Look] = &[
    link_rate::baud_mismatch,
    foreign::foreign_lines,
    stream::link_loss,
    supply::brown_out,
    stream::board_reset,
    remote::half_hang,
    stream::stale_half,
    stream::slow_loop,
    travel::stuck_rail,
    follow::floating_input,
    follow::mux_crosstalk,
    wiring::halves_exchanged,
    wiring::swapped_axes,
    wiring::mirrored_half,
    wiring::inverted_axis,
    reference::reference_mismatch,
    together::reference_noise,
    track::worn_track,
    converter::converter_steps,
    above::above_width,
    noise::noisy_input,
    noise::mains_hum,
    centre::warm_up_drift,
    centre::sticky_return,
    motion::release_overshoot,
    motion::press_shift,
    outputs::pwm_coupling,
    outputs::ground_step,
    travel::saturated,
    travel::short_travel,
    travel::uneven_travel,
    gate::gate_defect,
    gate::skewed_axes,
    rotation::rotated_stick,
    trigger::non_monotonic,
    trigger::trigger_plateau,
    wires::bridged_buttons,
    ghost::matrix_ghost,
    contact::chatter,
    contact::double_fire,
    contact::missing_pull_up,
    unused::unused_column,
    data::not_enough_data,
];

/// What rests on roles that the order of the columns gave is never louder than a note.
fn as_guess(finding: &mut Finding) {
    finding.severity = Severity::Note;
    finding.evidence += "; which column is which was guessed from their order";
}

/// All findings of a session, the gravest first, then in the order of `ALL`.
pub fn examine(
    survey: &Survey,
    tracks: &Tracks,
    segments: &Segments,
    limits: &Limits,
) -> Vec<Finding> {
    let bench = Bench { survey, tracks, segments, limits };
    let mut found = Vec::new();
    for look in ALL {
        look(&bench, &mut found);
    }
    if tracks.roles_by_order {
        found.iter_mut().filter(|f| f.code.rests_on_roles()).for_each(as_guess);
    }
    found.sort_by_key(|finding| finding.severity);
    found
}

#[cfg(test)]
mod tests;
