//! One release read off its samples: the settled mean, overshoot and settling time.
use crate::measure::robust::{SIGMA_PER_MAD, mad, median};

/// When a release counts as settled.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SettleRule {
    /// Wait after the last motion, µs.
    pub wait_us: u64,
    /// Longest span averaged, µs.
    pub span_us: u64,
    /// Shortest span averaged, µs.
    pub span_min_us: u64,
    /// Creep that is refused when it is significant, counts a second.
    pub creep_per_s: f64,
}

impl SettleRule {
    /// 300 ms of wait, 0.5 s averaged (0.25 s at least), creep of 1 count a second of a 10-bit
    /// reading (common practice; the thumb still touches the stick).
    pub fn for_bits(raw_bits: u8) -> SettleRule {
        SettleRule {
            wait_us: 300_000,
            span_us: 500_000,
            span_min_us: 250_000,
            creep_per_s: 2.0f64.powi(i32::from(raw_bits) - 10).max(1.0),
        }
    }
}

/// A settled release.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Settled {
    /// Mean without wild samples, counts (x, y).
    pub at: [f64; 2],
    /// Robust SD of the samples averaged (scaled MAD), counts.
    pub noise: [f64; 2],
    /// Samples averaged.
    pub n: usize,
    /// Rows averaged: first, and one past the last.
    pub rows: (usize, usize),
    /// Last row with motion.
    pub last_motion: usize,
}

/// Why a release gives no rest.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Unsettled {
    /// Not still long enough before the next motion, µs after the wait.
    TooShort(u64),
    /// Creeps on: counts a second along the worse axis.
    Creep(f64),
}

/// The rest after a let-go.
///
/// `x`, `y` and `t_us` (µs) run from the let-go to the row before the next motion, of one length.
/// The level of the last part (0.4 s at least) is found robustly; the last motion is the last time
/// that four of six rows lie further from it than max(5 scaled MADs, 2.5 counts); after the rule's
/// wait the rest of the rows, at most its span, is averaged without samples beyond the same limit.
/// A slope counts as creep when it exceeds the rule's and four of its standard errors.
/// Cost: O(n).
pub fn settled(x: &[i32], y: &[i32], t_us: &[u64], rule: SettleRule) -> Result<Settled, Unsettled> {
    let rows = x.len().min(y.len()).min(t_us.len());
    let (Some(&first), Some(&last)) = (t_us.first(), t_us[..rows].last()) else {
        return Err(Unsettled::TooShort(0));
    };
    let tail_us = rule.span_us.min((last - first) / 2);
    let tail = t_us[..rows].partition_point(|&t| t + tail_us < last);
    let levels = [level(&x[tail..rows]), level(&y[tail..rows])];
    let off = |k: usize| levels[0].far(x[k]) || levels[1].far(y[k]);
    let last_motion = last_moving(&(0..rows).map(off).collect::<Vec<_>>());
    let begin = t_us[..rows].partition_point(|&t| t < t_us[last_motion] + rule.wait_us);
    let still_us = t_us.get(begin).map_or(0, |&t| last.saturating_sub(t));
    if begin >= rows || still_us < rule.span_min_us {
        return Err(Unsettled::TooShort(still_us));
    }
    let end = t_us[..rows].partition_point(|&t| t <= t_us[begin] + rule.span_us);
    let spans = [&x[begin..end], &y[begin..end]];
    let times = &t_us[begin..end];
    let means = [0, 1].map(|i| level(spans[i]));
    let creep = [0, 1].map(|i| means[i].slope_per_s(spans[i], times, rule.creep_per_s)).into_iter();
    if let Some(slope) = creep.flatten().max_by(|a, b| a.abs().total_cmp(&b.abs())) {
        return Err(Unsettled::Creep(slope));
    }
    Ok(Settled {
        at: [0, 1].map(|i| means[i].mean(spans[i])),
        noise: means.map(|m| m.sigma),
        n: end - begin,
        rows: (begin, end),
        last_motion,
    })
}

/// The last row of the last six rows of which four are off; fewer are spikes. 0 without any.
fn last_moving(off: &[bool]) -> usize {
    let motion = |rows: &[bool]| rows.iter().filter(|&&o| o).count() >= 4;
    let Some(first) = off.windows(6).rposition(motion) else { return 0 };
    first + off[first..first + 6].iter().rposition(|&o| o).unwrap_or(0)
}

/// Robust level of a stretch.
#[derive(Clone, Copy)]
struct Level {
    middle: f64,
    sigma: f64,
}

fn level(codes: &[i32]) -> Level {
    let values: Vec<f64> = codes.iter().map(|&c| f64::from(c)).collect();
    Level { middle: median(&values), sigma: SIGMA_PER_MAD * mad(&values) }
}

impl Level {
    fn far(&self, code: i32) -> bool {
        (f64::from(code) - self.middle).abs() > (5.0 * self.sigma).max(2.5)
    }

    fn mean(&self, codes: &[i32]) -> f64 {
        let (sum, n) = codes
            .iter()
            .filter(|&&c| !self.far(c))
            .fold((0.0, 0u32), |(sum, n), &c| (sum + f64::from(c), n + 1));
        if n == 0 { self.middle } else { sum / f64::from(n) }
    }

