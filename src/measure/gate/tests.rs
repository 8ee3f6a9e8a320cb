//! Whole rolls with known truth.
use super::draws::{Roller, rolled};
use super::outline::Outline;
use super::*;

fn measured(roller: &Roller, seed: u64) -> GateFigures {
    let (x, y, turns) = rolled(roller, seed);
    gate(&x, &y, &turns, roller.centre).expect("whole turns")
}

#[test]
fn a_round_gate_gives_its_reach_radius_and_little_else() {
    for seed in 0..20 {
        let f = measured(&Roller::default(), seed);
        for (found, truth) in
            [(f.low[0], 118.0), (f.high[0], 908.0), (f.low[1], 118.0), (f.high[1], 913.0)]
        {
            assert!((found.value - truth).abs() < 1.0, "{seed}: {found:?} {truth}");
        }
        assert!((f.radius.value - 396.25).abs() < 1.5, "{:?}", f.radius);
        assert!(f.roundness.expect("round").value < 0.012);
        assert!(f.mzci.expect("round").value < 0.012);
        assert!(f.orthogonality_deg.expect("round").value.abs() < 0.15);
        assert_eq!(f.shape, Ok(GateShape::Circle));
        assert!(f.rotation_deg.is_err() && f.deficits.is_empty());
        assert_eq!(f.coverage.value, 1.0);
        assert!(f.direction_difference.expect("both ways").value < 0.01);
        assert!(f.clipped.iter().all(|c| c.share.value < 0.02), "{:?}", f.clipped);
    }
}

#[test]
fn skew_is_found_within_a_tenth_of_a_degree() {
    for (seed, skew_deg) in [(1, 6.0), (2, -4.0), (3, 0.5), (4, 10.0)] {
        let f = measured(&Roller { skew_deg, ..Roller::default() }, seed);
        let found = f.orthogonality_deg.expect("round");
        assert!((found.value - skew_deg).abs() < 0.15, "{skew_deg}: {found:?}");
    }
}

#[test]
fn roundness_of_regular_gates_is_that_of_geometry() {
    // 1 − cos(π/n) over the mean radius: 8.0 % for eight corners, 36.9 % for four (on the axes'
    // diagonals); after a cut at 0.9 of the radius 10.4 %.
    let even = Roller { gains: [[400.0; 2]; 2], ..Roller::default() };
    let of = |outline| {
        let f = measured(&Roller { outline: Some(outline), ..even.clone() }, 5);
        (f.roundness.expect("whole").value, f.shape.expect("whole"))
    };
    let (ront, shape) = of(Outline::Polygon { sides: 8, corner_rad: 0.0 });
    assert!((ront - 0.080).abs() < 0.006, "{ront}");
    assert!(matches!(shape, GateShape::Polygon { sides: 8, .. }));
    let (ront, shape) = of(Outline::Polygon { sides: 4, corner_rad: std::f64::consts::FRAC_PI_4 });
    assert!((ront - 0.369).abs() < 0.02, "{ront}");
    assert!(matches!(shape, GateShape::Polygon { sides: 4, .. }), "{shape:?}");
}

#[test]
fn an_octagon_shows_its_rotation_and_its_missing_corner() {
    let turned = Outline::Polygon { sides: 8, corner_rad: 8.0f64.to_radians() };
    let even = Roller { gains: [[400.0; 2]; 2], outline: Some(turned), ..Roller::default() };
    let f = measured(&even, 9);
    let rotation = f.rotation_deg.expect("corners");
    assert!((rotation.value - 8.0).abs() < 0.5, "{rotation:?}");
    let (mut x, mut y, turns) = rolled(&even, 9);
    for (x, y) in x.iter_mut().zip(&mut y) {
        let (dx, dy) = (f64::from(*x) - 518.0, f64::from(*y) - 503.0);
        let off = (dy.atan2(dx).to_degrees() - 53.0).abs();
        if off < 12.5 {
            *x = (518.0 + 0.82 * dx).round() as i32;
            *y = (503.0 + 0.82 * dy).round() as i32;
        }
    }
    let f = gate(&x, &y, &turns, even.centre).expect("whole turns");
    assert_eq!(f.deficits.len(), 1, "{:?}", f.deficits);
    let d = f.deficits[0];
    assert!(d.from_deg < 53.0 && d.to_deg > 53.0 && (d.depth - 0.18).abs() < 0.03, "{d:?}");
    let rotation = f.rotation_deg.expect("seven corners");
    assert!((rotation.value - 8.0).abs() < 1.0, "{rotation:?}");
}

