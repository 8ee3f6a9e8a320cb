//! Staleness of a half: how many of its readings are the same sample sent again.
use std::ops::Range;

use crate::measure::distribution::t_quantile;
use crate::measure::{Estimate, Measured, Shortage};

use super::chance::{Chance, Motion};

/// Rows of a block; a block is used when the half moves in it.
const BLOCK: usize = 2048;

/// Most blocks used, spread over the session.
const BLOCKS_MAX: usize = 128;

/// Most rows in motion used, spread over them.
const ROWS_MAX: usize = 20_000;

/// Fewest rows in motion for a figure.
const ROWS_MIN: usize = 200;

/// Parts of the rows in motion that the interval is taken from.
const BATCHES: usize = 20;

/// Share of rows that repeat the counter of a second half, where it is sent.
///
/// Rows with the counter of the row before, over rows from the second on; n = those. The interval is
/// Wilson's. Needs 2 rows. A counter that never moves gives 1: the half hangs. Cost: O(n).
pub fn stale_by_counter(counter: &[u32]) -> Measured<Estimate> {
    let repeats = counter.windows(2).filter(|p| p[0] == p[1]).count();
    share(repeats, counter.len().saturating_sub(1))
}

/// Share of rows that repeat a sample of a second half, from its age.
///
/// The time of sampling is t − age; a row repeats the one before when that time moves by less than
/// 0.3 of the time between the rows (ages may be rounded to whole milliseconds). Both in µs, the
/// shorter slice decides; n = pairs with time between them. Interval: Wilson's. Cost: O(n).
pub fn stale_by_age(age_us: &[u32], t_us: &[u64]) -> Measured<Estimate> {
    let rows = age_us.len().min(t_us.len());
    let (mut repeats, mut pairs) = (0, 0);
    for k in 1..rows {
        let dt = t_us[k].saturating_sub(t_us[k - 1]) as f64;
        let aged = f64::from(age_us[k]) - f64::from(age_us[k - 1]);
        if dt > 0.0 {
            pairs += 1;
            repeats += usize::from((dt - aged).abs() < 0.3 * dt);
        }
    }
    share(repeats, pairs)
}

/// A binomial share with Wilson's interval.
fn share(k: usize, n: usize) -> Measured<Estimate> {
    if n == 0 {
        return Err(still(0, 1));
    }
    let (p, n_f, z2) = (k as f64 / n as f64, n as f64, 1.96f64 * 1.96);
    let middle = (p + z2 / (2.0 * n_f)) / (1.0 + z2 / n_f);
    let half = 1.96 / (1.0 + z2 / n_f) * (p * (1.0 - p) / n_f + z2 / (4.0 * n_f * n_f)).sqrt();
    Ok(Estimate {
        value: p,
        low: (middle - half).max(0.0).min(p),
        high: (middle + half).min(1.0).max(p),
        n,
    })
}

/// Share of repeated whole tuples of a half beyond what its noise and speed explain.
///
/// `half`: the columns of the half (two to four, in counts), of `t_us.len()` rows. A row repeats
/// when every channel equals the row before. With C the chance that two different samples are equal
/// all the same, s = (Σ repeats − ΣC)/(n − ΣC) over the rows in motion. C is learned from pairs
/// further apart than a sample can be old (60 ms; older is called a hang), as equality of each
/// channel against its smoothed displacement, and carried back to the displacement between
/// neighbouring samples; at share s these lie 1/(1 − s) rows apart, which is solved by iteration.
/// Only rows with C ≤ ½ count. n = rows in motion; the interval joins the scatter of 20 stretches,
/// Wilson's and a fifth of the mean C for the model. Needs 200 such rows: a half that never moves
/// has no figure. Cost: at most 128 blocks of 2 048 rows are looked at, after a thin search for
/// motion, and at most 20 000 rows of them, evenly spread, are weighed. Source: own derivation; share of an old sample 1 − f_remote/f_loop.
pub fn stale_by_repeats(half: &[&[i32]], t_us: &[u64]) -> Measured<Estimate> {
    let rows = half.iter().map(|c| c.len()).chain([t_us.len()]).min().unwrap_or(0);
    let blocks = moving_blocks(half, rows);
    let motions: Vec<Motion> =
        blocks.into_iter().filter_map(|rows| Motion::of(half, t_us, rows)).collect();
    let chance = Chance::learn(&motions, half.len());
    let mut seen = rows_in_motion(&motions, &chance, 0.25);
    if seen.len() < 3 * ROWS_MIN {
        seen = rows_in_motion(&motions, &chance, 0.5);
    }
    if half.len() < 2 || seen.len() < ROWS_MIN {
        return Err(still(seen.len(), ROWS_MIN));
    }
    let step = seen.len().div_ceil(ROWS_MAX);
    let seen: Vec<Seen> = seen.into_iter().step_by(step).collect();
    Ok(solve(&motions, &chance, &seen))
}

