//! The review: one sentence for each part of the controller.
use crate::findings::{Finding, Severity};
use crate::rig::Place;
use crate::survey::catalogue::undecided;
use crate::survey::{StickFigures, TriggerFigures};
use crate::trim::ZonePlace;

use super::Desk;
use super::analysis::Results;

/// One line of the review.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Verdict {
    /// Which part.
    pub part: String,
    /// One sentence.
    pub sentence: String,
    /// Worst finding of the part; `None` = nothing stands out.
    pub severity: Option<Severity>,
    /// The constants of the part were refused.
    pub refused: bool,
}

impl Desk {
    /// One sentence for each part, once the results are there.
    pub fn verdicts(&self) -> Vec<Verdict> {
        self.results().map(|results| verdicts(results)).unwrap_or_default()
    }
}

/// One sentence for each part of the controller, the stream first.
pub fn verdicts(results: &Results) -> Vec<Verdict> {
    let survey = &results.survey;
    let mut list = vec![verdict(results, Place::Stream, stream_sentence(results))];
    for stick in &survey.sticks {
        list.push(verdict(results, Place::Stick(stick.half), stick_sentence(results, stick)));
    }
    for trigger in &survey.triggers {
        let place = Place::Axis(trigger.half.trigger());
        list.push(verdict(results, place, trigger_sentence(trigger)));
    }
    if !survey.buttons.is_empty() {
        let pressed = survey.buttons.iter().filter(|b| b.presses > 0).count();
        let doubles: Vec<usize> =
            survey.buttons.iter().filter_map(|b| b.doubles.as_ref().ok().copied()).collect();
        let all = survey.buttons.len();
        let doubles = match doubles.len() {
            0 => String::new(),
            _ => format!(", {} second closures", doubles.iter().sum::<usize>()),
        };
        let sentence = format!("{pressed} of {all} pressed{doubles}");
        list.push(verdict(results, Place::Buttons, sentence));
    }
    list.extend(still_open(results));
    list
}

/// How many figures their limits cannot be told of yet; no severity, in one line.
fn still_open(results: &Results) -> Option<Verdict> {
    let sentence = undecided(&results.report().entries())?;
    Some(Verdict { part: "Undecided".to_owned(), sentence, severity: None, refused: false })
}

fn stream_sentence(results: &Results) -> String {
    let stream = &results.survey.stream;
    let mut lost = match stream.lost_on_the_way() {
        Some(lost) => format!("{lost} lost"),
        None => "losses cannot be counted without a counter or a clock".to_owned(),
    };
    if stream.lost_in_file > 0 {
        lost.push_str(&format!(", {} in damage of the recording", stream.lost_in_file));
    }
    format!("{} frames, {lost}, {} lines damaged", results.survey.frames, stream.malformed)
}

fn stick_sentence(results: &Results, stick: &StickFigures) -> String {
    let place = ZonePlace::Stick(stick.half);
    match results.solution.zones.iter().find(|z| z.place == place) {
        Some(zone) => format!(
            "dead zone {:.0} counts ({:.1} % of travel), {}",
            zone.radius_counts,
            100.0 * zone.radius_fraction,
            zone.promise()
        ),
        None => format!("{} releases so far, no dead zone yet", stick.releases.len()),
    }
}

fn trigger_sentence(trigger: &TriggerFigures) -> String {
    match (&trigger.rest, &trigger.full) {
        (Ok(rest), Ok(full)) => format!(
            "rests at {:.0} counts, full at {:.0} counts, {} pulls",
            rest.value, full.value, trigger.pulls
        ),
        _ => format!("{} pulls so far, no range yet", trigger.pulls),
    }
}

fn verdict(results: &Results, place: Place, sentence: String) -> Verdict {
    let worst = results.findings.iter().filter(|f| covers(place, f)).min_by_key(|f| f.severity);
    let refused = results.solution.trim.refusals.iter().any(|r| place.contains(r.place));
    let sentence = match worst {
        Some(f) if f.severity != Severity::Note => format!("{sentence}; {}", f.evidence),
        _ => sentence,
    };
    let severity = worst.map(|f| f.severity);
    Verdict { part: capital(&place.words()), sentence, severity, refused }
}

/// True for a finding at a part of the place. What is wrong with the supply, a half or both stands
/// with the stream: nothing is left out of the review.
fn covers(place: Place, finding: &Finding) -> bool {
    let at = finding.place;
    place.contains(at) || place.is_at(at) || place == Place::Stream && at.is_of_board()
}

fn capital(text: &str) -> String {
    let mut chars = text.chars();
    chars.next().map_or_else(String::new, |c| c.to_uppercase().chain(chars).collect())
}
