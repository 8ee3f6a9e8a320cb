//! Does a stick rest in one place, in two, or in a ring ordered by the push before?
use super::Rested;
use super::spread::covariance;

/// Fewest releases to look for clusters.
const RELEASES_MIN: usize = 8;

/// Fewest releases of a cluster.
const CLUSTER_MIN: usize = 3;

/// Gap between the means over the pooled SD within that makes two clusters, for 24 releases or more.
const GAP_SD: f64 = 4.0;

/// The same for fewer releases: at 4.0 one normal set of 16 in 17 would split, at 4.5 one in 60.
const GAP_SD_FEW: f64 = 4.5;

/// Number of releases from which [`GAP_SD`] holds.
const MANY: usize = 24;

/// How the rests lie.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Grouping {
    /// One place.
    One,
    /// Two places: a burr or friction; the centre between them is a place where the stick never
    /// rests.
    Two {
        /// Mean of each cluster, counts (x, y).
        at: [[f64; 2]; 2],
        /// Releases of each.
        sizes: [usize; 2],
        /// Distance of the means along the principal axis over the pooled SD within.
        gap_sd: f64,
    },
    /// On a ring, in the order of the pushes: hysteresis, not clusters.
    Ring {
        /// Mean distance from the centre, counts.
        radius: f64,
        /// Mean resultant length of (direction of rest − direction of push), 0–1.
        order: f64,
    },
}

/// Two-cluster test of the rests about `centre`; `None` below eight releases.
///
/// 2-means along the principal axis: of all splits that leave three releases on each side the one
/// with the least squares within. Two clusters when their means lie at least 4 pooled SD apart (4.5
/// below 24 releases); one round normal set of 16 in 60 is called two, of 24 one in 50 (simulated).
/// A ring is told apart by its order: the direction of the rest from the centre follows that of the
/// push (mean resultant length of the difference ≥ 0.8) and the rests fill at least five of eight
/// sectors. Cost: a sort of the releases.
pub fn grouping(rests: &[Rested], centre: [f64; 2]) -> Option<Grouping> {
    if rests.len() < RELEASES_MIN {
        return None;
    }
    let limit = if rests.len() < MANY { GAP_SD_FEW } else { GAP_SD };
    let Some(split) = best_split(rests).filter(|s| s.gap_sd >= limit) else {
        return Some(Grouping::One);
    };
    let order = order(rests, centre);
    if order >= 0.8 && sectors_filled(rests, centre) >= 5 {
        let radius = rests.iter().map(|r| r.distance(centre)).sum::<f64>() / rests.len() as f64;
        return Some(Grouping::Ring { radius, order });
    }
    let (near, far) = split.sorted.split_at(split.at);
    let mean = |part: &[(f64, [f64; 2])]| {
        [0, 1].map(|i| part.iter().map(|p| p.1[i]).sum::<f64>() / part.len() as f64)
    };
    Some(Grouping::Two {
        at: [mean(near), mean(far)],
        sizes: [near.len(), far.len()],
        gap_sd: split.gap_sd,
    })
}

/// Rests in the order of their place along the principal axis, cut in two.
struct Split {
    sorted: Vec<(f64, [f64; 2])>,
    at: usize,
    gap_sd: f64,
}