/// A row in motion: which block, which row of it.
type Seen = (usize, usize);

/// Rows whose chance of equality with a healthy neighbour is below `limit`.
fn rows_in_motion(motions: &[Motion], chance: &Chance, limit: f64) -> Vec<Seen> {
    let mut seen = Vec::new();
    for (block, motion) in motions.iter().enumerate() {
        let fits = |&k: &usize| motion.usable(k) && chance.of(motion, k, 1.0) <= limit;
        seen.extend((0..motion.rows()).filter(fits).map(|k| (block, k)));
    }
    seen
}

/// The share and its interval from the rows in motion.
fn solve(motions: &[Motion], chance: &Chance, seen: &[Seen]) -> Estimate {
    let repeats = |rows: &[Seen]| rows.iter().filter(|r| motions[r.0].repeats(r.1)).count() as f64;
    let chances = |rows: &[Seen], apart: f64| {
        rows.iter().map(|r| chance.of(&motions[r.0], r.1, apart)).sum::<f64>()
    };
    let beyond = |rows: &[Seen], apart: f64| {
        let by_chance = chances(rows, apart);
        (repeats(rows) - by_chance) / (rows.len() as f64 - by_chance).max(1.0)
    };
    let mut raw: f64 = 0.0;
    let mut apart = 1.0;
    for _ in 0..8 {
        raw = beyond(seen, apart);
        apart = (1.0 / (1.0 - raw).max(1e-3)).clamp(1.0, chance.oldest);
    }
    let value = raw.clamp(0.0, 1.0);
    let parts: Vec<f64> =
        seen.chunks(seen.len().div_ceil(BATCHES)).map(|rows| beyond(rows, apart)).collect();
    let m = parts.len() as f64;
    let mean = parts.iter().sum::<f64>() / m;
    let var = parts.iter().map(|p| (p - mean).powi(2)).sum::<f64>() / (m - 1.0).max(1.0);
    let scatter = if m > 1.0 { t_quantile(0.975, m - 1.0) * (var / m).sqrt() } else { 1.0 };
    let n = seen.len();
    let binomial = 1.96 * (value * (1.0 - value) / n as f64).sqrt() + 3.84 / n as f64;
    let model = 0.2 * chances(seen, apart) / n as f64;
    let half = scatter.max(binomial).hypot(model);
    Estimate { value, low: (raw - half).clamp(0.0, value), high: (raw + half).clamp(value, 1.0), n }
}

/// Blocks in which some channel moves, at most [`BLOCKS_MAX`], spread evenly.
fn moving_blocks(half: &[&[i32]], rows: usize) -> Vec<Range<usize>> {
    let mut blocks: Vec<Range<usize>> = (0..rows)
        .step_by(BLOCK)
        .map(|start| start..(start + BLOCK).min(rows))
        .filter(|block| half.iter().any(|column| moves(&column[block.clone()])))
        .collect();
    if blocks.len() > BLOCKS_MAX {
        let n = blocks.len();
        blocks = (0..BLOCKS_MAX).map(|k| blocks[k * n / BLOCKS_MAX].clone()).collect();
    }
    blocks
}

/// Medians of five readings, every 64 rows, differ by more than 6 counts.
fn moves(column: &[i32]) -> bool {
    let middles = column.chunks_exact(64).map(|part| {
        let mut five = [part[3], part[17], part[31], part[45], part[60]];
        five.sort_unstable();
        five[2]
    });
    let (low, high) = middles.fold((i32::MAX, i32::MIN), |(lo, hi), m| (lo.min(m), hi.max(m)));
    high.saturating_sub(low) > 6 && low <= high
}

/// The half does not move enough.
fn still(have: usize, need: usize) -> Shortage {
    Shortage {
        what: "rows in which this half moves".to_owned(),
        have,
        need,
        advice: "roll its stick along the gate for a few seconds".to_owned(),
    }
}

#[cfg(test)]
mod tests {
    use rand::{Rng, SeedableRng};
    use rand_chacha::ChaCha8Rng;
    use rand_distr::{Distribution, Normal};

    use super::*;

