//! Noise of a reading while it moves, told from the bends between its samples.
use super::robust::{SIGMA_PER_MAD, mad};

/// Noise of codes while they move, quantisation included, counts rms.
///
/// From second differences: √(Σd²/6n) over those within five scaled MADs.
///
/// The second difference of smooth motion is small against noise; of white noise it has six times
/// the variance. 0 without samples.
pub fn moving_noise<'a>(columns: impl Iterator<Item = &'a [i32]>) -> f64 {
    let bends: Vec<f64> =
        columns.flat_map(|c| c.windows(3).map(|w| f64::from(w[0] - 2 * w[1] + w[2]))).collect();
    if bends.is_empty() {
        return 0.0;
    }
    let limit = 5.0 * SIGMA_PER_MAD * mad(&bends) + 2.0;
    let (sum, n) = bends
        .iter()
        .filter(|d| d.abs() <= limit)
        .fold((0.0, 0.0), |(sum, n), d| (sum + d * d, n + 1.0));
    (sum / (6.0 * f64::max(n, 1.0))).sqrt()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn noise_of_alternating_codes_by_hand() {
        // Second differences of 0 1 0 1 …: ±2, so √(4/6).
        let codes: Vec<i32> = (0..100).map(|k| k % 2).collect();
        assert!((moving_noise([&codes[..]].into_iter()) - (4.0f64 / 6.0).sqrt()).abs() < 1e-12);
        assert_eq!(moving_noise(std::iter::empty()), 0.0);
    }
}
