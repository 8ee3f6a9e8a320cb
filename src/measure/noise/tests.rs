//! Noise of made boards with known truth.
use rand::SeedableRng;
use rand_distr::{Distribution, Normal as Gauss};

use super::*;

/// A resting axis: level, σ, one line, drift, then rounded.
struct Board {
    level: f64,
    sigma: f64,
    hum: f64,
    hum_hz: f64,
    drift_per_min: f64,
}

const PLAIN: Board = Board { level: 512.3, sigma: 0.7, hum: 0.0, hum_hz: 50.0, drift_per_min: 0.0 };

impl Board {
    fn record(&self, n: usize, seed: u64) -> (Vec<i32>, Vec<u64>) {
        let mut rng = rand_chacha::ChaCha8Rng::seed_from_u64(seed);
        let gauss = Gauss::new(0.0, self.sigma).unwrap();
        let t: Vec<u64> = (0..n as u64).map(|i| 1_000_000 + 4000 * i).collect();
        let codes = t
            .iter()
            .map(|t| {
                let s = (*t as f64 - 1e6) * 1e-6;
                let hum = self.hum * (std::f64::consts::TAU * self.hum_hz * s + 0.4).sin();
                let drift = self.drift_per_min * s / 60.0;
                (self.level + hum + drift + gauss.sample(&mut rng)).round() as i32
            })
            .collect();
        (codes, t)
    }
}

fn measure(codes: &[i32], t_us: &[u64]) -> RestNoise {
    at_rest(&[Quiet { codes, t_us }], 1024).unwrap()
}

#[test]
fn noise_is_within_ten_percent_for_half_a_count_and_more() {
    for (k, sigma) in [0.5, 0.6, 0.8, 1.0, 1.4, 1.6, 3.0, 12.0].into_iter().enumerate() {
        for seed in 0..20 {
            let level = 512.0 + 0.05 * seed as f64;
            let board = Board { sigma, level, hum: 0.4 * (k % 3) as f64, ..PLAIN };
            let (codes, t) = board.record(2000, 100 * k as u64 + seed);
            let rms = measure(&codes, &t).rms.unwrap();
            assert!((rms.value / sigma - 1.0).abs() < 0.1, "{sigma} {level} {rms:?}");
        }
    }
}

#[test]
fn noise_below_the_steps_is_not_told() {
    for level in [512.0, 512.25, 512.5] {
        let (codes, t) = Board { sigma: 0.12, level, ..PLAIN }.record(2000, 3);
        let noise = measure(&codes, &t);
        let short = noise.rms.unwrap_err();
        assert!(is_below_floor(&short), "{short}");
        assert!(noise.noise_free_bits.is_err());
        assert!(noise.level.low <= level && level <= noise.level.high);
    }
    assert!(!is_below_floor(&at_rest(&[], 1024).unwrap_err()));
}

#[test]
fn hum_and_drift_are_told_apart_from_noise() {
    let board = Board { hum: 3.0, hum_hz: 50.03, drift_per_min: 4.0, ..PLAIN };
    let (codes, t) = board.record(5000, 11);
    let noise = measure(&codes, &t);
    assert!((noise.rms.unwrap().value / 0.7 - 1.0).abs() < 0.06);
    assert_eq!(noise.lines.len(), 1, "{:?}", noise.lines);
    let line = noise.lines[0];
    assert!((line.hz - 50.03).abs() < 0.01 && (line.amplitude.value - 3.0).abs() < 0.1);
    let drift = noise.drift_per_min.unwrap();
    assert!(drift.low <= 4.0 && 4.0 <= drift.high && drift.high - drift.low < 2.0, "{drift:?}");
    assert!((noise.rate_hz - 250.0).abs() < 1e-9);
    let peak = noise.density.density.iter().copied().fold(0.0, f64::max);
    assert!(peak > 0.5, "hum stands out of the density: {peak}");
}

#[test]
fn spikes_and_a_burst_move_nothing() {
    let (clean, t) = PLAIN.record(4000, 5);
    let before = measure(&clean, &t);
    let mut codes = clean.clone();
    for i in (0..codes.len()).step_by(100) {
        codes[i] += if i % 200 == 0 { 60 } else { -35 };
    }
    // A motor runs for two of the sixteen seconds.
    for (i, code) in codes[1500..2000].iter_mut().enumerate() {
        *code += [4, -3, 0, 5, -6][i % 5];
    }
    let after = measure(&codes, &t);
    let (a, b) = (before.rms.unwrap(), after.rms.unwrap());
    assert!((a.value - b.value).abs() < 0.5 * (a.high - a.low), "{a:?} {b:?}");
    assert!(a.low < b.value && b.value < a.high, "{a:?} {b:?}");
    assert!((before.level.value - after.level.value).abs() < 0.05);
    // The burst covers two blocks and touches a third at most; the rest hold their spikes.
    assert!((30..=40).contains(&after.spikes), "{}", after.spikes);
    assert!(after.peak_to_peak.value <= before.peak_to_peak.value);
    assert!(after.blocks_left_out >= 1);
    assert!((5.0..7.0).contains(&before.peak_to_peak.value), "{:?}", before.peak_to_peak);
}

