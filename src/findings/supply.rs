//! The supply under load: restarts by the brown-out detector, and sag that comes near to one.
use super::say::{self, LOAD_CAUTION, SUPPLY_CAUTION};
use super::{Bench, Code, Finding, Severity};
use crate::measure::Span;
use crate::measure::robust::median;
use crate::rig::Place;
use crate::session::Drive;
use crate::units::Unit;

/// Bit of the brown-out detector in the reset cause.
const BROWN_OUT_BIT: i32 = 4;
/// A supply that sags so soon before a restart belongs to it, µs.
const BEFORE_US: u64 = 500_000;
/// Rows behind a restart in which the new cause must stand.
const CAUSE_ROWS: usize = 3;
/// Rows on end that must show the sag: a damaged line is one, and a link that flips one bit in each two
/// hundred lines brings three of them to the supply's field anywhere in a minute.
const SAG_ROWS: usize = 3;

/// Restarts that the reset cause or the supply's own reading lays on a brown-out; never by their time
/// alone, for a watchdog may bark while a motor runs as well.
pub(super) fn explained(bench: &Bench<'_>) -> Vec<usize> {
    let resets = bench.tracks.stream.resets.iter().copied();
    resets.filter(|&row| said(bench, row) || sagged(bench, row).is_some()).collect()
}

/// The firmware itself gives a brown-out as the cause of the restart before this row.
fn said(bench: &Bench<'_>, row: usize) -> bool {
    let causes = &bench.tracks.reset_causes;
    let known = causes.partition_point(|(at, _)| *at <= row + CAUSE_ROWS);
    known > 0 && causes[known - 1].1 & BROWN_OUT_BIT != 0
}

/// Deepest sag just before a restart, share of the usual supply, where it is beyond the reject limit.
fn sagged(bench: &Bench<'_>, row: usize) -> Option<f64> {
    let (supply, usual) = usual(bench)?;
    let t_us = &bench.tracks.t_us;
    let until_us = *t_us.get(row.checked_sub(1)?)?;
    let first = t_us.partition_point(|&t| t + BEFORE_US < until_us);
    let least = supply.get(first..row)?.iter().min()?;
    let sag = 1.0 - f64::from(*least) / usual;
    (bench.limits.sag_share.reject.high.is_some_and(|limit| sag > limit)).then_some(sag)
}

/// The supply's readings and their median, mV.
fn usual<'a>(bench: &Bench<'a>) -> Option<(&'a [i32], f64)> {
    let supply = bench.tracks.supply_mv.as_deref().filter(|column| !column.is_empty())?;
    let values: Vec<f64> = supply.iter().map(|v| f64::from(*v)).collect();
    Some((supply, median(&values))).filter(|(_, usual)| *usual > 0.0)
}

/// The link had been away half a second before or after this row.
fn near_absence(bench: &Bench<'_>, row: usize) -> bool {
    let t_us = &bench.tracks.t_us;
    let Some(&at_us) = t_us.get(row) else { return false };
    bench.tracks.stream.away.iter().any(|&back| {
        let left_us = back.checked_sub(1).and_then(|last| t_us.get(last));
        let before = row < back && left_us.is_some_and(|left| left - at_us < BEFORE_US);
        let behind = t_us.get(back).is_some_and(|back| at_us >= *back && at_us - back < BEFORE_US);
        before || behind
    })
}

/// The supply collapses under a motor or light.
pub(super) fn brown_out(bench: &Bench<'_>, found: &mut Vec<Finding>) {
    let rows = explained(bench);
    if let Some(&first) = rows.first() {
        found.push(restarted(bench, &rows, first));
    } else {
        found.extend(sags(bench));
    }
}

