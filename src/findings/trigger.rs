//! What pulls show: a reading that turns back on the way.
use super::say;
use super::{Bench, Finding, Kind, Severity};
use crate::survey::value;
use crate::units::Unit;

/// The reading turns back during a one-way pull: one code stands for two places.
pub const NON_MONOTONIC: Kind =
    Kind { code: "non-monotonic", title: "The reading turns back", look: non_monotonic };

fn non_monotonic(bench: &Bench<'_>, found: &mut Vec<Finding>) {
    let band = &bench.limits.trigger_reversal_counts;
    for trigger in &bench.survey.triggers {
        let axis = trigger.half.trigger();
        let Ok(reversal) = &trigger.reversal else { continue };
        // Noise alone turns a reading back by up to about 4 σ.
        let noise = bench.survey.axis(axis).and_then(|a| value(&a.noise_rms)).unwrap_or(0.0);
        if reversal.low <= 4.0 * noise {
            continue;
        }
        let Some(severity) = Severity::of(band.grade(reversal.low, reversal.high)) else {
            continue;
        };
        let evidence = format!(
            "{} turns back by {} during a one-way pull ({}, n\u{a0}=\u{a0}{}); {}",
            axis.words(),
            reversal.value_text(),
            reversal.interval_text(),
            reversal.n,
            say::missed(band, severity, Unit::Counts),
        );
        let remedy = "Move the magnet so that it does not pass the sensor's peak, or look for a \
            wiper that lifts; constants cannot mend a code that stands for two places";
        found.push(
            Finding::new(NON_MONOTONIC.code, axis.key(), severity, evidence, remedy)
                .at(reversal.span),
        );
    }
}
