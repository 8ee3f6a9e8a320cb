//! One clock against another through a queue: the line under the delays.
use std::borrow::Cow;

use crate::measure::distribution::t_quantile;
use crate::measure::{Estimate, Measured, Shortage};

/// Blocks that are left out in turn for the interval.
const BLOCKS: usize = 10;

/// Fewest points for a ratio.
const POINTS_MIN: usize = 20;

/// A line that no point lies below.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct HullLine {
    /// Slope, y a unit of x.
    pub slope: f64,
    /// Height at x = 0.
    pub intercept: f64,
}

/// The line with the least sum of distances above it and no point below.
///
/// Minimises Σ(y − αx − β) with y ≥ αx + β: the edge of the lower convex hull that spans the mean
/// of x. `points` in ascending x, finite; equal x keep the lowest. `None` below two different x.
/// Cost: O(n). Source: Moon, Skelly & Towsley, INFOCOM 1999; hull view: Zhang, Liu & Xia, INFOCOM
/// 2002.
pub fn lower_hull_line(points: impl IntoIterator<Item = (f64, f64)>) -> Option<HullLine> {
    let (mut sum, mut n) = (0.0, 0u64);
    let mut hull: Vec<(f64, f64)> = Vec::new();
    for (x, y) in points {
        (sum, n) = (sum + x, n + 1);
        if hull.last().is_some_and(|last| last.0 == x && last.1 <= y) {
            continue;
        }
        while let Some(&last) = hull.last()
            && (last.0 == x || hull.len() > 1 && !turns_up(hull[hull.len() - 2], last, (x, y)))
        {
            hull.pop();
        }
        hull.push((x, y));
    }
    let mean = sum / n as f64;
    let edge = hull.windows(2).find(|e| mean <= e[1].0)?;
    let slope = (edge[1].1 - edge[0].1) / (edge[1].0 - edge[0].0);
    Some(HullLine { slope, intercept: edge[0].1 - slope * edge[0].0 })
}

/// The path a → b → c bends upward at b.
fn turns_up(a: (f64, f64), b: (f64, f64), c: (f64, f64)) -> bool {
    (b.0 - a.0) * (c.1 - a.1) - (b.1 - a.1) * (c.0 - a.0) > 0.0
}

/// How much the board's clock runs fast against the host's, parts in a million. n = frames.
///
/// Ratio board/host − 1 from the lower hull of the delay host − board over the board's time; with
/// slope α the ratio is 1/(1 + α). Times in µs, rows without a restart between them, the shorter
/// slice decides. The interval is the jackknife over ten blocks left out in turn. Of more than 50 000
/// rows the one that waited least of each group of neighbours is used. Needs 20 rows over more than
/// a second. Cost: O(n).
pub fn clock_ppm(board_us: &[u64], host_us: &[u64]) -> Measured<Estimate> {
    let rows = board_us.len().min(host_us.len());
    let (board_us, host_us) = quickest(&board_us[..rows], &host_us[..rows]);
    Ok(Estimate { n: rows, ..of_quickest(&board_us, &host_us)? })
}

/// Rows above which groups of neighbours are thinned to the one that waited least.
const ROWS_MAX: usize = 50_000;

/// The rows that matter: all of a few, the one that waited least of each group of many.
fn quickest<'a>(board: &'a [u64], host: &'a [u64]) -> (Cow<'a, [u64]>, Cow<'a, [u64]>) {
    if board.len() <= ROWS_MAX {
        return (board.into(), host.into());
    }
    let group = board.len().div_ceil(ROWS_MAX);
    let picks = board.chunks(group).zip(host.chunks(group)).filter_map(|(board, host)| {
        let wait = |k: &usize| host[*k].wrapping_sub(board[*k]).cast_signed();
        let least = (0..board.len()).min_by_key(wait)?;
        Some((board[least], host[least]))
    });
    let (board, host): (Vec<u64>, Vec<u64>) = picks.unzip();
    (board.into(), host.into())
}

fn of_quickest(board_us: &[u64], host_us: &[u64]) -> Measured<Estimate> {
    let n = board_us.len();
    let long = n > 1 && board_us[n - 1].saturating_sub(board_us[0]) > 1_000_000;
    let whole = if n >= POINTS_MIN && long { ppm(board_us, host_us, n, n..n) } else { None };
    let Some(value) = whole else {
        return Err(Shortage {
            what: "frames with both clocks over more than a second".to_owned(),
            have: n,
            need: POINTS_MIN,
            advice: "record longer from a live link, a minute or more".to_owned(),
        });
    };
    let without: Vec<f64> = (0..BLOCKS)
        .filter_map(|k| ppm(board_us, host_us, n, k * n / BLOCKS..(k + 1) * n / BLOCKS))
        .collect();
    let m = without.len() as f64;
    let mean = without.iter().sum::<f64>() / m;
    let spread = without.iter().map(|p| (p - mean).powi(2)).sum::<f64>();
    let half = t_quantile(0.975, m - 1.0) * (spread * (m - 1.0) / m).sqrt();
    Ok(Estimate { value, low: value - half, high: value + half, n })
}

/// The ratio without the rows of one block.
fn ppm(board: &[u64], host: &[u64], n: usize, without: std::ops::Range<usize>) -> Option<f64> {
    let (board0, host0) = (board[0], host[0]);
    let points = (0..n).filter(|k| !without.contains(k)).map(|k| {
        let sent = board[k].wrapping_sub(board0) as f64;
        let came = host[k].wrapping_sub(host0) as f64;
        (sent, came - sent)
    });
    lower_hull_line(points).map(|line| -line.slope / (1.0 + line.slope) * 1e6)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_line_through_the_lowest_points() {
        let points = [(0.0, 1.0), (1.0, 9.0), (2.0, 2.0), (3.0, 9.0), (4.0, 3.0)];
        let line = lower_hull_line(points).expect("five points");
        assert_eq!((line.slope, line.intercept), (0.5, 1.0));
        assert_eq!(lower_hull_line([(1.0, 2.0), (1.0, 3.0)]), None);
        assert_eq!(lower_hull_line([]), None);
    }

    #[test]
    fn a_fast_board_clock_reads_positive() {
        // The board counts 1 000 050 µs a second; the host sees it after 1–4 ms.
        let rows = 5000u64;
        let host_true: Vec<u64> = (0..rows).map(|i| i * 4000).collect();
        let board: Vec<u64> = host_true.iter().map(|t| 77 + t + t / 20_000).collect();
        let host: Vec<u64> = host_true.iter().map(|t| t + 1000 + t / 4000 * 7919 % 3000).collect();
        let f = clock_ppm(&board, &host).expect("20 s");
        assert!((f.value - 50.0).abs() < 3.0, "{f:?}");
        assert!(f.low <= 50.0 && f.high >= 50.0, "{f:?}");
    }

    #[test]
    fn an_hour_is_thinned_without_moving_the_ratio() {
        let host_true: Vec<u64> = (0..200_000).map(|i| i * 1000).collect();
        let board: Vec<u64> = host_true.iter().map(|t| t - t / 12_500).collect();
        let host: Vec<u64> = host_true.iter().map(|t| t + 900 + t / 1000 * 7919 % 3000).collect();
        let f = clock_ppm(&board, &host).expect("200 s");
        assert!((f.value + 80.0).abs() < 1.0 && f.n == 200_000, "{f:?}");
    }

    #[test]
    fn half_a_second_is_not_enough() {
        let t: Vec<u64> = (0..100).map(|i| i * 4000).collect();
        assert!(clock_ppm(&t, &t).is_err());
    }
}
