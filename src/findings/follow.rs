//! Inputs that follow another one: a pin that is not connected, and a source too weak for the scan.
//!
//! Both keep part of the charge that the channel before left on the converter's capacitor. A floating
//! pin keeps most of it and does not answer to its own control; a weak source keeps a few per cent,
//! answers, and picks up the mains where its neighbours do not. The reverse shows nothing in either
//! case: it goes by the order of the scan.
use std::ops::Range;

use super::say::SUPPLY_CAUTION;
use super::{Bench, Code, Finding, Severity};
use crate::measure::coupling::{Follow, follow};
use crate::measure::fit::dense::Normal;
use crate::rig::{AxisId, Half};
use crate::segment::Rows;
use crate::survey::value;

/// Share of another channel's motion from which a pin is not driven at all.
const FLOATS: f64 = 0.25;
/// Share from which two pins are one: the wires touch.
const BRIDGED: f64 = 0.95;
/// A stick's axis farther out than this share of its travel is pushed.
const PUSHED: f64 = 0.3;
/// Least time for which it is so on either side, s.
const PUSHED_S: f64 = 0.5;
/// What may be left of an axis that has nothing of its own, against what it does at rest.
const LEFT: f64 = 1.5;
/// Least share that is called cross-talk.
const TALKS: f64 = 0.012;
/// Correlation that such a share must show.
const ALIKE: f64 = 0.5;
/// Share from which it is a fault.
const GRAVE: f64 = 0.02;
/// Least hum that the other channels are taken to have, counts of ten bits.
const HUM_LEAST: f64 = 0.05;
/// A lone hum: so many times that of the half's other channels.
const LONE: f64 = 3.0;

/// A pin with nothing on it.
pub(super) fn floating_input(bench: &Bench<'_>, found: &mut Vec<Finding>) {
    for axis in AxisId::ALL {
        if super::has(found, &[Code::StuckRail], axis) {
            continue;
        }
        if let Some(finding) = empty_axis(bench, axis) {
            found.push(finding);
            continue;
        }
        let Some((leader, follow)) = strongest(bench, axis) else { continue };
        if follow.share.low < FLOATS || follow.correlation.low < ALIKE {
            continue;
        }
        let evidence = format!(
            "{} follows {} by {:.0}\u{a0}% while only that one is moved ({:.0} to {:.0}, correlation {:.2}, \
             n\u{a0}=\u{a0}{}){}; cross-talk of a driven pin is a few per cent, a noisy reference moves all",
            axis.words(),
            leader.words(),
            follow.share.value * 100.0,
            follow.share.low * 100.0,
            follow.share.high * 100.0,
            follow.correlation.value,
            follow.share.n,
            own_hum(bench, axis),
        );
        found.push(
            Finding::new(Code::FloatingInput, axis, Severity::Fault, evidence, FLOATING_REMEDY)
                .with_caution(SUPPLY_CAUTION)
                .at(bench.span(whole(&rows_led_by(bench, leader, axis)))),
        );
    }
}

const FLOATING_REMEDY: &str = "Nothing drives this pin: look for a broken wire, a dry joint or an empty \
    connector between the sensor's output and the converter";

/// An axis of a stick that has nothing of its own: all that it does while the other one is pushed is a share of
/// that, and what is left is what it does at rest anyway. Who moves a stick never keeps an axis that close to
/// the other one, and a share of one would be a bridge.
fn empty_axis(bench: &Bench<'_>, axis: AxisId) -> Option<Finding> {
    let [x, y] = axis.half().stick();
    let leader = if axis == x { y } else { x };
    if axis.is_trigger() {
        return None;
    }
    let level = |axis| bench.segments.levels.axis(axis).filter(|level| level.used);
    let (codes, led) = (bench.tracks.axis(axis)?, bench.tracks.axis(leader)?);
    let (rest, travel) = (level(leader)?.rest, level(leader)?.travel());
    let at_rest = value(&bench.survey.axis(axis)?.noise_with_lines)?;
    let way = |&c: &i32| f64::from(c) - rest;
    let pushed = |both: &(f64, &i32)| both.0.abs() > PUSHED * travel;
    let rows = || led.iter().map(way).zip(codes).filter(pushed);
    let sides = rows().fold([0usize; 2], |mut n, (way, _)| {
        n[usize::from(way > 0.0)] += 1;
        n
    });
    // Both ways, long enough that the hand was not just passing.
    let least = (bench.tracks.rate_hz()? * PUSHED_S) as usize;
    if sides.into_iter().min()? < least.max(10) {
        return None;
    }
    let mut normal = Normal::new(2);
    rows().for_each(|(way, &c)| normal.add(&[1.0, way], f64::from(c)));
    let [base, share] = normal.solve()[..] else { return None };
    let n = rows().count();
    let squares: f64 = rows().map(|(way, &c)| (f64::from(c) - base - share * way).powi(2)).sum();
    let left = (squares / n as f64).sqrt();
    if !(FLOATS..BRIDGED).contains(&share.abs()) || left > LEFT * at_rest.max(bench.count_unit()) {
        return None;
    }
    let evidence = format!(
        "{} is {:.0}\u{a0}% of {} whenever that is pushed, and nothing else: {left:.1}\u{a0}counts rms are left, \
         {at_rest:.1} at rest (n\u{a0}=\u{a0}{n}){}",
        axis.words(),
        share * 100.0,
        leader.words(),
        own_hum(bench, axis),
    );
    let finding =
        Finding::new(Code::FloatingInput, axis, Severity::Fault, evidence, FLOATING_REMEDY);
    Some(finding.with_caution(SUPPLY_CAUTION))
}

