//! Presses of every button, from the episodes of its contact.
use super::blocks::{Blocks, period_us};
use super::{ButtonTrack, Kind, Part, Press, Reason, Rejected, Rows, Segments};
use crate::measure::contact::{self, ContactLog, TimedMask, Transfer};
use crate::session::Tracks;

/// Fills `found.buttons`.
pub(super) fn find(tracks: &Tracks, blocks: &Blocks, found: &mut Segments) {
    let Some(masks) = tracks.buttons.as_deref().filter(|m| m.len() == tracks.rows()) else {
        return;
    };
    let logs = contact::logs(masks, &tracks.t_us, tracks.button_count, period_us(tracks));
    let mut timed = timed_logs(tracks);
    for (index, log) in logs.into_iter().enumerate() {
        let timed = timed.get_mut(index).and_then(Option::take);
        let index = index as u8;
        if tracks.unwired >> index & 1 == 1 {
            continue;
        }
        let part = Part::Button(index);
        let blips = log.blips.iter().map(|&row| {
            let rows = Rows { first: row, end: row + 1 };
            Rejected { kind: Kind::Press, part, rows, why: Reason::Blip }
        });
        found.rejected.extend(blips);
        let presses = presses(blocks, &log, part, &mut found.rejected);
        found.buttons.push(ButtonTrack { index, log, timed, presses });
    }
}

/// What the firmware's own log of changes tells of each button.
fn timed_logs(tracks: &Tracks) -> Vec<Option<ContactLog>> {
    let masks: Vec<TimedMask> = tracks
        .edges
        .changes
        .iter()
        .map(|c| TimedMask { t_us: c.t_us, span_us: c.span_us, mask: c.mask, begins: c.begins })
        .collect();
    contact::timed_logs(&masks, &tracks.t_us, tracks.button_count)
}

/// From each press episode to the release after it.
fn presses(
    blocks: &Blocks,
    log: &ContactLog,
    part: Part,
    rejected: &mut Vec<Rejected>,
) -> Vec<Press> {
    let mut presses = Vec::new();
    let mut closed_from = log.starts_closed.then_some((0, true));
    for episode in &log.episodes {
        match episode.transfer {
            Transfer::Press => closed_from = Some((episode.first_row, episode.cut)),
            Transfer::Release => {
                let Some((first, cut)) = closed_from.take() else { continue };
                let rows = Rows { first, end: episode.last_row };
                // A first or last change right after a gap happened at an unknown time within it.
                let at = blocks.breaks().partition_point(|&row| row < first);
                let broken = blocks.breaks().get(at).is_some_and(|&row| row <= rows.end);
                if cut || episode.cut || broken {
                    rejected.push(Rejected { kind: Kind::Press, part, rows, why: Reason::Cut });
                } else {
                    presses.push(Press { rows });
                }
            }
            // A closure that bounced open again within the settling time is a short press.
            Transfer::Closure if episode.last_row > episode.first_row + 1 => {
                let rows = Rows { first: episode.first_row, end: episode.last_row };
                rejected.push(Rejected { kind: Kind::Press, part, rows, why: Reason::TooShort });
            }
            Transfer::Closure | Transfer::Dropout => {}
        }
    }
    presses
}
