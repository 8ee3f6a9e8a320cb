//! What motors, lights, other inputs and the supply do to each axis that nobody touches.
use std::ops::Range;

use super::{Common, Driven, Followed, Source, short};
use crate::measure::coupling::{self, CommonCause};
use crate::measure::{Estimate, Measured};
use crate::rig::{AxisId, Half};
use crate::segment::Rows;
use crate::session::DriveTrack;
use crate::units::Unit;

/// An axis is at home this near to its rest, share of full scale: a coupling may move it, a thumb
/// moves it farther.
const HOME: f64 = 0.05;
/// Shortest stay at home, µs.
const STAY_US: u64 = 500_000;
/// Left out at either end of a stay, µs: it swings in and is taken out.
const MARGIN_US: u64 = 150_000;
/// Rows away from home that end a stay; fewer are wild samples.
const AWAY_ROWS: usize = 3;
/// Bit of a row in which a button is held.
const HELD: u8 = 1 << 6;

/// Which inputs are away from home in each row: a bit an axis, and one for any button.
pub(super) struct Away(Vec<u8>);

impl Away {
    pub(super) fn of(source: Source) -> Away {
        let mut away = vec![0; source.tracks.rows()];
        for (axis, codes) in present(source) {
            let Some(known) = source.segments.levels.axis(axis) else { continue };
            let reach = (HOME * f64::from(source.tracks.full_scale())).max(8.0 * known.noise);
            // Rounded to whole counts the comparison stays one of integers; the clamp keeps the cast.
            let (low, high) = ((known.rest - reach) as i32, (known.rest + reach).ceil() as i32);
            for (row, code) in away.iter_mut().zip(codes) {
                *row |= u8::from(*code < low || *code > high) << axis.index();
            }
        }
        for (row, mask) in away.iter_mut().zip(source.tracks.buttons.as_deref().unwrap_or(&[])) {
            *row |= if *mask == 0 { 0 } else { HELD };
        }
        Away(away)
    }

    /// Stretches in which none of the inputs in `watched` is away, without their ends, not across
    /// gaps and restarts.
    pub(super) fn home(&self, source: Source, watched: u8) -> Vec<Range<usize>> {
        let mut stays = Vec::new();
        let (mut first, mut out) = (None, 0);
        for (row, away) in self.0.iter().enumerate() {
            out = if away & watched == 0 { 0 } else { out + 1 };
            match first {
                None if out == 0 => first = Some(row),
                Some(start) if out >= AWAY_ROWS => {
                    stays.push(start..row + 1 - out);
                    first = None;
                }
                _ => {}
            }
        }
        stays.extend(first.map(|start| start..self.0.len() - out));
        stays.iter().flat_map(|stay| uncut(source, stay)).collect()
    }
}

/// The part of a stretch in which one of the inputs in `active` is away, with half a second on
/// either side; `None` where they stay at home.
fn around_motion(
    source: Source,
    away: &Away,
    stretch: &Range<usize>,
    active: u8,
) -> Option<Range<usize>> {
    let rows = away.0.get(stretch.clone())?;
    let first = stretch.start + rows.iter().position(|a| a & active != 0)?;
    let last = stretch.start + rows.iter().rposition(|a| a & active != 0)?;
    let t_us = &source.tracks.t_us;
    let row = |us: u64| t_us.partition_point(|&t| t < us).clamp(stretch.start, stretch.end);
    Some(row(t_us[first].saturating_sub(STAY_US))..row(t_us[last] + STAY_US))
}

fn present<'a>(source: Source<'a>) -> impl Iterator<Item = (AxisId, &'a [i32])> {
    AxisId::ALL.into_iter().filter_map(move |axis| Some((axis, source.tracks.axis(axis)?)))
}

/// Every axis against every drive, where nobody touches anything and nothing else is driven.
pub(super) fn driven(source: Source, away: &Away) -> Vec<Driven> {
    let drives = &source.tracks.drives;
    if drives.is_empty() {
        return Vec::new();
    }
    let home = away.home(source, u8::MAX);
    let alone: Vec<(&DriveTrack, Vec<Range<usize>>)> =
        drives.iter().map(|drive| (drive, without_others(drive, drives, &home))).collect();
    present(source)
        .flat_map(|(axis, codes)| {
            let against = |(drive, home): &(&DriveTrack, Vec<Range<usize>>)| {
                against_drive(source, (axis, codes), drive, home)
            };
            alone.iter().map(against).collect::<Vec<_>>()
        })
        .collect()
}

/// The parts of stretches in which no drive but this one is on: what another does is not its doing.
fn without_others(
    drive: &DriveTrack,
    drives: &[DriveTrack],
    home: &[Range<usize>],
) -> Vec<Range<usize>> {
    let others = || drives.iter().filter(|other| other.drive != drive.drive);
    let quiet = |row: usize| others().all(|other| other.level.get(row).is_none_or(|l| *l == 0));
    let mut alone = Vec::new();
    for stretch in home {
        let mut first = None;
        for row in stretch.clone() {
            match (quiet(row), first) {
                (true, None) => first = Some(row),
                (false, Some(start)) => {
                    alone.push(start..row);
                    first = None;
                }
                _ => {}
            }
        }
        alone.extend(first.map(|start| start..stretch.end));
    }
    alone
}

