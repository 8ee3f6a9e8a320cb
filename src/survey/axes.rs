//! Single axes: rest, noise, lines and drift from the quiet rests, reach from the turns.
use super::sticks::Gate;
use super::{
    AxisFigures, Density, Source, SpectrumLine, StickFigures, TriggerFigures, long, short,
};
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
        noise_with_lines: Err(quiet_needed(axis)),
        noise_pp: Err(quiet_needed(axis)),
        noise_free_bits: Err(quiet_needed(axis)),
        effective_bits: Err(quiet_needed(axis)),
        noise_free_steps: Err(quiet_needed(axis)),
        lines: Vec::new(),
        density: Density::default(),
        drift_per_min: Err(quiet_needed(axis)),
        idle_drift_per_min: Err(quiet_needed(axis)),
        warm_up_rise: Err(quiet_needed(axis)),
        warm_up_tau_s: Err(quiet_needed(axis)),
        allan: long::allan(source, axis),
        odd_codes: long::odd_codes(source, axis),
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
                &mut figures.noise_with_lines,
                &mut figures.noise_pp,
                &mut figures.noise_free_bits,
                &mut figures.effective_bits,
                &mut figures.noise_free_steps,
                &mut figures.drift_per_min,
            ] {
                *figure = Err(shortage.clone());
            }
        }
    }
    match long::warm_up(source, axis) {
        Ok([rise, tau_s]) => {
            (figures.warm_up_rise, figures.warm_up_tau_s) = (Ok(rise), Ok(tau_s));
        }
        Err(shortage) => {
            (figures.warm_up_rise, figures.warm_up_tau_s) = (Err(shortage.clone()), Err(shortage));
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

/// Samples of the longest rest from which a line can be told from noise; with fewer all of the noise may be one.
const LINES_MIN: usize = 100;

fn fill(figures: &mut AxisFigures, source: Source, rest: RestNoise) {
    // Noise is taken from every rest, the rest from the longest.
    let all = source.span_of(source.segments.rests.iter().map(|r| r.rows));
    let longest = |estimate: Estimate, unit| estimate.over(rest.span, unit);
    figures.rest = Ok(longest(rest.level, Unit::Counts));
    figures.noise_rms = rest.rms.clone().map(|rms| from_floor(rms).over(all, Unit::Counts));
    figures.noise_with_lines = rest
        .rms
        .clone()
        .map(|rms| with_lines(from_floor(rms), &rest.lines).over(all, Unit::Counts));
    figures.noise_pp = Ok(longest(rest.peak_to_peak, Unit::Counts));
    figures.noise_free_bits = rest.noise_free_bits.map(|bits| bits.over(all, Unit::Bits));
    figures.effective_bits = rest.effective_bits.map(|bits| bits.over(all, Unit::Bits));
    figures.noise_free_steps = steps(figures, &rest.rms);
    if rest.level.n < LINES_MIN {
        unlined(figures);
    }
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

/// RMS with the lines that were taken out: √(σ² + Σ a²/2) with the amplitudes a; what is unsure of σ² and of
/// each a²/2 adds in squares.
fn with_lines(rms: Estimate, lines: &[crate::measure::lines::Line]) -> Estimate {
    let power = |a: f64| 0.5 * a * a;
    let whole: f64 = lines.iter().map(|line| power(line.amplitude.value)).sum();
    let value = rms.value * rms.value + whole;
    let end = |of: fn(&Estimate) -> f64| {
        let own = of(&rms).powi(2) - rms.value * rms.value;
        let theirs = lines.iter().map(|l| power(of(&l.amplitude)) - power(l.amplitude.value));
        theirs.map(|d| d * d).sum::<f64>().sqrt().hypot(own)
    };
    let low = (value - end(|e| e.low)).max(0.0).sqrt();
    Estimate { value: value.sqrt(), low, high: (value + end(|e| e.high)).sqrt(), n: rms.n }
}

/// Noise with a lower end that reaches 0 where the reading may be one of less than the floor: what was
/// too low to read was never given, so that a reading near it is the lucky one of many.
fn from_floor(rms: Estimate) -> Estimate {
    Estimate { low: if rms.low < noise::FLOOR_COUNTS { 0.0 } else { rms.low }, ..rms }
}

/// Opens the intervals of what is free of lines where no line could be told: all of the noise may be one.
fn unlined(figures: &mut AxisFigures) {
    if let Ok(rms) = &mut figures.noise_rms {
        rms.low = 0.0;
    }
    let more =
        [&mut figures.noise_free_bits, &mut figures.effective_bits, &mut figures.noise_free_steps];
    for figure in more.into_iter().flatten() {
        figure.high = f64::INFINITY;
    }
}

/// Steps of travel: to a side for a stick, the whole travel for a trigger.
fn steps(figures: &AxisFigures, rms: &Measured<Estimate>) -> Measured {
    let (low, high) = (figures.low.as_ref(), figures.high.as_ref());
    let (low, high) = (low.map_err(Clone::clone)?, high.map_err(Clone::clone)?);
    let sides = if figures.axis.is_trigger() { 1.0 } else { 2.0 };
    let travel = (high.value - low.value).abs() / sides;
    let steps = noise::noise_free_steps(travel, rms.clone()?);
    Ok(steps.over(low.span.join(high.span), Unit::Number))
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
