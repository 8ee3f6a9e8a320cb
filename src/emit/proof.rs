//! A proof as text, one line a check, and as JSON.
use serde_json::{Value, json};

use super::escape::terminal;
use super::meta::tool;
use super::origin::{self, damage};
use super::text_table::{Page, Width};
use crate::limits::Decision;
use crate::proof::{Check, KnownBy, Proof};
use crate::trim::Origin;

/// What stands beside the checks.
#[derive(Clone, Debug)]
pub struct ProofFacts {
    /// The fresh session, and its damage.
    pub origin: Origin,
    /// Date of the fresh session; empty when unknown.
    pub created: String,
    /// File of the record.
    pub record: String,
    /// Board that the record names.
    pub board_id: String,
    /// Date of the session that the record was fitted to.
    pub fitted_on: String,
    /// Checksum of the record's constants.
    pub crc: Option<u16>,
    /// What the record knows the session by that it was fitted to.
    pub known_by: KnownBy,
}

/// "pass", "fail", "cannot tell"; "left out" without a decision.
fn word(decision: Option<Decision>) -> &'static str {
    match decision {
        Some(Decision::Pass) => "pass",
        Some(Decision::Fail) => "fail",
        Some(Decision::CannotTell) => "cannot tell",
        None => "left out",
    }
}

/// One line a check with its figures, what to do below those that are no pass, and the verdict.
pub fn proof_text(proof: &Proof, facts: &ProofFacts, width: Width) -> String {
    let crc = facts.crc.map_or(String::new(), |crc| format!(", CRC 0x{crc:04X}"));
    let board = match facts.board_id.as_str() {
        "" => String::new(),
        id => format!(" of board {}", terminal(id)),
    };
    let mut out = Page::new(width);
    let (source, record) = (terminal(&facts.origin.source), terminal(&facts.record));
    out.line(&format!("{source} against {record}{board}{crc}"));
    out.line(&format!("judged: {}", proof.judged.words()));
    origin::lines(&facts.origin).iter().for_each(|line| out.wrapped("", line));
    if facts.known_by == KnownBy::Date {
        out.wrapped(
            "",
            "the record knows the session that it was fitted to by its date alone: solve that one again \
             with --trim for a record that knows it by its readings",
        );
    }
    out.gap();
    let places: Vec<String> = proof.checks.iter().map(place).collect();
    let wide = places.iter().map(|p| p.chars().count()).max().unwrap_or(0);
    let what = proof.checks.iter().map(|c| c.key.len()).max().unwrap_or(0);
    for (check, place) in proof.checks.iter().zip(&places) {
        let (decision, words) = (word(check.decision), check.words());
        let front = format!("{decision:<11}  {place:<wide$}  {words:<what$}");
        out.beside(&front, &terminal(&check.figures));
        if !check.advice.is_empty() {
            out.beside("           ", &format!("to do: {}", terminal(&check.advice)));
        }
    }
    let [pass, fail, open] =
        [Decision::Pass, Decision::Fail, Decision::CannotTell].map(|d| proof.count(d));
    let left = proof.checks.len() - pass - fail - open;
    let verdict = match proof.decision() {
        Decision::Pass => "the limits are met",
        Decision::Fail => "a limit is missed",
        Decision::CannotTell => "undecided: do what is said above and record again",
    };
    out.gap();
    let counts = format!("{pass} pass, {fail} fail, {open} cannot tell, {left} left out");
    out.line(&format!("{counts}: {verdict}"));
    out.into_text()
}

fn place(check: &Check) -> String {
    let part = check.part();
    if part.is_empty() { "session".to_owned() } else { terminal(&part) }
}

