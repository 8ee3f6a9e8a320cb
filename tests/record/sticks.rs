//! Do the 95 % intervals of a stick's figures hold the truth, and does what real links and hands do
//! leave them alone? Prints its tables with `cargo test --test record sticks -- --nocapture`.
use std::f64::consts::TAU;

use rand::{Rng, SeedableRng};
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, Normal};
use trimbench::measure::centre::{Rested, SettleRule, centre, hysteresis, scatter, settled};
use trimbench::measure::gate::{GateFigures, Turn, gate};

use crate::row::{BAND, Row};

const DRAWS: usize = 1000;

/// Sixteen releases, twice from each of eight directions; the stick stays out by `stay` counts on
/// the side of each axis that it came from, by dry friction of that axis.
fn released(stay: f64, sd: f64, rng: &mut ChaCha8Rng) -> Vec<Rested> {
    let noise = Normal::new(0.0, sd).unwrap();
    (0..16)
        .map(|k| {
            let from_deg = 45.0 * f64::from(k % 8);
            let (sin, cos) = from_deg.to_radians().sin_cos();
            let side = |c: f64| if c.abs() < 0.1 { 0.0 } else { c.signum() };
            let at = [518.0 + stay * side(cos), 503.0 + stay * side(sin)];
            Rested { at: at.map(|v| v + noise.sample(rng)), from_deg }
        })
        .collect()
}

#[test]
fn intervals_of_releases_hold_the_truth() {
    let mut rng = ChaCha8Rng::seed_from_u64(11);
    let [mut middle, mut spread, mut none, mut some] = [(); 4].map(|()| Row::default());
    for _ in 0..DRAWS {
        let sd = rng.random_range(1.0..6.0);
        let plain = released(0.0, sd, &mut rng);
        middle.add(centre(&plain).unwrap().x, 518.0);
        spread.add(scatter(&plain).unwrap(), sd * 2.0f64.sqrt());
        none.add(hysteresis(&plain)[0].clone().unwrap().signed, 0.0);
        let stay = rng.random_range(0.5..20.0);
        some.add(hysteresis(&released(stay, sd, &mut rng))[1].clone().unwrap().size, 2.0 * stay);
    }
    println!("95 % intervals, {DRAWS} draws of 16 releases, SD 1–6 counts an axis:");
    middle.check("centre", BAND);
    spread.check("scatter", BAND);
    none.check("hysteresis of 0, signed", BAND);
    some.check("hysteresis of 1–40", BAND);
}

/// A drawn stick and how it is rolled.
struct Rolled {
    centre: [f64; 2],
    gain: [f64; 2],
    skew_deg: f64,
    x: Vec<i32>,
    y: Vec<i32>,
    t_us: Vec<u64>,
    turns: Vec<Turn>,
}

impl Rolled {
    /// Six turns, three each way, 250 Hz, 2.2–2.7 s a turn at an uneven pace; the hand presses harder
    /// on one turn than on the next, and the gate gives a little.
    fn draw(rng: &mut ChaCha8Rng) -> Rolled {
        let gain = [(); 2].map(|()| rng.random_range(320.0..440.0));
        let mut made = Rolled {
            centre: [rng.random_range(490.0..530.0), rng.random_range(490.0..530.0)],
            gain,
            skew_deg: rng.random_range(-6.0..6.0),
            x: Vec::new(),
            y: Vec::new(),
            t_us: Vec::new(),
            turns: Vec::new(),
        };
        let noise = Normal::new(0.0, rng.random_range(0.5..2.0)).unwrap();
        let give = Normal::new(0.0, 0.001).unwrap();
        let (skew_sin, skew_cos) = made.skew_deg.to_radians().sin_cos();
        for turn in 0..6 {
            let clockwise = turn % 2 == 0;
            let rows = (250.0 * rng.random_range(2.2..2.7)) as usize;
            let (start, uneven) = (rng.random_range(0.0..TAU), rng.random_range(0.0..TAU));
            let (press, lean) = (1.0 + give.sample(rng), give.sample(rng));
            let first = made.x.len();
            for k in 0..rows {
                let share = k as f64 / rows as f64 * TAU;
                let way = share + 0.3 * ((share + uneven).sin() - uneven.sin());
                let angle = start + if clockwise { -way } else { way };
                let r = press + lean * (2.0 * angle - uneven).cos();
                let at = [angle.cos(), angle.cos() * skew_sin + angle.sin() * skew_cos];
                let code = [0, 1]
                    .map(|i| made.centre[i] + made.gain[i] * r * at[i] + noise.sample(rng))
                    .map(|v| v.round() as i32);
                made.x.push(code[0]);
                made.y.push(code[1]);
                made.t_us.push(4000 * made.t_us.len() as u64);
            }
            made.turns.push(Turn { rows: first..made.x.len(), clockwise });
        }
        made
    }

    fn measure(&self) -> GateFigures {
        gate(&self.x, &self.y, &self.turns, self.centre).unwrap()
    }

    /// Mean distance of the ideal rim from the centre over directions, the same for each.
    fn radius(&self) -> f64 {
        let skew = self.skew_deg.to_radians();
        let steps = 3600;
        let along = |k: usize| {
            let (sin, cos) = (k as f64 / steps as f64 * TAU).sin_cos();
            let (u, v) = (cos / self.gain[0], sin / self.gain[1]);
            skew.cos() / (u * u + v * v - 2.0 * u * v * skew.sin()).sqrt()
        };
        (0..steps).map(along).sum::<f64>() / steps as f64
    }
}

