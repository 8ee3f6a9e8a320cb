//! Ends that every push passes: the far side that several reaches agree on, less a one-sided tolerance.
use super::factors::Factors;
use super::lacking;
use crate::measure::Reading;
use crate::measure::distribution::t_quantile;
use crate::measure::far_side::AGREE_MIN;
use crate::rig::Place;
use crate::survey::{AxisFigures, short};
use crate::trim::Refusal;

/// Least allowance inside the mean reach from three turns on, share of the travel: common practice
/// leaves 2–5 % in all, and most of that comes from the turns' own scatter.
const LEAST_SHARE: f64 = 0.01;

/// Most. Turns that agree lie within 1 % of the travel: an end set 1.15 % inside their mean lies inside all of
/// them. What a factor for three or four of them (7.7, 5.1 times s) asks beyond that is its own uncertainty and no
/// reach that any turn had; where it is cut off the promise is that, and no longer 95 % of the pushes, 95 % sure.
const MOST_SHARE: f64 = 0.0115;

/// Allowance where the turns' scatter says nothing.
const FEW_SHARE: f64 = 0.03;

/// Refuses an end on which fewer than three tries agree: a slip can only shorten, so what two or one
/// of them held may be any way inside the stop.
pub(super) fn seen(place: Place, end: &Reading, what: &str, advice: &str) -> Result<(), Refusal> {
    match end.n < AGREE_MIN {
        true => Err(lacking(place, &short(what, end.n, AGREE_MIN, advice))),
        false => Ok(()),
    }
}

/// Standard deviation behind a mean whose interval is mean ± t·s/√n.
///
/// `None` below three items or when the interval is not finite.
pub(super) fn spread_of(mean: &Reading) -> Option<f64> {
    let half = 0.5 * (mean.high - mean.low);
    if mean.n < 3 || !half.is_finite() {
        return None;
    }
    Some(half * (mean.n as f64).sqrt() / t_quantile(0.975, (mean.n - 1) as f64))
}

/// How far inside its mean an end is set, counts: k₁·s of the tries that agree, which 95 % of the pushes pass,
/// 95 % sure, but at least 1 % and at most 1.15 % of the travel: at most, every try that agreed passes it.
pub(super) fn allowance(end: &Reading, travel: f64, factors: &mut Factors) -> f64 {
    match spread_of(end) {
        Some(s) => {
            let travel = travel.abs();
            (factors.one(end.n, 0.95) * s).max(LEAST_SHARE * travel).min(MOST_SHARE * travel)
        }
        None => FEW_SHARE * travel,
    }
}

/// Noise that the firmware meets at rest, counts RMS: noise, the lines in it and the rounding to
/// whole counts: √(σ² + Σ A²/2 + 1/12).
///
/// Noise too small to read is taken at its bound of 0.3 counts, when a rest was measured at all.
pub(super) fn noise_met(axis: &AxisFigures) -> Option<f64> {
    let noise = match (&axis.noise_rms, &axis.rest) {
        (Ok(noise), _) => noise.value,
        (Err(_), Ok(_)) => 0.3,
        (Err(_), Err(_)) => return None,
    };
    let lines: f64 = axis.lines.iter().map(|l| 0.5 * l.amplitude * l.amplitude).sum();
    Some((noise * noise + lines + 1.0 / 12.0).sqrt())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::measure::{Estimate, Span};
    use crate::units::Unit;

    fn mean_of(values: &[f64]) -> Reading {
        let n = values.len();
        let mean = values.iter().sum::<f64>() / n as f64;
        let var = values.iter().map(|v| (v - mean).powi(2)).sum::<f64>() / (n - 1) as f64;
        let half = t_quantile(0.975, (n - 1) as f64) * (var / n as f64).sqrt();
        Estimate { value: mean, low: mean - half, high: mean + half, n }
            .over(Span::default(), Unit::Counts)
    }

    #[test]
    fn the_spread_comes_back_out_of_the_interval() {
        // 1, 2, 3, 4, 5, 6: variance 3.5.
        let s = spread_of(&mean_of(&[1.0, 2.0, 3.0, 4.0, 5.0, 6.0])).expect("six");
        assert!((s - 3.5f64.sqrt()).abs() < 1e-9);
        assert_eq!(spread_of(&mean_of(&[1.0, 2.0])), None);
    }

    #[test]
    fn the_allowance_follows_the_scatter_and_never_vanishes() {
        // k₁ for 95 % of the pushes, 95 % sure, six turns: 3.708 (NIST e-Handbook 7.2.6.3).
        let expected = 3.708 * (41.0f64 / 30.0).sqrt();
        let inside = |values: &[f64]| allowance(&mean_of(values), 400.0, &mut Factors::default());
        // 900 to 903: a variance of 41/30.
        assert!((inside(&[900.0, 900.0, 901.0, 901.0, 902.0, 903.0]) - expected).abs() < 0.01);
        assert_eq!((inside(&[900.0; 6]), inside(&[900.0; 2])), (4.0, 12.0));
        // Turns that differ more do not agree: no scatter carries the end farther in.
        assert_eq!(inside(&[900.0, 905.0, 910.0, 915.0, 920.0, 925.0]), 4.6);
    }
}
