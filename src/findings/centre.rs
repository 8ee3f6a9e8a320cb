//! What the releases and the quiet rest show of the centre: sticky return, slow drift.
use super::say;
use super::{Bench, Code, Finding, Severity, loud};
use crate::measure::centre::{Grouping, Rested, grouping, heavy_tail};
use crate::measure::{Reading, number};
use crate::rig::{AxisId, Place};
use crate::survey::{AxisFigures, StickFigures, TriggerFigures};
use crate::units::Unit;

/// Releases from which a far rest is a warning; with fewer the data are short (common practice).
pub const SETTLED_RELEASES: usize = 24;
/// Minutes over which a drift is carried on.
const DRIFT_MIN: f64 = 10.0;
/// How often a drift's own half-width must fit into it: two half-widths are one false alarm in
/// some ten thousand axes, where one would be one in twenty.
const DRIFT_CERTAINTY: f64 = 2.0;

const STICKY_REMEDY: &str = "Look for friction: a cap that rubs on the shell, dirt, a burr, a worn \
    or weak spring, a cable that pushes the module; then release again, eight directions twice";

/// The stick or trigger does not come back to one place.
pub(super) fn sticky_return(bench: &Bench<'_>, found: &mut Vec<Finding>) {
    for stick in &bench.survey.sticks {
        for (axis, hysteresis) in stick.half.stick().into_iter().zip(&stick.hysteresis) {
            let travel = bench.survey.axis(axis).and_then(AxisFigures::mean_travel);
            if let (Ok(hysteresis), Some(travel)) = (hysteresis, travel) {
                found.extend(lasting_offset(bench, axis, hysteresis, travel));
            }
        }
        found.extend(two_places(bench, stick).or_else(|| far_rest(stick)));
    }
    for trigger in &bench.survey.triggers {
        found.extend(trigger_return(bench, trigger));
    }
}

/// Rests differ by the side that the stick came from.
fn lasting_offset(
    bench: &Bench<'_>,
    axis: AxisId,
    hysteresis: &Reading,
    travel: f64,
) -> Option<Finding> {
    let band = &bench.limits.hysteresis_share;
    let shares = [hysteresis.value, hysteresis.low, hysteresis.high].map(|v| v / travel);
    let severity = loud(band, shares)?;
    let evidence = format!(
        "{} rests {} apart after pushes from opposite sides ({}, n\u{a0}=\u{a0}{}), {:.1}\u{a0}% of its \
         travel; {}",
        axis.words(),
        hysteresis.value_text(),
        hysteresis.interval_text(),
        hysteresis.n,
        hysteresis.value / travel * 100.0,
        say::missed(band, severity, Unit::Fraction),
    );
    let finding = Finding::new(Code::StickyReturn, axis, severity, evidence, STICKY_REMEDY);
    Some(finding.at(hysteresis.span))
}

/// One rest far from the others, still so with many releases.
fn far_rest(stick: &StickFigures) -> Option<Finding> {
    let ratio = far_ratio(stick)?;
    if stick.releases.len() < SETTLED_RELEASES {
        return None;
    }
    let evidence = format!(
        "{} stick: of {} releases the farthest rest lies {ratio:.1} times the RMS distance from \
         the centre; one normal set in a hundred shows as much, and no zone is sure",
        stick.half.key(),
        stick.releases.len(),
    );
    let place = Place::Stick(stick.half);
    Some(Finding::new(Code::StickyReturn, place, Severity::Warning, evidence, STICKY_REMEDY))
}

/// Farthest over RMS distance of the rests where that is more than a normal spread shows.
pub fn far_ratio(stick: &StickFigures) -> Option<f64> {
    heavy_tail(&rests(stick), centre_of(stick)?)
}

fn centre_of(stick: &StickFigures) -> Option<[f64; 2]> {
    let [x, y] = &stick.centre;
    Some([x.as_ref().ok()?.value, y.as_ref().ok()?.value])
}

fn rests(stick: &StickFigures) -> Vec<Rested> {
    stick.releases.iter().map(|r| Rested { at: r.at, from_deg: r.from_deg }).collect()
}

