//! The firmware's own log of button changes, placed on the time of the frames.
use std::ops::Range;

use super::Session;

/// A change that lies further from the frame before its line than this is not believed, µs.
const NEAR_US: u64 = 5_000_000;

/// One change of the buttons by the firmware's own log.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct LoggedChange {
    /// When the new mask was first seen, on the time of the rows, µs.
    pub t_us: u64,
    /// Time since the look before, which still saw the old mask, µs.
    pub span_us: u32,
    /// Bit k set = button k pressed (polarity already applied).
    pub mask: u32,
    /// What the mask did before this is not known: the log begins here, or lines are missing.
    pub begins: bool,
}

/// The log of a session; empty when the firmware keeps none or was not asked for it.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct EdgeLog {
    /// Changes in time order.
    pub changes: Vec<LoggedChange>,
    /// Changes that are known to be missing, by the numbers of those that came (modulo 256 between
    /// two of them), and those whose time did not fit the frames round them.
    pub lost: u64,
}

/// What the rows of a stretch say of time and buttons.
pub(super) struct Frame<'a> {
    /// Rows of the session that the stretch is.
    rows: &'a Range<usize>,
    /// Unwrapped time of its rows, µs.
    t_us: &'a [u64],
    /// Board clock of its rows as sent, µs modulo 2^32; empty when it counts anything else.
    clock: &'a [i32],
    /// Buttons that there are.
    all: u32,
    /// Buttons that read 0 when pressed.
    flip: u32,
}

impl<'a> Frame<'a> {
    /// Of `wired` buttons: how many, and whether a pressed one reads 0.
    pub(super) fn new(
        rows: &'a Range<usize>,
        t_us: &'a [u64],
        clock: &'a [i32],
        wired: (usize, bool),
    ) -> Frame<'a> {
        let all = if wired.0 >= 32 { u32::MAX } else { (1 << wired.0) - 1 };
        Frame { rows, t_us, clock, all, flip: if wired.1 { all } else { 0 } }
    }
}

impl Session {
    /// The edge log of some rows.
    pub(super) fn edge_log(&self, frame: &Frame<'_>) -> EdgeLog {
        let mut log = EdgeLog::default();
        let rows = frame.t_us.len().min(frame.clock.len());
        let from = self.edges().partition_point(|(row, _)| *row < frame.rows.start);
        let mut last: Option<(u8, u64)> = None;
        for (row, edge) in &self.edges()[from..] {
            let behind = *row - frame.rows.start;
            if behind > rows || rows == 0 {
                break;
            }
            let at = behind.saturating_sub(1);
            // 32 bits of the clock, nearest to the frame before the line.
            let ahead = edge.t_us.wrapping_sub(origin(frame, at));
            let near = ahead.wrapping_sub(frame.t_us[at] as u32) as i32;
            let t_us = frame.t_us[at].checked_add_signed(i64::from(near));
            let since = last.map_or(0, |(count, _)| edge.count.wrapping_sub(count));
            let missing = u64::from(edge.span_us.is_some() && last.is_some())
                * u64::from(since.wrapping_sub(1));
            log.lost += missing;
            let fits = t_us.filter(|t| {
                t.abs_diff(frame.t_us[at]) <= NEAR_US && last.is_none_or(|(_, before)| *t >= before)
            });
            let Some(t_us) = fits else {
                log.lost += 1;
                last = None;
                continue;
            };
            log.changes.push(LoggedChange {
                t_us,
                span_us: edge.span_us.map_or(0, u32::from),
                mask: (u32::from(edge.mask) & frame.all) ^ frame.flip,
                begins: edge.span_us.is_none() || last.is_none() || missing > 0,
            });
            last = Some((edge.count, t_us));
        }
        log
    }
}

/// What was added to the clock as sent to unwrap it, modulo 2^32.
///
/// The same for neighbouring rows unless the clock of one of them was damaged, so two of three say.
fn origin(frame: &Frame<'_>, at: usize) -> u32 {
    let rows = frame.t_us.len().min(frame.clock.len());
    let of = |row: usize| (frame.clock[row] as u32).wrapping_sub(frame.t_us[row] as u32);
    let own = of(at);
    let before = at.checked_sub(1).map(of);
    let after = (at + 1 < rows).then(|| of(at + 1));
    match (before, after) {
        (Some(before), Some(after)) if before == after => before,
        _ => own,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::rig::Rig;
    use crate::session::{About, Intake};
    use crate::wire::EdgeLine;

    /// Frames every 4 ms from `from`, with edge lines behind some of them.
    fn session(from: u32, edges: &[(usize, EdgeLine)]) -> Session {
        let mut text = String::from("seq,t_us,lx,ly,buttons\n");
        for row in 0..200 {
            let t_us = from.wrapping_add(4000 * row as u32);
            text.push_str(&format!("{row},{t_us},512,{},0\n", 500 + row % 3));
            for (_, edge) in edges.iter().filter(|(behind, _)| *behind == row) {
                text.push_str(&edge.line());
                text.push('\n');
            }
        }
        let mut intake = Intake::untimed(None);
        intake.push(0, text.as_bytes());
        intake.finish();
        let mut session = Session::new(About::default());
        session.append(&intake.take());
        session
    }

    fn edge(count: u8, mask: u16, t_us: u32, span_us: Option<u16>) -> EdgeLine {
        EdgeLine { count, mask, t_us, span_us }
    }

    #[test]
    fn changes_keep_their_microseconds_across_the_wrap_of_the_clock() {
        let from = u32::MAX - 400_000;
        let at = |us: u32| from.wrapping_add(us);
        let edges = [
            (0, edge(7, 0, at(10), None)),
            (98, edge(8, 1, at(391_250), Some(250))),
            (101, edge(9, 0, at(404_321), Some(251))),
        ];
        let session = session(from, &edges);
        let rig = Rig { buttons: vec!["a".to_owned()], ..Rig::default() };
        let tracks = session.tracks(&rig);
        assert_eq!((tracks.rows(), tracks.edges.lost), (200, 0));
        let found: Vec<(u64, u32, u32, bool)> = tracks
            .edges
            .changes
            .iter()
            .map(|c| (c.t_us - tracks.t_us[0], c.span_us, c.mask, c.begins))
            .collect();
        assert_eq!(found, [(10, 0, 0, true), (391_250, 250, 1, false), (404_321, 251, 0, false)]);
        assert_eq!(session.refusals().total(), 0);
    }

    #[test]
    fn missing_numbers_are_counted_and_begin_anew() {
        let edges = [
            (0, edge(254, 0, 10, None)),
            (1, edge(255, 1, 4100, Some(250))),
            (9, edge(2, 0, 36_100, Some(250))),
            (10, edge(3, 1, 90_000_000, Some(250))),
            (11, edge(4, 0, 44_100, Some(250))),
        ];
        let tracks = session(0, &edges).tracks(&Rig::default());
        let begins: Vec<bool> = tracks.edges.changes.iter().map(|c| c.begins).collect();
        assert_eq!(begins, [true, false, true, true], "{:?}", tracks.edges);
        assert_eq!(tracks.edges.lost, 2 + 1);
    }
}
