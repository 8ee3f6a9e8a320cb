//! A worn track: the reading drops out at one place of the travel and nowhere else.
use super::{Bench, Code, Finding, Severity, say};
use crate::measure::distribution::binomial_tail;
use crate::rig::AxisId;
use crate::segment::Rows;

/// Drops needed at one place.
const DROPS_MIN: usize = 2;
/// Least depth of a drop, share of full scale.
const DEPTH: f64 = 0.06;
/// Longest drop, rows.
const LONGEST: usize = 4;
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
            "{} dropped by {depth:.0}\u{a0}counts for up to {LONGEST} frames {} times, {} of them between \
             {low:.0} and {high:.0} ({:.1}\u{a0}% of full scale), where it spent {:.1}\u{a0}% of the time; \
             damage on the line would strike anywhere (by chance {})",
            axis.words(),
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

/// One drop-out: from where, how deep, at which row.
#[derive(Clone, Copy)]
struct Drop {
    from: f64,
    depth: f64,
    row: usize,
}

/// Short departures from where the reading was and soon is again.
fn drops(bench: &Bench<'_>, codes: &[i32], full: f64) -> Vec<Drop> {
    let deep = DEPTH * full;
    let mut drops = Vec::new();
    let mut row = 1;
    while row + LONGEST < codes.len() {
        let before = f64::from(codes[row - 1]);
        if (f64::from(codes[row]) - before).abs() < deep {
            row += 1;
            continue;
        }
        // Motion goes on meanwhile: the far side lies within half the depth of the near side.
        let back = (1..=LONGEST).find(|&k| {
            let depth = (f64::from(codes[row]) - before).abs();
            (f64::from(codes[row + k]) - before).abs() < 0.35 * depth
        });
        match back {
            Some(k) if !bench.segments.breaks.iter().any(|b| (row..=row + k).contains(b)) => {
                let depth = (f64::from(codes[row]) - before).abs();
                drops.push(Drop { from: before, depth, row });
                row += k + 1;
            }
            _ => row += 1,
        }
    }
    drops
}

/// The place of the given width that holds most drops, in the order of the rows.
fn fullest(drops: &[Drop], width: f64) -> Vec<Drop> {
    let inside = |low: f64| drops.iter().filter(move |d| (low..=low + width).contains(&d.from));
    let low = drops.iter().map(|d| d.from).max_by_key(|&low| inside(low).count());
    low.map(|low| inside(low).copied().collect()).unwrap_or_default()
}
