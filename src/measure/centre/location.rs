//! The centre of a set of rests: Hodges–Lehmann estimate with its distribution-free interval.
use super::{Rested, too_few};
use crate::measure::distribution::{normal_quantile, t_quantile};
use crate::measure::moments::{mean, sd};
use crate::measure::{Estimate, Measured};

/// Fewest releases for a centre.
pub const RELEASES_MIN: usize = 4;

/// Above this many values the signed-rank law is taken as normal.
const EXACT_MAX: usize = 60;

/// Centre of a stick, counts. n = releases.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Centre {
    /// Horizontal axis.
    pub x: Estimate,
    /// Vertical axis.
    pub y: Estimate,
}

impl Centre {
    /// The best values.
    pub fn at(&self) -> [f64; 2] {
        [self.x.value, self.y.value]
    }
}

/// Centre from the rests of at least four releases: [`location`] of each axis.
pub fn centre(rests: &[Rested]) -> Measured<Centre> {
    let axis = |i: usize| {
        let values: Vec<f64> = rests.iter().map(|r| r.at[i]).collect();
        location(&values).ok_or_else(|| too_few(rests.len(), RELEASES_MIN))
    };
    Ok(Centre { x: axis(0)?, y: axis(1)? })
}

/// Centre of symmetric values: the median of all pairwise means (Hodges–Lehmann).
///
/// Values may be off by any amount in up to 29 % of the cases without carrying the estimate away;
/// for normal values it is 95 % as good as the mean. The interval runs between the pairwise means
/// that the signed-rank law names (distribution-free for symmetric values); with four or five
/// values, where no such pair reaches 95 %, it is ± t·s/√n. Unit of the values; finite values only.
/// `None` below four. Cost: O(n² log n) up to 200 values, beyond that some 250 passes over them and a sort:
/// whoever lets go for an hour has thousands.
/// Source: Hodges & Lehmann 1963; Hollander & Wolfe, Nonparametric Statistical Methods, ch. 3.
pub fn location(values: &[f64]) -> Option<Estimate> {
    let n = values.len();
    if n < RELEASES_MIN {
        return None;
    }
    let means = Means::of(values);
    let m = n * (n + 1) / 2;
    let value = 0.5 * (means.at((m - 1) / 2) + means.at(m / 2));
    let (low, high) = match signed_rank_limit(n) {
        Some(k) => (means.at(k), means.at(m - 1 - k)),
        None => {
            let half = t_quantile(0.975, (n - 1) as f64) * sd(values) / (n as f64).sqrt();
            let middle = mean(values);
            (middle - half, middle + half)
        }
    };
    Some(Estimate { value, low: low.min(value), high: high.max(value), n })
}

/// The means of all pairs, each value with itself too, by their rank.
enum Means {
    /// All of them in order.
    Listed(Vec<f64>),
    /// The values in order: means are counted, not listed.
    Counted(Vec<f64>),
}

/// Above this many values their pairwise means are no longer listed: 20 100 of them.
const LISTED_MAX: usize = 200;

impl Means {
    fn of(values: &[f64]) -> Self {
        let mut sorted = values.to_vec();
        sorted.sort_unstable_by(f64::total_cmp);
        if sorted.len() > LISTED_MAX {
            return Self::Counted(sorted);
        }
        let pairs = |(k, a): (usize, &f64)| {
            let a = *a;
            sorted[k..].iter().map(move |b| 0.5 * (a + b)).collect::<Vec<_>>()
        };
        let mut means: Vec<f64> = sorted.iter().enumerate().flat_map(pairs).collect();
        means.sort_unstable_by(f64::total_cmp);
        Self::Listed(means)
    }

    /// The mean of a rank, 0 = the least.
    ///
    /// Counted: the interval that holds it is halved until nothing lies between its ends.
    fn at(&self, rank: usize) -> f64 {
        let sorted = match self {
            Self::Listed(means) => return means[rank],
            Self::Counted(sorted) => sorted,
        };
        let (mut low, mut high) = (sorted[0], sorted[sorted.len() - 1]);
        if up_to(sorted, low) > rank {
            return low;
        }
        loop {
            let middle = 0.5 * (low + high);
            if middle <= low || middle >= high {
                return high;
            }
            if up_to(sorted, middle) > rank { high = middle } else { low = middle }
        }
    }
}