#[test]
fn a_rail_is_seen_as_a_share_of_clipped_samples() {
    // +x gain 500 clipped at 962 from a centre of 545: 834 of 1000 of the push; acos(0.834)/π.
    let roller = Roller {
        centre: [545.0, 503.0],
        gains: [[300.0, 500.0], [400.0, 400.0]],
        rails: [0.0, 962.0],
        sigma: 0.3,
        ..Roller::default()
    };
    let f = measured(&roller, 3);
    assert!(
        f.clipped[0].upper && (f.clipped[0].share.value - 0.186).abs() < 0.04,
        "{:?}",
        f.clipped
    );
    assert!(f.clipped[1].share.high < 0.01, "{:?}", f.clipped);
    assert!((f.high[0].value - 962.0).abs() < 1.0);
}

#[test]
fn spikes_lost_rows_and_dwell_move_nothing_beyond_its_interval() {
    let roller = Roller { skew_deg: 3.0, ..Roller::default() };
    for seed in 0..10 {
        let clean = measured(&roller, seed);
        let (mut x, y, turns) = rolled(&roller, seed);
        for k in (seed as usize..x.len()).step_by(100) {
            x[k] = if k % 200 < 100 { 1023 } else { 0 };
        }
        let spoilt = gate(&x, &y, &turns, roller.centre).expect("whole turns");
        let within = |a: Estimate, b: Estimate, slack: f64| {
            let half = (0.5 * (a.high - a.low)).max(slack);
            assert!((a.value - b.value).abs() <= half, "{seed}: {a:?} {b:?}");
        };
        within(clean.high[0], spoilt.high[0], 0.5);
        within(clean.low[0], spoilt.low[0], 0.5);
        within(clean.radius, spoilt.radius, 0.1);
        let angle = |f: &GateFigures| f.orthogonality_deg.clone().expect("round");
        within(angle(&clean), angle(&spoilt), 0.05);
    }
}

#[test]
fn no_turn_or_half_a_gate_is_a_shortage() {
    let (x, y, turns) = rolled(&Roller::default(), 1);
    assert_eq!(gate(&x, &y, &[], [518.0, 503.0]).expect_err("none").have, 0);
    let beyond = Turn { rows: 0..x.len() + 1, clockwise: true };
    assert!(gate(&x, &y, &[beyond], [518.0, 503.0]).is_err());
    let one = gate(&x, &y, &turns[..1], [518.0, 503.0]).expect("one turn");
    assert!(one.radius.high.is_infinite());
    assert!(one.direction_difference.is_err());
}

#[test]
fn a_side_of_more_than_a_right_angle_is_named_for_nothing_else() {
    // Three sides: each takes up 120° of direction and comes as near as half of the corners' reach. In the
    // eyes of a fit with second harmonics a triangle is no ellipse, and no other polygon explains it.
    let even = Roller { gains: [[400.0; 2]; 2], ..Roller::default() };
    for corner in [0.0f64, 10.0, 30.0, 47.0, 90.0] {
        let outline = Outline::Polygon { sides: 3, corner_rad: corner.to_radians() };
        let f = measured(&Roller { outline: Some(outline), ..even.clone() }, 5);
        assert_eq!(f.shape, Ok(GateShape::Irregular), "{corner}");
        assert!(f.rotation_deg.is_err(), "{corner}: {:?}", f.rotation_deg);
        // The axes stand square; the triangle alone looks like up to six degrees of skew.
        let skew = f.orthogonality_deg.expect("seen all round");
        assert!(skew.low < 0.0 && skew.high > 0.0, "{corner}: {skew:?}");
        for (axis, side) in [(0, 0), (0, 1), (1, 0), (1, 1)] {
            let toward = if side == 0 { -1.0 } else { 1.0 };
            let way = |k: i32| {
                let angle = f64::from(k).to_radians();
                toward * outline.radius(angle) * if axis == 0 { angle.cos() } else { angle.sin() }
            };
            let truth = 400.0 * (0..360).map(way).fold(0.0, f64::max);
            let found = if side == 0 { &f.low[axis] } else { &f.high[axis] };
            let reach = toward * (found.value - even.centre[axis]);
            assert!((reach - truth).abs() < 4.0, "{corner} {axis} {side}: {found:?} {truth}");
        }
    }
}
