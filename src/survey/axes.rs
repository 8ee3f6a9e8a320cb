//! Single axes: rest, noise, lines and drift from the quiet rests, reach from the turns.
use super::sticks::Gate;
use super::{AxisFigures, Density, Source, SpectrumLine, StickFigures, TriggerFigures, short};
use crate::measure::noise::{self, Quiet, RestNoise};
use crate::measure::{Estimate, Measured, Reading};
use crate::rig::AxisId;
use crate::units::Unit;

/// What the axis' own part has found.
#[derive(Clone, Copy)]
pub(super) enum Of<'a> {
    Stick(&'a StickFigures, &'a Gate),
    Trigger(&'a TriggerFigures),
    Alone,
}

pub(super) fn figures(source: Source, axis: AxisId, part: Of) -> AxisFigures {
    let (low, high, clipped, centre) = reach(axis, part);
    let mut figures = AxisFigures {
        axis,
        rest: Err(quiet_needed(axis)),
        noise_rms: Err(quiet_needed(axis)),
        noise_pp: Err(quiet_needed(axis)),
        noise_free_bits: Err(quiet_needed(axis)),
        lines: Vec::new(),
        density: Density::default(),
        drift_per_min: Err(quiet_needed(axis)),
        low,
        high,
        clipped,
        centre,
    };
    match at_rest(source, axis) {
        Ok(rest) => fill(&mut figures, source, rest),
        Err(shortage) => {
            for figure in [
                &mut figures.rest,
                &mut figures.noise_rms,
                &mut figures.noise_pp,
                &mut figures.noise_free_bits,
                &mut figures.drift_per_min,
            ] {
                *figure = Err(shortage.clone());
            }
        }
    }
    figures
}

fn at_rest(source: Source, axis: AxisId) -> Measured<RestNoise> {
    let codes = source.tracks.axis(axis).ok_or_else(|| quiet_needed(axis))?;
    let stretches: Vec<Quiet> = source
        .segments
        .rests
        .iter()
        .map(|rest| Quiet { codes: rest.rows.of(codes), t_us: rest.rows.of(&source.tracks.t_us) })
        .collect();
    noise::at_rest(&stretches, source.tracks.full_scale().saturating_add(1))
}

fn fill(figures: &mut AxisFigures, source: Source, rest: RestNoise) {
    // Noise is taken from every rest, the rest from the longest.
    let all = source.span_of(source.segments.rests.iter().map(|r| r.rows));
    let longest = |estimate: Estimate, unit| estimate.over(rest.span, unit);
    figures.rest = Ok(longest(rest.level, Unit::Counts));
    figures.noise_rms = rest.rms.map(|rms| rms.over(all, Unit::Counts));
    figures.noise_pp = Ok(longest(rest.peak_to_peak, Unit::Counts));
    figures.noise_free_bits = rest.noise_free_bits.map(|bits| bits.over(all, Unit::Bits));
    figures.drift_per_min = rest.drift_per_min.map(|d| d.over(rest.span, Unit::CountsPerMinute));
    figures.lines = rest
        .lines
        .iter()
        .map(|line| SpectrumLine {
            hz: line.hz,
            amplitude: line.amplitude.value,
            false_alarm: line.false_alarm,
        })
        .collect();
    figures.density = Density { hz: rest.density.hz, counts2_per_hz: rest.density.density };
}

/// Lower and upper reach, clipped share and centre, by what the axis belongs to.
fn reach(axis: AxisId, part: Of) -> (Measured, Measured, Measured, Measured) {
    match part {
        Of::Stick(stick, gate) => {
            let place = usize::from(axis != axis.half().stick()[0]);
            let of = |figures: Measured<[Reading; 2]>| figures.map(|pair| pair[place]);
            (
                of(gate.low.clone()),
                of(gate.high.clone()),
                of(gate.clipped.clone()),
                stick.centre[place].clone(),
            )
        }
        Of::Alone => {
            let none = |what: &str| Err(short(what, 0, 1, "send both axes of the stick"));
            (none("turns"), none("turns"), none("turns"), none("releases"))
        }
        Of::Trigger(trigger) => {
            let rises = match (&trigger.rest, &trigger.full) {
                (Ok(rest), Ok(full)) => full.value >= rest.value,
                _ => true,
            };
            let ends = (trigger.rest.clone(), trigger.full.clone());
            let (low, high) = if rises { ends } else { (ends.1, ends.0) };
            let none = |what: &str| {
                Err(short(what, 0, 1, "a trigger has none: see its rest and full levels"))
            };
            (low, high, none("turns along a gate"), none("releases of a stick"))
        }
    }
}

fn quiet_needed(axis: AxisId) -> crate::measure::Shortage {
    let what = format!("quiet rest of the {}", axis.words());
    short(&what, 0, 1, "take both hands off for eight seconds")
}
