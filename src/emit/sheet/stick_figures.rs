//! The table of a stick's figures, and its gate and return in words.
use super::figures;
use crate::emit::forms::{form, percent};
use crate::emit::markup::{Html, tag};
use crate::emit::meta::Report;
use crate::measure::gate::Deficit;
use crate::measure::number;
use crate::rig::Place;
use crate::survey::StickFigures;

/// Every figure of a stick, and its gate in words.
pub fn rows(report: &Report<'_>, stick: &StickFigures) -> Html {
    let mut table = figures::part(report, Place::Stick(stick.half), "sticks.", "");
    table.words("form of the gate", &form(&stick.shape));
    if stick.shape.is_ok() {
        table.words("falls short", &falls_short(stick));
    }
    let about = "Overshoot: swing beyond the rest, of the way home. Settling: until within 2\u{a0}% of \
        the way for good. Press shift: while the stick's own switch is down. Turning difference: \
        clockwise against counter-clockwise. Axes off 90° takes the gate to be round. Rotation needs \
        gate corners or prompted pushes. Coverage: sectors of 5° seen at least twice.";
    table.finish().then(tag("p").class("small soft").line(about))
}

/// Where the reach falls short of that form.
fn falls_short(stick: &StickFigures) -> String {
    let one = |d: &Deficit| {
        let [from, to] = [d.from_deg, d.to_deg].map(|deg| number(deg.rem_euclid(360.0), 1));
        format!("{from}° to {to}°, by {}", percent(d.depth, 1))
    };
    match &stick.deficits[..] {
        [] => "nowhere by 5\u{a0}% or more".to_owned(),
        found => found.iter().map(one).collect::<Vec<_>>().join("; "),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::emit::built::whole;

    #[test]
    fn shortfalls_of_the_gate_are_named_by_direction() {
        let mut whole = whole();
        let stick = &mut whole.built.survey.sticks[0];
        stick.deficits = vec![Deficit { from_deg: 352.5, to_deg: 367.5, depth: 0.082 }];
        let words = falls_short(stick);
        assert_eq!(words, "352.5° to 7.5°, by 8.2\u{a0}%");
        let html = rows(&whole.report(), &whole.built.survey.sticks[0]).into_string();
        for label in ["overshoot", "settling time", "press shift y", "turning difference", &words] {
            assert!(html.contains(label), "{label} not in {html}");
        }
    }
}