/// The rests lie in two places. Small gaps count only with many releases: one normal set of 16 in
/// 60 looks split by chance.
fn two_places(bench: &Bench<'_>, stick: &StickFigures) -> Option<Finding> {
    let Some(Grouping::Two { at: [a, b], sizes, gap_sd }) =
        grouping(&rests(stick), centre_of(stick)?)
    else {
        return None;
    };
    let travel =
        stick.half.stick().into_iter().find_map(|axis| bench.survey.axis(axis)?.mean_travel())?;
    let gap = (a[0] - b[0]).hypot(a[1] - b[1]);
    let band = &bench.limits.hysteresis_share;
    let severity = match Severity::of(band.grade(gap / travel, gap / travel)) {
        Some(Severity::Fault | Severity::Warning) => Severity::Warning,
        _ if stick.releases.len() >= SETTLED_RELEASES => Severity::Note,
        _ => return None,
    };
    let evidence = format!(
        "{} stick rests in two places {gap:.1}\u{a0}counts apart ({} and {} releases), {gap_sd:.1} \
         times the scatter within each: the centre between them is a place where it never rests",
        stick.half.key(),
        sizes[0],
        sizes[1],
    );
    Some(Finding::new(
        Code::StickyReturn,
        Place::Stick(stick.half),
        severity,
        evidence,
        STICKY_REMEDY,
    ))
}

fn trigger_return(bench: &Bench<'_>, trigger: &TriggerFigures) -> Option<Finding> {
    let span = trigger.travel()?.value;
    if span <= 0.0 {
        return None;
    }
    let (figure, band) = (trigger.rest_scatter.as_ref().ok()?, &bench.limits.trigger_scatter_share);
    let axis = trigger.half.trigger();
    let severity = loud(band, [figure.value, figure.low, figure.high].map(|v| v / span))?;
    let evidence = format!(
        "{}: its released level scatters by {} ({}, n\u{a0}=\u{a0}{}), {:.1}\u{a0}% of its span; {}",
        axis.words(),
        figure.value_text(),
        figure.interval_text(),
        figure.n,
        figure.value / span * 100.0,
        say::missed(band, severity, Unit::Fraction),
    );
    let finding = Finding::new(Code::StickyReturn, axis, severity, evidence, STICKY_REMEDY);
    Some(finding.at(figure.span))
}

/// The rest level moves while nobody touches it.
pub(super) fn warm_up_drift(bench: &Bench<'_>, found: &mut Vec<Finding>) {
    let band = &bench.limits.drift_share;
    for axis in bench.survey.axes.iter().filter(|a| !a.axis.is_trigger()) {
        // A pin that nothing drives wanders anyway.
        if super::has(found, &[Code::FloatingInput, Code::StuckRail], axis.axis) {
            continue;
        }
        let width = |r: &&Reading| r.high - r.low;
        let drift = [&axis.drift_per_min, &axis.idle_drift_per_min]
            .into_iter()
            .filter_map(|figure| figure.as_ref().ok())
            .min_by(|a, b| width(a).total_cmp(&width(b)));
        let (Some(drift), Some(travel)) = (drift, axis.mean_travel()) else { continue };
        let half_width = (drift.high - drift.low) * 0.5;
        let size = drift.value.abs();
        let share = |counts_per_min: f64| counts_per_min.max(0.0) * DRIFT_MIN / travel;
        let low = share(size - DRIFT_CERTAINTY * half_width);
        let Some(severity) = Severity::of(band.grade(low, share(size + half_width))) else {
            continue;
        };
        // A drift that is carried on is a forecast: never more than a warning.
        let severity = severity.max(Severity::Warning);
        let evidence = format!(
            "{} drifts by {} ({}, n\u{a0}=\u{a0}{}) over {:.0}\u{a0}s: {}\u{a0}% of its travel in {} \
             minutes if it goes on; {}",
            axis.axis.words(),
            drift.value_text(),
            drift.interval_text(),
            drift.n,
            drift.span.seconds(),
            number(share(size) * 100.0, 1),
            DRIFT_MIN,
            say::missed(band, severity, Unit::Fraction),
        );
        let remedy = "Let the board warm up for 15 minutes and rest it again, or leave the drift \
            its own share of the dead zone";
        found.push(
            Finding::new(Code::WarmUpDrift, axis.axis, severity, evidence, remedy).at(drift.span),
        );
    }
}
