//! Channels that move together at rest: by the reference, or by the ground?
use crate::measure::{Estimate, Measured, Shortage};

/// Rows averaged together.
const BLOCK: usize = 4;

/// Fewest blocks.
const BLOCKS_MIN: usize = 50;

/// What moves all channels.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum CommonCause {
    /// In proportion to each reading: the reference or the supply of the sensors.
    Reference,
    /// By the same counts whatever the reading: a current in the ground of the sensors.
    Ground,
    /// The channels rest at readings too much alike, or the motion is too small, to tell.
    Undecided,
}

/// Motion that channels of one converter share.
#[derive(Clone, Debug, PartialEq)]
pub struct CommonMode {
    /// Mean correlation of the pairs; interval from the number of blocks. n = blocks.
    pub correlation: Estimate,
    /// RMS of the shared motion in the middle of the channels' readings, counts.
    pub rms: f64,
    /// Counts of each channel a count of the shared motion, in the order given.
    pub shares: Vec<f64>,
    /// What it looks like.
    pub cause: CommonCause,
}

/// Shared motion of channels of one converter at rest.
///
/// `channels`: columns of one stretch at rest, of one length, codes. Means of four rows, each column
/// about its own line in time. The correlation is the mean over pairs. Each channel's share is its
/// part in one motion common to all, from its covariance with the sum of the others; two models are compared: share
/// in proportion to the reading, share the same. The better is named when its squares are less than
/// a quarter of the other's and the correlation exceeds 0.3. Needs three channels and 50 blocks.
/// Cost: linear in rows times channels. Source: own derivation; reference noise is zero at zero
/// counts, a ground shift is not (common practice).
pub fn common_mode(channels: &[&[i32]]) -> Measured<CommonMode> {
    let rows = channels.iter().map(|c| c.len()).min().unwrap_or(0);
    let blocks = rows / BLOCK;
    if channels.len() < 3 || blocks < BLOCKS_MIN {
        return Err(Shortage {
            what: "rows at rest of three channels or more".to_owned(),
            have: if channels.len() < 3 { 0 } else { rows },
            need: BLOCK * BLOCKS_MIN,
            advice: "leave the controller alone for a few seconds".to_owned(),
        });
    }
    let columns: Vec<Vec<f64>> = channels.iter().map(|c| straightened(c, blocks)).collect();
    let product = |a: usize, b: usize| -> f64 {
        columns[a].iter().zip(&columns[b]).map(|(x, y)| x * y).sum::<f64>() / blocks as f64
    };
    let m = columns.len();
    let (mut pairs, mut sum) = (0.0, 0.0);
    let mut with_others = vec![0.0; m];
    for (a, with_all) in with_others.iter_mut().enumerate() {
        for b in 0..m {
            let shared = product(a, b);
            let size = (product(a, a) * product(b, b)).sqrt();
            if a != b {
                *with_all += shared;
                pairs += 1.0;
                sum += if size > 0.0 { shared / size } else { 0.0 };
            }
        }
    }
    let r = sum / pairs;
    let half = 1.96 / (blocks as f64).sqrt();
    let mean = with_others.iter().sum::<f64>() / m as f64;
    let shares = shares(&with_others);
    let levels: Vec<f64> = channels
        .iter()
        .map(|c| c.iter().map(|&x| f64::from(x)).sum::<f64>() / c.len() as f64)
        .collect();
    let rms = (mean / (m as f64 - 1.0)).max(0.0).sqrt();
    let cause = if r > 0.3 { cause(&shares, &levels) } else { CommonCause::Undecided };
    let correlation =
        Estimate { value: r, low: (r - half).max(-1.0), high: (r + half).min(1.0), n: blocks };
    Ok(CommonMode { correlation, rms, shares, cause })
}

