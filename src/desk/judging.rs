//! The proof of the session under work: the record it is held against, and what came of it.
use std::path::Path;
use std::sync::Arc;
use std::time::{Duration, Instant};

use crate::trim::Trim;
use crate::work::{Job, Polled};

use super::feed::{Feed, file_name};
use super::proving::{self, Proved};
use super::{Desk, Weight};

/// Shortest time between two proofs of a session that grows.
const PAUSE: Duration = Duration::from_secs(2);
/// A growing session is proved again after this many times what the last proof cost.
const SHARE: u32 = 5;

/// The constants that a flashed board is held against.
#[derive(Clone, Debug)]
pub struct Record {
    /// The file, or the session that they were solved from.
    pub name: String,
    /// The constants.
    pub trim: Trim,
}

/// A proof, or why there is none: one sentence.
pub type Judgement = Result<Proved, String>;

/// The record and the work towards a proof.
#[derive(Default)]
pub(super) struct Judging {
    record: Option<Arc<Record>>,
    job: Option<Job<Judgement>>,
    /// What the job works on, and when it began: rows and revision.
    asked: Option<(usize, u64, Instant)>,
    have: Option<(usize, u64)>,
    judgement: Option<Arc<Judgement>>,
    cost: Duration,
    ended: Option<Instant>,
}

impl Judging {
    /// Another session: the record stays, what came of the one before goes.
    pub(super) fn clear(&mut self) {
        *self = Judging { record: self.record.take(), ..Judging::default() };
    }
}

impl Desk {
    /// The record that sessions are held against, if one was taken.
    pub fn record(&self) -> Option<&Record> {
        self.judging.record.as_deref()
    }

    /// What came of the session and the record, once it is known.
    pub fn judgement(&self) -> Option<&Judgement> {
        self.judging.judgement.as_deref()
    }

    /// True when the proof is of the session as it stands.
    pub fn judgement_is_current(&self) -> bool {
        self.judging.have == Some((self.session.rows(), self.revision))
    }

    /// Takes a record of constants; a notice says how it went.
    pub fn take_record(&mut self, path: &Path) {
        match proving::read_record(path) {
            Ok(trim) => self.hold(Record { name: file_name(path), trim }),
            Err(why) => self.notify(Weight::Refused, why.to_string()),
        }
    }

    /// Takes the constants of the newest results as the record, for the session that comes next.
    pub fn take_own_constants(&mut self) {
        let solved = self.results().map(|r| r.solution.trim.clone()).filter(|t| !t.is_empty());
        match solved {
            Some(trim) => {
                let name = format!("constants of {}", self.link().name);
                self.hold(Record { name, trim });
            }
            None => self.notify(Weight::Refused, "No constant is solved yet; do the guided run"),
        }
    }

    /// Puts the record away.
    pub fn put_record_away(&mut self) {
        self.judging = Judging::default();
    }

    /// Saves the proof for machines; a notice says how it went.
    pub fn save_proof(&mut self, path: &Path) {
        let judgement = self.judging.judgement.clone();
        let saved = match judgement.as_deref() {
            Some(Ok(proved)) => proving::write_json(proved, path).map_err(|e| e.to_string()),
            Some(Err(why)) => Err(format!("Not saved: {why}")),
            None => Err("There is no proof yet; open a record and a fresh session".to_owned()),
        };
        match saved {
            Ok(()) => self.notify(Weight::Done, format!("Saved {}", path.display())),
            Err(why) => self.notify(Weight::Refused, why),
        }
    }

    fn hold(&mut self, record: Record) {
        let text = format!("{}: sessions are held against these constants now", record.name);
        self.judging = Judging { record: Some(Arc::new(record)), ..Judging::default() };
        self.notify(Weight::Done, text);
    }

    pub(super) fn tick_judging(&mut self) {
        self.poll_judging();
        let Some(record) = self.judging.record.clone() else { return };
        let idle = self.judging.job.is_none() && self.opening.is_none();
        if !idle || self.session.rows() == 0 || self.judgement_is_current() {
            return;
        }
        let live = matches!(self.feed, Feed::Live(_));
        let pause = PAUSE.max(self.judging.cost * SHARE);
        if live && self.judging.ended.is_some_and(|ended| ended.elapsed() < pause) {
            return;
        }
        let (session, rig, source) = (self.session.clone(), self.rig.clone(), self.link().name);
        let damage = self.damage().to_vec();
        let work = move |watch: &crate::work::Watch| {
            let proof = proving::prove_session(&session, &rig, &record.trim, watch)?;
            let facts =
                proving::facts(&source, &session, &rig, &damage, &record.name, &record.trim);
            Ok(match proof {
                Ok(proof) => Ok(Proved { proof, facts }),
                Err(why) => Err(format!("{source}: {why}")),
            })
        };
        let wake = self.wake.clone();
        match Job::start("proving", move || wake(), work) {
            Ok(job) => {
                self.judging.job = Some(job);
                self.judging.asked = Some((self.session.rows(), self.revision, Instant::now()));
            }
            Err(e) => self.notify(Weight::Refused, format!("The proof cannot begin: {e}")),
        }
    }

    fn poll_judging(&mut self) {
        let Some(job) = &mut self.judging.job else { return };
        let polled = job.poll();
        if matches!(polled, Polled::Running) {
            return;
        }
        self.judging.job = None;
        self.judging.ended = Some(Instant::now());
        let Some((rows, revision, begun)) = self.judging.asked.take() else { return };
        self.judging.cost = begun.elapsed();
        // A job that ended without a result is not begun again for the same rows.
        self.judging.have = Some((rows, revision));
        self.judging.judgement = Some(Arc::new(match polled {
            Polled::Done(judgement) => judgement,
            _ => Err("The proof stopped without a result; open the session again".to_owned()),
        }));
    }
}
