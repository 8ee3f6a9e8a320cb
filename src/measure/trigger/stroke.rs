//! One stroke of a slow pull, smoothed: its reversal, its quarters, the time at full.
use std::ops::Range;

use super::Pull;

/// Time that a moving mean spans, µs.
const SMOOTH_US: u64 = 12_000;

/// Share of the way left out at each end of a stroke when its time is counted.
const END: f64 = 0.02;

/// What one stroke says.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Stroke {
    /// Largest run against the stroke, counts; 0 when it is within the floor.
    pub(super) reversal: f64,
    /// What noise alone can look like, counts.
    pub(super) floor: f64,
    /// Level at ¼, ½ and ¾ of the time between 2 and 98 % of the way, counts toward full.
    pub(super) quarters: [f64; 3],
    /// Share of the whole pull's time near full.
    pub(super) plateau: f64,
    /// Rows of the whole pull.
    pub(super) rows: usize,
}

impl Stroke {
    /// Both strokes of a pull, the second run backward so that both lead to full.
    ///
    /// `way` = (rest, full). `None` when a range lies outside the columns, a stroke has fewer than
    /// 20 rows, or its ends are not reached.
    pub(super) fn pair(
        codes: &[i32],
        t_us: &[u64],
        pull: &Pull,
        way: (f64, f64),
        noise: f64,
    ) -> Option<[Stroke; 2]> {
        let sign = (way.1 - way.0).signum();
        let span = (way.1 - way.0).abs();
        let take = |rows: &Range<usize>| -> Option<Vec<(f64, f64)>> {
            let (codes, t_us) = (codes.get(rows.clone())?, t_us.get(rows.clone())?);
            let place = |(&t, &c): (&u64, &i32)| (t as f64, sign * (f64::from(c) - way.0));
            (codes.len() >= 20).then(|| t_us.iter().zip(codes).map(place).collect())
        };
        // The hold belongs to both, so that each reaches full whatever the ranges leave at its end.
        let up = take(&(pull.up.start..pull.hold.end))?;
        let mut down = take(&(pull.hold.start..pull.down.end))?;
        let total =
            t_us.get(pull.down.end.checked_sub(1)?)?.checked_sub(*t_us.get(pull.up.start)?)?;
        let near = span - (0.01 * span).max(3.0 * noise);
        let rows = codes.get(pull.up.start..pull.down.end)?;
        let at_full = rows.iter().filter(|&&c| sign * (f64::from(c) - way.0) >= near).count();
        let plateau = if total == 0 { 0.0 } else { at_full as f64 / rows.len() as f64 };
        let end = down.last()?.0;
        down.reverse();
        down.iter_mut().for_each(|p| p.0 = end - p.0);
        let both = (plateau, rows.len());
        Some([stroke(&up, span, noise, both)?, stroke(&down, span, noise, both)?])
    }
}

/// A stroke toward full: (time, place) with time ascending.
fn stroke(
    points: &[(f64, f64)],
    span: f64,
    noise: f64,
    (plateau, rows): (f64, usize),
) -> Option<Stroke> {
    let length = points.last()?.0 - points[0].0;
    let width = (SMOOTH_US as f64 / length * points.len() as f64).round().max(3.0) as usize;
    let smooth = smoothed(points, width);
    let floor = 6.0 * noise / (width as f64).sqrt() + 0.5;
    let end_share = END.max(5.0 * noise / span);
    let reaches = |share: f64| smooth.iter().position(|p| p.1 >= share * span);
    let (first, last) = (reaches(end_share)?, reaches(1.0 - end_share)?);
    let (mut most, mut back) = (f64::NEG_INFINITY, 0.0f64);
    for &(_, place) in &smooth[..=last] {
        most = most.max(place);
        back = back.max(most - place);
    }
    // Noise lifts the run a little, smoothing takes about as much off its corners.
    let reversal = if back > floor { back } else { 0.0 };
    let (begin, end) = (smooth[first].0, smooth[last].0);
    let quarters = [0.25, 0.5, 0.75].map(|share| place_at(&smooth, begin + share * (end - begin)));
    Some(Stroke { reversal, floor, quarters, plateau, rows })
}

/// Median of three, then a moving mean over `width` points.
fn smoothed(points: &[(f64, f64)], width: usize) -> Vec<(f64, f64)> {
    let last = points.len() - 1;
    let calm: Vec<f64> = (0..points.len())
        .map(|k| {
            let (a, b, c) =
                (points[k.saturating_sub(1)].1, points[k].1, points[(k + 1).min(last)].1);
            a.max(b).min(a.min(b).max(c))
        })
        .collect();
    let width = width.min(points.len());
    let mut sum: f64 = calm[..width].iter().sum();
    let mut means = Vec::with_capacity(points.len() - width + 1);
    for first in 0..=points.len() - width {
        let middle = 0.5 * (points[first].0 + points[first + width - 1].0);
        means.push((middle, sum / width as f64));
        sum += calm.get(first + width).copied().unwrap_or(0.0) - calm[first];
    }
    means
}

/// Linear between points of ascending time.
fn place_at(points: &[(f64, f64)], time: f64) -> f64 {
    let next = points.partition_point(|p| p.0 < time).clamp(1, points.len() - 1);
    let (a, b) = (points[next - 1], points[next]);
    if b.0 > a.0 { a.1 + (b.1 - a.1) * (time - a.0) / (b.0 - a.0) } else { a.1 }
}