/// Each channel's part in one shared motion, mean 1, from its covariance with the sum of the others.
///
/// With parts p the covariance of channel i with the others is p_i·(Σp − p_i): solved by damped
/// iteration, which settles to better than 10⁻⁶ in forty steps for parts within a factor of ten.
fn shares(with_others: &[f64]) -> Vec<f64> {
    let m = with_others.len() as f64;
    let mean = with_others.iter().sum::<f64>() / m;
    if mean <= 0.0 {
        return vec![0.0; with_others.len()];
    }
    let mut parts: Vec<f64> = with_others.iter().map(|w| (w.max(0.0) / (m - 1.0)).sqrt()).collect();
    for _ in 0..40 {
        let sum: f64 = parts.iter().sum();
        for (part, w) in parts.iter_mut().zip(with_others) {
            let others = (sum - *part).max(1e-12);
            *part = 0.5 * (*part + w.max(0.0) / others);
        }
    }
    let typical = parts.iter().sum::<f64>() / m;
    parts.iter().map(|p| if typical > 0.0 { p / typical } else { 0.0 }).collect()
}

/// Means of blocks about their line in time.
fn straightened(codes: &[i32], blocks: usize) -> Vec<f64> {
    let means: Vec<f64> = codes
        .chunks_exact(BLOCK)
        .take(blocks)
        .map(|b| b.iter().map(|&c| f64::from(c)).sum::<f64>() / BLOCK as f64)
        .collect();
    let n = means.len() as f64;
    let (middle, mean) = (0.5 * (n - 1.0), means.iter().sum::<f64>() / n);
    let squares: f64 = (0..means.len()).map(|k| (k as f64 - middle).powi(2)).sum();
    let slope =
        means.iter().enumerate().map(|(k, m)| (k as f64 - middle) * m).sum::<f64>() / squares;
    means.iter().enumerate().map(|(k, m)| m - mean - slope * (k as f64 - middle)).collect()
}

/// Compares share ∝ level with share = 1.
fn cause(shares: &[f64], levels: &[f64]) -> CommonCause {
    let along: f64 = shares.iter().zip(levels).map(|(s, l)| s * l).sum();
    let square: f64 = levels.iter().map(|l| l * l).sum();
    let slope = along / square;
    let by_reading: f64 = shares.iter().zip(levels).map(|(s, l)| (s - slope * l).powi(2)).sum();
    let alike: f64 = shares.iter().map(|s| (s - 1.0).powi(2)).sum();
    if by_reading < 0.25 * alike {
        CommonCause::Reference
    } else if alike < 0.25 * by_reading {
        CommonCause::Ground
    } else {
        CommonCause::Undecided
    }
}

#[cfg(test)]
mod tests {
    use rand::SeedableRng;
    use rand_chacha::ChaCha8Rng;
    use rand_distr::{Distribution, Normal};

    use super::*;

    /// Four channels at 60, 500, 520 and 900 counts for 8 s at 250 Hz.
    fn channels(shared: impl Fn(f64) -> f64, sigma: f64, seed: u64) -> Vec<Vec<i32>> {
        let mut rng = ChaCha8Rng::seed_from_u64(seed);
        let own = Normal::new(0.0, 0.5).expect("finite");
        let common = Normal::new(0.0, sigma).expect("finite");
        let mut slow = 0.0;
        let mut columns = vec![Vec::new(); 4];
        for _ in 0..2000 {
            slow = 0.9 * slow + common.sample(&mut rng);
            for (column, level) in columns.iter_mut().zip([60.0, 500.0, 520.0, 900.0]) {
                let code: f64 = level + shared(level) * slow + own.sample(&mut rng);
                column.push(code.round() as i32);
            }
        }
        columns
    }

    fn measured(columns: &[Vec<i32>]) -> CommonMode {
        let refs: Vec<&[i32]> = columns.iter().map(Vec::as_slice).collect();
        common_mode(&refs).expect("four channels")
    }

    #[test]
    fn a_reference_moves_readings_in_proportion_and_a_ground_alike() {
        for seed in 0..10 {
            let reference = measured(&channels(|level| level / 500.0, 1.0, seed));
            assert_eq!(reference.cause, CommonCause::Reference, "{reference:?}");
            let ground = measured(&channels(|_| 1.0, 1.0, seed));
            assert_eq!(ground.cause, CommonCause::Ground, "{ground:?}");
            assert!(ground.correlation.value > 0.8, "{ground:?}");
        }
    }

    #[test]
    fn independent_channels_share_nothing() {
        let f = measured(&channels(|_| 0.0, 1.0, 3));
        assert!(f.correlation.value.abs() < 0.1 && f.cause == CommonCause::Undecided, "{f:?}");
        assert!(common_mode(&[&[1; 400], &[2; 400]]).is_err());
    }
}
