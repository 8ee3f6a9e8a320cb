//! A worn track: the reading drops out at one place of the travel and nowhere else.
use std::ops::RangeInclusive;

use super::{Bench, Code, Finding, Severity, say};
use crate::measure::distribution::binomial_tail;
use crate::rig::AxisId;
use crate::segment::Rows;
use crate::session::TimeSource;

/// Drops needed at one place.
const DROPS_MIN: usize = 2;
/// Least depth of a drop, share of full scale.
const DEPTH: f64 = 0.06;
/// Least depth of one that lasts: it has two edges to be told by.
const DEPTH_LONG: f64 = 0.04;
/// Longest drop: a wiper that passes a worn spot is off the track for 5 to 30 ms, µs.
const LONGEST_US: f64 = 32_000.0;
/// Least rows looked over.
const LONGEST_MIN: usize = 4;
/// Frames farther apart than this cannot tell a drop from a flick of the thumb, µs: of a drop of
/// 30 ms they show two or three, as of a let-go stick that swings at 14 Hz.
const APART_US: f64 = 10_500.0;
/// Share of its depth within which a drop ends where it began.
const HOME: f64 = 0.35;
/// Share of its depth that a lasting drop keeps: a wiper is on its track or off.
const SHARP: f64 = 0.6;
/// Half a period of the slowest swing of a let-go stick, µs (5 Hz); what it crosses then is no drop.
const SWING_US: f64 = 100_000.0;
/// A let-go stick swings beyond its rest by at most this share of the way home: e^(−πζ/√(1−ζ²)) with a
/// damping ζ of 0.2.
const SWING_SHARE: f64 = 0.53;
/// Width of the place, share of full scale.
const PLACE: f64 = 0.03;
/// Damage on the line strikes a place in proportion to the time spent there. A place counts only when
/// damage would gather as many of the drops at any one place less often than this; there are 1/PLACE
/// places. Two drops of two where 0.5 % of the time is spent come to 8e-4, three of three to 4e-6.
const FALSE_ALARM: f64 = 1e-3;
/// The same where lines are known to be lost or damaged, so that some drops are damage for sure: six axes
/// on each of many such boards must not bring one that is none.
const FALSE_ALARM_DAMAGED: f64 = 1e-5;

/// Drop-outs locked to a place of the travel.
pub(super) fn worn_track(bench: &Bench<'_>, found: &mut Vec<Finding>) {
    // Without any clock nobody knows how long a drop lasted.
    if bench.tracks.time_source == TimeSource::Assumed || bench.tracks.period_us > APART_US {
        return;
    }
    let full = f64::from(bench.tracks.full_scale());
    let stream = &bench.survey.stream;
    // The first line may be torn only because the port was opened in its middle.
    let damaged = stream.malformed > 1 || stream.lost.as_ref().is_ok_and(|lost| *lost > 0);
    let alarm = if damaged { FALSE_ALARM_DAMAGED } else { FALSE_ALARM };
    for axis in AxisId::ALL {
        let Some(codes) = bench.tracks.axis(axis) else { continue };
        if super::has(found, &[Code::StuckRail, Code::FloatingInput], axis) {
            continue;
        }
        let drops = drops(bench, codes, full);
        let at = fullest(&drops, PLACE * full);
        if at.len() < DROPS_MIN {
            continue;
        }
        let (low, high) = ends(&at);
        let here = low..=low + PLACE * full;
        let dwell = codes.iter().filter(|&&c| here.contains(&f64::from(c))).count() as f64;
        let dwell = dwell / codes.len().max(1) as f64;
        let by_chance = binomial_tail(at.len() as u64, drops.len() as u64, dwell) / PLACE;
        if by_chance.is_nan() || by_chance >= alarm {
            continue;
        }
        let severity = if at.len() >= 6 { Severity::Fault } else { Severity::Warning };
        let depth = at.iter().map(|d| d.depth).sum::<f64>() / at.len() as f64;
        let evidence = format!(
            "{} dropped by {depth:.0}\u{a0}counts for up to {} frames {} times, {} of them between \
             {low:.0} and {high:.0} ({:.1}\u{a0}% of full scale), where it spent {:.1}\u{a0}% of the time; \
             damage on the line would strike anywhere (by chance {})",
            axis.words(),
            at.iter().map(|d| d.rows).max().unwrap_or(1),
            drops.len(),
            at.len(),
            (high - low) / full * 100.0,
            dwell * 100.0,
            say::chance(by_chance),
        );
        let remedy = "Replace the stick's track or module; a median of three frames hides single \
            drops until then and costs one frame of lag";
        let rows = Rows { first: at[0].row, end: at[at.len() - 1].row + 1 };
        found.push(
            Finding::new(Code::WornTrack, axis, severity, evidence, remedy).at(bench.span(rows)),
        );
    }
}

/// Lowest and highest reading from which a drop came.
fn ends(drops: &[Drop]) -> (f64, f64) {
    let from = || drops.iter().map(|d| d.from);
    (from().fold(f64::INFINITY, f64::min), from().fold(f64::NEG_INFINITY, f64::max))
}

/// One drop-out: from where, how deep, at which row, for how many.
#[derive(Clone, Copy)]
struct Drop {
    from: f64,
    depth: f64,
    row: usize,
    rows: usize,
}

