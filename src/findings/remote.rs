//! The second half: a bus that hangs, or a half that falls silent, told from a
//! half that is merely slow and from a stalled board.
use super::say::{self, SUPPLY_CAUTION};
use super::{Bench, Code, Finding, Severity};
use crate::rig::{AxisId, Half, Place};
use crate::segment::Rows;

/// Frames in a row with the same readings from which a half is frozen. Noise of half a count changes
/// a triple of readings in two frames of three: so long a run does not come by chance.
const FROZEN_ROWS: usize = 5;
/// A half that gives the same readings for so long is silent, µs: fifty readings of a half that scans at
/// 100 Hz.
const SILENT_US: u64 = 500_000;
/// A frame that took so many times the usual interval waited for something.
const WAITED: f64 = 2.0;

/// One half stops answering for a while, and the loop waits for it.
pub(super) fn half_hang(bench: &Bench<'_>, found: &mut Vec<Finding>) {
    for half in Half::ALL {
        let all = frozen(bench, half);
        let silent: Vec<Rows> = silent(bench, &all).collect();
        let waited = all.iter().copied().filter(|r| waits(bench, *r));
        let mut runs: Vec<Rows> = waited.chain(silent.iter().copied()).collect();
        runs.sort_unstable_by_key(|r| r.first);
        runs.dedup();
        let Some(longest) = runs.iter().copied().max_by_key(|r| length_us(bench, *r)) else {
            continue;
        };
        let ms = length_us(bench, longest) as f64 * 1e-3;
        let severity = if ms > 50.0 { Severity::Fault } else { Severity::Warning };
        let meanwhile = if silent.contains(&longest) {
            "frames came at their usual pace; noise alone changes a live half's readings within a few \
             frames, and a slow half repeats in step"
        } else {
            "frames came twice as late as usual or later; a slow half repeats in step, a stalled board \
             sends nothing"
        };
        let lasts = if longest.end >= bench.tracks.rows() { ", to the end" } else { "" };
        let evidence = format!(
            "the {} half gave the same readings for {ms:.0}\u{a0}ms from {:.1}\u{a0}s on{lasts}, while \
             {meanwhile}; {} in {:.0}\u{a0}s",
            half.key(),
            bench.since_start_s(bench.span(longest).start_us),
            say::count_of(runs.len() as u64, "time"),
            bench.survey.duration_s,
        );
        let remedy = "Give the bus a time-out, and after it nine clock pulses and a stop before it is \
            started anew; check its pull-ups (2.2–4.7 kΩ at 400 kHz), the half's supply and plug, and keep \
            motor wires away";
        found.push(
            Finding::new(Code::HalfHang, Place::Half(half), severity, evidence, remedy)
                .with_caution(SUPPLY_CAUTION)
                .at(bench.span(longest)),
        );
    }
}

/// Runs so long that no slow half explains them, of a half whose readings change at other times.
fn silent<'a>(bench: &'a Bench<'_>, all: &'a [Rows]) -> impl Iterator<Item = Rows> + 'a {
    let is_long = move |r: &Rows| length_us(bench, *r) >= SILENT_US;
    let long: usize = all.iter().filter(|r| is_long(r)).map(|r| r.len()).sum();
    let short: usize = all.iter().filter(|r| !is_long(r)).map(|r| r.len()).sum();
    // Too little noise to show life: readings stand still for many frames at any time.
    let lively = 4 * short < bench.tracks.rows().saturating_sub(long);
    all.iter().copied().filter(move |r| lively && is_long(r))
}

/// Rows in which a half has fallen silent altogether.
pub(super) fn silent_rows(bench: &Bench<'_>, half: Half) -> usize {
    silent(bench, &frozen(bench, half)).map(Rows::len).sum()
}

fn length_us(bench: &Bench<'_>, rows: Rows) -> u64 {
    let span = bench.span(rows);
    span.end_us.saturating_sub(span.start_us)
}

/// Runs of rows in which every reading of a half stays the same while it is not stuck altogether.
fn frozen(bench: &Bench<'_>, half: Half) -> Vec<Rows> {
    let [x, y] = half.stick();
    let columns: Vec<&[i32]> =
        [x, y, half.trigger()].into_iter().filter_map(|a: AxisId| bench.tracks.axis(a)).collect();
    if columns.is_empty() {
        return Vec::new();
    }
    let rows = bench.tracks.rows();
    let mut runs = Vec::new();
    let mut first = 0;
    for row in 1..=rows {
        let same = row < rows && columns.iter().all(|c| c.get(row) == c.get(row - 1));
        if !same {
            if row - first >= FROZEN_ROWS {
                runs.push(Rows { first, end: row });
            }
            first = row;
        }
    }
    runs
}

/// True when most intervals inside the run are long: the loop waited each time.
fn waits(bench: &Bench<'_>, run: Rows) -> bool {
    let t_us = run.of(&bench.tracks.t_us);
    let long = WAITED * bench.tracks.period_us;
    let late = t_us.windows(2).filter(|p| (p[1] - p[0]) as f64 > long).count();
    bench.tracks.period_us > 0.0 && 2 * late > t_us.len()
}