    /// Slope of the line through the samples that are not wild, counts a second, when it exceeds
    /// `limit` by itself and four standard errors.
    fn slope_per_s(&self, codes: &[i32], t_us: &[u64], limit: f64) -> Option<f64> {
        let t0 = *t_us.first()?;
        let points: Vec<(f64, f64)> = codes
            .iter()
            .zip(t_us)
            .filter(|(c, _)| !self.far(**c))
            .map(|(&c, &t)| ((t - t0) as f64 * 1e-6, f64::from(c)))
            .collect();
        let n = points.len() as f64;
        let (mt, mc) = (
            points.iter().map(|p| p.0).sum::<f64>() / n,
            points.iter().map(|p| p.1).sum::<f64>() / n,
        );
        let stt: f64 = points.iter().map(|p| (p.0 - mt).powi(2)).sum();
        let slope = points.iter().map(|p| (p.0 - mt) * (p.1 - mc)).sum::<f64>() / stt;
        let rest: f64 = points.iter().map(|p| (p.1 - mc - slope * (p.0 - mt)).powi(2)).sum();
        let error = (rest / (n - 2.0) / stt).sqrt();
        (slope.abs() > limit && slope.abs() > 4.0 * error).then_some(slope)
    }
}

/// How a let-go stick came home.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ReturnMotion {
    /// Swing beyond the rest on the far side over the way home, share.
    pub overshoot: f64,
    /// From the let-go to the last time outside ±2 % of the way (or 3σ of the noise, whichever is
    /// wider), ms: from the middle between the last row at the pushed place and the next, to that between
    /// the last row outside and the next.
    pub settling_ms: f64,
    /// How far the rows at either end leave that open, ms.
    pub settling_open_ms: f64,
    /// Way home, counts.
    pub way: f64,
}

/// Overshoot and settling of a release.
///
/// Samples from the pushed place on, µs; `let_go` is the row at which it was let go, and the median
/// of the rows before it (of the first row without any) is the pushed place; `rest` as [`settled`]
/// gives it. Places are projected on the line from the rest to the pushed place. A row that lies off the
/// cubic through its four neighbours by 2 % of the way and six times the noise is wild and takes the median
/// of three. The turning point is the vertex of the parabola through the farthest row and its neighbours,
/// for at 250 frames a second none need lie on it (a median of three through it reads 3 % low at 14 Hz).
/// By hand: held at 900 and home at 500, a swing to 440 is 60/400 = 15 %. `None` when the way home is shorter than 20 counts or 10 times the noise, or `let_go` lies
/// outside. Source: settling time to ±2 %, second-order step response, IEC 60050-351.
pub fn return_motion(
    x: &[i32],
    y: &[i32],
    t_us: &[u64],
    let_go: usize,
    rest: &Settled,
) -> Option<ReturnMotion> {
    let rows = x.len().min(y.len()).min(t_us.len());
    t_us[..rows].get(let_go)?;
    let start = [(x, rest.at[0]), (y, rest.at[1])].map(|(column, at)| {
        let held = column[..let_go.max(1)].iter().map(|&c| f64::from(c));
        median(&held.collect::<Vec<_>>()) - at
    });
    let way = start[0].hypot(start[1]);
    let noise = rest.noise[0].hypot(rest.noise[1]);
    if rows < 3 || way < (10.0 * noise).max(20.0) {
        return None;
    }
    let along: Vec<f64> = (0..rows)
        .map(|k| {
            let (dx, dy) = (f64::from(x[k]) - rest.at[0], f64::from(y[k]) - rest.at[1]);
            (dx * start[0] + dy * start[1]) / way
        })
        .collect();
    let place = |k: usize| tamed(&along, k, (0.02 * way).max(6.0 * noise));
    let limit = (0.02 * way).max(3.0 * noise);
    let after = let_go.max(1)..rows - 1;
    let farthest = after.clone().min_by(|&a, &b| place(a).total_cmp(&place(b)));
    let farthest = farthest.map_or(0.0, |k| turning_point([k - 1, k, k + 1], t_us, place).min(0.0));
    let last_out = after.rev().find(|&k| of_three(&along, k).abs() > limit).unwrap_or(let_go);
    let beyond = if -farthest > 3.0 * noise.max(0.5) { -farthest / way } else { 0.0 };
    let between = |k: usize| (t_us[k] as f64, t_us[(k + 1).min(rows - 1)] as f64);
    let (left, home) = (between(let_go), between(last_out));
    let middle = |(a, b): (f64, f64)| 0.5 * (a + b);
    Some(ReturnMotion {
        overshoot: beyond,
        settling_ms: (middle(home) - middle(left)) * 1e-3,
        settling_open_ms: 0.5e-3 * (left.1 - left.0 + home.1 - home.0),
        way,
    })
}

