//! Where a session came from, as the outputs say it: its sum, who read it and how, its damage.
use crate::emit::tool_words;
use crate::rig::Rig;
use crate::session::file::Damage;
use crate::session::{ColumnRead, Fate, Identity, Session, TimeSource};
use crate::trim::{HARMS_MOST, Harm, Origin};

/// The origin of a session; `source` is its file or address. Cost: the columns once through.
pub(super) fn origin(session: &Session, rig: &Rig, source: &str, damage: &[Damage]) -> Origin {
    let first = session.tracks_of(0..1, rig);
    origin_by(session, &session.columns_read(), first.time_source, source, damage)
}

/// The same of a session whose columns and time source are known.
pub(super) fn origin_by(
    session: &Session,
    columns: &[ColumnRead],
    time: TimeSource,
    source: &str,
    damage: &[Damage],
) -> Origin {
    let (sha256, of, bytes) = match session.identity() {
        Some(Identity { sha256, of, bytes }) => (sha256.clone(), of.key().to_owned(), *bytes),
        None => (String::new(), String::new(), 0),
    };
    let used = columns.iter().filter(|column| column.fate == Fate::Used);
    Origin {
        source: source.to_owned(),
        sha256,
        of,
        bytes,
        tool: tool_words(),
        time: time.key().to_owned(),
        inputs: used
            .map(|column| format!("{} = {}", column.role.words(), column.words()))
            .collect(),
        damage: damage.iter().take(HARMS_MOST).map(harm).collect(),
        more_damage: damage.len().saturating_sub(HARMS_MOST) as u64,
        rows_lost: damage.iter().map(|d| d.rows).sum(),
    }
}

/// A damaged place as the outputs say it.
pub(super) fn harm(damage: &Damage) -> Harm {
    Harm {
        kind: damage.kind.key().to_owned(),
        what: damage.words.clone(),
        line: damage.line,
        lines: damage.lines,
        byte: damage.byte,
        at_us: damage.at_us,
        rows: damage.rows,
        undone: damage.is_undone(),
    }
}
