//! A reading against something driven in steps: a motor's duty, a light's level.
use std::ops::Range;

use crate::measure::distribution::{f_quantile, t_quantile};
use crate::measure::fit::dense::Normal;
use crate::measure::moments::mean;
use crate::measure::robust::{SIGMA_PER_MAD, median};
use crate::measure::{Estimate, Measured, Shortage};

/// Left out after a change of the drive, µs.
const SETTLE_US: u64 = 150_000;

/// Shortest step used, µs.
const STEP_MIN_US: u64 = 200_000;

/// Fewest steps.
const STEPS_MIN: usize = 5;

/// Degrees of freedom that an interval of the shift needs at least.
const FREEDOM_MIN: usize = 2;

/// Largest share of wild samples. Damaged lines strike a field in far less than 1 of 100 frames;
/// what departs more often is what the drive does: a square wave of 67 % duty stands at its rarer level
/// in a third of the samples, many times the deviation of the rest away.
const WILD_MOST: f64 = 0.05;

/// How a reading answers a drive.
#[derive(Clone, Debug, PartialEq)]
pub struct DriveCoupling {
    /// Shift of the reading at the largest drive seen, counts. n = steps in stretches with two drives.
    pub shift: Measured<Estimate>,
    /// Noise at the largest drive over noise without, ratio of rms. n = samples at the largest drive.
    pub noise_ratio: Measured<Estimate>,
    /// Largest drive seen, in its own unit.
    pub largest: f64,
}

/// Shift and noise of a channel at rest against a drive that changes in steps.
///
/// `rows` are stretches in which the channel is not touched; `drive[i]` is the drive at row i.
/// Stretches of one drive of 0.35 s or more are steps, their first 150 ms left out; their robust
/// levels are fitted by a + b·drive + c·time with an a for each stretch of `rows`, because a part that was
/// touched in between rests elsewhere, and one c, so that slow drift does not pass for coupling. Only
/// stretches with two drives tell anything of b. shift = b · largest drive, with t of
/// (steps − stretches − 2) degrees of freedom, of which it needs two. Needs five steps and two drives. By
/// hand: levels 512 508 512 508 512 at drives 0 200 0 200 0 and even times fit exactly with
/// a = 512, b = −0.02, c = 0, so that the shift is −4 counts. Noise ratio: SD about the level at the
/// largest drive over that at drive 0, interval by F (samples taken for independent). Wild samples,
/// 7.5 and more times the median departure away and at most 5 % of them, are left out of both.
/// Cost: linear in the rows.
pub fn drive_coupling(
    codes: &[i32],
    drive: &[i32],
    t_us: &[u64],
    rows: &[Range<usize>],
) -> Measured<DriveCoupling> {
    let of_stretch = |(k, r)| steps(drive, t_us, r, codes.len(), k);
    let steps: Vec<Step> = rows.iter().enumerate().flat_map(of_stretch).collect();
    let largest = steps.iter().map(|s| s.drive).max_by_key(|d| d.abs()).unwrap_or(0);
    let varied = steps.iter().any(|s| s.drive != largest);
    if steps.len() < STEPS_MIN || !varied || largest == 0 {
        return Err(few_steps(if varied { steps.len() } else { 0 }, steps.len()));
    }
    let at = |driven: bool| {
        let wanted = move |s: &&Step| if driven { s.drive == largest } else { s.drive == 0 };
        steps.iter().filter(wanted).map(|s| &codes[s.rows.clone()])
    };
    let noise_ratio = ratio(spread(at(true)), spread(at(false)));
    Ok(DriveCoupling {
        shift: shift(&steps, codes, largest),
        noise_ratio,
        largest: f64::from(largest),
    })
}

/// The shortage of steps: so many that tell something, of so many at all.
fn few_steps(have: usize, all: usize) -> Shortage {
    Shortage {
        what: "steps of the drive with this input left alone".to_owned(),
        have,
        need: STEPS_MIN.max(all),
        advice: "let the board switch the motor or light on and off, two seconds each, hands off"
            .to_owned(),
    }
}

/// A stretch of one drive.
struct Step {
    rows: Range<usize>,
    /// Which stretch without a touch it lies in.
    stretch: usize,
    drive: i32,
    t_s: f64,
}

fn steps(
    drive: &[i32],
    t_us: &[u64],
    rows: &Range<usize>,
    len: usize,
    stretch: usize,
) -> Vec<Step> {
    let end = rows.end.min(drive.len()).min(t_us.len()).min(len);
    let mut found = Vec::new();
    let mut first = rows.start;
    while first < end {
        let last = (first..end).find(|&k| drive[k] != drive[first]).unwrap_or(end);
        let begin = first + t_us[first..last].partition_point(|&t| t < t_us[first] + SETTLE_US);
        if begin < last && t_us[last - 1] - t_us[begin] >= STEP_MIN_US {
            let t_s = 0.5e-6 * (t_us[begin] as f64 + t_us[last - 1] as f64);
            found.push(Step { rows: begin..last, stretch, drive: drive[first], t_s });
        }
        first = last;
    }
    found
}