fn best_split(rests: &[Rested]) -> Option<Split> {
    let points: Vec<[f64; 2]> = rests.iter().map(|r| r.at).collect();
    let (sin, cos) = covariance(&points)?.principal().angle_deg.to_radians().sin_cos();
    let mut sorted: Vec<(f64, [f64; 2])> =
        points.iter().map(|&p| (p[0] * cos + p[1] * sin, p)).collect();
    sorted.sort_by(|a, b| a.0.total_cmp(&b.0));
    let n = sorted.len();
    // Sums about the middle of all, up to each place: no digits are lost to a centre far from 0.
    let middle = sorted.iter().map(|p| p.0).sum::<f64>() / n as f64;
    let mut sums = vec![(0.0, 0.0)];
    sums.extend(sorted.iter().scan((0.0, 0.0), |sum, p| {
        let way = p.0 - middle;
        *sum = (sum.0 + way, sum.1 + way * way);
        Some(*sum)
    }));
    let all = sums[n];
    let cut = |at: usize| {
        let (low, high) = (sums[at], (all.0 - sums[at].0, all.1 - sums[at].1));
        let (few, others) = (at as f64, (n - at) as f64);
        let within = low.1 - low.0 * low.0 / few + high.1 - high.0 * high.0 / others;
        (within.max(0.0), high.0 / others - low.0 / few, at)
    };
    let (within, gap, at) =
        (CLUSTER_MIN..=n - CLUSTER_MIN).map(cut).min_by(|a, b| a.0.total_cmp(&b.0))?;
    let gap_sd = gap / (within / (n - 2) as f64).sqrt();
    gap_sd.is_finite().then_some(Split { sorted, at, gap_sd })
}

/// Direction of a rest from the centre, radians.
fn bearing(rest: &Rested, centre: [f64; 2]) -> f64 {
    (rest.at[1] - centre[1]).atan2(rest.at[0] - centre[0])
}

/// Mean resultant length of bearing − push.
fn order(rests: &[Rested], centre: [f64; 2]) -> f64 {
    let sum = rests.iter().fold([0.0, 0.0], |sum, r| {
        let (sin, cos) = (bearing(r, centre) - r.from_deg.to_radians()).sin_cos();
        [sum[0] + cos, sum[1] + sin]
    });
    sum[0].hypot(sum[1]) / rests.len() as f64
}

/// Of eight sectors round the centre, those that hold a rest.
fn sectors_filled(rests: &[Rested], centre: [f64; 2]) -> usize {
    let mut filled = [false; 8];
    for rest in rests {
        let eighth = (bearing(rest, centre) / std::f64::consts::FRAC_PI_4).round();
        filled[eighth.rem_euclid(8.0) as usize % 8] = true;
    }
    filled.iter().filter(|&&f| f).count()
}

#[cfg(test)]
mod tests {
    use super::super::draws::releases;
    use super::*;

    const CENTRE: [f64; 2] = [518.0, 503.0];

    #[test]
    fn round_sets_are_one_place() {
        let split = (0..500)
            .filter(|&seed| grouping(&releases(16, 2.5, 0.0, seed), CENTRE) != Some(Grouping::One))
            .count();
        assert!(split <= 20, "{split} of 500");
    }

    #[test]
    fn a_ring_in_the_order_of_the_pushes_is_hysteresis() {
        let mut rings = 0;
        for seed in 0..50 {
            match grouping(&releases(24, 0.5, 20.0, seed), CENTRE) {
                Some(Grouping::Ring { radius, order }) => {
                    rings += 1;
                    assert!((radius - 20.0).abs() < 1.0 && order > 0.95);
                }
                other => assert_eq!(other, Some(Grouping::One)),
            }
        }
        assert!(rings > 5, "{rings}");
    }

    #[test]
    fn two_places_are_found_whatever_the_push() {
        for seed in 0..50 {
            let mut rests = releases(16, 2.5, 0.0, seed);
            for (k, rest) in rests.iter_mut().enumerate() {
                rest.at[0] += if k % 2 == 0 { 28.0 } else { -28.0 };
            }
            match grouping(&rests, CENTRE) {
                Some(Grouping::Two { at, sizes, gap_sd }) => {
                    assert_eq!(sizes, [8, 8]);
                    assert!((at[1][0] - at[0][0] - 56.0).abs() < 6.0 && gap_sd > 10.0);
                }
                other => panic!("{other:?}"),
            }
        }
    }

    #[test]
    fn two_stray_rests_are_no_cluster() {
        let mut rests = releases(16, 2.5, 0.0, 1);
        rests[0].at[0] += 60.0;
        rests[1].at[0] += 60.0;
        assert_eq!(grouping(&rests, CENTRE), Some(Grouping::One));
        assert_eq!(grouping(&rests[..7], CENTRE), None);
    }
}
