//! Time of the estimators on an hour at 1 kHz: `cargo bench --no-default-features --bench measure`.
use divan::{Bencher, black_box};
use trimbench::measure::contact;
use trimbench::measure::fit::circle;
use trimbench::measure::histogram::CodeHistogram;
use trimbench::measure::noise::{Quiet, at_rest};
use trimbench::measure::roundness;
use trimbench::measure::spectrum::{Detrend, WelchPlan, Window, welch};
use trimbench::measure::stability::AllanSums;
use trimbench::measure::tolerance;

const SAMPLES: usize = 3_600_000;

fn main() {
    divan::main();
}

/// Codes of a resting ten-bit axis: about σ = 0.7 counts round 512, by a small generator.
fn codes(n: usize, seed: u64) -> Vec<i32> {
    let mut x = seed.wrapping_mul(0x9E37_79B9_7F4A_7C15) | 1;
    (0..n)
        .map(|_| {
            x ^= x << 13;
            x ^= x >> 7;
            x ^= x << 17;
            // Sum of eight bytes: nearly normal with σ = √8·73.9 = 209.
            let sum: u64 = x.to_le_bytes().iter().map(|b| u64::from(*b)).sum();
            512 + ((sum as f64 - 1020.0) * 0.7 / 209.0).round() as i32
        })
        .collect()
}

/// Mean, standard deviation and order statistics of six axes. Wanted: 30 ms.
#[divan::bench(sample_count = 20)]
fn moments_and_order_statistics_of_six_axes(bencher: Bencher) {
    let axes: Vec<Vec<i32>> = (0..6).map(|k| codes(SAMPLES, k + 1)).collect();
    bencher.bench_local(|| {
        let mut total = 0.0;
        for axis in &axes {
            if let Some(h) = CodeHistogram::of(black_box(axis)) {
                total += h.moments().sd() + h.median() + h.quantile(0.01) + h.quantile(0.99);
            }
        }
        total
    });
}

/// Welch, 4 096 samples, Hann, half overlap, one axis. Wanted: 30 ms.
#[divan::bench(sample_count = 20)]
fn welch_of_an_axis(bencher: Bencher) {
    let axis = codes(SAMPLES, 1);
    let plan =
        WelchPlan { segment: 4096, overlap: 2048, window: Window::Hann, detrend: Detrend::Mean };
    bencher.bench_local(|| welch(black_box(&axis), 1000.0, plan));
}

/// Overlapping Allan deviation at octaves, one axis. Wanted: 75 ms.
#[divan::bench(sample_count = 20)]
fn allan_of_an_axis(bencher: Bencher) {
    let axis = codes(SAMPLES, 1);
    bencher.bench_local(|| AllanSums::of(black_box(&axis)).octaves(1000.0));
}

/// Geometric circle on a million points. Wanted: 15 ms.
#[divan::bench(sample_count = 20)]
fn circle_of_a_million_points(bencher: Bencher) {
    let noise = codes(1_000_000, 3);
    let points: Vec<[f64; 2]> = noise
        .iter()
        .enumerate()
        .map(|(i, c)| {
            let (sin, cos) = (i as f64 * 0.0025).sin_cos();
            let r = 400.0 + f64::from(*c) - 512.0;
            [500.0 + r * cos, 520.0 + r * sin]
        })
        .collect();
    bencher.bench_local(|| circle::geometric(black_box(&points)));
}

/// Bounce episodes of 15 buttons, a bouncing press a second for an hour. Wanted: 5 ms.
#[divan::bench(sample_count = 20)]
fn contacts_of_15_buttons(bencher: Bencher) {
    let mut masks = vec![0u32; SAMPLES];
    let t_us: Vec<u64> = (0..SAMPLES as u64).map(|i| 1000 * i).collect();
    for (k, start) in (500..SAMPLES - 200).step_by(1000).enumerate() {
        let bit = 1 << (k % 15);
        masks[start..start + 120].iter_mut().for_each(|m| *m |= bit);
        for off in [2, 3, 118] {
            masks[start + off] &= !bit;
        }
    }
    bencher.bench_local(|| contact::logs(black_box(&masks), &t_us, 15, 1000.0));
}

/// Noise of one axis that rested for an hour.
#[divan::bench(sample_count = 10)]
fn noise_of_an_hour_at_rest(bencher: Bencher) {
    let axis = codes(SAMPLES, 1);
    let t_us: Vec<u64> = (0..SAMPLES as u64).map(|i| 1000 * i).collect();
    bencher.bench_local(|| at_rest(&[Quiet { codes: black_box(&axis), t_us: &t_us }], 1024));
}

/// Noise of one axis that rested for eight seconds at 250 Hz.
#[divan::bench(sample_count = 20)]
fn noise_of_eight_seconds(bencher: Bencher) {
    let axis = codes(2000, 1);
    let t_us: Vec<u64> = (0..2000).map(|i| 4000 * i).collect();
    bencher.bench_local(|| at_rest(&[Quiet { codes: black_box(&axis), t_us: &t_us }], 1024));
}

/// Minimum zone of a profile of 72 sectors.
#[divan::bench]
fn minimum_zone_of_72_sectors(bencher: Bencher) {
    let radii: Vec<f64> = codes(72, 5).iter().map(|c| f64::from(*c)).collect();
    let points = roundness::points_of_profile(&radii);
    bencher.bench_local(|| roundness::minimum_zone(black_box(&points)));
}

/// Exact two-sided tolerance factor.
#[divan::bench]
fn two_sided_tolerance_factor() -> f64 {
    tolerance::two_sided(black_box(16), 0.99, 0.95)
}
