//! Hysteresis and repeatability of rests: what the direction of the push before leaves behind.
use super::{Rested, too_few};
use crate::measure::distribution::{chi2_quantile, t_quantile};
use crate::measure::{Estimate, Measured};

/// A push counts for a side of an axis when it lies within this angle of it, degrees.
const SIDE_DEG: f64 = 50.0;

/// Releases needed on each side of an axis.
const SIDE_MIN: usize = 2;

/// Hysteresis of one axis.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Hysteresis {
    /// |mean after + − mean after −|, counts; never negative. n = releases of both sides.
    pub size: Estimate,
    /// The same with its sign: positive = the stick stays out on the side that it came from.
    pub signed: Estimate,
}

/// Hysteresis of x and y: |mean after + − mean after −|, counts.
///
/// A release counts for the + side of an axis when its push lies within 50° of that direction (with
/// eight directions the straight one and both diagonals), likewise for −. Standard error
/// s·√(1/n₊ + 1/n₋), which is s√(2/n_side) for equal sides, s pooled within the sides; interval with
/// t of n₊ + n₋ − 2 degrees of freedom. By hand: rests 520 and 522 after pushes to +x, 515 and 517 after
/// −x differ by 521 − 516 = 5; s² = (2 + 2)/2, the error √2·√(1/2 + 1/2) = 1.414 and the interval
/// 5 ± 4.303·1.414, which holds 0. Needs two releases on each side.
/// Source: hysteresis as the difference of up and down readings at one input, ISA-51.1.
pub fn hysteresis(rests: &[Rested]) -> [Measured<Hysteresis>; 2] {
    [0, 1].map(|axis| {
        let toward = |deg: f64| side(rests, axis, 90.0 * axis as f64 + deg);
        difference(&toward(0.0), &toward(180.0))
    })
}

/// Rests of one axis after pushes within 50° of a direction.
fn side(rests: &[Rested], axis: usize, toward_deg: f64) -> Vec<f64> {
    let near = |r: &&Rested| {
        let off = (r.from_deg - toward_deg + 180.0).rem_euclid(360.0) - 180.0;
        off.abs() <= SIDE_DEG
    };
    rests.iter().filter(near).map(|r| r.at[axis]).collect()
}

fn difference(plus: &[f64], minus: &[f64]) -> Measured<Hysteresis> {
    let (n_plus, n_minus) = (plus.len(), minus.len());
    if n_plus.min(n_minus) < SIDE_MIN {
        return Err(too_few(2 * n_plus.min(n_minus), 2 * SIDE_MIN));
    }
    let (a, b) = (squares(plus), squares(minus));
    let nu = (n_plus + n_minus - 2) as f64;
    let s = ((a.1 + b.1) / nu).sqrt();
    let error = s * (1.0 / n_plus as f64 + 1.0 / n_minus as f64).sqrt();
    let value = a.0 - b.0;
    let half = t_quantile(0.975, nu) * error;
    let n = n_plus + n_minus;
    let signed = Estimate { value, low: value - half, high: value + half, n };
    let size = Estimate {
        value: value.abs(),
        low: (value.abs() - half).max(0.0),
        high: value.abs() + half,
        n,
    };
    Ok(Hysteresis { size, signed })
}

/// Mean and sum of squares about it.
fn squares(values: &[f64]) -> (f64, f64) {
    let mean = values.iter().sum::<f64>() / values.len() as f64;
    (mean, values.iter().map(|v| (v - mean).powi(2)).sum())
}

/// Repeatability: SD per axis of rests after pushes of the same direction, counts. n = releases.
///
/// Releases are grouped by the nearest of eight directions; squares about each group's own mean,
/// both axes together, over twice (releases − groups). Interval: χ². Needs two releases in at least
/// two directions.
pub fn within_direction_sd(rests: &[Rested]) -> Measured<Estimate> {
    let mut groups: [Vec<[f64; 2]>; 8] = Default::default();
    for rest in rests {
        let sector = (rest.from_deg / 45.0).round().rem_euclid(8.0) as usize % 8;
        groups[sector].push(rest.at);
    }
    let full: Vec<&Vec<[f64; 2]>> = groups.iter().filter(|g| g.len() >= 2).collect();
    if full.len() < 2 {
        return Err(too_few(rests.len(), 16));
    }
    let free: usize = full.iter().map(|g| g.len() - 1).sum();
    let axis = |g: &[[f64; 2]], i: usize| squares(&g.iter().map(|p| p[i]).collect::<Vec<_>>()).1;
    let sum: f64 = full.iter().map(|g| axis(g, 0) + axis(g, 1)).sum();
    let nu = 2.0 * free as f64;
    let value = (sum / nu).sqrt();
    let limit = |p: f64| value * (nu / chi2_quantile(p, nu)).sqrt();
    let n = full.iter().map(|g| g.len()).sum();
    Ok(Estimate { value, low: limit(0.975), high: limit(0.025), n })
}

#[cfg(test)]
mod tests {
    use super::super::draws::releases;
    use super::*;

    fn rest(x: f64, from_deg: f64) -> Rested {
        Rested { at: [x, 0.0], from_deg }
    }

    #[test]
    fn two_sides_by_hand() {
        // Means 4 and 1, squares 2 and 2, ν = 2, s = √2, error √2: t(0.975, 2) = 4.3027.
        let rests = [rest(3.0, 0.0), rest(5.0, 45.0), rest(0.0, 180.0), rest(2.0, -135.0)];
        let [x, y] = hysteresis(&rests);
        let x = x.expect("two a side");
        assert_eq!((x.signed.value, x.size.value, x.size.n), (3.0, 3.0, 4));
        assert!((x.signed.high - 3.0 - 4.302_652_73 * 2.0f64.sqrt()).abs() < 1e-6);
        assert_eq!(x.size.low, 0.0);
        assert_eq!(y.expect_err("one a side").have, 2);
    }

    #[test]
    fn the_interval_holds_the_truth_with_and_without_hysteresis() {
        // Pulled 6 counts toward the side: (1 + √½·2)/3 · 6 · 2 between the sides of an axis.
        for pull in [0.0, 6.0] {
            let truth = 2.0 * pull * (1.0 + 2.0f64.sqrt()) / 3.0;
            let held = (0..1000).filter(|&seed| {
                let [x, _] = hysteresis(&releases(16, 2.5, pull, seed));
                let h = x.expect("six a side").size;
                h.low <= truth && h.high >= truth
            });
            let share = held.count() as f64 / 1000.0;
            assert!((0.93..=0.985).contains(&share), "{pull}: {share}");
        }
    }

    #[test]
    fn repeatability_ignores_what_the_direction_does() {
        let sd = within_direction_sd(&releases(24, 2.0, 30.0, 3)).expect("three a direction");
        assert!(sd.low < 2.0 && sd.high > 2.0, "{sd:?}");
        assert!(within_direction_sd(&releases(8, 2.0, 0.0, 3)).is_err());
    }
}