/// The median of a row and its neighbours; the row itself at either end.
fn of_three(along: &[f64], k: usize) -> f64 {
    match along.get(k.wrapping_sub(1)..=k + 1) {
        Some(&[a, b, c]) => a.max(b).min(a.min(b).max(c)),
        _ => along[k],
    }
}

/// A row's place; the median of three where it lies off the cubic through its neighbours by `limit`.
fn tamed(along: &[f64], k: usize, limit: f64) -> f64 {
    let Some(&[a, b, own, c, d]) = along.get(k.wrapping_sub(2)..=k + 2) else {
        return of_three(along, k);
    };
    let cubic = (4.0 * (b + c) - a - d) / 6.0;
    if (own - cubic).abs() <= limit { own } else { of_three(along, k) }
}

/// Lowest point of the parabola through three rows; the middle one's place where they are no valley or
/// do not follow evenly.
fn turning_point(rows: [usize; 3], t_us: &[u64], place: impl Fn(usize) -> f64) -> f64 {
    let [a, b, c] = rows.map(place);
    let (before, after) = (t_us[rows[1]] - t_us[rows[0]], t_us[rows[2]] - t_us[rows[1]]);
    let even = before.abs_diff(after) * 4 <= before.max(after);
    let (slope, curve) = (0.5 * (c - a), 0.5 * (a + c) - b);
    if even && curve > 0.0 && slope.abs() <= curve { b - slope * slope / (4.0 * curve) } else { b }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A second-order return from +400 on x, 1 kHz for 1.4 s, rest at (518, 503).
    fn ringing(zeta: f64) -> (Vec<i32>, Vec<i32>, Vec<u64>) {
        let omega = std::f64::consts::TAU * 14.0;
        let damped = omega * (1.0 - zeta * zeta).sqrt();
        let x = (0..1400).map(|k| {
            let t = f64::from(k) * 1e-3;
            let swing = (damped * t).cos() + zeta * omega / damped * (damped * t).sin();
            (518.0 + 400.0 * (-zeta * omega * t).exp() * swing).round() as i32
        });
        (x.collect(), vec![503; 1400], (0..1400).map(|k| k * 1000).collect())
    }

    fn rule() -> SettleRule {
        SettleRule::for_bits(10)
    }

    #[test]
    fn a_second_order_return_overshoots_by_its_damping() {
        for zeta in [0.3, 0.5] {
            let (x, y, t) = ringing(zeta);
            let rest = settled(&x, &y, &t, rule()).expect("still");
            assert_eq!(rest.at, [518.0, 503.0]);
            let motion = return_motion(&x, &y, &t, 0, &rest).expect("a long way");
            let expected = (-std::f64::consts::PI * zeta / (1.0 - zeta * zeta).sqrt()).exp();
            assert!((motion.overshoot - expected).abs() < 0.01, "{motion:?} {expected}");
            // Settling to 2 %: about 4/(ζω).
            let about = 4.0 / (zeta * std::f64::consts::TAU * 14.0) * 1e3;
            assert!((motion.settling_ms / about - 1.0).abs() < 0.35, "{motion:?} {about}");
        }
    }

    #[test]
    fn a_swing_between_the_frames_is_not_read_low_nor_a_wild_row_taken_for_one() {
        let (fine, _, _) = ringing(0.3);
        for first in 0..4 {
            // Every fourth row, 250 frames a second, at each phase; held for one frame before.
            let mut x: Vec<i32> = (0..340).map(|k| fine[first + 4 * k]).collect();
            x.insert(0, 918);
            let y = vec![503; x.len()];
            let t: Vec<u64> = (0..x.len() as u64).map(|k| k * 4_000).collect();
            let rest = settled(&x, &y, &t, rule()).expect("still");
            let share = |x: &[i32]| return_motion(x, &y, &t, 1, &rest).expect("a way").overshoot;
            let whole = share(&x);
            assert!((whole / 0.372 - 1.0).abs() < 0.01, "{first}: {whole}");
            x[60] = 0;
            assert_eq!(share(&x), whole, "{first}");
        }
    }

    #[test]
    fn spikes_do_not_move_the_rest() {
        let (mut x, y, t) = ringing(0.7);
        for k in (5..1400).step_by(100) {
            x[k] = 1023;
        }
        let rest = settled(&x, &y, &t, rule()).expect("still");
        assert_eq!(rest.at, [518.0, 503.0]);
        assert!(rest.last_motion < 150, "{rest:?}");
    }

    #[test]
    fn a_thumb_that_creeps_is_refused() {
        let (mut x, y, t) = ringing(0.7);
        for (k, code) in x.iter_mut().enumerate() {
            *code += (k as f64 * 8e-3).round() as i32;
        }
        assert!(matches!(settled(&x, &y, &t, rule()), Err(Unsettled::Creep(slope)) if slope > 4.0));
    }

    #[test]
    fn too_little_stillness_is_refused() {
        let (x, y, t) = ringing(0.7);
        let short = settled(&x[..500], &y[..500], &t[..500], rule());
        assert!(matches!(short, Err(Unsettled::TooShort(_))));
        assert_eq!(settled(&[], &[], &[], rule()), Err(Unsettled::TooShort(0)));
    }
}
