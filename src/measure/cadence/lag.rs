//! Skew between two halves of a controller: by how much the readings of one come after the other's.
use crate::measure::distribution::t_quantile;
use crate::measure::moments::{mean, sd};
use crate::measure::{Estimate, Measured, Shortage};

/// Rows compared at a time.
const BLOCK: usize = 1024;

/// Most blocks compared: those with the most motion.
const BLOCKS_MAX: usize = 24;

/// Fewest blocks.
const BLOCKS_MIN: usize = 4;

/// Least correlation of a block in which both halves were surely moved as one.
const TOGETHER: f64 = 0.995;

/// How much later the second column shows the same motion, ms; negative when it is earlier.
///
/// Both columns must have been moved as one, by sticks strapped to a bar or both shoulders tapped:
/// blocks of 1 024 rows, the 24 with the most motion, are compared at every lag up to `most_ms`; a
/// block whose best correlation (of either sign) is below 0.995 was not. Each block's lag is the
/// crest of a parabola through the best and its neighbours. Mean over blocks with t·s/√n, n =
/// blocks; about ±0.3 of the interval between rows is what sampling leaves. Columns of codes and
/// times of one length (µs, the shorter decides). A [`Shortage`] below four such blocks. Cost: one
/// pass, and 24 × 1 024 products a lag.
pub fn lag_ms(first: &[i32], second: &[i32], t_us: &[u64], most_ms: f64) -> Measured<Estimate> {
    let rows = first.len().min(second.len()).min(t_us.len());
    let mut blocks: Vec<(f64, usize)> = (0..rows / BLOCK)
        .map(|b| {
            let motion = |column: &[i32]| spread(&column[b * BLOCK..(b + 1) * BLOCK]);
            (motion(first).min(motion(second)), b * BLOCK)
        })
        .filter(|(motion, _)| *motion > 25.0)
        .collect();
    blocks.sort_by(|a, b| b.0.total_cmp(&a.0));
    blocks.truncate(BLOCKS_MAX);
    let lags: Vec<f64> = blocks
        .into_iter()
        .filter_map(|(_, start)| {
            let us = t_us[start + BLOCK - 1].checked_sub(t_us[start])? as f64;
            let row_ms = 1e-3 * us / (BLOCK - 1) as f64;
            let most = (most_ms / row_ms).ceil().clamp(2.0, BLOCK as f64 / 4.0) as usize;
            let part = start..start + BLOCK;
            Some(row_ms * best_lag(&first[part.clone()], &second[part], most)?)
        })
        .collect();
    let n = lags.len();
    if n < BLOCKS_MIN {
        return Err(Shortage {
            what: "stretches in which both halves move as one".to_owned(),
            have: n,
            need: BLOCKS_MIN,
            advice: "strap both sticks to one bar and move it about for half a minute".to_owned(),
        });
    }
    let half = t_quantile(0.975, (n - 1) as f64) * sd(&lags) / (n as f64).sqrt();
    let value = mean(&lags);
    Ok(Estimate { value, low: value - half, high: value + half, n })
}

/// Variance of codes.
fn spread(codes: &[i32]) -> f64 {
    let (n, first) = (codes.len() as f64, f64::from(codes[0]));
    let (sum, squares) = codes.iter().fold((0.0, 0.0), |(sum, squares), &c| {
        let off = f64::from(c) - first;
        (sum + off, squares + off * off)
    });
    (squares - sum * sum / n) / n
}

/// Lag of the second stretch in rows; `None` where they do not move as one within `most` rows.
fn best_lag(first: &[i32], second: &[i32], most: usize) -> Option<f64> {
    let values: Vec<f64> = (0..=2 * most)
        .map(|k| {
            // Second late by k − most rows: pair first[i] with second[i + lag].
            let (skip_first, skip_second) = (most.saturating_sub(k), k.saturating_sub(most));
            let len = first.len() - 2 * most;
            let from = |column: &'_ [i32], skip: usize| -> Vec<f64> {
                column[skip..][..len + most].iter().map(|&c| f64::from(c)).collect()
            };
            correlation(&from(first, skip_first), &from(second, skip_second))
        })
        .collect();
    let (at, best) = values.iter().enumerate().max_by(|a, b| a.1.abs().total_cmp(&b.1.abs()))?;
    if best.abs() < TOGETHER || at == 0 || at == 2 * most {
        return None;
    }
    let (before, here, after) = (values[at - 1].abs(), best.abs(), values[at + 1].abs());
    let bend = before - 2.0 * here + after;
    let crest = if bend < 0.0 { 0.5 * (before - after) / bend } else { 0.0 };
    Some(at as f64 - most as f64 + crest)
}

/// Correlation of two columns of one length; 0 where one stands still.
fn correlation(a: &[f64], b: &[f64]) -> f64 {
    let (ma, mb) = (mean(a), mean(b));
    let (mut aa, mut bb, mut ab) = (0.0, 0.0, 0.0);
    for (x, y) in a.iter().zip(b) {
        let (x, y) = (x - ma, y - mb);
        (aa, bb, ab) = (aa + x * x, bb + y * y, ab + x * y);
    }
    if aa > 0.0 && bb > 0.0 { ab / (aa * bb).sqrt() } else { 0.0 }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A bar moved about at uneven pace, read at 250 Hz; `late_ms` before the second half is read.
    fn strapped(late_ms: f64, sign: f64) -> [Vec<i32>; 2] {
        let bar = |ms: f64| 300.0 * (ms * 0.004).sin() + 80.0 * (ms * 0.013 + 1.0).sin();
        let column = |shift: f64, sign: f64, seed: i32| {
            (0..12_000)
                .map(|k| {
                    let wobble = f64::from((k * 7919 + seed) % 13) / 13.0 - 0.5;
                    (512.0 + sign * bar(4.0 * f64::from(k) - shift) + wobble).round() as i32
                })
                .collect()
        };
        [column(0.0, 1.0, 1), column(late_ms, sign, 5)]
    }

    #[test]
    fn the_delay_of_a_half_is_found_between_the_rows() {
        let t_us: Vec<u64> = (0..12_000).map(|k| 4000 * k).collect();
        for (late, sign) in [(0.0, 1.0), (3.0, 1.0), (7.5, -1.0), (-6.0, 1.0)] {
            let [a, b] = strapped(late, sign);
            let found = lag_ms(&a, &b, &t_us, 40.0).unwrap();
            assert!((found.value - late).abs() < 0.3, "{late}: {found:?}");
        }
    }

    #[test]
    fn halves_moved_apart_are_a_shortage() {
        let t_us: Vec<u64> = (0..12_000).map(|k| 4000 * k).collect();
        let [a, _] = strapped(0.0, 1.0);
        let other: Vec<i32> = (0..12_000).map(|k| 512 + (k * k / 700) % 300).collect();
        assert!(lag_ms(&a, &other, &t_us, 40.0).is_err());
        assert!(lag_ms(&a, &[512; 12_000], &t_us, 40.0).is_err());
        assert!(lag_ms(&[], &[], &[], 40.0).is_err());
    }
}
