//! The session as a whole: complete, from the board of the record, with the record's constants.
use super::{Check, Evidence, Judged};
use crate::rig::Place;
use crate::wire::Role;

/// Stream, board, checksum of the constants.
pub(super) fn checks(e: &Evidence<'_>, board_id: &str) -> Vec<Check> {
    vec![stream(e), board(e, board_id), identity(e)]
}

fn stream(e: &Evidence<'_>) -> Check {
    let ledger = &e.tracks.stream;
    let check = Check::new("stream", Place::Session);
    let rows = e.tracks.rows();
    let resets = ledger.resets.len();
    // What the recording lost afterwards is no fault of board or link; the proof says it apart.
    let on_the_way = ledger.lost_on_the_way();
    let lost = on_the_way.unwrap_or(0) + ledger.malformed;
    let share = lost as f64 / (rows as f64 + lost as f64).max(1.0);
    let mut said = match on_the_way {
        Some(lost) => format!("{lost} frames lost"),
        None => "no counter for lost frames".to_owned(),
    };
    if ledger.lost_in_file() > 0 {
        said.push_str(&format!(", {} in damage of the recording", ledger.lost_in_file()));
    }
    let figures =
        format!("{rows} frames, {said}, {} malformed, {resets} restarts", ledger.malformed);
    if resets > 0 {
        let advice = "find out why the board restarts, then record again";
        return check.judged(resets as f64, &e.limits.resets, rows, figures, advice);
    }
    let advice = "shorten the line or raise the rate of the link, then record again";
    check.judged(share, &e.limits.loss_share, rows, figures, advice)
}

fn board(e: &Evidence<'_>, board_id: &str) -> Check {
    let check = Check::new("board-id", Place::Session);
    let (have, want) = (board_id, e.trim.board_id.as_str());
    if have.is_empty() || want.is_empty() {
        return check.left_out("the rig or the record names no board");
    }
    let differs = f64::from(u8::from(have != want));
    let figures = if have == want {
        format!("board {have}")
    } else {
        format!("the session is of board {have}, the record of {want}")
    };
    let advice = "take the record of this board, or record the other board";
    check.judged(differs, &e.limits.resets, 1, figures, advice)
}

fn identity(e: &Evidence<'_>) -> Check {
    let check = Check::new("identity", Place::Session);
    let print = "print TB_CRC on the debug line as a field named identity";
    // `checked` has refused records without a checksum.
    let Ok(want) = e.trim.crc() else { return check.left_out("the record has no checksum") };
    let Some(field) = e.session.field_of(Role::Identity) else {
        return match e.outputs.judged {
            Judged::Record => check.left_out("no constants run on the board"),
            Judged::Board => check.undecided(0, "the board sends no checksum".to_owned(), print),
        };
    };
    let column = e.session.column(field);
    let equal = column.iter().filter(|c| **c as u32 == u32::from(want)).count();
    let n = column.len();
    let advice = "flash the header that belongs to the record, or take the record of the header";
    if equal == n && n > 0 {
        let figures = format!("0x{want:04X} in all of {n} frames");
        return check.judged(0.0, &e.limits.resets, n, figures, advice);
    }
    let other = column.iter().find(|c| **c as u32 != u32::from(want)).copied().unwrap_or(0);
    let figures =
        format!("0x{want:04X} in {equal} of {n} frames, elsewhere 0x{:04X}", other as u32 & 0xFFFF);
    if equal * 1000 > n * 999 {
        return check.undecided(n, figures, "damaged lines: put a checksum on the line");
    }
    check.judged((n - equal) as f64, &e.limits.resets, n, figures, advice)
}
