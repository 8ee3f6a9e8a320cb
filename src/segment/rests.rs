//! Quiet rests: every axis still at its rest level, no button down, nobody bumping the table.
use super::blocks::Blocks;
use super::levels::{Levels, part_mask, stick_mask};
use super::windows::Fence;
use super::{Kind, Part, Reason, Rejected, Rest, Rows, Segments};
use crate::rig::{AxisId, Half};
use crate::session::Tracks;

/// Left out after the last motion, µs.
const AFTER_US: f64 = 300_000.0;
/// Left out before the next motion, µs.
const BEFORE_US: f64 = 100_000.0;
/// A rest is at least this long, µs.
const LEAST_US: f64 = 1_000_000.0;
/// Shorter still stretches are not worth a word, µs.
const WORTH_US: f64 = 500_000.0;
/// Windows in which a bump is looked for, µs.
const BUMP_US: f64 = 100_000.0;
/// Spread of a bumped window against the median window.
const BUMP_RATIO: f64 = 2.0;
/// A burst of motion between two rests up to this long may be a bump, µs.
const BURST_US: f64 = 600_000.0;
/// Share of its way from rest within which an axis is at home.
const HOME: f64 = 0.3;
/// An axis that moves in more than this share of a long log never settles and has no say.
const RESTLESS: f64 = 0.9;
/// A long log, s.
const LONG_S: f64 = 60.0;

/// Adds the rests and what was not used of them.
pub(super) fn find(
    tracks: &Tracks,
    (blocks, levels, moves): (&Blocks, &Levels, &[u8]),
    fence: &Fence,
    found: &mut Segments,
) {
    if AxisId::ALL.iter().all(|&axis| blocks.median(axis).is_none()) {
        return;
    }
    let quiet = quiet(tracks, (blocks, levels, moves), found);
    let mut before: Option<usize> = None;
    let mut b = 0;
    while b < blocks.len() {
        if !quiet[b] {
            b += 1;
            continue;
        }
        let run_end = blocks.run_end(b);
        let end = (b..run_end).find(|&k| !quiet[k]).unwrap_or(run_end);
        let long = end - b >= blocks.count_in(WORTH_US);
        if long && let Some(before) = before.take() {
            burst(blocks, levels, moves, (before, b), found);
        }
        let lead = if blocks.opens_run(b) { 0 } else { blocks.count_in(AFTER_US) };
        let tail = if end == run_end { 0 } else { blocks.count_in(BEFORE_US) };
        let (first, last) = (b + lead, end.saturating_sub(tail));
        if last > first {
            for rows in
                fence.clip(Kind::Rest, Rows { first: blocks.row(first), end: blocks.end_row(last) })
            {
                unbumped(blocks, rows, found);
            }
        }
        if long || end == run_end {
            before = (end < run_end).then_some(end);
        }
        b = end;
    }
    found.rests.retain(|rest| !rest.rows.is_empty() && rest.rows.end <= tracks.rows());
}

/// Which blocks are quiet.
fn quiet(
    tracks: &Tracks,
    (blocks, levels, moves): (&Blocks, &Levels, &[u8]),
    found: &Segments,
) -> Vec<bool> {
    let mut say = 0u8;
    let mut restless = 0u8;
    for axis in AxisId::ALL {
        if blocks.median(axis).is_some() {
            say |= 1 << axis.index();
            let moving = moves.iter().filter(|m| *m & (1 << axis.index()) != 0).count();
            let long = blocks.len() as f64 * blocks.block_s() >= LONG_S;
            if long && moving as f64 > RESTLESS * blocks.len() as f64 {
                restless |= 1 << axis.index();
            }
        }
    }
    // Both axes of a stick restless: it is being rolled all the time, not floating.
    for axis in AxisId::ALL {
        let mask = part_mask(axis);
        if axis.is_trigger() || restless & mask != mask {
            say &= !(restless & (1 << axis.index()));
        }
    }
    let mut quiet: Vec<bool> = moves.iter().map(|m| m & say == 0).collect();
    for axis in AxisId::ALL {
        let (Some(median), Some(level)) = (blocks.median(axis), levels.axis(axis)) else {
            continue;
        };
        if say & (1 << axis.index()) == 0 || !level.used {
            continue;
        }
        let home = HOME * level.travel();
        for (q, &m) in quiet.iter_mut().zip(median) {
            *q &= (f64::from(m) - level.rest).abs() < home;
        }
    }
    // A motor or light that runs is in the readings: that is a sweep and no rest.
    for drive in &tracks.drives {
        let mut row = 0;
        while let Some(on) = drive.level.get(row..).and_then(|l| l.iter().position(|v| *v > 0)) {
            let first = row + on;
            let on = drive.level[first..].iter().take_while(|v| **v > 0).count();
            let (from, to) = (blocks.block_at(first), blocks.block_at(first + on));
            if let Some(driven) = quiet.get_mut(from..=to.min(blocks.len().saturating_sub(1))) {
                driven.fill(false);
            }
            row = first + on;
        }
    }
    for press in found.buttons.iter().flat_map(|button| &button.presses) {
        let (first, last) = (blocks.block_at(press.rows.first), blocks.block_at(press.rows.end));
        if let Some(held) = quiet.get_mut(first..=last) {
            held.fill(false);
        }
    }
    quiet
}

