//! Figures that surely miss their limit and that no finding speaks of yet: each gets one.
use super::say;
use super::{Code, Finding, Severity};
use crate::survey::catalogue::{Entry, Judged, Judgement};

/// What to do about a limit that is missed without a name for its cause.
const REMEDY: &str = "Measure it again; if it stays, look for its cause at this place, or set another \
    limit in the rig if this one does not hold for the controller";

/// Adds a finding for every missed figure that has none, the gravest first among all.
///
/// A finding speaks of a figure when it has the code of its row, or is a name that is as grave or loud,
/// at a place that meets the figure's: such a name shuts the bare figure out.
pub fn own_missed(entries: &[Entry<'_>], found: &mut Vec<Finding>) {
    for entry in entries {
        let Some(judged) = &entry.judged else { continue };
        let Judgement::Missed(grade) = judged.judgement else { continue };
        let r = &judged.reading;
        let sure = super::loud(&judged.band, [r.value, r.low, r.high]);
        let Some(severity) = Severity::of(grade).map(|s| sure.map_or(Severity::Note, |l| l.max(s)))
        else {
            continue;
        };
        let speaks = |f: &Finding| {
            let loud = f.severity <= severity.max(Severity::Warning);
            let names = f.code != Code::NotEnoughData && loud;
            f.place.meets(entry.place) && (f.code == judged.code || names)
        };
        if !found.iter().any(speaks) {
            found.push(finding(entry, judged, severity));
        }
    }
    found.sort_by_key(|finding| finding.severity);
}

fn finding(entry: &Entry<'_>, judged: &Judged, severity: Severity) -> Finding {
    let r = &judged.reading;
    let figure = match entry.figure.reading() {
        Some(own) if own.unit != r.unit => format!("{own}, as its limit counts "),
        _ => String::new(),
    };
    let evidence = format!(
        "{}: {} {figure}{r}; {}",
        entry.place.words(),
        entry.label(),
        say::missed(&judged.band, severity, r.unit),
    );
    let finding = Finding::new(judged.code, entry.place, severity, evidence, REMEDY);
    match entry.figure.reading() {
        Some(own) => finding.at(own.span),
        None => finding,
    }
}