/// The proof for machines, format 1; keys are added, never renamed.
///
/// ```text
/// format   1
/// source sha256 of bytes time inputs: the fresh session
/// damage   [{kind what line lines byte time_s rows undone}]: of it
/// record board_id created fitted_on crc
/// known_by readings | date: what the record knows the session by that it was fitted to
/// judged   board | record
/// decision pass | fail | cannot_tell
/// checks   [{key place decision value limit n figures advice}], decision null = left out
/// tool     name version
/// ```
pub fn proof_json(proof: &Proof, facts: &ProofFacts) -> String {
    let checks: Vec<Value> = proof
        .checks
        .iter()
        .map(|c| {
            json!({
                "key": c.key,
                "place": c.part(),
                "decision": c.decision,
                "value": c.value,
                "limit": c.limit,
                "n": c.n,
                "figures": c.figures,
                "advice": c.advice,
            })
        })
        .collect();
    let document = json!({
        "format": 1,
        "source": facts.origin.source,
        "sha256": facts.origin.sha256,
        "of": facts.origin.of,
        "bytes": facts.origin.bytes,
        "time": facts.origin.time,
        "inputs": facts.origin.inputs,
        "damage": damage(&facts.origin),
        "record": facts.record,
        "board_id": facts.board_id,
        "created": facts.created,
        "fitted_on": facts.fitted_on,
        "crc": facts.crc,
        "known_by": facts.known_by.key(),
        "judged": proof.judged.key(),
        "decision": proof.decision(),
        "checks": checks,
        "tool": tool(),
    });
    format!("{document:#}\n")
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::proof::Judged;

    fn facts() -> ProofFacts {
        ProofFacts {
            origin: Origin { source: "fresh\u{1b}[31m.session".to_owned(), ..Origin::default() },
            created: String::new(),
            record: "run.trim.ron".to_owned(),
            board_id: "7\u{202e}C".to_owned(),
            fitted_on: String::new(),
            crc: Some(0x29B1),
            known_by: KnownBy::Readings,
        }
    }

    fn check(decision: Option<Decision>, advice: &str) -> Check {
        Check {
            key: "zero-at-rest",
            place: crate::rig::Place::Stick(crate::rig::Half::Left),
            name: String::new(),
            decision,
            value: Some(0.0),
            limit: Some(0.0),
            n: 12,
            figures: "0 of 900 rows leak".to_owned(),
            advice: advice.to_owned(),
        }
    }

    #[test]
    fn each_check_has_its_line_and_hostile_text_stays_text() {
        let checks = vec![check(Some(Decision::Pass), ""), check(Some(Decision::Fail), "mend it")];
        let proof = Proof { judged: Judged::Board, checks, reach: Vec::new() };
        let text = proof_text(&proof, &facts(), Width::FULL);
        assert!(
            text.contains("pass         left stick  zero at rest  0 of 900 rows leak\n"),
            "{text}"
        );
        assert!(text.contains("fail ") && text.contains("to do: mend it"), "{text}");
        assert!(text.ends_with("1 pass, 1 fail, 0 cannot tell, 0 left out: a limit is missed\n"));
        assert!(!text.contains('\u{1b}') && !text.contains('\u{202e}'));
        let json: Value = serde_json::from_str(&proof_json(&proof, &facts())).expect("valid");
        assert_eq!((&json["decision"], &json["crc"]), (&json!("fail"), &json!(0x29B1)));
        assert_eq!(json["checks"][0]["decision"], json!("pass"));
        assert_eq!(
            json["tool"],
            json!({ "name": "trimbench", "version": env!("CARGO_PKG_VERSION") })
        );
        let narrow = proof_text(&proof, &facts(), Width::columns(50));
        assert!(narrow.lines().all(|line| line.chars().count() <= 50), "{narrow}");
        assert!(narrow.contains("zero at rest\n    0 of 900 rows leak\n"), "{narrow}");
    }

    #[test]
    fn what_is_left_out_does_not_decide_and_nothing_proves_nothing() {
        let left = check(None, "");
        let of = |checks| Proof { judged: Judged::Record, checks, reach: Vec::new() }.decision();
        assert_eq!(of(vec![check(Some(Decision::Pass), ""), left.clone()]), Decision::Pass);
        assert_eq!(of(vec![left]), Decision::CannotTell);
        assert_eq!(of(Vec::new()), Decision::CannotTell);
    }
}
