//! How far inputs go: stuck at a rail, clipped, too short, uneven.
use super::say;
use super::{Bench, Code, Finding, Severity, loud, severity_of};
use crate::measure::gate::GateShape;
use crate::measure::{Reading, difference, ratio};
use crate::rig::{AxisId, Place};
use crate::session::Codes;
use crate::survey::AxisFigures;
use crate::units::Unit;

/// What to do when a mechanical or magnetic end stop is in the way.
const TRAVEL_REMEDY: &str = "Look for a shell or cap that stops the stick early, a loose module, a \
    weak or distant magnet, or a sensor whose supply differs from the converter's reference";

/// A code this near to a rail is at it, counts of ten bits.
const NEAR_RAIL: f64 = 3.0;
/// Share of the frames at a rail from which an input is stuck there.
const STUCK_SHARE: f64 = 0.995;

/// An input that sits at one end of the converter and never moves, or a contact always closed.
pub(super) fn stuck_rail(bench: &Bench<'_>, found: &mut Vec<Finding>) {
    stuck_axes(bench, found);
    for button in bench.survey.buttons.iter().filter(|button| button.stuck) {
        let evidence = format!(
            "b{} reads closed in all {} frames while other lines idle open",
            button.index,
            bench.tracks.rows()
        );
        let remedy = "Look for a solder bridge to ground, a jammed switch or a wrong pin; an \
            unused line can be left out of the rig";
        let place = Place::Button(button.index);
        found.push(Finding::new(Code::StuckRail, place, Severity::Warning, evidence, remedy));
    }
}

/// Axes at one of the converter's ends, where those are known.
fn stuck_axes(bench: &Bench<'_>, found: &mut Vec<Finding>) {
    let Some([_, full]) = bench.tracks.rails() else { return };
    let near = NEAR_RAIL * bench.count_unit();
    for axis in AxisId::ALL {
        let Some(column) = bench.tracks.axis(axis).filter(|column| !column.is_empty()) else {
            continue;
        };
        let at_bottom = column.iter().filter(|&&code| f64::from(code) <= near).count();
        let top = f64::from(full) - near;
        let at_top = column.iter().filter(|&&code| f64::from(code) >= top).count();
        // A damaged line may show another code now and then.
        let share = at_bottom.max(at_top) as f64 / column.len() as f64;
        if share < STUCK_SHARE {
            continue;
        }
        let (severity, remedy) = if axis.is_trigger() {
            // A trigger may rest at a rail: unmoved it can also be one that nobody pulled.
            let pulled = bench.survey.triggers.iter().any(|t| t.pulls > 0);
            let remedy = "Pull it; if it still does not move, check its wiring, ground and pin";
            (if pulled { Severity::Warning } else { Severity::Note }, remedy)
        } else {
            (
                Severity::Fault,
                "Look for a short, a missing ground or supply of the sensor, the wrong pin, or a \
                 debug interface that owns the pin",
            )
        };
        let end = if at_top > at_bottom { full } else { 0 };
        let evidence = format!(
            "{} stays within {near:.0}\u{a0}counts of {end} in {:.2}\u{a0}% of {} frames",
            axis.words(),
            share * 100.0,
            column.len(),
        );
        found.push(
            Finding::new(Code::StuckRail, axis, severity, evidence, remedy)
                .with_caution(say::SUPPLY_CAUTION),
        );
    }
}

/// Flat tops of the roll, or ends of travel too near to the converter's rails.
pub(super) fn saturated(bench: &Bench<'_>, found: &mut Vec<Finding>) {
    for axis in bench.survey.axes.iter().filter(|a| !a.axis.is_trigger()) {
        let clipped = clipped(bench, axis);
        let near = near_rail(bench, axis);
        let Some(severity) = clipped.iter().map(|c| c.0).chain(near.iter().map(|n| n.0)).min()
        else {
            continue;
        };
        let parts: Vec<String> = clipped.into_iter().chain(near).map(|(_, text)| text).collect();
        let evidence = format!("{}: {}", axis.axis.words(), parts.join("; "));
        let remedy = "Widen the magnet's air gap, lower the gain or divide the signal so that the \
            ends of travel stay inside the converter's and the sensor's range";
        let mut finding = Finding::new(Code::Saturated, axis.axis, severity, evidence, remedy)
            .with_caution(say::SUPPLY_CAUTION);
        if let Some(reading) = axis.clipped.as_ref().ok().or(axis.high.as_ref().ok()) {
            finding = finding.at(reading.span);
        }
        found.push(finding);
    }
}