fn own_hum(bench: &Bench<'_>, axis: AxisId) -> String {
    let line = bench
        .survey
        .axis(axis)
        .and_then(|a| a.lines.iter().copied().max_by(|a, b| a.amplitude.total_cmp(&b.amplitude)));
    line.map_or_else(String::new, |line| {
        format!(", and carries {:.1}\u{a0}counts at {:.1}\u{a0}Hz", line.amplitude, line.hz)
    })
}

/// A source too weak to charge the converter's capacitor in time.
pub(super) fn mux_crosstalk(bench: &Bench<'_>, found: &mut Vec<Finding>) {
    for axis in AxisId::ALL {
        if super::has(found, &[Code::StuckRail, Code::FloatingInput], axis) {
            continue;
        }
        let between = strongest(bench, axis)
            .filter(|(_, f)| f.share.low >= TALKS && f.correlation.low >= ALIKE);
        let Some((leader, share, why)) = between
            .map(|(leader, f)| (leader, [f.share.value, f.share.low, f.share.high], String::new()))
            .or_else(|| within_stick(bench, axis))
        else {
            continue;
        };
        let severity = if share[1] > GRAVE { Severity::Fault } else { Severity::Warning };
        let evidence = format!(
            "{} takes over {:.1}\u{a0}% of {} ({:.1} to {:.1}), which is scanned before it, and not the \
             other way round{why}",
            axis.words(),
            share[0] * 100.0,
            leader.words(),
            share[1] * 100.0,
            share[2] * 100.0,
        );
        let remedy = "Drive the pin from 10 kΩ or less, or fit 10–100 nF to ground at the pin; failing \
            that convert this channel twice and drop the first result";
        found.push(
            Finding::new(Code::MuxCrosstalk, axis, severity, evidence, remedy)
                .with_caution(SUPPLY_CAUTION),
        );
    }
}

/// The other axis of the same stick cannot be moved alone: a lean of the readings alone may as well
/// be a skewed sensor. What tells them apart is the weak source: it picks up the mains where the
/// other channels of the half do not.
fn within_stick(bench: &Bench<'_>, axis: AxisId) -> Option<(AxisId, [f64; 3], String)> {
    let [x, y] = axis.half().stick();
    if axis != y {
        return None;
    }
    let own = hum(bench, axis)?;
    let others: Vec<f64> =
        [x, axis.half().trigger()].into_iter().map(|a| hum(bench, a).unwrap_or(0.0)).collect();
    let most = others.iter().copied().fold(HUM_LEAST * bench.count_unit(), f64::max);
    if own < LONE * most {
        return None;
    }
    let lean = bench.survey.stick(axis.half())?.orthogonality_deg.as_ref().ok()?;
    // Either sign: an inverted axis turns it round.
    let way = 0.5 * (lean.high - lean.low);
    let size = lean.value.abs();
    let share = [size, size - way, size + way].map(|deg| deg.to_radians().tan());
    if share[1] < TALKS {
        return None;
    }
    let why = format!(
        "; it also hums by {own:.2}\u{a0}counts where its neighbours do by {most:.2} at most: its source \
         is weak, the sensor is not skewed"
    );
    Some((x, share, why))
}

/// Amplitude of the strongest mains line, counts.
fn hum(bench: &Bench<'_>, axis: AxisId) -> Option<f64> {
    let rate_hz = value(&bench.survey.stream.rate_hz)?;
    let figures = bench.survey.axis(axis)?;
    let lines = figures.lines.iter().filter(|l| super::noise::is_mains(l.hz, rate_hz));
    lines.map(|l| l.amplitude).reduce(f64::max)
}

/// The channel that this one follows most while it is not touched itself.
fn strongest(bench: &Bench<'_>, axis: AxisId) -> Option<(AxisId, Follow)> {
    let codes = bench.tracks.axis(axis)?;
    let leaders = AxisId::ALL.into_iter().filter(|&l| l != axis && apart(axis, l));
    leaders
        .filter_map(|leader| {
            let rows = ranges(&rows_led_by(bench, leader, axis));
            let found = follow(codes, bench.tracks.axis(leader)?, &rows).ok()?;
            Some((leader, found))
        })
        .max_by(|a, b| strength(&a.1).total_cmp(&strength(&b.1)))
}

fn strength(follow: &Follow) -> f64 {
    follow.share.value.abs() * follow.correlation.value.abs()
}

/// One can be moved without the other: another control of the same half, scanned by one converter.
fn apart(axis: AxisId, leader: AxisId) -> bool {
    axis.half() == leader.half() && (axis.is_trigger() || leader.is_trigger())
}

/// Stretches in which the leader's control is moved and the follower's is not.
fn rows_led_by(bench: &Bench<'_>, leader: AxisId, axis: AxisId) -> Vec<Rows> {
    let half: Half = leader.half();
    if leader.is_trigger() {
        let pulls = bench.segments.pulls(half).iter();
        return pulls.map(|p| Rows { first: p.up.first, end: p.down.end }).collect();
    }
    debug_assert!(axis.is_trigger());
    bench.segments.rolls(half).iter().map(|roll| roll.rows).collect()
}

fn ranges(rows: &[Rows]) -> Vec<Range<usize>> {
    rows.iter().map(|r| r.first..r.end).collect()
}

fn whole(rows: &[Rows]) -> Rows {
    let first = rows.iter().map(|r| r.first).min().unwrap_or(0);
    Rows { first, end: rows.iter().map(|r| r.end).max().unwrap_or(first) }
}
