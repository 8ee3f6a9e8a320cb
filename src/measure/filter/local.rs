//! Filters over a few neighbouring samples: moving mean, local polynomial, median, Hampel.
use crate::measure::fit::dense::Normal;
use crate::measure::robust::{SIGMA_PER_MAD, mad, median};

/// Mean of the last n samples.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct MovingMean {
    /// Samples averaged, at least 1.
    pub n: usize,
}

impl MovingMean {
    /// Ratio of rms noise after to before: 1/√n.
    pub fn noise_gain(self) -> f64 {
        1.0 / (self.n as f64).sqrt()
    }

    /// Samples by which the output runs behind a ramp: (n − 1)/2.
    pub fn lag_samples(self) -> f64 {
        0.5 * (self.n as f64 - 1.0)
    }

    /// Share α of the exponential filter with the same noise gain and the same lag: 2/(n + 1).
    pub fn like_one_pole(self) -> f64 {
        2.0 / (self.n as f64 + 1.0)
    }
}

/// Weights of a polynomial fitted to a window of neighbours, read off at its middle.
///
/// `window` samples (odd), a polynomial of degree `order` below `window`, its `derivative`-th
/// derivative in units a sample (0 = the value). By hand, 5 samples and order 2: (−3, 12, 17, 12,
/// −3)/35. `None` for an even window, an order not below the window or above 9, a derivative above
/// the order. Cost: order³ + window·order². Source: Savitzky & Golay 1964, with the corrections of
/// Steinier, Termonia & Deltour 1972.
pub fn polynomial_weights(window: usize, order: usize, derivative: usize) -> Option<Vec<f64>> {
    if window.is_multiple_of(2) || order >= window || order > 9 || derivative > order {
        return None;
    }
    let half = (window / 2) as f64;
    let powers = |k: usize| -> Vec<f64> {
        let x = (k as f64 - half) / half.max(1.0);
        (0..=order).map(|p| x.powi(p as i32)).collect()
    };
    // Each weight is what a unit at that place alone makes of the coefficient.
    let weight = |place: usize| {
        let mut normal = Normal::new(order + 1);
        (0..window).for_each(|k| normal.add(&powers(k), f64::from(u8::from(k == place))));
        let factorial: f64 = (1..=derivative).map(|d| d as f64).product();
        normal.solve()[derivative] * factorial / half.max(1.0).powi(derivative as i32)
    };
    Some((0..window).map(weight).collect())
}

/// Ratio of rms noise after to before for a filter of these weights: √Σw².
pub fn weights_noise_gain(weights: &[f64]) -> f64 {
    weights.iter().map(|w| w * w).sum::<f64>().sqrt()
}

/// Median of each sample and its neighbours within `half` samples, the ends held on.
///
/// Takes out single wild samples at `half` samples of lag in a running filter. Unit of the samples;
/// NaN sorts last. Cost: n·(2·half + 1)·log. By hand, half = 1: 3 1 4 1 5 gives 3 3 1 4 5.
pub fn running_median(values: &[f64], half: usize) -> Vec<f64> {
    let last = values.len().saturating_sub(1);
    let around = |k: usize| -> Vec<f64> {
        (0..=2 * half).map(|j| values[(k + j).saturating_sub(half).min(last)]).collect()
    };
    (0..values.len()).map(|k| median(&around(k))).collect()
}

/// Wild samples and what stands in for them.
///
/// A sample further than `limit` scaled MADs from the median of its window (`half` neighbours a
/// side) is replaced by that median; samples nearer to an end than `half` are left alone. Gives the
/// samples and the places replaced. Windows are those of the samples as they came. Where more than
/// half of a window is equal its MAD is 0 and any other value counts as wild. Source: Hampel 1974;
/// Pearson 2002. Cost: n·(2·half + 1)·log.
pub fn hampel(values: &[f64], half: usize, limit: f64) -> (Vec<f64>, Vec<usize>) {
    let mut kept = values.to_vec();
    let mut wild = Vec::new();
    for (k, window) in values.windows(2 * half + 1).enumerate() {
        let place = k + half;
        let middle = median(window);
        if (values[place] - middle).abs() > limit * SIGMA_PER_MAD * mad(window) {
            kept[place] = middle;
            wild.push(place);
        }
    }
    (kept, wild)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn by_hand() {
        let w = polynomial_weights(5, 2, 0).expect("odd");
        for (got, want) in w.iter().zip([-3.0, 12.0, 17.0, 12.0, -3.0]) {
            assert!((got - want / 35.0).abs() < 1e-14, "{w:?}");
        }
        assert_eq!(running_median(&[3.0, 1.0, 4.0, 1.0, 5.0], 1), [3.0, 3.0, 1.0, 4.0, 5.0]);
        assert_eq!(hampel(&[1.0, 2.0, 90.0, 2.0, 1.0], 2, 3.0).1, [2]);
        let mean = MovingMean { n: 4 };
        assert_eq!((mean.noise_gain(), mean.lag_samples(), mean.like_one_pole()), (0.5, 1.5, 0.4));
    }

    #[test]
    fn impossible_windows_and_short_columns() {
        assert!(polynomial_weights(4, 2, 0).is_none() && polynomial_weights(5, 5, 0).is_none());
        assert!(polynomial_weights(5, 2, 3).is_none() && polynomial_weights(1, 0, 0).is_some());
        assert!(running_median(&[], 3).is_empty());
        assert_eq!(running_median(&[7.0], 3), [7.0]);
        assert_eq!(hampel(&[1.0, 9.0], 2, 3.0), (vec![1.0, 9.0], vec![]));
    }
}
