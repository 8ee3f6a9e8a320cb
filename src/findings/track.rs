//! A worn track: the reading drops out at one place of the travel and nowhere else.
use super::{Bench, Finding, Kind, Severity};
use crate::rig::AxisId;
use crate::segment::Rows;

/// Drops needed at one place.
const DROPS_MIN: usize = 3;
/// Least depth of a drop, share of full scale.
const DEPTH: f64 = 0.06;
/// Longest drop, rows.
const LONGEST: usize = 4;
/// Width of the place, share of full scale.
const PLACE: f64 = 0.03;
/// Share of an axis' drops that must lie at the place.
const LOCKED: f64 = 0.7;

/// Most of the time that is spent at such a place: a rest is no worn spot.
const DWELL: f64 = 0.15;

/// Drop-outs locked to a place of the travel.
pub const WORN_TRACK: Kind =
    Kind { code: "worn-track", title: "A worn spot on the track", look: worn_track };

fn worn_track(bench: &Bench<'_>, found: &mut Vec<Finding>) {
    let full = f64::from(bench.tracks.full_scale());
    for axis in AxisId::ALL {
        let Some(codes) = bench.tracks.axis(axis) else { continue };
        if super::has(found, &["stuck-rail", "floating-input"], axis.key()) {
            continue;
        }
        let drops = drops(bench, codes, full);
        let at = fullest(&drops, PLACE * full);
        if at.len() < DROPS_MIN || (at.len() as f64) < LOCKED * drops.len() as f64 {
            continue;
        }
        let (low, high) = ends(&at);
        // Damage on the line strikes in proportion to the time spent at a place.
        let dwell = codes.iter().filter(|&&c| (low..=high).contains(&f64::from(c))).count();
        if dwell as f64 > DWELL * codes.len() as f64 {
            continue;
        }
        let severity = if at.len() >= 6 { Severity::Fault } else { Severity::Warning };
        let depth = at.iter().map(|d| d.depth).sum::<f64>() / at.len() as f64;
        let evidence = format!(
            "{} dropped by {depth:.0}\u{a0}counts for up to {LONGEST} frames {} times, {} of them between \
             {low:.0} and {high:.0} ({:.1}\u{a0}% of full scale); damage on the line would strike anywhere",
            axis.words(),
            drops.len(),
            at.len(),
            (high - low) / full * 100.0,
        );
        let remedy = "Replace the stick's track or module; a median of three frames hides single \
            drops until then and costs one frame of lag";
        let rows = Rows { first: at[0].row, end: at[at.len() - 1].row + 1 };
        found.push(
            Finding::new(WORN_TRACK.code, axis.key(), severity, evidence, remedy)
                .at(bench.span(rows)),
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