/// How many pairwise means of sorted values are no greater than a limit: one walk from both ends.
fn up_to(sorted: &[f64], limit: f64) -> usize {
    let mut end = sorted.len();
    let mut count = 0;
    for (k, a) in sorted.iter().enumerate() {
        while end > k && 0.5 * (a + sorted[end - 1]) > limit {
            end -= 1;
        }
        if end <= k {
            break;
        }
        count += end - k;
    }
    count
}

/// How many pairwise means lie outside the 95 % interval at each end; `None` where it cannot reach.
///
/// One more than the largest c with P(T⁺ ≤ c) ≤ 2.5 %, T⁺ being the sum of a random subset of 1…n.
fn signed_rank_limit(n: usize) -> Option<usize> {
    let most = n * (n + 1) / 2;
    if n > EXACT_MAX {
        let (mean, var) = (most as f64 / 2.0, (most * (2 * n + 1)) as f64 / 12.0);
        return Some((mean + normal_quantile(0.025) * var.sqrt()) as usize);
    }
    let mut law = vec![0.0; most + 1];
    law[0] = 0.5f64.powi(n as i32);
    for rank in 1..=n {
        for sum in (rank..=most).rev() {
            law[sum] += law[sum - rank];
        }
    }
    let mut below = 0.0;
    let outside = law.iter().take_while(|&&p| {
        below += p;
        below <= 0.025
    });
    Some(outside.count()).filter(|&count| count > 0)
}

#[cfg(test)]
mod tests {
    use super::super::draws::releases;
    use super::*;

    #[test]
    fn limits_of_the_signed_rank_law() {
        // Published two-sided 5 % critical values of the signed-rank test: 0, 8, 29, 52 for
        // n = 6, 10, 16, 20; one more pairwise mean is left out.
        assert_eq!([6, 10, 16, 20].map(signed_rank_limit), [Some(1), Some(9), Some(30), Some(53)]);
        assert_eq!([4, 5].map(signed_rank_limit), [None, None]);
    }

    #[test]
    fn exact_and_normal_law_meet() {
        let exact = signed_rank_limit(60).expect("sixty");
        let n = 60.0f64;
        let normal = n * (n + 1.0) / 4.0 - 1.96 * (n * (n + 1.0) * (2.0 * n + 1.0) / 24.0).sqrt();
        assert!((exact as f64 - normal).abs() < 3.0, "{exact} {normal}");
    }

    #[test]
    fn pairwise_means_by_hand() {
        // 1, 2, 4, 10: means 1 1.5 2 2.5 3 4 5.5 6 7 10, median 3.5.
        assert_eq!(location(&[4.0, 1.0, 10.0, 2.0]).expect("four").value, 3.5);
        assert_eq!(location(&[1.0, 2.0, 3.0]), None);
    }

    #[test]
    fn counted_means_are_the_listed_ones() {
        let values: Vec<f64> =
            (0..90).map(|k| f64::from(k * k % 37) + 0.1 * f64::from(k)).collect();
        let listed = Means::of(&values);
        let mut sorted = values.clone();
        sorted.sort_unstable_by(f64::total_cmp);
        let counted = Means::Counted(sorted);
        for rank in (0..90 * 91 / 2).step_by(7).chain([90 * 91 / 2 - 1]) {
            assert_eq!(listed.at(rank), counted.at(rank), "{rank}");
        }
        assert!(matches!(Means::of(&vec![1.0; 201]), Means::Counted(_)));
        assert_eq!(
            location(&vec![1.0; 5_000]).map(|e| (e.value, e.low, e.high)),
            Some((1.0, 1.0, 1.0))
        );
    }

    #[test]
    fn one_bad_release_moves_the_centre_by_less_than_its_interval() {
        for seed in 0..50 {
            let mut rests = releases(16, 2.5, 0.0, seed);
            let clean = centre(&rests).expect("sixteen");
            rests[3].at = [700.0, 350.0];
            let spoilt = centre(&rests).expect("sixteen");
            for (a, b) in [(clean.x, spoilt.x), (clean.y, spoilt.y)] {
                assert!((a.value - b.value).abs() < 1.0, "{a:?} {b:?}");
                assert!(b.value >= a.low && b.value <= a.high, "{a:?} {b:?}");
            }
        }
    }

    #[test]
    fn the_interval_holds_the_truth_in_95_per_cent_of_draws() {
        let held = (0..1000).filter(|&seed| {
            let c = centre(&releases(16, 2.5, 0.0, seed)).expect("sixteen");
            c.x.low <= 518.0 && c.x.high >= 518.0
        });
        let share = held.count() as f64 / 1000.0;
        assert!((0.93..=0.97).contains(&share), "{share}");
    }
}