/// Short departures from where the reading was and soon is again.
fn drops(bench: &Bench<'_>, codes: &[i32], full: f64) -> Vec<Drop> {
    let deep = DEPTH_LONG * full;
    let period_us = bench.tracks.period_us.max(1.0);
    let longest = ((LONGEST_US / period_us) as usize).max(LONGEST_MIN);
    let swing = (SWING_US / period_us) as usize;
    let mut drops = Vec::new();
    let mut row = 1;
    while row + longest < codes.len() {
        let before = f64::from(codes[row - 1]);
        if (f64::from(codes[row]) - before).abs() < deep {
            row += 1;
            continue;
        }
        let found = (1..=longest).find_map(|k| dropped(codes, row, k, full));
        match found.filter(|drop| !swings(codes, drop, swing)) {
            Some(drop) if !has_break(&bench.segments.breaks, row..=row + drop.rows) => {
                row += drop.rows + 1;
                drops.push(drop);
            }
            _ => row += 1,
        }
    }
    drops
}

/// True when one of the ascending `breaks` lies in the rows.
fn has_break(breaks: &[usize], rows: RangeInclusive<usize>) -> bool {
    breaks.get(breaks.partition_point(|b| b < rows.start())).is_some_and(|b| b <= rows.end())
}

/// The drop of `k` rows that begins at a row, if it is one.
///
/// A short one ends where it began. A longer one is judged against the way that the reading was going, as
/// far as in the `k` rows before: it falls off that way at once, stays off, and is back on it at once.
fn dropped(codes: &[i32], row: usize, k: usize, full: f64) -> Option<Drop> {
    let at = |r: usize| f64::from(codes[r]);
    let before = at(row - 1);
    let first = at(row) - before;
    if k <= LONGEST_MIN {
        let home = (at(row + k) - before).abs() < HOME * first.abs();
        let deep = first.abs() >= DEPTH * full;
        return (home && deep).then_some(Drop { from: before, depth: first.abs(), row, rows: k });
    }
    let slope = (before - at((row - 1).checked_sub(k)?)) / k as f64;
    let off = |j: usize| at(row + j) - before - slope * (j + 1) as f64;
    let depth = off(0);
    let stays = (1..k).all(|j| off(j) * depth.signum() >= SHARP * depth.abs());
    let home = off(k).abs() < HOME * depth.abs();
    (depth.abs() >= DEPTH_LONG * full && stays && home).then_some(Drop {
        from: before,
        depth: depth.abs(),
        row,
        rows: k,
    })
}

/// True when the reading came from farther away than the drop is deep just before it: a stick that was
/// let go and swings.
fn swings(codes: &[i32], drop: &Drop, swing: usize) -> bool {
    let before = &codes[drop.row.saturating_sub(swing)..drop.row];
    let farthest = before.iter().map(|&c| (f64::from(c) - drop.from).abs()).fold(0.0, f64::max);
    farthest > drop.depth / SWING_SHARE
}

/// The place of the given width that holds most drops, in the order of the rows. Cost: a sort.
fn fullest(drops: &[Drop], width: f64) -> Vec<Drop> {
    let mut from: Vec<f64> = drops.iter().map(|d| d.from).collect();
    from.sort_unstable_by(f64::total_cmp);
    let (mut end, mut best) = (0, (0, f64::NAN));
    for (first, &low) in from.iter().enumerate() {
        while from.get(end).is_some_and(|&f| f <= low + width) {
            end += 1;
        }
        if end - first > best.0 {
            best = (end - first, low);
        }
    }
    let low = best.1;
    drops.iter().filter(|d| (low..=low + width).contains(&d.from)).copied().collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_fullest_place_is_found_in_row_order() {
        let drop = |from: f64, row| Drop { from, depth: 80.0, row, rows: 2 };
        let drops = [drop(300.0, 1), drop(512.0, 2), drop(505.0, 3), drop(520.0, 4), drop(90.0, 5)];
        let rows: Vec<usize> = fullest(&drops, 15.0).iter().map(|d| d.row).collect();
        assert_eq!(rows, [2, 3, 4]);
        assert!(fullest(&[], 15.0).is_empty());
        assert!(has_break(&[3, 9], 8..=9) && !has_break(&[3, 9], 4..=8));
    }

    #[test]
    fn a_lift_has_two_sharp_edges_and_a_swing_has_none() {
        // Rolled at five counts a row; eight rows off the track.
        let mut codes: Vec<i32> = (0..60).map(|k| 400 + 5 * k).collect();
        codes[30..38].fill(120);
        let drop = (1..=8).find_map(|k| dropped(&codes, 30, k, 1023.0)).expect("a lift");
        assert_eq!((drop.rows, drop.row), (8, 30));
        assert!(!swings(&codes, &drop, 25));
        // A let-go of 400 counts that swings by half of it, 16 rows a period.
        let swung = |k: i32| 200.0 * (-f64::from(k) / 20.0).exp() * (f64::from(k) * 0.393).cos();
        let codes: Vec<i32> = (0..20)
            .map(|_| 900)
            .chain((0..60).map(|k| (500.0 + swung(k)).round() as i32))
            .collect();
        let found: Vec<Drop> = (1..70)
            .filter_map(|row| (1..=8).find_map(|k| dropped(&codes, row, k, 1023.0)))
            .filter(|drop| !swings(&codes, drop, 25))
            .collect();
        assert!(found.is_empty(), "{:?}", found.iter().map(|d| d.row).collect::<Vec<_>>());
    }
}
