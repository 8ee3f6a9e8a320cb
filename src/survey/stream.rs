//! Health of the stream: rate, intervals, completeness, clock, staleness.
use super::{Source, StreamFigures, short};
use crate::measure::cadence;
use crate::measure::{Estimate, Measured};
use crate::rig::Half;
use crate::session::TimeSource;
use crate::units::Unit;

pub(super) fn figures(source: Source) -> StreamFigures {
    let (tracks, ledger) = (source.tracks, &source.tracks.stream);
    let span = source.whole();
    let clocked = if tracks.time_source == TimeSource::Assumed {
        Err(short("clock readings", 0, 2, "print the board's µs clock in every line"))
    } else {
        Ok(&tracks.t_us[..])
    };
    let rate_hz = clocked
        .clone()
        .and_then(|t_us| cadence::rate_hz(t_us, &ledger.gaps, &ledger.resets))
        .map(|rate| rate.over(span, Unit::Hertz));
    let intervals = clocked.and_then(|t| cadence::intervals(t, &ledger.gaps, &ledger.resets));
    let of = |pick: fn(&cadence::Intervals) -> Estimate| -> Measured {
        intervals.as_ref().map(|i| pick(i).over(span, Unit::Micros)).map_err(Clone::clone)
    };
    let clock_ppm = ledger.clock_ppm.map(|ppm| {
        let (low, high) = (f64::NEG_INFINITY, f64::INFINITY);
        Estimate { value: ppm, low, high, n: tracks.rows() }.over(span, Unit::Ppm)
    });
    StreamFigures {
        rate_hz,
        interval_median_us: of(|i| i.median),
        interval_p01_us: of(|i| i.p01),
        interval_p99_us: of(|i| i.p99),
        interval_max_us: of(|i| i.max),
        lost: ledger.lost.ok_or_else(|| {
            short("a counter or a clock", 0, 1, "print a frame counter in every line")
        }),
        malformed: ledger.malformed,
        foreign: ledger.foreign,
        duplicated: ledger.duplicated,
        resets: ledger.resets.len() as u64,
        clock_ppm: clock_ppm.ok_or_else(|| {
            short("times of board and host", 0, 1, "capture the port live to compare the clocks")
        }),
        stale: Half::ALL.map(|half| stale(source, half)),
    }
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