fn against_drive(
    source: Source,
    (axis, codes): (AxisId, &[i32]),
    drive: &DriveTrack,
    home: &[Range<usize>],
) -> Driven {
    let by = drive.drive;
    let span = span_of(source, home);
    match coupling::drive_coupling(codes, &drive.level, &source.tracks.t_us, home) {
        Ok(found) => Driven {
            axis,
            by,
            shift: found.shift.map(|shift| shift.over(span, Unit::Counts)),
            noise_ratio: found.noise_ratio.map(|ratio| ratio.over(span, Unit::Number)),
            largest: Some(found.largest),
        },
        Err(shortage) => {
            let noise_ratio = Err(shortage.clone());
            Driven { axis, by, shift: Err(shortage), noise_ratio, largest: None }
        }
    }
}

/// Every axis against the one scanned before it and against both triggers, where nothing but the
/// part of the other one moves.
///
/// The axes of one stick move together by hand: neither can be left alone, so they are no pair.
pub(super) fn followed(source: Source, away: &Away) -> Vec<Followed> {
    let mut found = Vec::new();
    // Where a part alone moves is the same for every axis that may follow it.
    let mut alone: Vec<(u8, Vec<Range<usize>>)> = Vec::new();
    for (axis, codes) in present(source) {
        let before = scanned_before(source, axis);
        let triggers = Half::ALL.map(Half::trigger).into_iter().filter(|&t| Some(t) != before);
        let leaders = before.into_iter().chain(triggers).filter(|&by| !same_part(axis, by));
        for by in leaders {
            let Some(leader) = source.tracks.axis(by) else { continue };
            let part = AxisId::ALL.into_iter().filter(|&other| same_part(by, other));
            let moved = part.fold(0u8, |bits, axis| bits | 1 << axis.index());
            let known = alone.iter().position(|(bits, _)| *bits == moved).unwrap_or_else(|| {
                let home = away.home(source, !moved);
                let moving = home.iter().filter_map(|h| around_motion(source, away, h, moved));
                alone.push((moved, moving.collect()));
                alone.len() - 1
            });
            let home = &alone[known].1;
            let (share, correlation) = match coupling::follow(codes, leader, home) {
                Ok(found) => {
                    let span = span_of(source, home);
                    let of = |e: Estimate, unit| -> Measured { Ok(e.over(span, unit)) };
                    (of(found.share, Unit::Fraction), of(found.correlation, Unit::Number))
                }
                Err(shortage) => (Err(shortage.clone()), Err(shortage)),
            };
            let scanned_before = before == Some(by);
            found.push(Followed { axis, by, scanned_before, share, correlation });
        }
    }
    found
}

fn scanned_before(source: Source, axis: AxisId) -> Option<AxisId> {
    let order = &source.tracks.scan_order;
    let place = order.iter().position(|&a| a == axis)?;
    order.get(place.checked_sub(1).unwrap_or(order.len() - 1)).copied()
}

pub(super) fn same_part(a: AxisId, b: AxisId) -> bool {
    a.half() == b.half() && a.is_trigger() == b.is_trigger()
}

/// A stay without its ends, cut at gaps and restarts; parts too short are dropped.
fn uncut(source: Source, stay: &Range<usize>) -> Vec<Range<usize>> {
    let breaks = &source.segments.breaks;
    let inside =
        breaks.partition_point(|&b| b <= stay.start)..breaks.partition_point(|&b| b < stay.end);
    let cuts = breaks.get(inside).unwrap_or(&[]);
    let starts = [stay.start].into_iter().chain(cuts.iter().copied());
    let ends = cuts.iter().copied().chain([stay.end]);
    let t_us = &source.tracks.t_us;
    starts
        .zip(ends)
        .filter_map(|(start, end)| {
            let (from, to) = (*t_us.get(start)?, *t_us.get(end.checked_sub(1)?)?);
            if to.saturating_sub(from) < STAY_US {
                return None;
            }
            let row = |us: u64| t_us.partition_point(|&t| t < us);
            Some(row(from + MARGIN_US)..row(to - MARGIN_US))
        })
        .collect()
}

fn span_of(source: Source, rows: &[Range<usize>]) -> crate::measure::Span {
    source.span_of(rows.iter().map(|r| Rows { first: r.start, end: r.end }))
}

/// Shared motion of a half's channels over its longest quiet rest.
pub(super) fn common(source: Source, half: Half) -> Common {
    let rest = source.segments.longest_rest().map(|rest| rest.rows);
    let [x, y] = half.stick();
    let channels: Vec<&[i32]> = [x, y, half.trigger()]
        .iter()
        .filter_map(|&axis| Some(rest?.of(source.tracks.axis(axis)?)))
        .collect();
    match coupling::common_mode(&channels) {
        Ok(found) => Common {
            half,
            correlation: Ok(found.correlation.over(source.span_of(rest), Unit::Number)),
            rms: Some(found.rms),
            cause: found.cause,
        },
        Err(_) if channels.len() < 3 => {
            let what = format!("channels of the {} half at rest", half.key());
            let advice = "send both axes and the trigger of the half";
            let correlation = Err(short(&what, channels.len(), 3, advice));
            Common { half, correlation, rms: None, cause: CommonCause::Undecided }
        }
        Err(shortage) => {
            Common { half, correlation: Err(shortage), rms: None, cause: CommonCause::Undecided }
        }
    }
}
