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

/// How a reading answers a drive.
#[derive(Clone, Debug, PartialEq)]
pub struct DriveCoupling {
    /// Shift of the reading at the largest drive seen, counts. n = steps.
    pub shift: Estimate,
    /// Noise at the largest drive over noise without, ratio of rms. n = samples at the largest drive.
    pub noise_ratio: Measured<Estimate>,
    /// Largest drive seen, in its own unit.
    pub largest: f64,
}

/// Shift and noise of a channel at rest against a drive that changes in steps.
///
/// `rows` are stretches in which the channel is not touched; `drive[i]` is the drive at row i.
/// Stretches of one drive of 0.35 s or more are steps, their first 150 ms left out; their robust
/// levels are fitted by a + b·drive + c·time, so that slow drift does not pass for coupling, and
/// shift = b · largest drive, with t of (steps − 3) degrees of freedom. Needs five steps and two
/// drives. By hand: levels 512 508 512 508 512 at drives 0 200 0 200 0 and even times fit exactly with
/// a = 512, b = −0.02, c = 0, so that the shift is −4 counts. Noise ratio: SD about the level at the largest drive over that at drive 0, interval by F
/// (samples taken for independent). Cost: linear in the rows.
pub fn drive_coupling(
    codes: &[i32],
    drive: &[i32],
    t_us: &[u64],
    rows: &[Range<usize>],
) -> Measured<DriveCoupling> {
    let steps: Vec<Step> = rows.iter().flat_map(|r| steps(drive, t_us, r, codes.len())).collect();
    let largest = steps.iter().map(|s| s.drive).max_by_key(|d| d.abs()).unwrap_or(0);
    let varied = steps.iter().any(|s| s.drive != largest);
    if steps.len() < STEPS_MIN || !varied || largest == 0 {
        return Err(Shortage {
            what: "steps of the drive with this input left alone".to_owned(),
            have: if varied { steps.len() } else { 0 },
            need: STEPS_MIN.max(steps.len()),
            advice:
                "let the board switch the motor or light on and off, two seconds each, hands off"
                    .to_owned(),
        });
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

/// A stretch of one drive.
struct Step {
    rows: Range<usize>,
    drive: i32,
    t_s: f64,
}

fn steps(drive: &[i32], t_us: &[u64], rows: &Range<usize>, len: usize) -> Vec<Step> {
    let end = rows.end.min(drive.len()).min(t_us.len()).min(len);
    let mut found = Vec::new();
    let mut first = rows.start;
    while first < end {
        let last = (first..end).find(|&k| drive[k] != drive[first]).unwrap_or(end);
        let begin = first + t_us[first..last].partition_point(|&t| t < t_us[first] + SETTLE_US);
        if begin < last && t_us[last - 1] - t_us[begin] >= STEP_MIN_US {
            let t_s = 0.5e-6 * (t_us[begin] as f64 + t_us[last - 1] as f64);
            found.push(Step { rows: begin..last, drive: drive[first], t_s });
        }
        first = last;
    }
    found
}

fn level(codes: &[i32]) -> f64 {
    let values: Vec<f64> = codes.iter().map(|&c| f64::from(c)).collect();
    let middle = median(&values);
    let away: Vec<f64> = values.iter().map(|v| (v - middle).abs()).collect();
    let limit = (7.5 * median(&away)).max(2.5);
    mean(&values.into_iter().filter(|v| (v - middle).abs() <= limit).collect::<Vec<_>>())
}

/// Variance about each stretch's own level without wild samples, and its degrees of freedom.
fn spread<'a>(stretches: impl Iterator<Item = &'a [i32]>) -> (f64, f64) {
    let (mut squares, mut freedom) = (0.0, 0.0);
    for codes in stretches {
        let middle = level(codes);
        let away: Vec<f64> = codes.iter().map(|&c| (f64::from(c) - middle).abs()).collect();
        // Damaged lines are no noise: beyond eight scaled MADs nothing counts.
        let limit = 8.0 * SIGMA_PER_MAD * median(&away).max(0.5);
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

fn shift(steps: &[Step], codes: &[i32], largest: i32) -> Estimate {
    let n = steps.len();
    let (from, to) = (steps[0].t_s, steps[n - 1].t_s);
    let span = (to - from).max(1e-9);
    let row = |s: &Step| [1.0, f64::from(s.drive) / f64::from(largest), (s.t_s - from) / span];
    let mut normal = Normal::new(3);
    let levels: Vec<f64> = steps.iter().map(|s| level(&codes[s.rows.clone()])).collect();
    steps.iter().zip(&levels).for_each(|(s, &level)| normal.add(&row(s), level));
    let c = normal.solve();
    let off = |s: &Step| row(s).iter().zip(&c).map(|(x, c)| x * c).sum::<f64>();
    let squares: f64 = steps.iter().zip(&levels).map(|(s, l)| (l - off(s)).powi(2)).sum();
    let nu = (n - 3) as f64;
    let error = (squares / nu * normal.variances()[1]).sqrt();
    let half = t_quantile(0.975, nu) * error;
    Estimate { value: c[1], low: c[1] - half, high: c[1] + half, n }
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
        assert!((f.shift.value + 4.0).abs() < 0.4 && f.shift.high < -3.0, "{f:?}");
        assert!((f.noise_ratio.expect("noise").value - 2.8).abs() < 0.3);
        assert_eq!((f.largest, f.shift.n), (200.0, 8));
    }

    #[test]
    fn no_coupling_is_told_with_its_interval() {
        let held = (0..200).filter(|&seed| {
            let (codes, drive, t_us) = driven(0.0, [0.7, 0.7], seed);
            let f = drive_coupling(&codes, &drive, &t_us, &[0..4000, 4000..4000]).expect("eight");
            f.shift.low <= 0.0 && f.shift.high >= 0.0
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
