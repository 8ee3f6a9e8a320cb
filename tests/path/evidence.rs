//! Figures behind the findings against the truth of the scenario that brought them.
use trimbench::desk::analysis::Results;
use trimbench::measure::{Measured, Reading};
use trimbench::rig::{AxisId, Half};
use trimbench::session::Drive;
use trimbench::survey::Survey;
use trimbench::virtual_board::Truth;

use super::named_faults::{run, table};

/// A figure and what is true of it.
type Figure = fn(&Survey, &Truth) -> (Measured<Reading>, f64);

/// Scenario, what the figure is, the figure with its truth. Truths that the board itself does not keep
/// are worked out from the scenario's own sizes.
const FIGURES: &[(&str, &str, Figure)] = &[
    ("stale-half", "share of repeats", |s, t| {
        (s.stream.stale[1].clone(), t.stream.stale_share().expect("a second half"))
    }),
    ("noisy-input", "noise of right x", |s, t| {
        let axis = s.axis(AxisId::Rx).expect("right x");
        (axis.noise_rms.clone(), t.axis(AxisId::Rx).expect("right x").noise_sigma)
    }),
    ("skewed-axes", "angle of the axes", |s, t| {
        let stick = s.stick(Half::Left).expect("a stick");
        (stick.orthogonality_deg.clone(), t.stick(Half::Left).expect("a stick").orthogonality_deg)
    }),
    ("pwm-coupling", "shift of left x by motor 0", |s, _| {
        // 0.17 A through 0.24 Ω of 5 V and 1024 codes, for 170 of 255 of the time.
        (shift(s, AxisId::Lx, Drive::Motor(0)), -0.17 * 0.24 / 5.0 * 1024.0 * 170.0 / 255.0)
    }),
    ("ground-step", "shift of left y by light 0", |s, _| {
        (shift(s, AxisId::Ly, Drive::Light(0)), -0.19 * 0.18 / 5.0 * 1024.0)
    }),
    ("ground-step", "shift of right x by light 0", |s, _| {
        (shift(s, AxisId::Rx, Drive::Light(0)), 0.0)
    }),
];

fn shift(survey: &Survey, axis: AxisId, by: Drive) -> Measured<Reading> {
    let driven = survey.driven.iter().find(|d| d.axis == axis && d.by == by);
    driven.expect("swept").shift.clone()
}

/// Counts that are exact or wrong.
type Count = fn(&Results, &Truth) -> (u64, u64);

const COUNTS: &[(&str, &str, Count)] = &[
    ("board-reset", "restarts", |r, t| (r.survey.stream.resets, t.stream.resets)),
    ("brown-out", "restarts", |r, t| (r.survey.stream.resets, t.stream.resets)),
    ("dead-half", "restarts", |r, t| (r.survey.stream.resets, t.stream.resets)),
];

#[test]
fn figures_agree_with_the_truth_within_their_intervals() {
    let (mut missed, mut wrong) = (Vec::new(), Vec::new());
    let mut scenarios: Vec<&str> = FIGURES.iter().map(|f| f.0).collect();
    scenarios.dedup();
    for scenario in scenarios {
        for seed in [3, 4] {
            let (results, truth) = run::played(scenario, 10, seed);
            for (_, what, figure) in FIGURES.iter().filter(|f| f.0 == scenario) {
                let (reading, truth) = figure(&results.survey, &truth);
                let reading = reading.unwrap_or_else(|s| panic!("{scenario}, {what}: {s:?}"));
                let said = format!("{scenario}, seed {seed}, {what}: {truth:.4}, {reading:?}");
                let way = 0.5 * (reading.high - reading.low);
                if truth < reading.low || truth > reading.high {
                    missed.push(said.clone());
                }
                if (truth - reading.value).abs() > 2.5 * way {
                    wrong.push(said);
                }
            }
        }
    }
    // One 95 % interval in twenty may miss, none by far.
    assert!(wrong.is_empty() && missed.len() <= 3, "far: {wrong:#?}\nmissed: {missed:#?}");
}

#[test]
fn counts_agree_with_the_truth() {
    for (scenario, what, count) in COUNTS {
        let (results, truth) = run::played(scenario, 10, 5);
        let (found, truth) = count(&results, &truth);
        assert_eq!(found, truth, "{scenario}: {what}");
        assert!(table::ROWS.iter().any(|row| row.scenario == *scenario));
    }
}