/// An end at which the reading stands while the stick goes round. A straight side of the gate across an axis
/// looks the same: then it is a note.
fn clipped(bench: &Bench<'_>, axis: &AxisFigures) -> Option<(Severity, String)> {
    let clipped = axis.clipped.as_ref().ok()?;
    let band = &bench.limits.clipped_share;
    let severity = severity_of(band, clipped)?;
    let form = bench.survey.stick(axis.axis.half()).and_then(|s| s.shape.as_ref().ok());
    let straight = matches!(form, Some(GateShape::AxisClip { .. } | GateShape::Polygon { .. }));
    let (severity, beside) = match straight {
        true => (Severity::Note, "; the gate seems to have straight sides, which do the same"),
        false => (severity, ""),
    };
    Some((
        severity,
        format!(
            "for {} of the roll the reading stands at one end, where a curved rim goes on ({}, \
             n\u{a0}=\u{a0}{}); {}{beside}",
            clipped.value_text(),
            clipped.interval_text(),
            clipped.n,
            say::missed(band, severity, Unit::Fraction),
        ),
    ))
}

fn near_rail(bench: &Bench<'_>, axis: &AxisFigures) -> Option<(Severity, String)> {
    let (low, high) = (axis.low.as_ref().ok()?, axis.high.as_ref().ok()?);
    let full = f64::from(bench.tracks.rails()?[1]);
    let band = &bench.limits.clearance_counts;
    let to_top = (full - high.high, full - high.low, full - high.value, "top");
    let to_bottom = (low.low, low.high, low.value, "bottom");
    [to_top, to_bottom]
        .into_iter()
        .filter_map(|(least, most, value, end)| {
            let severity = loud(band, [value, least, most])?;
            let text = format!(
                "the travel ends {value:.1}\u{a0}counts from the converter's {end} \
                 ({least:.1} to {most:.1}); {}",
                say::missed(band, severity, Unit::Counts)
            );
            Some((severity, text))
        })
        .min_by_key(|(severity, _)| *severity)
}

/// Centre, and travel below and above it, where all three are known.
fn sides(axis: &AxisFigures) -> Option<[Reading; 2]> {
    let centre = axis.centre.as_ref().or(axis.rest.as_ref()).ok()?;
    let (low, high) = (axis.low.as_ref().ok()?, axis.high.as_ref().ok()?);
    Some([difference(centre, low), difference(high, centre)])
}

/// Too little travel for a fine output.
pub(super) fn short_travel(bench: &Bench<'_>, found: &mut Vec<Finding>) {
    // What is printed with a decimal point has the steps of the print, not of the converter.
    if bench.tracks.codes == Codes::Decimal {
        return;
    }
    let band = &bench.limits.travel_counts;
    for axis in bench.survey.axes.iter().filter(|a| !a.axis.is_trigger()) {
        let Some([below, above]) = sides(axis) else { continue };
        let (side, name) =
            if below.value < above.value { (below, "below") } else { (above, "above") };
        let Some(severity) = severity_of(band, &side) else { continue };
        let evidence = format!(
            "{} travels {} {name} its centre ({}, n\u{a0}=\u{a0}{}); {}",
            axis.axis.words(),
            side.value_text(),
            side.interval_text(),
            side.n,
            say::missed(band, severity, Unit::Counts),
        );
        found.push(
            Finding::new(Code::ShortTravel, axis.axis, severity, evidence, TRAVEL_REMEDY)
                .with_caution(say::SUPPLY_CAUTION)
                .at(side.span),
        );
    }
    let Some([_, full]) = bench.tracks.rails() else { return };
    let full = f64::from(full);
    let band = &bench.limits.trigger_span_share;
    for trigger in &bench.survey.triggers {
        let Some(span) = trigger.travel() else { continue };
        let shares = [span.value, span.low, span.high].map(|v| v / full);
        let Some(severity) = loud(band, shares) else { continue };
        let axis = trigger.half.trigger();
        let evidence = format!(
            "{} travels {} ({}, n\u{a0}=\u{a0}{}), {:.0}\u{a0}% of the converter; {}",
            axis.words(),
            span.value_text(),
            span.interval_text(),
            span.n,
            span.value / full * 100.0,
            say::missed(band, severity, Unit::Fraction),
        );
        found.push(
            Finding::new(Code::ShortTravel, axis, severity, evidence, TRAVEL_REMEDY)
                .with_caution(say::SUPPLY_CAUTION)
                .at(span.span),
        );
    }
}

/// One side of an axis goes farther than the other.
pub(super) fn uneven_travel(bench: &Bench<'_>, found: &mut Vec<Finding>) {
    let band = &bench.limits.asymmetry;
    for axis in bench.survey.axes.iter().filter(|a| !a.axis.is_trigger()) {
        let Some([below, above]) = sides(axis) else { continue };
        let Some(times) = ratio(&above, &below, Unit::Number) else { continue };
        let Some(severity) = severity_of(band, &times) else { continue };
        let evidence = format!(
            "{} travels {} above its centre and {} below: {} times ({}, n\u{a0}=\u{a0}{}); {}",
            axis.axis.words(),
            above.value_text(),
            below.value_text(),
            times.value_text(),
            times.interval_text(),
            times.n,
            say::missed(band, severity, Unit::Number),
        );
        let remedy = "The constants even it out by a gain for each side; if it is large, look for \
            a stick that rests off its middle, a clipped side or a shell in the way";
        found.push(
            Finding::new(Code::UnevenTravel, axis.axis, severity, evidence, remedy).at(times.span),
        );
    }
}