fn level(codes: &[i32]) -> f64 {
    let values: Vec<f64> = codes.iter().map(|&c| f64::from(c)).collect();
    let middle = median(&values);
    let away: Vec<f64> = values.iter().map(|v| (v - middle).abs()).collect();
    let limit = wild_from(&away, (7.5 * median(&away)).max(2.5));
    mean(&values.into_iter().filter(|v| (v - middle).abs() <= limit).collect::<Vec<_>>())
}

/// The departure from which a sample is wild: `limit`, or none where more lie beyond than damage does.
fn wild_from(away: &[f64], limit: f64) -> f64 {
    let beyond = away.iter().filter(|off| **off > limit).count() as f64;
    if beyond > WILD_MOST * away.len() as f64 { f64::INFINITY } else { limit }
}

/// Variance about each stretch's own level without wild samples, and its degrees of freedom.
fn spread<'a>(stretches: impl Iterator<Item = &'a [i32]>) -> (f64, f64) {
    let (mut squares, mut freedom) = (0.0, 0.0);
    for codes in stretches {
        let middle = level(codes);
        let away: Vec<f64> = codes.iter().map(|&c| (f64::from(c) - middle).abs()).collect();
        // Damaged lines are no noise: beyond eight scaled MADs nothing counts.
        let limit = wild_from(&away, 8.0 * SIGMA_PER_MAD * median(&away).max(0.5));
        let tame = || away.iter().filter(|off| **off <= limit);
        squares += tame().map(|off| off * off).sum::<f64>();
        freedom += tame().count() as f64 - 1.0;
    }
    (squares / freedom, freedom)
}

/// Ratio of two SDs with its interval by F.
fn ratio(driven: (f64, f64), quiet: (f64, f64)) -> Measured<Estimate> {
    if !(quiet.0 > 0.0 && driven.0 >= 0.0) {
        return Err(Shortage {
            what: "noisy rows without the drive".to_owned(),
            have: 0,
            need: 1,
            advice: "record the input at rest with the drive off".to_owned(),
        });
    }
    let value = (driven.0 / quiet.0).sqrt();
    let wide = f_quantile(0.975, driven.1, quiet.1).sqrt();
    let narrow = f_quantile(0.025, driven.1, quiet.1).sqrt();
    Ok(Estimate { value, low: value / wide, high: value / narrow, n: driven.1 as usize + 1 })
}

fn shift(steps: &[Step], codes: &[i32], largest: i32) -> Measured<Estimate> {
    let stretches: Vec<&[Step]> = steps
        .chunk_by(|a, b| a.stretch == b.stretch)
        .filter(|of| of.iter().any(|s| s.drive != of[0].drive))
        .collect();
    let n: usize = stretches.iter().map(|of| of.len()).sum();
    if n < STEPS_MIN.max(stretches.len() + 2 + FREEDOM_MIN) {
        return Err(few_steps(n, steps.len()));
    }
    let (from, to) = (steps[0].t_s, steps[steps.len() - 1].t_s);
    let span = (to - from).max(1e-9);
    // About the means of their own stretch neither level nor regressors know the stretch's a.
    let mut rows: Vec<([f64; 2], f64)> = Vec::with_capacity(n);
    for of in &stretches {
        let whole: Vec<[f64; 3]> = of
            .iter()
            .map(|s| {
                let drive = f64::from(s.drive) / f64::from(largest);
                [drive, (s.t_s - from) / span, level(&codes[s.rows.clone()])]
            })
            .collect();
        let mid = [0, 1, 2].map(|i| whole.iter().map(|w| w[i]).sum::<f64>() / whole.len() as f64);
        rows.extend(whole.iter().map(|w| ([w[0] - mid[0], w[1] - mid[1]], w[2] - mid[2])));
    }
    let mut normal = Normal::new(2);
    rows.iter().for_each(|(x, level)| normal.add(x, *level));
    let c = normal.solve();
    let off = |x: &[f64; 2]| x[0] * c[0] + x[1] * c[1];
    let squares: f64 = rows.iter().map(|(x, level)| (level - off(x)).powi(2)).sum();
    let nu = (n - stretches.len() - 2) as f64;
    let error = (squares / nu * normal.variances()[0]).sqrt();
    let half = t_quantile(0.975, nu) * error;
    Ok(Estimate { value: c[0], low: c[0] - half, high: c[0] + half, n })
}

#[cfg(test)]
mod tests {
    use rand::SeedableRng;
    use rand_chacha::ChaCha8Rng;
    use rand_distr::{Distribution, Normal as Gauss};

    use super::*;

    /// Eight steps of 2 s at 250 Hz, off and on in turn, drifting by one count a minute.
    fn driven(shift: f64, sigma: [f64; 2], seed: u64) -> (Vec<i32>, Vec<i32>, Vec<u64>) {
        let mut rng = ChaCha8Rng::seed_from_u64(seed);
        let t_us: Vec<u64> = (0..4000).map(|k| k * 4000).collect();
        let drive: Vec<i32> = (0..4000).map(|k| if k / 500 % 2 == 1 { 200 } else { 0 }).collect();
        let codes = t_us.iter().zip(&drive).map(|(&t, &d)| {
            let on = usize::from(d > 0);
            let noise = Gauss::new(0.0, sigma[on]).expect("finite").sample(&mut rng);
            (512.4 + shift * on as f64 + t as f64 / 6e7 + noise).round() as i32
        });
        (codes.collect(), drive, t_us)
    }

