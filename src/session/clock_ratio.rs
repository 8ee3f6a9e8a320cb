//! Board clock against host clock, from the reads that waited least.

/// Shortest span that is worth a ratio, µs.
const LEAST_US: u64 = 2_000_000;

/// Departure of the board's clock from the host's, ppm: positive when the board's runs fast.
///
/// The delay host − board of each row is the true offset plus a wait that is never negative, so
/// its lower convex hull holds the reads that waited least; the hull's edge over the mean board
/// time has the slope s of host against board minus one, and the result is (1/(1+s) − 1)·10⁶.
/// Times in µs, `t_us` never decreasing, one host time a row. `None` with fewer than 10 rows or
/// less than 2 s. Cost: linear. Source: S. Moon, P. Skelly, D. Towsley, "Estimation and removal of
/// clock skew from network delay measurements", INFOCOM 1999 (the hull form of its linear
/// programme).
pub(super) fn ppm(t_us: &[u64], host_us: &[u64]) -> Option<f64> {
    let (first, last) = (*t_us.first()?, *t_us.last()?);
    if t_us.len() != host_us.len() || t_us.len() < 10 || last - first < LEAST_US {
        return None;
    }
    let host_first = *host_us.first()?;
    let mut hull: Vec<(f64, f64)> = Vec::new();
    let mut sum = 0.0;
    for (&t, &host) in t_us.iter().zip(host_us) {
        let x = (t - first) as f64;
        let y = host as f64 - host_first as f64 - x;
        sum += x;
        if let Some(same) = hull.last_mut().filter(|p| p.0 == x) {
            same.1 = same.1.min(y);
            continue;
        }
        while let [.., a, b] = hull[..]
            && (b.0 - a.0) * (y - a.1) <= (b.1 - a.1) * (x - a.0)
        {
            hull.pop();
        }
        hull.push((x, y));
    }
    let mean = sum / t_us.len() as f64;
    let edge = hull.windows(2).find(|w| w[0].0 <= mean && mean <= w[1].0)?;
    let slope = (edge[1].1 - edge[0].1) / (edge[1].0 - edge[0].0);
    Some((1.0 / (1.0 + slope) - 1.0) * 1e6)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Host times with a skew (host against board) and a queue that is empty at every 7th row.
    fn host(t: &[u64], skew: f64) -> Vec<u64> {
        let wait = |i: usize| if i.is_multiple_of(7) { 0 } else { (i * 7919 % 251) as u64 };
        t.iter().enumerate().map(|(i, t)| *t + 5200 + (*t as f64 * skew) as u64 + wait(i)).collect()
    }

    #[test]
    fn a_slow_board_is_told_from_its_waits() {
        let t: Vec<u64> = (0..6000).map(|i| i * 10_000).collect();
        let found = ppm(&t, &host(&t, 80e-6)).expect("a ratio");
        assert!((found + 80.0).abs() < 0.5, "{found}");
        assert!(ppm(&t, &host(&t, 0.0)).expect("a ratio").abs() < 0.5);
    }

    #[test]
    fn too_little_says_nothing() {
        let t: Vec<u64> = (0..100).map(|i| i * 4000).collect();
        assert_eq!(ppm(&t, &host(&t, 1e-4)), None);
        assert_eq!(ppm(&[], &[]), None);
        assert_eq!(ppm(&t, &[]), None);
    }
}
