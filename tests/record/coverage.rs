//! Do 95 % intervals contain the truth in 95 % of a thousand made boards? Prints its table with
//! `cargo test --test record coverage -- --nocapture`.
use rand::{Rng, SeedableRng};
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, Normal};
use trimbench::measure::noise::{Quiet, RestNoise, at_rest};
use trimbench::measure::{Estimate, interval};

use crate::row::{BAND, Row};

const DRAWS: usize = 1000;

/// A resting axis with everything that must be told apart.
struct Made {
    level: f64,
    sigma: f64,
    hum: f64,
    hum_hz: f64,
    drift_per_min: f64,
    samples: usize,
}

impl Made {
    fn draw(rng: &mut ChaCha8Rng) -> Made {
        Made {
            level: rng.random_range(480.0..540.0),
            sigma: rng.random_range(0.5..2.5),
            hum: rng.random_range(0.6..3.0),
            hum_hz: rng.random_range(49.9..50.1),
            drift_per_min: rng.random_range(-3.0..3.0),
            samples: 2500,
        }
    }

    fn seconds(&self) -> f64 {
        self.samples as f64 * 0.004
    }

    fn record(&self, rng: &mut ChaCha8Rng) -> (Vec<i32>, Vec<u64>) {
        let noise = Normal::new(0.0, self.sigma).unwrap();
        let phase = rng.random_range(0.0..std::f64::consts::TAU);
        (0..self.samples as u64)
            .map(|i| {
                let s = i as f64 * 0.004;
                let hum = self.hum * (std::f64::consts::TAU * self.hum_hz * s + phase).sin();
                let drift = self.drift_per_min * (s - 0.5 * self.seconds()) / 60.0;
                let code = (self.level + hum + drift + noise.sample(rng)).round() as i32;
                (code, 5_000_000 + 4000 * i)
            })
            .unzip()
    }

    fn measure(&self, rng: &mut ChaCha8Rng) -> RestNoise {
        let (codes, t_us) = self.record(rng);
        at_rest(&[Quiet { codes: &codes, t_us: &t_us }], 1024).unwrap()
    }
}

#[test]
fn intervals_of_a_rest_hold_the_truth() {
    let mut rng = ChaCha8Rng::seed_from_u64(20_250_101);
    let [mut level, mut sigma, mut drift, mut hum] = [(); 4].map(|()| Row::default());
    let mut unseen = 0;
    for _ in 0..DRAWS {
        let made = Made::draw(&mut rng);
        let rest = made.measure(&mut rng);
        level.add(rest.level, made.level);
        sigma.add(rest.rms.unwrap(), made.sigma);
        drift.add(rest.drift_per_min.unwrap(), made.drift_per_min);
        match rest.lines.iter().find(|l| (l.hz - made.hum_hz).abs() < 0.1) {
            Some(line) => hum.add(line.amplitude, made.hum),
            None => unseen += 1,
        }
    }
    println!("95 % intervals, {DRAWS} draws, 10 s at 250 Hz, σ 0.5–2.5 counts:");
    let rows = [("level", level), ("noise σ", sigma), ("drift", drift), ("hum amplitude", hum)];
    println!("hum not found: {unseen}");
    assert!(unseen <= 2, "{unseen}");
    rows.iter().for_each(|(name, row)| row.check(name, BAND));
}

#[test]
fn plain_intervals_hold_the_truth() {
    let mut rng = ChaCha8Rng::seed_from_u64(7);
    let noise = Normal::new(3.0, 2.0).unwrap();
    let [mut mean, mut sd, mut median] = [(); 3].map(|()| Row::default());
    for _ in 0..DRAWS {
        let values: Vec<f64> = (0..16).map(|_| noise.sample(&mut rng)).collect();
        mean.add(interval::mean(&values).unwrap(), 3.0);
        sd.add(interval::sd(&values).unwrap(), 2.0);
        median.add(interval::median(&values).unwrap(), 3.0);
    }
    println!("95 % intervals, {DRAWS} draws of 16 values:");
    mean.check("mean", BAND);
    sd.check("standard deviation", BAND);
    // Ranks are whole: 16 values give 97.9 %, never less than 95 %.
    median.check("median", 0.95..=0.995);
}

#[test]
fn disturbances_move_no_estimate_by_more_than_its_interval() {
    let mut rng = ChaCha8Rng::seed_from_u64(99);
    let mut moved = [0; 4];
    for _ in 0..100 {
        let made = Made { samples: 5000, ..Made::draw(&mut rng) };
        let (codes, t_us) = made.record(&mut rng);
        let before = at_rest(&[Quiet { codes: &codes, t_us: &t_us }], 1024).unwrap();
        let (codes, t_us) = disturbed(&codes, &t_us, &mut rng);
        let after = at_rest(&[Quiet { codes: &codes, t_us: &t_us }], 1024).unwrap();
        let strays = |a: Estimate, b: Estimate| usize::from(b.value < a.low || b.value > a.high);
        moved[0] += strays(before.level, after.level);
        moved[1] += strays(before.rms.unwrap(), after.rms.unwrap());
        moved[2] += strays(before.drift_per_min.unwrap(), after.drift_per_min.unwrap());
        moved[3] += strays(before.lines[0].amplitude, after.lines[0].amplitude);
    }
    println!("out of its own interval after spikes, losses, a stall and a bump, of 100 boards:");
    println!("level {} noise {} drift {} hum {}", moved[0], moved[1], moved[2], moved[3]);
    assert!(moved.iter().all(|m| *m <= 3), "{moved:?}");
}

/// 1 % spikes, 0.5 % of codes with a flipped digit, 2 % lost frames, a stall of 300 ms and a bump
/// of the table.
fn disturbed(codes: &[i32], t_us: &[u64], rng: &mut ChaCha8Rng) -> (Vec<i32>, Vec<u64>) {
    let bump = Normal::new(0.0, 15.0_f64).unwrap();
    let mut kept = (Vec::new(), Vec::new());
    for (i, (code, t)) in codes.iter().zip(t_us).enumerate() {
        let stalled = (2000..2075).contains(&i);
        if stalled || rng.random_bool(0.02) {
            continue;
        }
        let mut code = *code;
        if rng.random_bool(0.01) {
            code += rng.random_range(-400..400);
        }
        if rng.random_bool(0.005) {
            code += [100, -100, 10, -10, 3, -3][rng.random_range(0..6)];
        }
        if (3300..3360).contains(&i) {
            code += bump.sample(rng).round() as i32;
        }
        kept.0.push(code);
        kept.1.push(*t);
    }
    kept
}
