//! Findings that say the same of several places, told once; places in words.
use crate::findings::Finding;
use crate::rig::AxisId;

/// A finding with every place that shares its code, evidence and remedy, in the given order.
pub fn grouped(findings: &[Finding]) -> Vec<(&Finding, Vec<&str>)> {
    let mut groups: Vec<(&Finding, Vec<&str>)> = Vec::new();
    for finding in findings {
        let same = |other: &&mut (&Finding, Vec<&str>)| {
            other.0.code == finding.code
                && other.0.severity == finding.severity
                && other.0.evidence == finding.evidence
                && other.0.remedy == finding.remedy
        };
        match groups.iter_mut().find(same) {
            Some((_, places)) => places.push(&finding.place),
            None => groups.push((finding, vec![&finding.place])),
        }
    }
    groups
}

/// Words for a finding's place: "left x", "left half", "button b3".
pub fn place_words(place: &str) -> String {
    if let Some(axis) = AxisId::ALL.into_iter().find(|axis| axis.key() == place) {
        return axis.words().to_owned();
    }
    match place {
        "left" => "left half".to_owned(),
        "right" => "right half".to_owned(),
        other => match other.strip_prefix('b').and_then(|n| n.parse::<u8>().ok()) {
            Some(n) => format!("button b{n}"),
            None => other.to_owned(),
        },
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::emit::built::whole;

    #[test]
    fn the_same_words_are_said_once() {
        let mut findings = whole().findings;
        assert_eq!(findings.len(), 2, "rotation of both sticks");
        assert_eq!(grouped(&findings)[0].1, ["left", "right"]);
        findings[1].evidence.push('!');
        assert_eq!(grouped(&findings).len(), 2);
        assert_eq!(place_words("b12"), "button b12");
        assert_eq!(place_words("buttons"), "buttons");
    }
}
