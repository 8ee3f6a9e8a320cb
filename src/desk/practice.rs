//! Practice: a virtual board whose fault is kept back until the person has named it.
use crate::survey::Code;
use std::time::{SystemTime, UNIX_EPOCH};

use crate::findings::Finding;
use crate::rig::Rig;
use crate::session::{Intake, Session};
use crate::virtual_board::script::full_run;
use crate::virtual_board::{Options, Scenario, VirtualBoard, bench_rig, with_outputs};
use crate::work::{Job, Polled};

use super::analysis::Results;
use super::play::into_session;
use super::{Desk, Weight};

/// The answer for a board with nothing wrong.
pub const NOTHING_WRONG: &str = "healthy";

/// Raw widths that boards are drawn with.
const WIDTHS: [u8; 2] = [10, 12];

/// A board whose fault is to be named.
#[derive(Clone, Debug)]
pub struct Practice {
    word: &'static str,
    line: &'static str,
    named: Option<String>,
    kept: Vec<Finding>,
}

/// What a person named and what was planted.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Answer<'a> {
    /// Code that was named.
    pub named: &'a str,
    /// The first of the codes that the fault goes by.
    pub code: &'static str,
    /// What was done to the board, one line.
    pub line: &'static str,
    /// The name fits.
    pub right: bool,
}

/// Boards whose fault was named since the window was opened.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Score {
    /// Named right.
    pub right: u32,
    /// Named at all.
    pub all: u32,
}

/// The board under practice, the one that is being built, and the score.
#[derive(Default)]
pub(super) struct Practising {
    job: Option<Job<(Practice, Session, Rig)>>,
    open: Option<Practice>,
    score: Score,
}

impl Practising {
    /// Another session is on the desk; the score stands.
    pub(super) fn clear(&mut self) {
        (self.job, self.open) = (None, None);
    }
}

impl Practice {
    /// What was named and what is true; `None` before anything was named.
    pub fn answer(&self) -> Option<Answer<'_>> {
        let named = self.named.as_deref()?;
        let codes = codes_of(self.word);
        let right = codes.contains(&named);
        let code = if right { codes.iter().find(|c| **c == named) } else { codes.first() };
        Some(Answer { named, code: code?, line: self.line, right })
    }
}

/// The codes that the fault of a scenario goes by: its own word, unless its cause shows as another.
fn codes_of(word: &'static str) -> Vec<&'static str> {
    match word {
        "lossy-link" => vec![Code::LinkLoss.key()],
        "dead-half" => vec![Code::HalfHang.key()],
        "grounded-trigger" | "stuck-button" => vec![Code::StuckRail.key()],
        "uneven-travel" => vec![Code::UnevenTravel.key(), Code::Saturated.key()],
        "oval-gate" => vec![Code::GateDefect.key(), Code::SkewedAxes.key()],
        own => vec![own],
    }
}

/// Every name that can be given, in the order of the findings, `healthy` last.
pub fn names() -> Vec<&'static str> {
    let planted: Vec<&str> = Scenario::all().flat_map(|(word, _)| codes_of(word)).collect();
    let kinds = Code::ALL.iter().map(|code| code.key());
    kinds.filter(|code| planted.contains(code)).chain([NOTHING_WRONG]).collect()
}

impl Desk {
    /// Builds a board with a fault drawn by the clock (or none) and plays the whole run on it.
    pub fn practise(&mut self) {
        let since = SystemTime::now().duration_since(UNIX_EPOCH).unwrap_or_default();
        let all = Scenario::all().count() as u64;
        let nanos = since.as_nanos() as u64;
        let (word, line) = Scenario::all().nth((nanos % all) as usize).unwrap_or_default();
        self.practise_on(word, line, nanos / all);
    }

    /// The same with a given board of a given scenario.
    pub fn practise_with(&mut self, scenario: &str, seed: u64) {
        match Scenario::all().find(|(word, _)| *word == scenario) {
            Some((word, line)) => self.practise_on(word, line, seed),
            None => self.notify(Weight::Refused, format!("no scenario is called \"{scenario}\"")),
        }
    }

