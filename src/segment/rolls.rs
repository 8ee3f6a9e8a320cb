//! Turns of a stick along the rim of its gate, with their sense.
use std::f64::consts::TAU;

use super::stick::{Path, RIM, Trip, turned};
use super::windows::Fence;
use super::{Kind, Part, Reason, Rejected, Roll, Rows, Segments, Turning};

/// A trip that sweeps less than this is no roll, radians (300°).
pub(super) const LEAST_SWEEP: f64 = 300.0 / 360.0 * TAU;
/// Going back this far is a reversal and not a tremor, radians (45°).
const REVERSAL: f64 = TAU / 8.0;
/// The last turn counts when no more than this is missing, radians (20°).
const MISSING: f64 = TAU / 18.0;
/// A jump from block to block that cannot be followed, radians (120°).
const JUMP: f64 = TAU / 3.0;

/// Adds the rolls of one stick and what was not used of them.
pub(super) fn find(path: &Path, trips: &[Trip], fence: &Fence, found: &mut Segments) {
    for trip in trips.iter().filter(|trip| trip.swept >= LEAST_SWEEP) {
        for sweep in sweeps(path, trip) {
            add(path, &sweep, fence, found);
        }
    }
}

/// A stretch along the rim in one sense.
struct OneWay {
    /// (block, angle since the start of the trip) along the rim.
    points: Vec<(usize, f64)>,
}

/// Cuts a trip at every reversal and at every place where the rim was left.
fn sweeps(path: &Path, trip: &Trip) -> Vec<OneWay> {
    let mut done = Vec::new();
    let mut piece: Vec<(usize, f64)> = Vec::new();
    let (mut angle, mut last) = (0.0, None::<[f64; 2]>);
    // The farthest point so far of the present piece, as an index into it.
    let mut farthest = 0;
    for b in trip.first..trip.back {
        let at = path.at(b);
        if at[0].hypot(at[1]) < RIM {
            // Two blocks off the rim end the piece; one may be damage.
            let off_twice = piece.last().is_some_and(|(block, _)| b - block >= 2);
            if off_twice {
                done.push(OneWay { points: std::mem::take(&mut piece) });
                (last, farthest) = (None, 0);
            }
            continue;
        }
        if let Some(last) = last {
            let step = turned(last, at);
            if step.abs() > JUMP {
                done.push(OneWay { points: std::mem::take(&mut piece) });
                farthest = 0;
            }
            angle += step;
        }
        last = Some(at);
        piece.push((b, angle));
        let start = piece[0].1;
        let (way, best) = (angle - start, piece[farthest].1 - start);
        if way.abs() >= best.abs() && way * best >= 0.0 {
            farthest = piece.len() - 1;
        } else if (piece[farthest].1 - angle).abs() > REVERSAL {
            let rest = piece.split_off(farthest + 1);
            done.push(OneWay { points: std::mem::replace(&mut piece, rest) });
            farthest = piece.len() - 1;
        }
    }
    done.push(OneWay { points: piece });
    done
}

fn add(path: &Path, sweep: &OneWay, fence: &Fence, found: &mut Segments) {
    let [(first, from), .., (last, to)] = sweep.points[..] else { return };
    let way = to - from;
    if way.abs() < LEAST_SWEEP {
        return;
    }
    let rows = Rows { first: path.blocks.row(first), end: path.blocks.end_row(last + 1) };
    let mut reject = |why| {
        let part = Part::Stick(path.half);
        found.rejected.push(Rejected { kind: Kind::Roll, part, rows, why });
    };
    let whole = ((way.abs() + MISSING) / TAU).floor() as usize;
    if whole == 0 {
        return reject(Reason::PartTurn);
    }
    if !fence.allows(Kind::Roll, rows.first + rows.len() / 2) {
        return reject(Reason::OffPrompt);
    }
    let turning = if way > 0.0 { Turning::Counterclockwise } else { Turning::Clockwise };
    let mut bounds = Vec::with_capacity(whole + 1);
    bounds.push(rows.first);
    let mut points = sweep.points.iter();
    for k in 1..=whole {
        let passed = points.find(|(_, angle)| (angle - from).abs() >= k as f64 * TAU);
        bounds.push(passed.map_or(rows.end, |&(block, _)| path.blocks.row(block)));
    }
    let turns = bounds.windows(2).map(|w| Rows { first: w[0], end: w[1] }).collect();
    found.rolls[path.half as usize].push(Roll { half: path.half, turning, rows, turns });
}