    /// A half that rolls, sampled at `remote_hz` inside a loop of `loop_hz`.
    fn rolling(
        loop_hz: f64,
        remote_hz: f64,
        sigma: f64,
        reach: f64,
        seed: u64,
    ) -> ([Vec<i32>; 3], Vec<u64>) {
        let mut rng = ChaCha8Rng::seed_from_u64(seed);
        let noise = Normal::new(0.0, sigma).expect("finite");
        let rows = (20.0 * loop_hz) as usize;
        let mut held = (f64::MIN, [0; 3]);
        let mut columns: [Vec<i32>; 3] = Default::default();
        let start = rng.random_range(0.0..1.0);
        for k in 0..rows {
            let t = k as f64 / loop_hz;
            let sample = ((t * remote_hz + start).floor() - start) / remote_hz;
            if sample > held.0 {
                let turn = (sample - 2.0).clamp(0.0, 12.0) / 2.5 * std::f64::consts::TAU;
                let r = reach * (sample - 1.0).clamp(0.0, 1.0) * (17.0 - sample).clamp(0.0, 1.0);
                let at = [r * turn.cos(), r * turn.sin(), 0.0].map(|v| v + noise.sample(&mut rng));
                held = (sample, at.map(|v| (v + 512.3).round() as i32));
            }
            columns.iter_mut().zip(held.1).for_each(|(c, v)| c.push(v));
        }
        (columns, (0..rows as u64).map(|k| k * (1e6 / loop_hz) as u64).collect())
    }

    fn measured(loop_hz: f64, remote_hz: f64, sigma: f64, reach: f64, seed: u64) -> Estimate {
        let (columns, t_us) = rolling(loop_hz, remote_hz, sigma, reach, seed);
        let half: Vec<&[i32]> = columns.iter().map(Vec::as_slice).collect();
        stale_by_repeats(&half, &t_us).expect("it rolls")
    }

    #[test]
    fn a_remote_at_100_hz_in_a_loop_at_250_hz_is_60_per_cent_stale() {
        for (seed, sigma) in [(1, 0.05), (2, 0.3), (3, 0.7), (4, 2.0)] {
            let f = measured(250.0, 100.0, sigma, 400.0, seed);
            assert!(
                (f.value - 0.6).abs() < 0.02 && f.low <= 0.6 && f.high >= 0.6,
                "{sigma}: {f:?}"
            );
        }
    }

    #[test]
    fn a_healthy_half_is_not_stale_even_when_quiet_and_slow() {
        for (seed, loop_hz, sigma, reach) in [
            (1, 250.0, 0.7, 400.0),
            (2, 250.0, 0.05, 400.0),
            (3, 1000.0, 0.05, 400.0),
            (4, 1000.0, 0.3, 1600.0),
            (5, 1000.0, 0.6, 300.0),
        ] {
            let f = measured(loop_hz, 1e9, sigma, reach, seed);
            assert!(f.value < 0.02 && f.low == 0.0, "{loop_hz} Hz, {sigma}: {f:?}");
        }
    }

    #[test]
    fn slow_remotes_in_a_fast_loop() {
        let f = measured(1000.0, 100.0, 0.1, 400.0, 7);
        assert!((f.value - 0.9).abs() < 0.02 && f.low <= 0.9 && f.high >= 0.9, "{f:?}");
        let f = measured(1000.0, 400.0, 0.5, 1600.0, 8);
        assert!((f.value - 0.6).abs() < 0.03 && f.low <= 0.6 && f.high >= 0.6, "{f:?}");
    }

    #[test]
    fn a_half_at_rest_has_no_figure() {
        let (columns, t_us) = rolling(250.0, 100.0, 0.7, 0.0, 5);
        let half: Vec<&[i32]> = columns.iter().map(Vec::as_slice).collect();
        assert_eq!(stale_by_repeats(&half, &t_us).expect_err("no motion").need, ROWS_MIN);
        assert!(stale_by_repeats(&[], &[]).is_err());
    }

    #[test]
    fn counters_and_ages_are_read_off() {
        assert_eq!(stale_by_counter(&[1, 1, 2, 2, 2, 3]).expect("six").value, 0.6);
        // A remote every 10 ms read every 4 ms: ages 0 4 8 | 2 6 | 0 4 8 | 2.
        let ages = [0, 4000, 8000, 2000, 6000, 0, 4000, 8000, 2000];
        let t_us: Vec<u64> = (0..9).map(|k| k * 4000).collect();
        assert_eq!(stale_by_age(&ages, &t_us).expect("nine").value, 5.0 / 8.0);
        assert!(stale_by_counter(&[4]).is_err());
    }
}
