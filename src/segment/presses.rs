//! Changes and presses of every button from the column of masks.
use super::blocks::{Blocks, period_us};
use super::{ButtonTrack, Edge, Kind, Part, Press, Reason, Rejected, Rows, Segments};
use crate::session::Tracks;

/// Changes kept a button; a floating line makes more than anybody can use.
const MOST_EDGES: usize = 200_000;
/// A change and its opposite in the next row, with nothing this near, is line damage, µs.
const LONE_US: u64 = 30_000;
/// A contact has settled after this long without a change, µs (or two rows, if longer).
const SETTLE_US: f64 = 10_000.0;

/// Fills `found.buttons`.
pub(super) fn find(tracks: &Tracks, blocks: &Blocks, found: &mut Segments) {
    let Some(masks) = tracks.buttons.as_deref().filter(|m| m.len() == tracks.rows()) else {
        return;
    };
    let count = tracks.button_count.min(32);
    let mut edges: Vec<Vec<Edge>> = vec![Vec::new(); count];
    let mut always = u32::MAX;
    let mut last = masks.first().copied().unwrap_or(0);
    for (row, &mask) in masks.iter().enumerate() {
        always &= mask;
        let mut changed = mask ^ last;
        if changed == 0 {
            continue;
        }
        last = mask;
        while changed != 0 {
            let bit = changed.trailing_zeros();
            changed &= changed - 1;
            if let Some(list) = edges.get_mut(bit as usize)
                && list.len() < MOST_EDGES
            {
                list.push(Edge { row, closed: mask & (1 << bit) != 0 });
            }
        }
    }
    let settle_us = SETTLE_US.max(2.0 * period_us(tracks)) as u64;
    for (index, list) in edges.into_iter().enumerate() {
        let index = index as u8;
        let part = Part::Button(index);
        let edges = without_blips(tracks, list, part, found);
        let presses = presses(tracks, blocks, &edges, settle_us, part, found);
        let always_closed = !masks.is_empty() && always & (1 << index) != 0;
        found.buttons.push(ButtonTrack { index, edges, presses, always_closed });
    }
}

/// Leaves out lone changes that the very next row takes back.
fn without_blips(tracks: &Tracks, edges: Vec<Edge>, part: Part, found: &mut Segments) -> Vec<Edge> {
    let time = |edge: &Edge| tracks.t_us[edge.row];
    let lone = |k: usize| {
        let near = |a: usize, b: usize| {
            edges.get(a).zip(edges.get(b)).is_some_and(|(a, b)| time(b) - time(a) <= LONE_US)
        };
        edges.get(k + 1).is_some_and(|next| next.row == edges[k].row + 1)
            && !(k > 0 && near(k - 1, k))
            && !near(k + 1, k + 2)
    };
    let mut kept = Vec::with_capacity(edges.len());
    let mut k = 0;
    while k < edges.len() {
        if lone(k) {
            let rows = Rows { first: edges[k].row, end: edges[k + 1].row };
            found.rejected.push(Rejected { kind: Kind::Press, part, rows, why: Reason::Blip });
            k += 2;
        } else {
            kept.push(edges[k]);
            k += 1;
        }
    }
    kept
}

/// Joins closures that follow each other within the settling time.
fn presses(
    tracks: &Tracks,
    blocks: &Blocks,
    edges: &[Edge],
    settle_us: u64,
    part: Part,
    found: &mut Segments,
) -> Vec<Press> {
    let mut presses: Vec<Press> = Vec::new();
    let closed_first = edges.first().is_some_and(|edge| !edge.closed);
    let pairs = edges[usize::from(closed_first)..].chunks_exact(2);
    let mut cut = closed_first.then(|| Rows { first: 0, end: edges[0].row });
    for pair in pairs {
        let rows = Rows { first: pair[0].row, end: pair[1].row };
        if let Some(press) = presses.last_mut()
            && tracks.t_us[rows.first] - tracks.t_us[press.rows.end] <= settle_us
        {
            press.rows.end = rows.end;
        } else {
            presses.push(Press { rows });
        }
    }
    presses.retain(|press| {
        // A first or last change right after a gap happened at an unknown time within it.
        let at = blocks.breaks().partition_point(|&row| row < press.rows.first);
        let whole = blocks.breaks().get(at).is_none_or(|&row| row > press.rows.end);
        if !whole {
            let why = Reason::Cut;
            found.rejected.push(Rejected { kind: Kind::Press, part, rows: press.rows, why });
        }
        whole
    });
    if let Some(rows) = cut.take() {
        found.rejected.push(Rejected { kind: Kind::Press, part, rows, why: Reason::Cut });
    }
    presses
}
