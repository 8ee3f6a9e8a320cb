//! Releases: a stick pushed outward, let go and settled.
use super::settle;
use super::stick::{BACK, Path, Trip};
use super::windows::Fence;
use super::{Kind, Part, Reason, Rejected, Release, Rows, Segments};
use crate::session::Tracks;

/// Angle passed along the rim up to which a push has one direction, radians (60°).
const ONE_DIRECTION: f64 = 60.0 * std::f64::consts::PI / 180.0;
/// Slowest fall of a stick that nobody holds, from the pushed place to the middle, µs.
const FREE_FALL_US: u64 = 300_000;
/// Slowest fall before a short rest, µs: a stick that nobody holds crosses its rest after 20 to 60 ms,
/// and the blocks that see it leave and arrive are 20 ms each.
const QUICK_FALL_US: u64 = 100_000;
/// Shorter rests than this are short ones, µs.
const SHORT_US: u64 = 390_000;
/// Farthest from rest after a quick fall, share of the reach: a rest farther off is one that no dead
/// zone covers (15 %), and more likely a thumb that stays on the stick.
const NEAR: f64 = 0.15;

/// The push is judged over its last part, µs.
const PUSH_US: f64 = 200_000.0;
/// Share of the push that the stick is still at when it is let go.
const STILL_PUSHED: f64 = 0.85;

/// Adds the releases of one stick and what was not used of them.
pub(super) fn find(
    tracks: &Tracks,
    path: &Path,
    trips: &[Trip],
    moves: &[u8],
    fence: &Fence,
    found: &mut Segments,
) {
    for trip in trips.iter().filter(|trip| trip.swept < super::rolls::LEAST_SWEEP) {
        let let_go = let_go_block(path, trip);
        let outcome = judge(tracks, path, trip, let_go, moves).and_then(|release| {
            let Some(mut release) = release else { return Ok(None) };
            if !fence.allows(Kind::Release, release.let_go) {
                return Err((Reason::OffPrompt, release.push));
            }
            release.prompted_deg = fence.prompted_deg(release.let_go);
            Ok(Some(release))
        });
        match outcome {
            Ok(Some(release)) => found.releases[path.half as usize].push(release),
            Ok(None) => {}
            Err((why, rows)) => {
                let part = Part::Stick(path.half);
                found.rejected.push(Rejected { kind: Kind::Release, part, rows, why });
            }
        }
    }
}

/// `Ok(None)`: the log ends before it can be told.
fn judge(
    tracks: &Tracks,
    path: &Path,
    trip: &Trip,
    let_go: usize,
    moves: &[u8],
) -> Result<Option<Release>, (Reason, Rows)> {
    let blocks = path.blocks;
    let push = Rows { first: blocks.row(trip.first), end: blocks.end_row(let_go + 1) };
    if trip.cut[1] {
        // Out at the end of the log: it may still be let go.
        return if trip.back == blocks.len() { Ok(None) } else { Err((Reason::Cut, push)) };
    }
    if trip.cut[0] {
        // Out already when the rows begin: where it came from is not known.
        return Err((Reason::Cut, push));
    }
    if trip.swept > ONE_DIRECTION {
        return Err((Reason::Swept, push));
    }
    let time = |block: usize| tracks.t_us.get(blocks.row(block)).copied().unwrap_or(0);
    if time(trip.back).saturating_sub(time(let_go + 1)) > FREE_FALL_US {
        return Err((Reason::Creep, push));
    }
    let Some(settled) =
        settle::after(tracks, blocks, (moves, path.mask), let_go + 1, settle::OF_STICK)?
    else {
        return Ok(None);
    };
    let rows = settled.rows;
    let middle = blocks.block_at(rows.first + rows.len() / 2);
    let t_us = rows.of(&tracks.t_us);
    let lasts = t_us.last().zip(t_us.first()).map_or(0, |(last, first)| last - first);
    let is_short = lasts < SHORT_US;
    if path.radius(middle) > if is_short { NEAR } else { BACK } {
        return Err((Reason::NotHome, rows));
    }
    let slack = (2.0 * blocks.row_us()) as u64;
    if is_short && time(trip.back).saturating_sub(time(let_go + 1)) > QUICK_FALL_US + slack {
        return Err((Reason::TooShort, rows));
    }
    for axis in path.half.stick() {
        if let Some(median) = blocks.median(axis)
            && settle::creeps(blocks, median, rows, tracks.full_scale())
        {
            return Err((Reason::Creep, rows));
        }
    }
    let [x, y] = pushed_place(path, trip, let_go);
    Ok(Some(Release {
        half: path.half,
        push,
        let_go: let_go_row(tracks, path, let_go),
        direction_deg: y.atan2(x).to_degrees().rem_euclid(360.0),
        prompted_deg: None,
        still_from: settled.still_from,
        settled: rows,
    }))
}

/// Last block at the pushed place.
fn let_go_block(path: &Path, trip: &Trip) -> usize {
    let first = trip.back.saturating_sub(path.blocks.count_in(PUSH_US)).max(trip.first);
    let peak = (first..trip.back).map(|b| path.radius(b)).fold(0.0, f64::max);
    (first..trip.back).rfind(|&b| path.radius(b) >= STILL_PUSHED * peak).unwrap_or(trip.first)
}

/// Mean place over the last part of the push, shares of the reach.
fn pushed_place(path: &Path, trip: &Trip, let_go: usize) -> [f64; 2] {
    let first = (let_go + 1).saturating_sub(path.blocks.count_in(PUSH_US / 2.0)).max(trip.first);
    (first..=let_go).map(|b| path.at(b)).fold([0.0; 2], |sum, at| [sum[0] + at[0], sum[1] + at[1]])
}

/// Last row at the pushed place: the last of three rows whose middle one is still out, looked for in
/// the let-go block and the one after it.
fn let_go_row(tracks: &Tracks, path: &Path, let_go: usize) -> usize {
    let rows = Rows { first: path.blocks.row(let_go), end: path.blocks.end_row(let_go + 2) };
    let [ax, ay] = path.half.stick();
    let (Some(x), Some(y)) = (tracks.axis(ax), tracks.axis(ay)) else { return rows.first };
    let limit = STILL_PUSHED * path.radius(let_go);
    let radii: Vec<f64> = rows
        .of(x)
        .iter()
        .zip(rows.of(y))
        .map(|(&x, &y)| {
            let [u, v] = path.share([f64::from(x), f64::from(y)]);
            u.hypot(v)
        })
        .collect();
    let out = radii.windows(3).rposition(|w| w[0].max(w[1]).min(w[0].min(w[1]).max(w[2])) >= limit);
    rows.first + out.map_or(0, |k| k + 1)
}
