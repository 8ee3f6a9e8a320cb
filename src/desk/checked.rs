//! Findings that a person has looked at and set aside, with the reason: marks in the session.
use crate::findings::Finding;
use crate::rig::{Mark, Place, Word};
use crate::session::Session;
use crate::survey::Code;

use super::feed::Feed;
use super::{Desk, Weight};

/// Longest reason that is kept, characters.
const LONGEST: usize = 200;

/// A finding that was looked at and set aside.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Checked {
    /// Code of the finding.
    pub code: Code,
    /// Its place.
    pub place: Place,
    /// Why, in the person's words.
    pub reason: String,
}

impl Checked {
    /// True when it sets this finding aside.
    pub fn covers(&self, finding: &Finding) -> bool {
        self.code == finding.code && self.place.is_at(finding.place)
    }
}

/// What a session's marks set aside, each finding once; a later mark without a reason takes an
/// earlier one back.
pub fn checked(session: &Session) -> Vec<Checked> {
    let mut all: Vec<Checked> = Vec::new();
    for mark in session.marks().iter().filter(|mark| mark.word == Word::Checked) {
        let mut words = mark.text.splitn(3, ' ');
        let (code, place) = (words.next().map(Code::parse), words.next().map(Place::parse));
        let (Some(Some(code)), Some(Some(place))) = (code, place) else { continue };
        let reason = words.next().unwrap_or("").trim();
        all.retain(|c| c.code != code || !c.place.is_at(place));
        if !reason.is_empty() {
            all.push(Checked { code, place, reason: reason.to_owned() });
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
    pub fn check_off(&mut self, code: Code, place: Place, reason: &str) {
        let plain = |c: char| if c.is_control() { ' ' } else { c };
        let reason: String = reason.trim().chars().map(plain).take(LONGEST).collect();
        let text = format!("{code} {} {reason}", place.key());
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
    all.sort_by_key(|f| (f.severity, f.code.stage()));
    all
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::findings::Severity;
    use crate::rig::AxisId;
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
        assert_eq!((left[0].code.key(), left[0].place.key().as_str()), ("noisy-input", "lx"));
        assert_eq!(left[0].reason, "another bench supply");
    }

    #[test]
    fn a_link_that_loses_comes_before_a_wire_and_a_wire_before_wear() {
        let finding = |code, severity| Finding {
            code,
            place: Place::Axis(AxisId::Lx),
            severity,
            evidence: String::new(),
            remedy: String::new(),
            caution: None,
            span: None,
        };
        let all = [
            finding(Code::WornTrack, Severity::Fault),
            finding(Code::NoisyInput, Severity::Warning),
            finding(Code::SwappedAxes, Severity::Fault),
            finding(Code::LinkLoss, Severity::Warning),
            finding(Code::FloatingInput, Severity::Fault),
        ];
        let codes: Vec<Code> = by_what_blocks(&all).iter().map(|f| f.code).collect();
        let want = [
            Code::SwappedAxes,
            Code::FloatingInput,
            Code::WornTrack,
            Code::LinkLoss,
            Code::NoisyInput,
        ];
        assert_eq!(codes, want);
    }
}
