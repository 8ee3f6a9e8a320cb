//! The second half: a bus that hangs, or a half that falls silent, told from a
//! half that is merely slow and from a stalled board.
use super::say::{self, SUPPLY_CAUTION};
use super::{Bench, Code, Finding, Severity};
use crate::rig::{AxisId, Half, Place};
use crate::segment::Rows;
use crate::session::TimeSource;

/// Frames in a row with the same readings from which a half is frozen. Noise of half a count changes
/// a triple of readings in two frames of three: so long a run does not come by chance.
const FROZEN_ROWS: usize = 5;
/// A half that gives the same readings for so long may be silent, µs: eight readings of a half that scans
/// at 100 Hz, and longer than a thumb stands still by itself (tremor, 8 to 12 Hz).
const SILENT_US: u64 = 80_000;
/// Runs of the same readings from this long on tell how long they come by chance, µs.
const CHANCE_US: u64 = 20_000;
/// A run is silence when fewer than so many as long would come by chance in the whole log.
const BY_CHANCE: f64 = 0.001;
/// One run by chance that is taken to have been so much longer before any is seen, µs.
const PRIOR_US: f64 = 10_000.0;
/// Silence from this long on is a fault, ms.
const HUNG_MS: f64 = 50.0;
/// A frame that took so many times the usual interval waited for something.
const WAITED: f64 = 2.0;

/// One half stops answering for a while, and the loop waits for it.
pub(super) fn half_hang(bench: &Bench<'_>, found: &mut Vec<Finding>) {
    // Without any clock nobody knows how long a half stood still.
    if bench.tracks.time_source == TimeSource::Assumed {
        return;
    }
    for half in Half::ALL {
        let all = frozen(bench, half);
        let silent: Vec<Rows> = silent(bench, half, &all).collect();
        let waited = all.iter().copied().filter(|r| waits(bench, *r));
        let mut runs: Vec<Rows> = waited.chain(silent.iter().copied()).collect();
        runs.sort_unstable_by_key(|r| r.first);
        runs.dedup();
        let Some(longest) = runs.iter().copied().max_by_key(|r| length_us(bench, *r)) else {
            continue;
        };
        let ms = length_us(bench, longest) as f64 * 1e-3;
        let severity = if ms > HUNG_MS { Severity::Fault } else { Severity::Warning };
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

/// Runs so long that neither a slow half nor chance explains them, of a half whose readings change at
/// other times.
///
/// What lies between 20 and 80 ms is chance: stillness with little noise, or a half that is read more
/// often than it measures. Such runs thin out with a mean excess m over 20 ms (at least as the one run
/// more that was not seen would make it), so that n·e^(−(t − 20)/m) of them are as long as t. Other long
/// runs may be chance too: they count with their first 80 ms, as lives that were watched no longer.
fn silent<'a>(
    bench: &'a Bench<'_>,
    half: Half,
    all: &'a [Rows],
) -> impl Iterator<Item = Rows> + 'a {
    let is_long = move |r: &Rows| length_us(bench, *r) >= SILENT_US;
    let long: usize = all.iter().filter(|r| is_long(r)).map(|r| r.len()).sum();
    let short: usize = all.iter().filter(|r| !is_long(r)).map(|r| r.len()).sum();
    let (mut n, mut excess) = (1.0, PRIOR_US);
    for us in all.iter().filter(|r| !is_long(r)).map(|r| length_us(bench, *r)) {
        if let Some(over) = us.checked_sub(CHANCE_US) {
            (n, excess) = (n + 1.0, excess + over as f64);
        }
    }
    let others = all.iter().filter(|r| is_long(r)).count().saturating_sub(1);
    let excess = excess + others as f64 * (SILENT_US - CHANCE_US) as f64;
    let by_chance = move |r: &Rows| {
        let over = length_us(bench, *r).saturating_sub(CHANCE_US) as f64;
        n * (-over * n / excess).exp()
    };
    // Too little noise to show life: readings stand still for many frames at any time.
    let moves = 4 * short < bench.tracks.rows().saturating_sub(long);
    let lively = moves && shows_noise(bench, half) && !still_at_rest(bench, all);
    let gone =
        move |r: &Rows| moves && r.end >= bench.tracks.rows() && length_us(bench, *r) >= GONE_US;
    all.iter()
        .copied()
        .filter(move |r| is_long(r) && by_chance(r) < BY_CHANCE && (lively || gone(r)))
}

/// A half that never changes again has fallen silent after so long, whatever its noise, µs: the longest
/// rest that anybody is asked for is eight seconds.
const GONE_US: u64 = 10_000_000;

/// Noise from which an axis shows life wherever its level lies between two codes, counts rms: what reads
/// as 0.3 may be much less, and stand still for seconds in the middle of a code.
const LIVE: f64 = 0.4;

/// True when an axis of the half is surely noisy enough to change a reading now and then.
fn shows_noise(bench: &Bench<'_>, half: Half) -> bool {
    let [x, y] = half.stick();
    [x, y, half.trigger()].into_iter().any(|axis| {
        let figures = bench.survey.axis(axis);
        figures.is_some_and(|a| a.noise_rms.as_ref().is_ok_and(|noise| noise.value >= LIVE))
    })
}

/// Share of the quiet rests, spent in runs of 20 ms and more, from which a half is quiet by itself.
const STILL_SHARE: f64 = 0.1;

/// True when the half stands still in the quiet rests anyhow, runs that may be silence left out: rounded to
/// whole codes its noise does not show.
fn still_at_rest(bench: &Bench<'_>, all: &[Rows]) -> bool {
    let (mut rested, mut still) = (0, 0);
    // Silence is no more than a fifth of the log; a half that stands still longer is quiet by itself.
    let long = |run: &Rows| length_us(bench, *run) >= SILENT_US;
    let silent: usize = all.iter().filter(|run| long(run)).map(|run| run.len()).sum();
    let rare = 5 * silent < bench.tracks.rows();
    for rest in bench.segments.rests.iter().map(|rest| rest.rows) {
        rested += rest.len();
        let from = all.partition_point(|r| r.end <= rest.first);
        for run in all[from..].iter().take_while(|r| r.first < rest.end) {
            let inside = Rows { first: run.first.max(rest.first), end: run.end.min(rest.end) };
            if rare && long(run) {
                rested -= inside.len();
            } else if length_us(bench, *run) >= CHANCE_US {
                still += inside.len();
            }
        }
    }
    still as f64 > STILL_SHARE * rested as f64
}

/// Rows in which a half has fallen silent altogether.
pub(super) fn silent_rows(bench: &Bench<'_>, half: Half) -> usize {
    silent(bench, half, &frozen(bench, half)).map(Rows::len).sum()
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
