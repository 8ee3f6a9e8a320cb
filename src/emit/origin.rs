//! The origin of figures in every output: words for people, keys for machines.
use serde_json::{Value, json};

use super::escape::terminal;
use crate::trim::{Origin, damaged_places};

/// Damaged places that a text or a comment lists.
pub(super) const SHOWN: usize = 12;

/// Lines of text: the sum, the inputs, and what is damaged. Made harmless for a terminal.
pub(super) fn lines(origin: &Origin) -> Vec<String> {
    let mut lines = Vec::new();
    if !origin.sha256.is_empty() {
        // In groups, so that it fits a narrow terminal.
        let digits: Vec<char> = terminal(&origin.sha256).chars().collect();
        let groups: Vec<String> = digits.chunks(8).map(|group| group.iter().collect()).collect();
        let (groups, of) = (groups.join(" "), terminal(&origin.of));
        lines.push(format!("SHA-256 {groups} ({of}, {} bytes)", origin.bytes));
    }
    lines.extend(origin.harms(SHOWN).iter().map(|harm| format!("damage: {}", terminal(harm))));
    lines
}

/// The damaged places: what, where in the file by byte and time, how many rows are lost there. Empty
/// for a whole recording.
pub(super) fn damage(origin: &Origin) -> Value {
    let all = origin.damage.iter().map(|harm| {
        json!({
            "kind": harm.kind,
            "what": harm.what,
            "line": harm.line,
            "lines": harm.lines,
            "byte": harm.byte,
            "time_s": harm.at_us.map(|us| us as f64 * 1e-6),
            "rows": harm.rows,
            "undone": harm.undone,
        })
    });
    let mut all: Vec<Value> = all.collect();
    if origin.more_damage > 0 {
        let what = damaged_places(origin.more_damage, " more");
        all.push(json!({ "kind": "more", "what": what, "rows": Value::Null }));
    }
    Value::Array(all)
}
