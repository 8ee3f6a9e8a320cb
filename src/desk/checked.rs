//! Findings that a person has looked at and set aside, with the reason: marks in the session.
use crate::findings::{Finding, Severity};
use crate::rig::{Mark, Word};
use crate::session::Session;

use super::feed::Feed;
use super::{Desk, Weight};

/// Longest reason that is kept, characters.
const LONGEST: usize = 200;

/// A finding that was looked at and set aside.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Checked {
    /// Code of the finding.
    pub code: String,
    /// Its place.
    pub place: String,
    /// Why, in the person's words.
    pub reason: String,
}

/// What a session's marks set aside, each finding once; a later mark without a reason takes an
/// earlier one back.
pub fn checked(session: &Session) -> Vec<Checked> {
    let mut all: Vec<Checked> = Vec::new();
    for mark in session.marks().iter().filter(|mark| mark.word == Word::Checked) {
        let mut words = mark.text.splitn(3, ' ');
        let (Some(code), Some(place)) = (words.next(), words.next()) else { continue };
        let reason = words.next().unwrap_or("").trim();
        all.retain(|c| c.code != code || c.place != place);
        if !reason.is_empty() {
            let (code, place, reason) = (code.to_owned(), place.to_owned(), reason.to_owned());
            all.push(Checked { code, place, reason });
        }
    }
    all
}

impl Desk {
    /// Findings that were looked at and set aside.
    pub fn checked(&self) -> Vec<Checked> {
        checked(&self.session)
    }

    /// Sets a finding aside with a reason, or takes that back when the reason is empty. It becomes
    /// a mark of the session (of a recording: among the edits kept beside it), and a note in the
    /// outputs.
    pub fn check_off(&mut self, code: &str, place: &str, reason: &str) {
        let plain = |c: char| if c.is_control() { ' ' } else { c };
        let reason: String = reason.trim().chars().map(plain).take(LONGEST).collect();
        let text = format!("{code} {place} {reason}");
        let mark = Mark::new(Word::Checked, text.trim_end());
        if matches!(self.feed, Feed::Live(_)) {
            self.mark(mark);
            self.revision += 1;
        } else {
            // An edit beside the file, which is kept and can be undone.
            self.mark_recording(mark.set_at(self.session.rows()));
        }
        let words = if reason.is_empty() {
            "The finding counts again"
        } else {
            "Set aside; the reason stands in the sheet and the figures that are saved from here on"
        };
        self.notify(Weight::Done, words);
    }
}

/// The order in which findings block the work: the gravest first, then what stands in the way of
/// reading anything at all, then wires, then the parts themselves.
pub fn by_what_blocks(findings: &[Finding]) -> Vec<&Finding> {
    let mut all: Vec<&Finding> = findings.iter().collect();
    all.sort_by_key(|f| (grade(f.severity), stage(&f.code)));
    all
}

fn grade(severity: Severity) -> u8 {
    match severity {
        Severity::Fault => 0,
        Severity::Warning => 1,
        Severity::Note => 2,
    }
}

/// Stage of the work at which a fault must be gone before the next one makes sense.
fn stage(code: &str) -> u8 {
    match code {
        "baud-mismatch" | "link-loss" | "slow-loop" => 0,
        "brown-out" | "board-reset" | "half-hang" | "stale-half" => 1,
        "halves-exchanged" | "swapped-axes" | "mirrored-half" | "inverted-axis" => 2,
        "floating-input" | "stuck-rail" | "missing-pull-up" | "bridged-buttons"
        | "matrix-ghost" | "mux-crosstalk" | "reference-mismatch" => 3,
        "reference-noise" | "mains-hum" | "noisy-input" | "pwm-coupling" | "ground-step"
        | "converter-steps" | "warm-up-drift" => 4,
        "not-enough-data" => 6,
        _ => 5,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::rig::HostUs;
    use crate::session::About;

    #[test]
    fn the_last_mark_wins_and_an_empty_reason_takes_it_back() {
        let mut session = Session::new(About::default());
        let said = [
            "swapped-axes left turned on purpose",
            "noisy-input lx the bench supply",
            "noisy-input lx another bench supply",
            "swapped-axes left",
            "nonsense",
        ];
        for (text, at_us) in said.into_iter().zip(0..) {
            session.mark(Mark::new(Word::Checked, text).set_at(HostUs(at_us)));
        }
        let left = checked(&session);
        assert_eq!(left.len(), 1);
        assert_eq!((left[0].code.as_str(), left[0].place.as_str()), ("noisy-input", "lx"));
        assert_eq!(left[0].reason, "another bench supply");
    }

    #[test]
    fn a_link_that_loses_comes_before_a_wire_and_a_wire_before_wear() {
        let finding = |code: &str, severity| Finding {
            code: code.to_owned(),
            place: "lx".to_owned(),
            severity,
            evidence: String::new(),
            remedy: String::new(),
            caution: None,
            span: None,
        };
        let all = [
            finding("worn-track", Severity::Fault),
            finding("noisy-input", Severity::Warning),
            finding("swapped-axes", Severity::Fault),
            finding("link-loss", Severity::Warning),
            finding("floating-input", Severity::Fault),
        ];
        let codes: Vec<&str> = by_what_blocks(&all).iter().map(|f| f.code.as_str()).collect();
        let want = ["swapped-axes", "floating-input", "worn-track", "link-loss", "noisy-input"];
        assert_eq!(codes, want);
    }
}
