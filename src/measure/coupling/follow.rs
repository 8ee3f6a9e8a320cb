//! Does an input that nobody touches follow another one: its neighbour in the scan, a trigger?
use std::ops::Range;

use crate::measure::distribution::normal_quantile;
use crate::measure::{Estimate, Measured, Shortage};

/// Rows averaged together.
const BLOCK: usize = 8;

/// Fewest blocks.
const BLOCKS_MIN: usize = 30;

/// How an untouched input follows a moving one.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Follow {
    /// Counts of the follower a count of the leader. n = blocks.
    pub share: Estimate,
    /// Correlation of the two, −1 to 1; interval by Fisher's z on the independent blocks.
    pub correlation: Estimate,
}

/// Share of a leader's motion that shows on a follower.
///
/// `rows` are stretches in which only the leader is moved (for cross-talk of the multiplexer the
/// channel scanned before; the reverse then shows nothing). Means of eight rows are compared about
/// each stretch's own mean. Slow motion makes blocks alike: their number counts as
/// m(1 − ρ₁ρ₂)/(1 + ρ₁ρ₂), ρ being the lag-one autocorrelations. Share = Σfl/Σl² over the blocks: a
/// follower that goes up by 6 counts whenever the leader goes up by 100 has 0.06. Needs 30 blocks and a leader that
/// moves by more than two counts rms. Cost: linear in the rows.
/// Source: effective number of a correlated pair, Bartlett 1935; Fisher's z.
pub fn follow(follower: &[i32], leader: &[i32], rows: &[Range<usize>]) -> Measured<Follow> {
    let mut pairs: Vec<[f64; 2]> = Vec::new();
    for stretch in rows {
        let (Some(f), Some(l)) = (follower.get(stretch.clone()), leader.get(stretch.clone()))
        else {
            continue;
        };
        let own: Vec<[f64; 2]> = f
            .chunks_exact(BLOCK)
            .zip(l.chunks_exact(BLOCK))
            .map(|(f, l)| [mean(f), mean(l)])
            .collect();
        let n = own.len() as f64;
        let middle = [0, 1].map(|i| own.iter().map(|p| p[i]).sum::<f64>() / n);
        pairs.extend(own.iter().map(|p| [p[0] - middle[0], p[1] - middle[1]]));
    }
    let m = pairs.len();
    let sum = |i: usize, j: usize| pairs.iter().map(|p| p[i] * p[j]).sum::<f64>();
    let (sff, sfl, sll) = (sum(0, 0), sum(0, 1), sum(1, 1));
    if m < BLOCKS_MIN || sll <= 4.0 * m as f64 {
        return Err(Shortage {
            what: "stretches in which only the other input moves".to_owned(),
            have: if sll > 0.0 { m } else { 0 },
            need: BLOCKS_MIN.max(m + 1),
            advice: "move the other control from end to end while this one is left alone"
                .to_owned(),
        });
    }
    let lagged = |i: usize, all: f64| {
        let next = pairs.windows(2).map(|p| p[0][i] * p[1][i]).sum::<f64>();
        if all > 0.0 { (next / all).clamp(-0.99, 0.99) } else { 0.0 }
    };
    let together = (lagged(0, sff) * lagged(1, sll)).max(0.0);
    let independent = (m as f64 * (1.0 - together) / (1.0 + together)).max(5.0);
    let r = if sff > 0.0 { (sfl / (sff * sll).sqrt()).clamp(-1.0, 1.0) } else { 0.0 };
    let z = normal_quantile(0.975);
    let half = z / (independent - 3.0).max(1.0).sqrt();
    let fisher = r.clamp(-0.999_999, 0.999_999).atanh();
    let value = sfl / sll;
    let rest = (sff - value * sfl).max(0.0);
    let error = (rest / (independent - 2.0).max(1.0) / sll).sqrt();
    Ok(Follow {
        share: Estimate { value, low: value - z * error, high: value + z * error, n: m },
        correlation: Estimate {
            value: r,
            low: (fisher - half).tanh().min(r),
            high: (fisher + half).tanh().max(r),
            n: m,
        },
    })
}

fn mean(codes: &[i32]) -> f64 {
    codes.iter().map(|&c| f64::from(c)).sum::<f64>() / codes.len() as f64
}

#[cfg(test)]
mod tests {
    use rand::SeedableRng;
    use rand_chacha::ChaCha8Rng;
    use rand_distr::{Distribution, Normal};

    use super::*;

    fn columns(share: f64, seed: u64) -> [Vec<i32>; 2] {
        let mut rng = ChaCha8Rng::seed_from_u64(seed);
        let noise = Normal::new(0.0, 0.7).expect("finite");
        let leader: Vec<i32> = (0..2500)
            .map(|k| (512.0 + 400.0 * (f64::from(k) * 0.01).sin() + noise.sample(&mut rng)) as i32)
            .collect();
        let follower = leader
            .iter()
            .map(|&l| (503.4 + share * f64::from(l - 512) + noise.sample(&mut rng)).round() as i32)
            .collect();
        [follower, leader]
    }

    #[test]
    fn cross_talk_is_a_share_and_goes_one_way() {
        let [follower, leader] = columns(0.06, 1);
        let f = follow(&follower, &leader, &[0..1000, 1200..2500]).expect("moving");
        assert!((f.share.value - 0.06).abs() < 0.002, "{f:?}");
        assert!(f.share.low > 0.05 && f.correlation.low > 0.9, "{f:?}");
        assert!(follow(&leader, &[503; 2500], &[0..1000, 1200..2500]).is_err());
    }

    #[test]
    fn an_input_that_does_not_follow_has_zero_in_its_interval() {
        let held = (0..300).filter(|&seed| {
            let [follower, leader] = columns(0.0, seed);
            let f = follow(&follower, &leader, &[0..2500, 0..0]).expect("moving");
            f.share.low <= 0.0 && f.share.high >= 0.0 && f.correlation.low <= 0.0
        });
        let share = held.count() as f64 / 300.0;
        assert!(share > 0.9, "{share}");
    }
}