fn restarted(bench: &Bench<'_>, rows: &[usize], first: usize) -> Finding {
    let by_cause = rows.iter().filter(|row| said(bench, **row)).count();
    let deepest = rows.iter().filter_map(|row| sagged(bench, *row)).fold(0.0, f64::max);
    let mut evidence = format!(
        "the board restarted {} by brown-out: {by_cause} of them by the reset cause that it gives",
        say::count_of(rows.len() as u64, "time"),
    );
    if deepest > 0.0 {
        let share = 100.0 * deepest;
        evidence.push_str(&format!(", its supply down by {share:.0}\u{a0}% just before"));
    }
    if let Some((drive, level)) = driven_before(bench, first) {
        evidence.push_str(&format!("; {} stood at {level} of 255 before the first", drive.words()));
    }
    evidence
        .push_str("; a watchdog or a port that resets the board would give another cause; limit 0");
    let t_us = bench.tracks.t_us.get(first).copied().unwrap_or(0);
    Finding::new(Code::BrownOut, Place::Supply, Severity::Fault, evidence, REMEDY)
        .with_caution(&caution())
        .at(Span { start_us: t_us, end_us: t_us })
}

/// What was driven hardest in the last frames before a restart.
fn driven_before(bench: &Bench<'_>, row: usize) -> Option<(Drive, i32)> {
    let rows = row.saturating_sub(SAG_ROWS)..row;
    let hardest = |level: &[i32]| level.get(rows.clone()).and_then(|l| l.iter().max().copied());
    let driven = bench.tracks.drives.iter().filter_map(|d| Some((d.drive, hardest(&d.level)?)));
    driven.filter(|(_, level)| *level > 0).max_by_key(|(_, level)| *level)
}

const REMEDY: &str = "Give the motors and lights a supply or a regulator that carries twice their running \
    current, put 100–470 µF across it near them, start motors over 50–100 ms and never two at once, and \
    limit the lights' brightness; then run the sweep again";

fn caution() -> String {
    format!("{SUPPLY_CAUTION}. {LOAD_CAUTION}")
}

/// The supply sags and the board stays up: worth a warning before it does not.
fn sags(bench: &Bench<'_>) -> Option<Finding> {
    let (supply, usual) = usual(bench)?;
    let held = supply.windows(SAG_ROWS).map(|rows| rows.iter().max().copied().unwrap_or(i32::MAX));
    // A plug that is pulled takes the supply along, and one that goes in brings it up.
    let steady = held.enumerate().filter(|(row, _)| !near_absence(bench, *row));
    let (row, least) = steady.min_by_key(|(_, level)| *level)?;
    let sag = 1.0 - f64::from(least) / usual;
    let band = &bench.limits.sag_share;
    let severity = Severity::of(band.grade(sag, sag))?.max(Severity::Warning);
    let mut evidence = format!(
        "the supply falls to {least}\u{a0}mV, {:.1}\u{a0}% below its median of {usual:.0}\u{a0}mV \
         (n\u{a0}=\u{a0}{}); {}",
        100.0 * sag,
        supply.len(),
        say::missed(band, severity, Unit::Fraction),
    );
    if let Some((drive, level)) = driven_before(bench, row + 1) {
        evidence.push_str(&format!("; {} stands at {level} of 255 then", drive.words()));
    }
    let t_us = bench.tracks.t_us.get(row).copied().unwrap_or(0);
    let finding = Finding::new(Code::BrownOut, Place::Supply, severity, evidence, REMEDY);
    Some(finding.with_caution(&caution()).at(Span { start_us: t_us, end_us: t_us }))
}

#[cfg(test)]
mod tests {
    use super::super::built::healthy;
    use super::super::{Limits, Segments, examine};
    use super::*;

    #[test]
    fn a_plug_that_is_pulled_is_no_sag_of_the_supply() {
        let mut built = healthy();
        let rows = built.tracks.t_us.len();
        let mut supply = vec![3_300; rows];
        supply[4_970..5_010].fill(2_400);
        built.tracks.supply_mv = Some(supply);
        for (away, named) in [(vec![], true), (vec![5_000], false)] {
            built.tracks.stream.away = away;
            let limits = Limits::for_bits(built.survey.raw_bits);
            let found = examine(&built.survey, &built.tracks, &Segments::default(), &limits);
            assert_eq!(found.iter().any(|f| f.code == Code::BrownOut), named);
        }
    }
}
