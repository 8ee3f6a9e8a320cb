//! Findings that say the same of several places, told once; places in words.
use crate::findings::Finding;
use crate::rig::Place;

/// Findings of one kind that ask for the same: what is to be done is said once for all of them.
pub struct Group<'a> {
    /// The first of them: code, severity, remedy and caution hold for all.
    pub first: &'a Finding,
    /// Evidence that differs, each with the places it holds for, in the given order.
    pub evidence: Vec<(&'a str, Vec<Place>)>,
}

impl Group<'_> {
    /// Every place of the group in words.
    pub fn places(&self) -> String {
        let words: Vec<String> = self
            .evidence
            .iter()
            .flat_map(|(_, places)| places.iter().map(|place| place.words()))
            .collect();
        words.join(", ")
    }
}

/// Gathers findings of the same code, severity, remedy and caution, keeping their order.
pub fn grouped(findings: &[Finding]) -> Vec<Group<'_>> {
    let mut groups: Vec<Group<'_>> = Vec::new();
    for finding in findings {
        let same = |group: &&mut Group<'_>| {
            let first = group.first;
            first.code == finding.code
                && first.severity == finding.severity
                && first.remedy == finding.remedy
                && first.caution == finding.caution
        };
        let at = finding.place;
        match groups.iter_mut().find(same) {
            Some(group) => match group.evidence.iter_mut().find(|e| e.0 == finding.evidence) {
                Some((_, places)) => places.push(at),
                None => group.evidence.push((&finding.evidence, vec![at])),
            },
            None => {
                groups.push(Group { first: finding, evidence: vec![(&finding.evidence, vec![at])] })
            }
        }
    }
    groups
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::emit::built::whole;

    #[test]
    fn the_same_words_are_said_once() {
        let mut findings = whole().findings;
        assert_eq!(findings.len(), 2, "rotation of both sticks");
        let groups = grouped(&findings);
        assert_eq!((groups.len(), groups[0].evidence.len()), (1, 1));
        assert_eq!(groups[0].places(), "left stick, right stick");
        findings[1].evidence.push('!');
        assert_eq!(grouped(&findings)[0].evidence.len(), 2);
        findings[1].remedy.push('!');
        assert_eq!(grouped(&findings).len(), 2);
    }
}
