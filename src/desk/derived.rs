//! Results kept up to date off the caller's thread: newest wins, stale ones are dropped.
use std::sync::Arc;
use std::time::{Duration, Instant};

use crate::work::{Job, Polled};

use super::analysis::{Given, Results, analyse_by};
use super::feed::Feed;
use super::opening::Opening;
use super::timebase::Timebase;
use super::{Desk, Weight};

/// Shortest time between two looks at a live session.
const PAUSE: Duration = Duration::from_secs(2);
/// A live session is looked at again after this many times what the last look cost.
const SHARE: u32 = 5;

/// What a job gives: the results and, of a file, the times that hindsight gives its rows.
type Measured = (Results, Option<Timebase>);

/// The results and the work towards newer ones.
#[derive(Default)]
pub(super) struct Derived {
    results: Option<Arc<Results>>,
    job: Option<Job<Measured>>,
    /// Rows and revision that the job works on, and when it began.
    asked: Option<(usize, u64, Instant)>,
    /// Rows and revision of the results.
    have: Option<(usize, u64)>,
    cost: Duration,
    ended: Option<Instant>,
}

impl Derived {
    /// The newest results, to be changed in place.
    pub(super) fn results_mut(&mut self) -> Option<&mut Results> {
        self.results.as_mut().map(Arc::make_mut)
    }

    /// Forgets everything; a running job stops.
    pub(super) fn clear(&mut self) {
        *self = Derived::default();
    }
}

impl Desk {
    /// The newest results, if any; they may be of fewer rows than the session has now.
    pub fn results(&self) -> Option<&Arc<Results>> {
        self.derived.results.as_ref()
    }

    /// Share done in per mille of the work towards newer results, while it runs.
    pub fn measuring(&self) -> Option<u32> {
        self.derived.job.as_ref().map(Job::per_mille)
    }

    /// How long a file has been read, or what has come been measured, without an end yet.
    pub fn busy_for(&self) -> Duration {
        let measured = self.derived.asked.as_ref().map(|(_, _, begun)| begun.elapsed());
        let read = self.opening.as_ref().map(Opening::elapsed);
        read.or(measured).unwrap_or_default()
    }

    /// The revision of roles and parts that the newest results are of.
    pub(super) fn derived_revision(&self) -> Option<u64> {
        self.derived.have.map(|(_, revision)| revision)
    }

    /// True when the results are of the session as it stands.
    pub fn results_are_current(&self) -> bool {
        self.derived.have == Some((self.session.rows(), self.revision))
    }

    /// Measures the session as it stands, now.
    pub fn measure_now(&mut self) {
        if !self.results_are_current() {
            self.start_measuring();
        }
    }

    pub(super) fn tick_derived(&mut self) {
        self.poll_derived();
        let live = matches!(self.feed, Feed::Live(_));
        let idle = self.derived.job.is_none() && self.opening.is_none();
        if !idle || self.session.rows() == 0 || self.results_are_current() {
            return;
        }
        let pause = PAUSE.max(self.derived.cost * SHARE);
        let due = self.derived.ended.is_none_or(|ended| ended.elapsed() >= pause);
        if !live || due {
            self.start_measuring();
        }
    }

    fn poll_derived(&mut self) {
        let Some(job) = &mut self.derived.job else { return };
        let polled = job.poll();
        if matches!(polled, Polled::Running) {
            return;
        }
        self.derived.job = None;
        self.derived.ended = Some(Instant::now());
        let Some((rows, revision, begun)) = self.derived.asked.take() else { return };
        self.derived.cost = begun.elapsed();
        if let Polled::Done((mut results, timebase)) = polled {
            if results.choices != self.choices {
                // Chosen while the work was under way.
                results.choose(&self.choices, &self.rig);
            }
            if let (Some(timebase), true) = (timebase, rows == self.session.rows()) {
                self.timebase = timebase;
            }
            self.keep_back(&mut results);
            self.derived.have = Some((rows, revision));
            self.derived.results = Some(Arc::new(results));
        } else {
            // A job that ended without a result is not begun again for the same rows.
            self.derived.have = Some((rows, revision));
            self.notices.add(Weight::Refused, "Measuring stopped without a result; open it again");
        }
    }

    /// The constants follow what a person chose; the readings stand.
    pub(super) fn solve_again(&mut self) {
        if let Some(results) = self.derived.results_mut() {
            results.choose(&self.choices, &self.rig);
        }
    }

    fn start_measuring(&mut self) {
        let given = Given { choices: self.choices.clone(), limits: self.limits.clone() };
        let (session, rig) = (self.session.clone(), self.rig.clone());
        let (source, damage) = (self.link().name, self.damage().to_vec());
        let wake = self.wake.clone();
        let live = matches!(self.feed, Feed::Live(_));
        let work = move |watch: &crate::work::Watch| {
            let results = analyse_by(&session, &rig, &source, &damage, &given, watch)?;
            let whole = !live && results.tracks.t_us.len() == session.rows();
            let timebase = whole.then(|| Timebase::of(&results.tracks));
            Ok((results, timebase))
        };
        match Job::start("measuring", move || wake(), work) {
            Ok(job) => {
                self.derived.job = Some(job);
                self.derived.asked = Some((self.session.rows(), self.revision, Instant::now()));
            }
            Err(e) => self.notify(Weight::Refused, format!("Measuring cannot begin: {e}")),
        }
    }
}