#[test]
fn intervals_of_rolls_hold_the_truth() {
    let mut rng = ChaCha8Rng::seed_from_u64(12);
    let [mut radius, mut skew, mut side] = [(); 3].map(|()| Row::default());
    let mut worst = [0.0f64; 4];
    for _ in 0..DRAWS {
        let made = Rolled::draw(&mut rng);
        let f = made.measure();
        let angle = f.orthogonality_deg.clone().unwrap();
        radius.add(f.radius, made.radius());
        skew.add(angle, made.skew_deg);
        worst[0] = worst[0].max((f.radius.value / made.radius() - 1.0).abs());
        worst[1] = worst[1].max((angle.value - made.skew_deg).abs());
        for i in 0..2 {
            side.add(f.low[i], made.centre[i] - made.gain[i]);
            side.add(f.high[i], made.centre[i] + made.gain[i]);
            let reach = [made.centre[i] - f.low[i].value, f.high[i].value - made.centre[i]];
            for side in reach {
                worst[2] = worst[2].max((side / made.gain[i] - 1.0).abs());
            }
        }
        worst[3] = worst[3].max(f.roundness.unwrap().value);
    }
    println!("95 % intervals, {DRAWS} draws of six turns, σ 0.5–2 counts, skew to ±6°:");
    radius.check("gate radius", BAND);
    skew.check("orthogonality", BAND);
    // Rounding is allowed for in full, though noise takes most of it away.
    side.check("reach of a side", 0.93..=1.0);
    println!(
        "worst: radius {:.2} %, orthogonality {:.2}°, reach of a side {:.2} %",
        100.0 * worst[0],
        worst[1],
        100.0 * worst[2]
    );
    assert!(worst[0] < 0.01 && worst[1] < 0.5 && worst[2] < 0.01, "{worst:?}");
}

/// 1 % spikes, 0.5 % of codes with a wrong digit, 2 % of rows lost; the turns follow their rows.
fn disturbed(made: &Rolled, rng: &mut ChaCha8Rng) -> Rolled {
    let mut hurt = Rolled { x: vec![], y: vec![], t_us: vec![], turns: vec![], ..*made };
    for turn in &made.turns {
        let first = hurt.x.len();
        for k in turn.rows.clone() {
            if rng.random_bool(0.02) {
                continue;
            }
            let mut code = |c: i32| match rng.random_range(0..1000) {
                0..10 => rng.random_range(0..1024),
                10..15 => c + [1, 10, 100][rng.random_range(0..3)] * rng.random_range(-9..=9),
                _ => c,
            };
            hurt.x.push(code(made.x[k]));
            hurt.y.push(code(made.y[k]));
            hurt.t_us.push(made.t_us[k]);
        }
        hurt.turns.push(Turn { rows: first..hurt.x.len(), clockwise: turn.clockwise });
    }
    hurt
}

#[test]
fn disturbances_of_a_roll_move_no_estimate_by_more_than_its_interval() {
    let mut rng = ChaCha8Rng::seed_from_u64(13);
    let names = ["radius", "orthogonality", "low x", "high x", "low y", "high y", "roundness"];
    let mut moved = [0; 7];
    for _ in 0..200 {
        let made = Rolled::draw(&mut rng);
        let (a, b) = (made.measure(), disturbed(&made, &mut rng).measure());
        let of = |f: &GateFigures| {
            [
                f.radius,
                f.orthogonality_deg.clone().unwrap(),
                f.low[0],
                f.high[0],
                f.low[1],
                f.high[1],
                f.roundness.clone().unwrap(),
            ]
        };
        for ((stray, a), b) in moved.iter_mut().zip(of(&a)).zip(of(&b)) {
            *stray += usize::from(b.value < a.low || b.value > a.high);
        }
    }
    println!("out of its own interval after spikes, wrong digits and losses, of 200 rolls:");
    names.iter().zip(moved).for_each(|(name, n)| println!("{name:16} {n}"));
    assert!(moved.iter().all(|&n| n <= 10), "{moved:?}");
}

#[test]
fn disturbances_of_a_release_move_its_rest_by_less_than_its_interval() {
    let mut rng = ChaCha8Rng::seed_from_u64(14);
    let mut moved = 0;
    for _ in 0..500 {
        let sigma = rng.random_range(0.5..2.0);
        let noise = Normal::new(0.0, sigma).unwrap();
        let home = [rng.random_range(500.0..520.0), rng.random_range(500.0..520.0)];
        let mut columns = [Vec::new(), Vec::new()];
        for k in 0..300 {
            let out = 300.0 * (-f64::from(k) / 8.0).exp();
            for i in 0..2 {
                columns[i].push((home[i] + out + noise.sample(&mut rng)).round() as i32);
            }
        }
        let t_us: Vec<u64> = (0..300).map(|k| 4000 * k).collect();
        let rule = SettleRule::for_bits(10);
        let before = settled(&columns[0], &columns[1], &t_us, rule).unwrap();
        let half = 1.96 * sigma / (before.n as f64).sqrt();
        assert!((before.at[0] - home[0]).abs() < 3.0 * half, "{before:?} {home:?}");
        for code in &mut columns[0] {
            if rng.random_bool(0.015) {
                *code = rng.random_range(0..1024);
            }
        }
        let kept: Vec<usize> = (0..300).filter(|_| !rng.random_bool(0.02)).collect();
        let pick = |c: &[i32]| kept.iter().map(|&k| c[k]).collect::<Vec<_>>();
        let times: Vec<u64> = kept.iter().map(|&k| t_us[k]).collect();
        let after = settled(&pick(&columns[0]), &pick(&columns[1]), &times, rule).unwrap();
        moved += usize::from((after.at[0] - before.at[0]).abs() > half);
    }
    println!("rest out of its own interval after spikes and losses: {moved} of 500");
    assert!(moved <= 15, "{moved}");
}