/// A short burst on the sticks between two stretches of quiet is a bump of the table.
fn burst(
    blocks: &Blocks,
    levels: &Levels,
    moves: &[u8],
    (first, end): (usize, usize),
    found: &mut Segments,
) {
    if end - first > blocks.count_in(BURST_US) || end <= first {
        return;
    }
    let moved = moves[first..end].iter().fold(0u8, |all, m| all | m);
    let home = AxisId::ALL.iter().all(|&axis| {
        let (Some(median), Some(level)) = (blocks.median(axis), levels.axis(axis)) else {
            return true;
        };
        let limit = HOME * level.travel();
        !level.used || median[first..end].iter().all(|&m| (f64::from(m) - level.rest).abs() < limit)
    });
    let sticks = Half::ALL.iter().fold(0, |mask, half| mask | stick_mask(*half));
    if moved & sticks != 0 && home {
        let rows = Rows { first: blocks.row(first), end: blocks.end_row(end) };
        found.rejected.push(Rejected {
            kind: Kind::Rest,
            part: Part::Whole,
            rows,
            why: Reason::Bump,
        });
    }
}

/// Cuts bumped windows out of a still stretch and keeps the pieces that are long enough.
fn unbumped(blocks: &Blocks, rows: Rows, found: &mut Segments) {
    let (first, end) = (blocks.block_at(rows.first), blocks.block_at(rows.end - 1) + 1);
    let each = blocks.count_in(BUMP_US);
    let windows = (end - first) / each;
    let bumped = bumped_windows(blocks, first, each, windows);
    let mut piece = rows.first;
    for w in (0..windows).filter(|&w| bumped[w]) {
        let hit = Rows {
            first: blocks.row(first + w * each),
            end: blocks.end_row(first + (w + 1) * each),
        };
        found.rejected.push(Rejected {
            kind: Kind::Rest,
            part: Part::Whole,
            rows: hit,
            why: Reason::Bump,
        });
        keep(blocks, Rows { first: piece, end: hit.first.max(piece) }, found);
        piece = hit.end.max(piece);
    }
    keep(blocks, Rows { first: piece, end: rows.end }, found);
}

/// Windows in which at least half of the axes spread more than twice their median window.
fn bumped_windows(blocks: &Blocks, first: usize, each: usize, windows: usize) -> Vec<bool> {
    let mut votes = vec![0u8; windows];
    let mut axes = 0;
    if windows < 4 {
        return vec![false; windows];
    }
    for axis in AxisId::ALL.into_iter().filter(|axis| !axis.is_trigger()) {
        let Some(spread16) = blocks.spread16(axis) else { continue };
        axes += 1;
        let means: Vec<f64> = spread16[first..first + windows * each]
            .chunks_exact(each)
            .map(|w| w.iter().map(|&s| f64::from(s)).sum::<f64>() / (16.0 * each as f64))
            .collect();
        let mut ordered = means.clone();
        let (_, median, _) = ordered.select_nth_unstable_by(windows / 2, f64::total_cmp);
        let limit = BUMP_RATIO * *median + 0.5;
        for (vote, mean) in votes.iter_mut().zip(&means) {
            *vote += u8::from(*mean > limit);
        }
    }
    votes.iter().map(|&v| axes > 0 && 2 * v >= axes.max(2)).collect()
}

fn keep(blocks: &Blocks, rows: Rows, found: &mut Segments) {
    let us = rows.len() as f64 * blocks.row_us();
    if us >= LEAST_US {
        found.rests.push(Rest { rows });
    } else if us >= WORTH_US {
        let why = Reason::TooShort;
        found.rejected.push(Rejected { kind: Kind::Rest, part: Part::Whole, rows, why });
    }
}