    #[test]
    fn a_shift_and_a_rise_of_noise_are_found() {
        let (codes, drive, t_us) = driven(-4.0, [0.7, 2.1], 1);
        let f = drive_coupling(&codes, &drive, &t_us, &[0..2000, 2000..4000]).expect("eight");
        let shift = f.shift.expect("two stretches of four");
        assert!((shift.value + 4.0).abs() < 0.4 && shift.high < -3.0, "{shift:?}");
        assert!((f.noise_ratio.expect("noise").value - 2.8).abs() < 0.3);
        assert_eq!((f.largest, shift.n), (200.0, 8));
    }

    #[test]
    fn where_a_touched_part_comes_to_rest_is_no_answer_to_the_drive() {
        // Six rests of a stick without the drive, each at another place, then the sweep.
        let rest = |k: u64| 3.0 * f64::from((k / 500 * 5 % 7) as u32) - 9.0;
        let t_us: Vec<u64> = (0..6000).map(|k| k * 4000).collect();
        let on = |k: u64| k >= 3000 && k / 300 % 2 == 1;
        let drive: Vec<i32> = (0..6000).map(|k| if on(k) { 200 } else { 0 }).collect();
        let mut rng = ChaCha8Rng::seed_from_u64(3);
        let noise = Gauss::new(0.0, 0.7).expect("finite");
        let codes: Vec<i32> = (0..6000u64)
            .map(|k| {
                let base = if k < 3000 { rest(k) } else { 0.0 } - if on(k) { 3.5 } else { 0.0 };
                (512.3 + base + noise.sample(&mut rng)).round() as i32
            })
            .collect();
        let rows: Vec<_> =
            (0..6).map(|k| 500 * k..500 * k + 500).chain(std::iter::once(3000..6000)).collect();
        let shift = drive_coupling(&codes, &drive, &t_us, &rows).expect("steps").shift;
        let shift = shift.expect("ten steps of one stretch");
        assert_eq!(shift.n, 10);
        assert!((shift.value + 3.5).abs() < 0.2 && shift.high < -3.2, "{shift:?}");
        // Rests alone, each with its own drive, cannot tell the one from the other.
        let apart: Vec<i32> = (0..6000).map(|k| if k / 500 % 2 == 1 { 200 } else { 0 }).collect();
        let found = drive_coupling(&codes, &apart, &t_us, &rows[..6]).expect("steps");
        assert!(found.shift.is_err() && found.noise_ratio.is_ok());
    }

    #[test]
    fn a_switched_current_is_not_taken_for_wild_samples() {
        // Two thirds of the samples stand 9 counts lower while driven, with hardly any noise.
        let t_us: Vec<u64> = (0..4000).map(|k| k * 4000).collect();
        let drive: Vec<i32> = (0..4000).map(|k| if k / 500 % 2 == 1 { 200 } else { 0 }).collect();
        let code = |k: usize| {
            512 + i32::from(k.is_multiple_of(5)) - if k.is_multiple_of(3) { 0 } else { 9 }
        };
        let quiet = |k: usize| 512 + i32::from(k.is_multiple_of(5));
        let both = |k: usize| if drive[k] > 0 { code(k) } else { quiet(k) };
        let codes: Vec<i32> = (0..4000).map(both).collect();
        let f = drive_coupling(&codes, &drive, &t_us, &[0..4000, 4000..4000]).expect("eight");
        assert!((f.shift.expect("one stretch").value + 6.0).abs() < 0.3);
        // The quiet code has a variance of 0.16; the square wave adds 9² · 2/9.
        let ratio = f.noise_ratio.expect("noise").value;
        assert!((ratio - (0.16f64 + 18.0).sqrt() / 0.4).abs() < 0.5, "{ratio}");
    }

    #[test]
    fn no_coupling_is_told_with_its_interval() {
        let held = (0..200).filter(|&seed| {
            let (codes, drive, t_us) = driven(0.0, [0.7, 0.7], seed);
            let f = drive_coupling(&codes, &drive, &t_us, &[0..4000, 4000..4000]).expect("eight");
            let shift = f.shift.expect("one stretch");
            shift.low <= 0.0 && shift.high >= 0.0
        });
        let share = held.count() as f64 / 200.0;
        assert!(share > 0.9, "{share}");
    }

    #[test]
    fn a_drive_that_never_changes_is_a_shortage() {
        let (codes, _, t_us) = driven(0.0, [0.7, 0.7], 2);
        let all = [0..2000, 2000..4000];
        assert!(drive_coupling(&codes, &vec![200; 4000], &t_us, &all).is_err());
        assert!(drive_coupling(&[], &[], &[], &all).is_err());
    }
}
