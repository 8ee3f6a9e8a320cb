//! Health of the stream: rate, intervals, completeness, clock, staleness.
use super::{Source, StreamFigures, short};
use crate::measure::cadence;
use crate::measure::{Estimate, Measured};
use crate::rig::{AxisId, Half};
use crate::segment::Rows;
use crate::session::{StreamLedger, TimeSource};
use crate::units::Unit;

pub(super) fn figures(source: Source) -> StreamFigures {
    let (tracks, ledger) = (source.tracks, &source.tracks.stream);
    let (span, cuts) = (source.whole(), ledger.cuts());
    let clocked = if tracks.time_source == TimeSource::Assumed {
        Err(short("clock readings", 0, 2, "print the board's µs clock in every line"))
    } else {
        Ok(&tracks.t_us[..])
    };
    let rate_hz = clocked
        .clone()
        .and_then(|t_us| cadence::rate_hz(t_us, &ledger.gaps, &cuts))
        .map(|rate| rate.over(span, Unit::Hertz));
    // What stood between rows that damage of the recording parted was no interval of the board.
    let mut apart =
        [&cuts[..], &ledger.file_gaps.iter().map(|gap| gap.0).collect::<Vec<_>>()].concat();
    apart.sort_unstable();
    let intervals = clocked.and_then(|t| cadence::intervals(t, &ledger.gaps, &apart));
    let of = |pick: fn(&cadence::Intervals) -> Estimate| -> Measured {
        intervals.as_ref().map(|i| pick(i).over(span, Unit::Micros)).map_err(Clone::clone)
    };
    StreamFigures {
        rate_hz,
        interval_median_us: of(|i| i.median),
        interval_p01_us: of(|i| i.p01),
        interval_p95_us: of(|i| i.p95),
        interval_p99_us: of(|i| i.p99),
        interval_max_us: of(|i| i.max),
        lost: ledger.lost.ok_or_else(|| {
            short("a counter or a clock", 0, 1, "print a frame counter in every line")
        }),
        lost_in_file: ledger.lost_in_file(),
        malformed: ledger.malformed,
        foreign: ledger.foreign,
        duplicated: ledger.duplicated,
        resets: ledger.resets.len() as u64,
        loss_runs: cadence::loss_runs(&on_the_way(ledger), tracks.rows() as u64),
        clock_ppm: clock_ppm(source),
        jitter_us: both_clocks(source)
            .and_then(|(board, host)| cadence::mean_jitter_us(board, host, &cuts))
            .map(|jitter| jitter.over(span, Unit::Micros)),
        stale: Half::ALL.map(|half| stale(source, half)),
        half_skew_ms: half_skew(source),
    }
}

/// The gaps that damage of the recording did not make.
fn on_the_way(ledger: &StreamLedger) -> Vec<(usize, u64)> {
    let in_file = |row: usize| ledger.file_gaps.binary_search_by_key(&row, |gap| gap.0).is_ok();
    ledger.gaps.iter().copied().filter(|gap| !in_file(gap.0)).collect()
}

/// Times of board and host for every row.
fn both_clocks<'a>(source: Source<'a>) -> Measured<(&'a [u64], &'a [u64])> {
    let host = source.tracks.host_us.as_deref().ok_or_else(|| {
        short("times of board and host", 0, 1, "capture the port live to compare the clocks")
    })?;
    Ok((&source.tracks.t_us, host))
}

/// Board clock against host clock over the longest run without a restart or an absence.
fn clock_ppm(source: Source) -> Measured {
    let (board, host) = both_clocks(source)?;
    let rows = board.len();
    let cuts = source.tracks.stream.cuts();
    let starts = [0].into_iter().chain(cuts.iter().copied());
    let ends = cuts.iter().copied().chain([rows]);
    let longest = starts.zip(ends).max_by_key(|(start, end)| end.saturating_sub(*start));
    let (first, end) = longest.unwrap_or((0, rows));
    let run = Rows { first, end };
    let ppm = cadence::clock_ppm(run.of(board), run.of(host))?;
    Ok(ppm.over(source.span(run), Unit::Ppm))
}

/// Longest skew between the halves that is looked for, ms.
const SKEW_MS: f64 = 40.0;

/// How much later the right half shows the motion of a bar that both sticks are strapped to.
fn half_skew(source: Source) -> Measured {
    let axes = [[AxisId::Lx, AxisId::Rx], [AxisId::Ly, AxisId::Ry]];
    let pairs = axes
        .into_iter()
        .filter_map(|[left, right]| Some((source.tracks.axis(left)?, source.tracks.axis(right)?)));
    let found: Vec<Measured<Estimate>> = pairs
        .map(|(left, right)| cadence::lag_ms(left, right, &source.tracks.t_us, SKEW_MS))
        .collect();
    let best = found.into_iter().reduce(|a, b| if a.is_ok() { a } else { b });
    best.unwrap_or_else(|| Err(short("sticks", 0, 2, "send both axes of both sticks")))
        .map(|lag| lag.over(source.whole(), Unit::Millis))
}

/// By the half's own counter or age where sent, else by repeated tuples.
fn stale(source: Source, half: Half) -> Measured {
    let tracks = source.tracks;
    let estimate = if let Some(counter) = &tracks.remote_seq[half as usize] {
        cadence::stale_by_counter(counter)
    } else if let Some(age_us) = &tracks.remote_age_us[half as usize] {
        cadence::stale_by_age(age_us, &tracks.t_us)
    } else {
        let [x, y] = half.stick();
        let columns: Vec<&[i32]> =
            [x, y, half.trigger()].iter().filter_map(|&axis| tracks.axis(axis)).collect();
        if columns.len() < 2 {
            let what = format!("channels of the {} half", half.key());
            return Err(short(&what, columns.len(), 2, "send both axes of its stick"));
        }
        cadence::stale_by_repeats(&columns, &tracks.t_us)
    };
    estimate.map(|share| share.over(source.whole(), Unit::Fraction))
}
