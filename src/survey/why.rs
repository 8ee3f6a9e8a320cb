//! Why stretches that looked like something were not used, counted, for the shortages that they leave.
use std::fmt::Write;

use super::Source;
use crate::measure::Shortage;
use crate::segment::{Kind, Part, Reason};

/// What a person calls one of a kind.
fn word(kind: Kind) -> &'static str {
    match kind {
        Kind::Rest => "rests",
        Kind::Release => "pushes",
        Kind::Roll => "sweeps",
        Kind::Pull => "pulls",
        Kind::Press => "presses",
    }
}

/// The shortage with what was seen and not used put before its advice: "16 pushes seen, 3 used; 10: too
/// short; 3: it kept moving". Nothing is added where everything seen was used.
///
/// `used` = how many of the kind count. Reasons stand in the order of how often they held.
pub(super) fn said(
    source: Source,
    (kind, part): (Kind, Part),
    used: usize,
    mut shortage: Shortage,
) -> Shortage {
    let mut reasons: Vec<(Reason, usize)> = Vec::new();
    for rejected in &source.segments.rejected {
        if (rejected.kind, rejected.part) != (kind, part) {
            continue;
        }
        match reasons.iter_mut().find(|(why, _)| *why == rejected.why) {
            Some((_, count)) => *count += 1,
            None => reasons.push((rejected.why, 1)),
        }
    }
    let unused: usize = reasons.iter().map(|(_, count)| count).sum();
    if unused == 0 {
        return shortage;
    }
    reasons.sort_by_key(|(_, count)| std::cmp::Reverse(*count));
    let mut text = format!("{} {} seen, {used} used", used + unused, word(kind));
    for (why, count) in reasons {
        // Writing to a string does not fail.
        let _ = write!(text, "; {count}: {}", why.words());
    }
    shortage.advice = format!("{text}; {}", shortage.advice);
    shortage
}
