//! Everything that follows from a session by itself: segments, readings, findings, constants.
use crate::emit::{Report, SessionFacts};
use crate::findings::{self, Finding, Severity};
use crate::limits::Limits;
use crate::proof;
use crate::rig::{Place, Rig};
use crate::segment::{self, Segments};
use crate::session::file::Damage;
use crate::session::{Session, TimeSource, Tracks};
use crate::survey::catalogue::Entry;
use crate::survey::{self, Survey};
use crate::trim::{self, Choices, Origin, Solution};
use crate::work::{Cancelled, Watch};

use super::checked::{Checked, checked};
use super::naming::{Naming, name_session};
use super::origin::origin_by;

/// What was made of a session as it stood at `rows` rows.
#[derive(Clone, Debug)]
pub struct Results {
    /// Rows that were there.
    pub rows: usize,
    /// The columns by role.
    pub tracks: Tracks,
    /// Rests, releases, rolls, pulls, presses.
    pub segments: Segments,
    /// Every reading.
    pub survey: Survey,
    /// The bands that the findings were judged by.
    pub limits: Limits,
    /// What stands out.
    pub findings: Vec<Finding>,
    /// What of it a person looked at and set aside.
    pub aside: Vec<Checked>,
    /// What the roll-call says of the fields; `None` without one.
    pub naming: Option<Naming>,
    /// Constants and refusals.
    pub solution: Solution,
    /// What a person chose of the constants.
    pub choices: Choices,
    /// Names, dates and source of the session.
    pub facts: SessionFacts,
}

impl Results {
    /// All that an output may say.
    pub fn report(&self) -> Report<'_> {
        Report {
            facts: &self.facts,
            survey: &self.survey,
            findings: &self.findings,
            solution: &self.solution,
            limits: &self.limits,
        }
    }

    /// Every figure and constant of the part at a place, with its judgement.
    pub fn entries_at(&self, place: Place) -> Vec<Entry<'_>> {
        let mut all = self.survey.entries_at(place, &self.limits);
        all.extend(self.solution.entries_at(place, &self.survey, &self.limits));
        all
    }

    /// Solves the constants anew from the same readings, by what a person chose.
    pub fn choose(&mut self, choices: &Choices, rig: &Rig) {
        let solved = trim::solve_with(&self.survey, rig, &self.facts.created, choices);
        let former = std::mem::replace(&mut self.solution, solved).trim;
        let trim = &mut self.solution.trim;
        trim.fitted_to = former.fitted_to;
        trim.origin = former.origin;
        trim.guessed = former.guessed;
        self.choices = choices.clone();
    }

    /// µs of the time axis that a row takes where nothing tells the time; `None` where something does.
    pub fn row_us(&self) -> Option<f64> {
        (self.tracks.time_source == TimeSource::Assumed).then_some(self.tracks.period_us)
    }

    /// True when a finding is a fault that nobody has looked at and set aside.
    pub fn has_fault(&self) -> bool {
        let aside = |f: &Finding| self.aside.iter().any(|c| c.covers(f));
        self.findings.iter().any(|f| f.severity == Severity::Fault && !aside(f))
    }
}

/// What a person laid down beside the session and its parts list.
#[derive(Clone, Debug, Default)]
pub struct Given {
    /// Choices among the constants.
    pub choices: Choices,
    /// Acceptance bands; `None` = the usual ones for the raw width.
    pub limits: Option<Limits>,
}

/// Works through a session. Same session, rig and source, same results.
///
/// # Errors
/// [`Cancelled`] when the watch asks for it.
pub fn analyse(
    session: &Session,
    rig: &Rig,
    source: &str,
    damage: &[Damage],
    watch: &Watch,
) -> Result<Results, Cancelled> {
    analyse_by(session, rig, source, damage, &Given::default(), watch)
}

/// As [`analyse`], with what a person laid down.
///
/// # Errors
/// [`Cancelled`] when the watch asks for it.
pub fn analyse_by(
    session: &Session,
    rig: &Rig,
    source: &str,
    damage: &[Damage],
    given: &Given,
    watch: &Watch,
) -> Result<Results, Cancelled> {
    watch.step(0, 1000)?;
    let tracks = session.tracks(rig);
    watch.step(200, 1000)?;
    let segments = segment::find(&tracks);
    watch.step(400, 1000)?;
    let mut go_on = |per_mille: u32| watch.step(400 + u64::from(per_mille) / 2, 1000).is_ok();
    let survey = survey::survey(&tracks, &segments, rig, &mut go_on).ok_or(Cancelled)?;
    let usual = || Limits::for_bits(survey.raw_bits).with(&rig.limits);
    let limits = given.limits.clone().unwrap_or_else(usual);
    let mut findings = findings::examine(&survey, &tracks, &segments, &limits);
    watch.step(950, 1000)?;
    let naming = name_session(session, &tracks, rig);
    let mut solution = trim::solve_with(&survey, rig, &session.about.created, &given.choices);
    solution.trim.fitted_to = proof::fingerprint(&tracks);
    solution.trim.guessed = guessed(&tracks);
    watch.step(1000, 1000)?;
    let mut entries = survey.entries(&limits);
    entries.extend(solution.entries(&survey, &limits));
    findings::own_missed(&entries, &mut findings);
    let origin = origin_by(session, &tracks.columns, tracks.time_source, source, damage);
    let mut facts = facts(session, rig, origin);
    solution.trim.origin = Some(facts.origin.clone());
    facts.columns.clone_from(&tracks.columns);
    facts.lines = tracks.stream.lines;
    let rows = session.rows();
    let choices = given.choices.clone();
    Ok(Results {
        rows,
        tracks,
        segments,
        survey,
        limits,
        findings,
        aside: checked(session),
        naming,
        solution,
        choices,
        facts,
    })
}

/// Which field was taken for what, where nothing but the order of the columns says it.
fn guessed(tracks: &Tracks) -> Vec<String> {
    let guessed = tracks.columns.iter().filter(|column| column.guessed);
    guessed.map(|column| format!("field {} = {}", column.place, column.role.words())).collect()
}

fn facts(session: &Session, rig: &Rig, origin: Origin) -> SessionFacts {
    let notes = &session.about.notes;
    let aside = checked(session).into_iter().map(|c| {
        format!("{} ({}) was checked and set aside: {}", c.code.title(), c.place.key(), c.reason)
    });
    SessionFacts {
        rig_name: rig.name.clone(),
        board_id: rig.board_id.clone(),
        created: session.about.created.clone(),
        origin,
        button_names: rig.buttons.clone(),
        notes: Some(notes.clone()).filter(|n| !n.is_empty()).into_iter().chain(aside).collect(),
        columns: Vec::new(),
        lines: Default::default(),
    }
}