#[test]
fn several_stretches_add_up() {
    let (a, t) = PLAIN.record(500, 1);
    let (b, _) = Board { level: 530.0, ..PLAIN }.record(700, 2);
    let later: Vec<u64> = (0..700).map(|i| 9_000_000 + 4000 * i).collect();
    let quiet = [Quiet { codes: &a, t_us: &t }, Quiet { codes: &b, t_us: &later }];
    let noise = at_rest(&quiet, 1024).unwrap();
    assert!((noise.level.value - 530.0).abs() < 0.2);
    assert_eq!(noise.span.start_us, 9_000_000);
    let rms = noise.rms.unwrap();
    assert!((rms.value / 0.7 - 1.0).abs() < 0.1 && rms.n > 1000);
}

#[test]
fn resolution_by_hand() {
    // σ = 1.024/6.6 × 64 … chosen so that full scale/(6.6 σ) is 2⁷.
    let sigma = 1024.0 / (6.6 * 128.0);
    let rms = Estimate { value: sigma, low: 0.5 * sigma, high: 2.0 * sigma, n: 10 };
    let bits = bits_of(rms, 1024, 6.6);
    assert!((bits.value - 7.0).abs() < 1e-12);
    assert!((bits.low - 6.0).abs() < 1e-12 && (bits.high - 8.0).abs() < 1e-12);
    let steps = noise_free_steps(660.0, Estimate { value: 1.0, low: 0.5, high: 2.0, n: 10 });
    assert_eq!((steps.value, steps.low, steps.high), (100.0, 50.0, 200.0));
}

#[test]
fn odd_data_give_shortages_and_no_panic() {
    let still = vec![5_000_u64; 300];
    let (codes, t) = PLAIN.record(300, 9);
    assert!(at_rest(&[Quiet { codes: &codes, t_us: &still }], 1024).is_ok());
    assert!(at_rest(&[Quiet { codes: &codes[..99], t_us: &t }], 1024).is_err());
    let frozen = vec![512; 300];
    let noise = measure(&frozen, &t);
    assert!(is_below_floor(&noise.rms.unwrap_err()));
    assert!(noise.level.low <= 512.0 && noise.level.high >= 512.0);
    let mut wild = codes.clone();
    wild[7] = i32::MAX;
    wild[8] = i32::MIN;
    assert!((measure(&wild, &t).level.value - 512.3).abs() < 0.2);
    let backwards: Vec<u64> = t.iter().rev().copied().collect();
    let _ = at_rest(&[Quiet { codes: &codes, t_us: &backwards }], 1024);
}

#[test]
fn a_block_is_a_second_at_every_rate_and_shorter_in_a_short_stretch() {
    let length = |rate: u64, seconds: u64| {
        let t_us: Vec<u64> = (0..rate * seconds).map(|i| i * 1_000_000 / rate).collect();
        stretch::block_length(&t_us)
    };
    for rate in [15, 60, 125, 250, 1000, 2000] {
        assert_eq!(length(rate, 10), (rate as usize).max(16), "{rate} Hz");
    }
    assert_eq!([length(250, 4), length(1000, 4), length(250, 1)], [125, 500, 63]);
}

#[test]
fn slow_wander_is_drift_and_no_noise_whatever_the_rate() {
    let mut rng = rand_chacha::ChaCha8Rng::seed_from_u64(12);
    let gauss = Gauss::new(0.0, 1.0).unwrap();
    // A wander of a 10 s period and 8 counts, seen at 1 kHz and by every 16th row.
    let t: Vec<u64> = (0..20_000).map(|i| i * 1000).collect();
    let code = |t: &u64| {
        let wander = 8.0 * (std::f64::consts::TAU * 0.1 * *t as f64 * 1e-6).sin();
        (512.0 + wander + gauss.sample(&mut rng)).round() as i32
    };
    let codes: Vec<i32> = t.iter().map(code).collect();
    let sigma = |step: usize| {
        let (codes, t_us): (Vec<i32>, Vec<u64>) =
            codes.iter().zip(&t).step_by(step).map(|(c, t)| (*c, *t)).unzip();
        at_rest(&[Quiet { codes: &codes, t_us: &t_us }], 1024).unwrap().rms.unwrap()
    };
    for step in [1, 4, 16] {
        let rms = sigma(step);
        assert!(rms.low < 1.06 && rms.high > 0.97, "every {step}: {rms:?}");
    }
}
