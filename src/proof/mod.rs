//! After the flash: does a fresh session of the board meet the limits that its constants promise?
//!
//! What is judged is what the firmware gave, where the stream carries it; raw codes without it are
//! run through [`crate::trim::apply`], which proves the constants on fresh data but not the board.
//! A session that holds a second of what the constants were fitted to proves nothing and is refused.
mod buttons;
mod fresh;
mod windows;
mod outputs;
mod record;
mod sticks;
mod triggers;

pub use fresh::{KnownBy, NotFresh, fingerprint};
pub use outputs::{Outputs, stand_in};
pub use sticks::{SECTORS, SectorReach};

use crate::limits::{Band, Decision, Grade};
use crate::measure::number;
use crate::rig::Place;
use crate::segment::Segments;
use crate::session::{Session, Tracks};
use crate::trim::Trim;

/// What the judged outputs come from.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Judged {
    /// Processed values that the board sent.
    Board,
    /// Raw codes of the board run through the record's constants here.
    Record,
}

impl Judged {
    /// One word for machines: `board`, `record`.
    pub fn key(self) -> &'static str {
        match self {
            Judged::Board => "board",
            Judged::Record => "record",
        }
    }

    /// For a person.
    pub fn words(self) -> &'static str {
        match self {
            Judged::Board => "processed values that the board sent",
            Judged::Record => "raw codes run through the record's constants here",
        }
    }
}

/// One thing that was checked.
#[derive(Clone, Debug, PartialEq)]
pub struct Check {
    /// Machine key: `zero-at-rest`, `full-on-axes`, `reach-16-sectors`, `monotonic`,
    /// `equal-to-record`, `zero-released`, `full-pulled`, `one-switch-a-pull`,
    /// `one-press-one-event`, `identity`, `board-id`, `stream`.
    pub key: &'static str,
    /// Which part.
    pub place: Place,
    /// What a person calls it, where the rig says so.
    pub name: String,
    /// `None` = left out: the stream cannot carry it in this form.
    pub decision: Option<Decision>,
    /// The figure that was judged, in the unit that `figures` says; `None` without data.
    pub value: Option<f64>,
    /// Bound of the acceptance band on the side that matters.
    pub limit: Option<f64>,
    /// How many independent pieces of evidence.
    pub n: usize,
    /// The figures in words.
    pub figures: String,
    /// What to do when it is not a pass; empty otherwise.
    pub advice: String,
}

impl Check {
    /// "zero at rest" for `zero-at-rest`.
    pub fn words(&self) -> String {
        self.key.replace('-', " ")
    }

    /// The limit with its sign and unit: "at least 99.95 % of full"; empty when nothing was judged.
    pub fn limit_words(&self) -> String {
        let Some(limit) = self.limit else { return String::new() };
        let digits = |v: f64| if v.fract() == 0.0 { 0 } else { 2 };
        let percent = || format!("{} %", number(limit * 100.0, digits(limit * 100.0)));
        match self.key {
            "zero-at-rest" | "zero-released" => format!("at most {} of rows", percent()),
            "full-on-axes" | "full-pulled" | "reach-16-sectors" => {
                format!("at least {} of full", percent())
            }
            "stream" => format!("at most {} lost", percent()),
            "monotonic" => format!("at most {} steps back", number(limit, digits(limit))),
            _ => format!("at most {} wrong", number(limit, 0)),
        }
    }

    /// The part in words: "left stick", "b3 north"; empty for the session.
    pub fn part(&self) -> String {
        match self.place {
            Place::Session => String::new(),
            Place::Button(n) if self.name.is_empty() => format!("b{n}"),
            Place::Button(n) => format!("b{n} {}", self.name),
            other => other.words(),
        }
    }

    fn called(self, name: &str) -> Check {
        Check { name: name.to_owned(), ..self }
    }

    fn new(key: &'static str, place: impl Into<Place>) -> Check {
        Check {
            key,
            place: place.into(),
            name: String::new(),
            decision: None,
            value: None,
            limit: None,
            n: 0,
            figures: String::new(),
            advice: String::new(),
        }
    }

    /// Judged by a band on an exact figure of this session; marginal and worse are a fail.
    fn judged(self, value: f64, band: &Band, n: usize, figures: String, advice: &str) -> Check {
        let decision = match band.grade(value, value) {
            Grade::Good => Decision::Pass,
            Grade::CannotTell => Decision::CannotTell,
            Grade::Marginal | Grade::Poor | Grade::Reject => Decision::Fail,
        };
        let advice = if decision == Decision::Pass { "" } else { advice };
        Check {
            decision: Some(decision),
            value: Some(value),
            limit: band.good.high.or(band.good.low),
            n,
            figures,
            advice: advice.to_owned(),
            ..self
        }
    }

    /// Too little was done to tell.
    fn undecided(self, n: usize, figures: String, advice: &str) -> Check {
        let decision = Some(Decision::CannotTell);
        Check { decision, n, figures, advice: advice.to_owned(), ..self }
    }

    /// Not part of this proof, and why.
    fn left_out(self, why: &str) -> Check {
        Check { figures: why.to_owned(), ..self }
    }
}

/// The whole proof.
#[derive(Clone, Debug, PartialEq)]
pub struct Proof {
    /// What the outputs come from.
    pub judged: Judged,
    /// Every check, in the order of the parts.
    pub checks: Vec<Check>,
    /// How far each stick's output went in each direction.
    pub reach: Vec<SectorReach>,
}

impl Proof {
    /// Number of checks with a decision.
    pub fn count(&self, decision: Decision) -> usize {
        self.checks.iter().filter(|c| c.decision == Some(decision)).count()
    }

    /// Fails when any check fails, passes when every check that was not left out passes and there
    /// is one at all; else it cannot tell.
    pub fn decision(&self) -> Decision {
        if self.count(Decision::Fail) > 0 {
            Decision::Fail
        } else if self.count(Decision::CannotTell) > 0 || self.count(Decision::Pass) == 0 {
            Decision::CannotTell
        } else {
            Decision::Pass
        }
    }
}

/// What the checks read.
struct Evidence<'a> {
    session: &'a Session,
    tracks: &'a Tracks,
    segments: &'a Segments,
    trim: &'a Trim,
    outputs: Outputs,
    limits: &'a crate::limits::Limits,
}

/// Judges a fresh session of a board against the record of its constants.
///
/// `tracks` and `segments` are of the session, by the raw readings; `board_id` is the rig's, empty
/// when unknown. Errors: [`NotFresh`] for the session that the constants were fitted to.
/// Cost: some passes over the rows; the raw codes through the record once.
pub fn prove(
    session: &Session,
    tracks: &Tracks,
    segments: &Segments,
    trim: &Trim,
    board_id: &str,
    limits: &crate::limits::Limits,
) -> Result<Proof, NotFresh> {
    fresh::ensure(session, tracks, trim)?;
    let outputs = Outputs::of(session, tracks, trim);
    let judged = outputs.judged;
    let evidence = Evidence { session, tracks, segments, trim, outputs, limits };
    let mut checks = record::checks(&evidence, board_id);
    for stick in &trim.sticks {
        checks.extend(sticks::checks(&evidence, stick.half));
    }
    for trigger in &trim.triggers {
        checks.extend(triggers::checks(&evidence, trigger.half));
    }
    checks.extend(buttons::checks(&evidence));
    let reach = trim.sticks.iter().filter_map(|s| SectorReach::of(&evidence, s.half)).collect();
    Ok(Proof { judged, checks, reach })
}
