//! Pulls with known truth.
use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, Normal};

use super::*;

/// Columns of eight pulls at 250 Hz, four slow and four fast; `level` gives counts at a travel 0–1.
fn pulled(
    level: impl Fn(f64, bool) -> f64,
    sigma: f64,
    rest_sd: f64,
    seed: u64,
) -> (Vec<i32>, Vec<u64>, Vec<Pull>) {
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    let noise = Normal::new(0.0, sigma).expect("finite");
    let seat = Normal::new(0.0, rest_sd).expect("finite");
    let mut codes = Vec::new();
    let mut pulls = Vec::new();
    for k in 0..8 {
        let slow = k < 4;
        let rest = seat.sample(&mut rng);
        let mut run = |from: f64, to: f64, seconds: f64, back: bool| {
            let first = codes.len();
            let rows = (seconds * 250.0) as usize;
            for i in 0..rows {
                let travel = from + (to - from) * i as f64 / rows as f64;
                let seated = if travel == 0.0 { rest } else { 0.0 };
                codes.push((level(travel, back) + seated + noise.sample(&mut rng)).round() as i32);
            }
            first..codes.len()
        };
        let seconds: f64 = if slow { 1.6 } else { 0.15 };
        run(0.0, 0.0, 0.3, false);
        let up = run(0.0, 1.0, seconds, false);
        let hold = run(1.0, 1.0, 0.3, false);
        let down = run(1.0, 0.0, seconds * 1.05, true);
        let settled = run(0.0, 0.0, 0.4, true);
        pulls.push(Pull { up, hold, down, settled: Some(settled), slow });
    }
    let t_us = (0..codes.len() as u64).map(|k| k * 4000).collect();
    (codes, t_us, pulls)
}

#[test]
fn a_sound_trigger_of_either_polarity() {
    for (rest, full) in [(60.0, 940.0), (930.0, 80.0)] {
        let (codes, t_us, pulls) = pulled(|p, _| rest + (full - rest) * p, 0.7, 2.0, 4);
        let f = trigger(&codes, &t_us, &pulls, &[]);
        assert_eq!(f.rests_high, Some(rest > full));
        let (r, u) = (f.rest.expect("eight"), f.full.expect("eight"));
        assert!((r.value - rest).abs() < 2.5 && r.low < rest && r.high > rest, "{r:?}");
        assert!((u.value - full).abs() < 0.5 && u.n == 8, "{u:?}");
        let scatter = f.rest_scatter.expect("eight");
        assert!(scatter.low < 2.0 && scatter.high > 2.0, "{scatter:?}");
        let reversal = f.reversal.expect("slow");
        assert!(reversal.value == 0.0 && reversal.high < 4.0, "{reversal:?}");
        let hysteresis = f.hysteresis.expect("slow");
        assert!(hysteresis.value < 2.0 && hysteresis.low < 0.5, "{hysteresis:?}");
        assert!((f.noise - 0.75).abs() < 0.1, "{}", f.noise);
    }
}

#[test]
fn a_fold_in_the_sensor_is_a_reversal() {
    // Falls by 25 counts between 0.60 and 0.64 of the travel.
    let fold = |p: f64, _: bool| {
        60.0 + 800.0 * p
            - 25.0 * ((p - 0.6) / 0.04).clamp(0.0, 1.0)
            - 800.0 * (p.clamp(0.6, 0.64) - 0.6)
    };
    let (codes, t_us, pulls) = pulled(fold, 0.7, 1.0, 2);
    let f = trigger(&codes, &t_us, &pulls, &[]).reversal.expect("slow");
    assert!((f.value - 25.0).abs() < 3.0 && f.low < 25.0 && f.high > 25.0, "{f:?}");
    assert_eq!(f.n, 8);
}

#[test]
fn one_hesitation_is_no_fold() {
    let (mut codes, t_us, pulls) = pulled(|p, _| 60.0 + 880.0 * p, 0.7, 1.0, 2);
    let at = pulls[1].up.start + 200;
    codes[at..at + 40].iter_mut().for_each(|c| *c -= 60);
    assert_eq!(trigger(&codes, &t_us, &pulls, &[]).reversal.expect("slow").value, 0.0);
}

#[test]
fn a_path_that_differs_up_and_down_is_hysteresis() {
    let bow = |p: f64, back: bool| {
        60.0 + 880.0 * p + if back { 30.0 * (std::f64::consts::PI * p).sin() } else { 0.0 }
    };
    let (codes, t_us, pulls) = pulled(bow, 0.7, 1.0, 3);
    let f = trigger(&codes, &t_us, &pulls, &[]);
    let middle = f.hysteresis_at[1].clone().expect("slow");
    assert!((middle.value - 30.0).abs() < 3.0, "{middle:?}");
    assert!(f.hysteresis.expect("slow").value > 15.0);
}

#[test]
fn time_at_full_is_a_share_of_the_pull() {
    let (codes, t_us, pulls) = pulled(|p, _| 60.0 + 880.0 * (p / 0.8).min(1.0), 0.5, 1.0, 3);
    let f = trigger(&codes, &t_us, &pulls, &[]).end_plateau.expect("slow");
    // (0.2·1.6 + 0.3 + 0.2·1.68)/(1.6 + 0.3 + 1.68), and 1 % of the way more on both sides.
    assert!((f.value - 0.274).abs() < 0.01, "{f:?}");
}

#[test]
fn nothing_and_ranges_outside_are_shortages() {
    let none = trigger(&[], &[], &[], &[]);
    assert!(none.rest.is_err() && none.full.is_err() && none.reversal.is_err());
    assert_eq!(none.rests_high, None);
    let beyond = Pull { up: 0..50, hold: 50..60, down: 60..90, settled: Some(90..99), slow: true };
    assert!(trigger(&[5; 40], &[0; 40], &[beyond], &[]).hysteresis.is_err());
    let only_rest = trigger(&[5; 40], &[0; 40], &[], &[0..20, 20..40]);
    assert_eq!(only_rest.rest.expect("two").value, 5.0);
}

#[test]
fn scatter_at_full_is_that_of_the_stop_and_not_of_the_mean_of_few_rows() {
    // A stop that repeats exactly, σ = 4: means of the few rows of a quick hold scatter by 1.6 themselves.
    let few = |seed: u64| {
        let (codes, t_us, mut pulls) =
            pulled(|travel, _| 60.0 + 880.0 * travel, 4.0, 0.0, 100 + seed);
        for pull in &mut pulls {
            pull.hold.end = pull.hold.start + 6;
        }
        trigger(&codes, &t_us, &pulls, &[]).full_scatter.expect("eight")
    };
    // With the noise of the mean left in, none of them reaches 0.
    let free = (0..40).filter(|seed| few(*seed).low == 0.0).count();
    assert!(free >= 34, "{free} of 40");
}
