//! Ends of drawn boards whose hand slips off the rim and stops pulls half way.
use std::f64::consts::TAU;

use rand::{Rng, SeedableRng};
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, Normal};

use super::factors::Factors;
use super::range::{allowance, seen};
use crate::measure::gate::{GateFigures, Turn, gate};
use crate::measure::trigger::{Pull, trigger};
use crate::measure::{Estimate, Span};
use crate::rig::{AxisId, Place};
use crate::units::Unit;

/// Depths of the slips, share of the reach.
const DEPTHS: [f64; 5] = [0.02, 0.05, 0.10, 0.20, 0.40];

struct Drawn {
    centre: [f64; 2],
    reach: f64,
    sigma: f64,
    rate_hz: f64,
}

fn board(rng: &mut ChaCha8Rng) -> Drawn {
    Drawn {
        centre: [rng.random_range(480.0..540.0), rng.random_range(480.0..540.0)],
        reach: rng.random_range(250.0..430.0),
        sigma: rng.random_range(0.3..2.0),
        rate_hz: [125.0, 250.0, 500.0, 1000.0][rng.random_range(0..4)],
    }
}

/// Six turns, three each way; in `slipping` of them the thumb leaves the rim for 25 to 80°.
fn rolled(board: &Drawn, slipping: usize, depth: f64, rng: &mut ChaCha8Rng) -> GateFigures {
    let noise = Normal::new(0.0, board.sigma).expect("finite");
    let mut slips: Vec<usize> = (0..6).collect();
    while slips.len() > slipping {
        slips.remove(rng.random_range(0..slips.len()));
    }
    let (mut x, mut y, mut turns) = (Vec::new(), Vec::new(), Vec::new());
    for turn in 0..6 {
        let rows = (board.rate_hz * rng.random_range(2.0..2.8)) as usize;
        let (start, first) = (rng.random_range(0.0..TAU), x.len());
        // At an end of an axis, where it does the most harm.
        let middle = f64::from(rng.random_range(0..4)) * TAU / 4.0 + rng.random_range(-0.2..0.2);
        let half_width = rng.random_range(12.5f64..40.0).to_radians();
        // A thumb does not press alike every time: half a per cent of play.
        let pressed = 1.0 - rng.random_range(0.0..0.005);
        for k in 0..rows {
            let way = k as f64 / rows as f64 * TAU;
            let angle = start + if turn < 3 { -way } else { way };
            let off = (angle - middle).sin().atan2((angle - middle).cos()).abs();
            let slip = match slips.contains(&turn) && off < half_width {
                true => depth * (2.0 * (1.0 - off / half_width)).min(1.0),
                false => 0.0,
            };
            let r = board.reach * pressed * (1.0 - slip);
            let code = |c: f64, way: f64, n: f64| (c + way + n).round() as i32;
            x.push(code(board.centre[0], r * angle.cos(), noise.sample(rng)));
            y.push(code(board.centre[1], r * angle.sin(), noise.sample(rng)));
        }
        turns.push(Turn { rows: first..x.len(), clockwise: turn < 3 });
    }
    gate(&x, &y, &turns, board.centre).expect("whole turns")
}

/// How far an end is set from the truth, share of the travel; `None` when it is refused.
fn error(end: Estimate, sign: f64, truth: f64, travel: f64) -> Option<f64> {
    let end = end.over(Span::default(), Unit::Counts);
    seen(Place::Axis(AxisId::Lx), &end, "turns", "again").ok()?;
    let set = end.value - sign * allowance(&end, travel, &mut Factors::default());
    Some((set - truth) / travel)
}

#[test]
fn slips_move_no_end_and_are_no_dent_in_the_gate() {
    let mut rng = ChaCha8Rng::seed_from_u64(0x511b);
    let (mut asked, mut refused) = (0, 0);
    for k in 0..300 {
        let drawn = board(&mut rng);
        let (depth, slipping) = (DEPTHS[k % 5], 1 + k / 5 % 2);
        let figures = rolled(&drawn, slipping, depth, &mut rng);
        let deep = figures.deficits.iter().filter(|d| d.depth > 0.03).count();
        assert_eq!(deep, 0, "{k}: {depth} {:?}", figures.deficits);
        for i in 0..2 {
            for (end, sign) in [(figures.low[i], -1.0), (figures.high[i], 1.0)] {
                let truth = drawn.centre[i] + sign * drawn.reach;
                asked += 1;
                match error(end, sign, truth, drawn.reach) {
                    Some(error) => assert!(
                        error.abs() < 0.015 + 1.0 / drawn.reach,
                        "{k}: {depth} in {slipping}, axis {i}: {error} {end:?}"
                    ),
                    None => refused += 1,
                }
            }
        }
    }
    assert!(refused * 20 < asked, "{refused} of {asked} refused");
}

#[test]
fn half_pulls_move_no_end() {
    let mut rng = ChaCha8Rng::seed_from_u64(0x9011);
    for k in 0..300 {
        let noise = Normal::new(0.0, rng.random_range(0.3..2.0)).expect("finite");
        let (rest, full) = (rng.random_range(20.0..80.0), rng.random_range(600.0..950.0));
        let rate_hz = 250.0;
        let (mut codes, mut pulls) = (Vec::new(), Vec::new());
        for pull in 0..8 {
            let slow = pull < 4;
            let short = if pull % 3 == 0 { DEPTHS[rng.random_range(0..5)] } else { 0.0 };
            let level = full - short * (full - rest) - rng.random_range(0.0..0.004) * full;
            let seconds = if slow { 0.8 } else { 0.12 };
            let mut run = |from: f64, to: f64, seconds: f64| {
                let (first, rows) = (codes.len(), (seconds * rate_hz) as usize);
                codes.extend((0..rows).map(|i| {
                    let at = from + (to - from) * i as f64 / rows as f64;
                    (at + noise.sample(&mut rng)).round() as i32
                }));
                first..codes.len()
            };
            let up = run(rest, level, seconds);
            let hold = run(level, level, 0.3);
            let down = run(level, rest, seconds);
            let settled = Some(run(rest, rest, 0.4));
            pulls.push(Pull { up, hold, down, settled, slow });
        }
        let t_us: Vec<u64> = (0..codes.len() as u64).map(|row| 4000 * row).collect();
        let found = trigger(&codes, &t_us, &pulls, &[]).full.expect("eight pulls");
        if let Some(error) = error(found, 1.0, full, full - rest) {
            assert!(error.abs() < 0.015 + 1.0 / full, "{k}: {error} {found:?}");
        }
        assert!(found.n >= 3, "{k}: five of eight reach the stop: {found:?}");
    }
}
