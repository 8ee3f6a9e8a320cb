//! The review: one sentence for each part of the controller.
use crate::findings::Severity;
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
    let mut list = vec![verdict(results, "Stream", &["stream"], stream_sentence(results))];
    for stick in &survey.sticks {
        let [x, y] = stick.half.stick();
        let places = [stick.half.key(), x.key(), y.key()];
        let name = format!("{} stick", stick.half.key());
        list.push(verdict(results, &name, &places, stick_sentence(results, stick)));
    }
    for trigger in &survey.triggers {
        let name = format!("{} trigger", trigger.half.key());
        let places = [trigger.half.trigger().key()];
        list.push(verdict(results, &name, &places, trigger_sentence(trigger)));
    }
    if !survey.buttons.is_empty() {
        let pressed = survey.buttons.iter().filter(|b| b.presses > 0).count();
        let doubles: usize = survey.buttons.iter().map(|b| b.doubles).sum();
        let all = survey.buttons.len();
        let sentence = format!("{pressed} of {all} pressed, {doubles} second closures");
        let places: Vec<String> = survey.buttons.iter().map(|b| format!("b{}", b.index)).collect();
        let places: Vec<&str> = places.iter().map(String::as_str).collect();
        list.push(verdict(results, "buttons", &places, sentence));
    }
    list
}

fn stream_sentence(results: &Results) -> String {
    let stream = &results.survey.stream;
    let lost = match &stream.lost {
        Ok(lost) => format!("{lost} lost"),
        Err(_) => "losses cannot be counted without a counter or a clock".to_owned(),
    };
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

/// `part` also begins the names of its refused constants.
fn verdict(results: &Results, part: &str, places: &[&str], sentence: String) -> Verdict {
    let here = results.findings.iter().filter(|f| places.contains(&f.place.as_str()));
    let worst = here.min_by_key(|f| f.severity);
    let stem = part.trim_end_matches('s');
    let refused = results.solution.trim.refusals.iter().any(|r| r.what.starts_with(stem));
    let sentence = match worst {
        Some(f) if f.severity != Severity::Note => format!("{sentence}; {}", f.evidence),
        _ => sentence,
    };
    let severity = worst.map(|f| f.severity);
    Verdict { part: capital(part), sentence, severity, refused }
}

fn capital(text: &str) -> String {
    let mut chars = text.chars();
    chars.next().map_or_else(String::new, |c| c.to_uppercase().chain(chars).collect())
}
