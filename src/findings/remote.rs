//! The second half: a bus that hangs, told from a half that is merely slow and from a stalled board.
use super::say::{self, SUPPLY_CAUTION};
use super::{Bench, Finding, Kind, Severity};
use crate::rig::{AxisId, Half};
use crate::segment::Rows;

/// Frames in a row with the same readings from which a half is frozen. Noise of half a count changes
/// a triple of readings in two frames of three: so long a run does not come by chance.
const FROZEN_ROWS: usize = 5;
/// A frame that took so many times the usual interval waited for something.
const WAITED: f64 = 2.0;

/// One half stops answering for a while, and the loop waits for it.
pub const HALF_HANG: Kind =
    Kind { code: "half-hang", title: "A half stops answering", look: half_hang };

fn half_hang(bench: &Bench<'_>, found: &mut Vec<Finding>) {
    for half in Half::ALL {
        let runs: Vec<Rows> =
            frozen(bench, half).into_iter().filter(|r| waits(bench, *r)).collect();
        let Some(longest) = runs.iter().copied().max_by_key(|r| length_us(bench, *r)) else {
            continue;
        };
        let ms = length_us(bench, longest) as f64 * 1e-3;
        let severity = if ms > 50.0 { Severity::Fault } else { Severity::Warning };
        let evidence = format!(
            "the {} half gave the same readings for {ms:.0}\u{a0}ms while frames came {WAITED:.0} times \
             as late as usual, {} in {:.0}\u{a0}s; a slow half repeats in step, a stalled board sends \
             nothing",
            half.key(),
            say::count_of(runs.len() as u64, "time"),
            bench.survey.duration_s,
        );
        let remedy = "Give the bus a time-out, and after it nine clock pulses and a stop before it is \
            started anew; check its pull-ups (2.2–4.7 kΩ at 400 kHz) and keep motor wires away";
        found.push(
            Finding::new(HALF_HANG.code, half.key(), severity, evidence, remedy)
                .with_caution(SUPPLY_CAUTION)
                .at(bench.span(longest)),
        );
    }
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
