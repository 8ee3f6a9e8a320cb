//! What pulls show: a reading that turns back on the way, or stands still before the end.
use super::say;
use super::{Bench, Code, Finding, Severity, severity_of};
use crate::measure::distribution::t_quantile;
use crate::measure::{Estimate, Reading};
use crate::rig::Half;
use crate::segment::{Pace, Pull, Rows};
use crate::session::TimeSource;
use crate::survey::value;
use crate::units::Unit;

/// The reading turns back during a one-way pull: one code stands for two places.
pub(super) fn non_monotonic(bench: &Bench<'_>, found: &mut Vec<Finding>) {
    let band = &bench.limits.trigger_reversal_counts;
    for trigger in &bench.survey.triggers {
        let axis = trigger.half.trigger();
        let Ok(reversal) = &trigger.reversal else { continue };
        // Noise alone turns a reading back by up to about 4 σ.
        let noise = bench.survey.axis(axis).and_then(|a| value(&a.noise_rms)).unwrap_or(0.0);
        if reversal.low <= REVERSAL_SIGMAS * noise {
            continue;
        }
        let Some(severity) = severity_of(band, reversal) else { continue };
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
            Finding::new(Code::NonMonotonic, axis, severity, evidence, remedy).at(reversal.span),
        );
    }
}

/// Share of a slow pull's time at full from which the end is called flat, and from which it is worth
/// a note: a hand that turns round at the stop stays there for a sixth of the time (common practice).
const FLAT: [f64; 2] = [0.26, 0.20];
/// What noise alone turns a reading back by, σ.
const REVERSAL_SIGMAS: f64 = 4.0;
/// A trigger this near to its full level is at it, share of the span,
const AT_FULL: f64 = 0.01;
/// or within so many σ.
const AT_FULL_SIGMAS: f64 = 3.0;
/// Slow pulls needed.
const PULLS_MIN: usize = 3;

/// The reading stands at its end while the lever still moves.
pub(super) fn trigger_plateau(bench: &Bench<'_>, found: &mut Vec<Finding>) {
    // How slow a pull was, nobody knows without a clock.
    if bench.tracks.time_source == TimeSource::Assumed {
        return;
    }
    for trigger in &bench.survey.triggers {
        let axis = trigger.half.trigger();
        let Some(share) = time_at_full(bench, trigger.half) else { continue };
        // Loud or not, a hand that waits differs from pull to pull: the 99 % interval decides.
        let severity = match share.value - super::SURER * (share.value - share.low) {
            low if low > FLAT[0] => Severity::Warning,
            low if low > FLAT[1] => Severity::Note,
            _ => continue,
        };
        let evidence = format!(
            "{} stands within 1\u{a0}% of its full reading for {} of a slow pull ({}, n\u{a0}=\u{a0}{}); \
             a hand that turns round at the stop stays there for a sixth",
            axis.words(),
            share.value_text(),
            share.interval_text(),
            share.n,
        );
        let remedy = "Let the lever meet its stop where the sensor still moves: shift the magnet or \
            the stop; until then full is reached early and the last part of the travel does nothing. \
            Pull again without waiting at the end, to be sure that it was not the finger";
        found.push(
            Finding::new(Code::TriggerPlateau, axis, severity, evidence, remedy).at(share.span),
        );
    }
}

/// Share of a slow pull's time near full, mean over the pulls; `None` with too few.
fn time_at_full(bench: &Bench<'_>, half: Half) -> Option<Reading> {
    let figures = bench.survey.trigger(half)?;
    let (rest, full) = (value(&figures.rest)?, value(&figures.full)?);
    let codes = bench.tracks.axis(half.trigger())?;
    let noise = bench.survey.axis(half.trigger()).and_then(|a| value(&a.noise_rms)).unwrap_or(0.5);
    let span = (full - rest).abs();
    let near = span - (AT_FULL * span).max(AT_FULL_SIGMAS * noise);
    let of_pull = |pull: &Pull| {
        let rows = Rows { first: pull.up.first, end: pull.down.end };
        let moving = rows.of(codes);
        let away = |&&c: &&i32| (f64::from(c) - rest) * (full - rest).signum() >= near;
        (!moving.is_empty())
            .then(|| moving.iter().filter(away).count() as f64 / moving.len() as f64)
    };
    let slow = bench.segments.pulls(half).iter().filter(|p| p.pace == Pace::Slow);
    let shares: Vec<f64> = slow.clone().filter_map(of_pull).collect();
    if shares.len() < PULLS_MIN {
        return None;
    }
    let n = shares.len() as f64;
    let mean = shares.iter().sum::<f64>() / n;
    let sd = (shares.iter().map(|s| (s - mean).powi(2)).sum::<f64>() / (n - 1.0)).sqrt();
    let way = t_quantile(0.975, n - 1.0) * sd / n.sqrt();
    let spans = slow.map(|p| bench.span(Rows { first: p.up.first, end: p.down.end }));
    let estimate = Estimate { value: mean, low: mean - way, high: mean + way, n: shares.len() };
    Some(estimate.over(spans.reduce(crate::measure::Span::join)?, Unit::Fraction))
}