    fn practise_on(&mut self, word: &'static str, line: &'static str, seed: u64) {
        let wake = self.wake.clone();
        let job = Job::start(
            "practice",
            move || wake(),
            move |_| {
                let (session, rig) = played(word, seed);
                Ok((Practice { word, line, named: None, kept: Vec::new() }, session, rig))
            },
        );
        match job {
            Ok(job) => self.practising.job = Some(job),
            Err(e) => self.notify(Weight::Refused, format!("Practice cannot begin: {e}")),
        }
    }

    /// The board under practice.
    pub fn practice(&self) -> Option<&Practice> {
        self.practising.open.as_ref()
    }

    /// True while a board is being built for practice.
    pub fn practice_is_coming(&self) -> bool {
        self.practising.job.is_some()
    }

    /// True while findings are kept back because the fault is still to be named.
    pub fn keeps_back(&self) -> bool {
        self.practice().is_some_and(|p| p.named.is_none())
    }

    /// How many boards were named, and how many of them right.
    pub fn practice_score(&self) -> Score {
        self.practising.score
    }

    /// Names the fault of the board under practice, once; the findings come out.
    pub fn name_fault(&mut self, code: &str) {
        let Some(open) = self.practising.open.as_mut().filter(|p| p.named.is_none()) else {
            return;
        };
        open.named = Some(code.to_owned());
        let right = open.answer().is_some_and(|a| a.right);
        let notes = format!("practice board: {}", open.line);
        self.practising.score.all += 1;
        self.practising.score.right += u32::from(right);
        let kept = std::mem::take(&mut open.kept);
        self.session.about.notes = notes.clone();
        if let Some(results) = self.derived.results_mut() {
            results.findings = kept;
            results.facts.notes = vec![notes];
        }
    }

    /// Puts the board under practice away.
    pub fn leave_practice(&mut self) {
        if self.practice().is_some() || self.practice_is_coming() {
            self.clear(crate::session::About::default());
        }
    }

    pub(super) fn tick_practice(&mut self) {
        let Some(job) = &mut self.practising.job else { return };
        match job.poll() {
            Polled::Running => {}
            Polled::Over => self.practising.job = None,
            Polled::Done((practice, mut session, rig)) => {
                self.disconnect();
                self.clear(crate::session::About::default());
                session.about.rig = Some(rig.clone());
                session.about.notes =
                    "practice board: its findings are kept back until its fault is named"
                        .to_owned();
                self.rig = rig;
                self.session = session;
                self.transport.following = true;
                self.practising.open = Some(practice);
            }
        }
    }

    /// Keeps the findings of new results back while they are to be named.
    pub(super) fn keep_back(&mut self, results: &mut Results) {
        let Some(open) = &mut self.practising.open else { return };
        if open.named.is_none() {
            open.kept = std::mem::take(&mut results.findings);
        }
    }
}

/// A whole run of one board; motors and lights are swept where the scenario leaves the rig free.
fn played(word: &str, seed: u64) -> (Session, Rig) {
    let raw_bits = WIDTHS[(seed % 2) as usize];
    let driven = word != "matrix-ghost";
    let options = Options {
        rig: driven.then(|| with_outputs(bench_rig(raw_bits))),
        scenario: word.parse().unwrap_or_default(),
        raw_bits: Some(raw_bits),
        seed,
        ..Options::default()
    };
    let Ok(mut board) = VirtualBoard::new(&options) else {
        // Never so for the rigs above; an empty session says so by itself.
        return (Session::new(crate::session::About::default()), Rig::default());
    };
    let rig = board.rig().clone();
    let intake = Intake::new(Some(board.dialect().clone()));
    let session = into_session(&mut board, &full_run(&rig), intake);
    (session, rig)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_planted_fault_can_be_named() {
        let names = names();
        for (word, _) in Scenario::all() {
            for code in codes_of(word) {
                assert!(names.contains(&code), "{word} is named {code}");
            }
        }
        assert_eq!(names.last(), Some(&NOTHING_WRONG));
    }

    #[test]
    fn an_answer_is_right_by_any_of_the_names_of_its_fault() {
        let named = |word, code: &str| Practice {
            word,
            line: "",
            named: Some(code.to_owned()),
            kept: Vec::new(),
        };
        let right = named("oval-gate", "skewed-axes");
        assert_eq!(right.answer().map(|a| (a.right, a.code)), Some((true, "skewed-axes")));
        let wrong = named("oval-gate", "worn-track");
        assert_eq!(wrong.answer().map(|a| (a.right, a.code)), Some((false, "gate-defect")));
    }
}
