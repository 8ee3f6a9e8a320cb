//! Virtual boards with the scripted hand: everything that it did is found, and nothing else.
use trimbench::desk::play::into_session;
use trimbench::measure::Measured;
use trimbench::rig::{Half, Rig};
use trimbench::segment::{self, Part, Reason, Rejected, Segments};
use trimbench::session::{Intake, Tracks};
use trimbench::survey;
use trimbench::virtual_board::script::{Cue, full_run};
use trimbench::virtual_board::{Options, VirtualBoard};

use super::Done;
use super::hand::{spiked, without};

/// A whole scripted run of a board as columns, with its prompts as marks.
pub fn played(options: &Options) -> (Tracks, VirtualBoard) {
    let mut board = VirtualBoard::new(options).expect("a board");
    let rig = board.rig().clone();
    let mut script = full_run(&rig);
    // A second more, so that what was done last is over.
    let end_us = script.last().expect("an end").0 + 1_000_000;
    script.push((end_us, Cue::End));
    let intake = Intake::new(Some(board.dialect().clone()));
    let session = into_session(&mut board, &script, intake);
    (session.tracks(&rig), board)
}

/// What the script does once; without marks the movements of the roll-call count like any other.
fn script(marked: bool) -> Done {
    let called = usize::from(!marked);
    Done {
        releases: [16 + 2 * called; 2],
        turns: [[3, 3], [3, 3]],
        pulls: [[4, 4 + called]; 2],
        // One each in the roll-call, five on request.
        presses: vec![6; 15],
    }
}

fn told(found: &Segments) -> String {
    found.rejected.iter().map(|r| format!("\n{r:?}")).collect()
}

#[test]
fn a_scripted_run_is_found_with_and_without_its_marks() {
    for seed in 1..=5 {
        let twelve = seed == 5;
        let options = Options {
            seed,
            raw_bits: Some(if twelve { 12 } else { 10 }),
            rate_hz: if twelve { 1000.0 } else { 250.0 },
            ..Options::default()
        };
        let (mut tracks, _) = played(&options);
        for marked in [true, false] {
            if !marked {
                tracks.marks.clear();
            }
            let found = segment::find(&tracks);
            super::assert_sound(&tracks, &found);
            assert_eq!(found.prompted, marked);
            let what = told(&found);
            assert_eq!(Done::found(&found), script(marked), "seed {seed}, marked {marked}{what}");
            let rest_s = found.rest_rows() as f64 / options.rate_hz;
            assert!(rest_s > 7.5, "seed {seed}, marked {marked}: {rest_s} s of rest{what}");
        }
    }
}

#[test]
fn damage_and_a_bumped_table_change_no_count() {
    for seed in 11..=13 {
        let (clean, _) = played(&Options { seed, ..Options::default() });
        let mut dice_hand = super::hand::Hand::new(250.0, 10, 0.7, seed);
        let mut dice = dice_hand.dice();
        // One reading in a hundred is wild, two frames in a hundred are lost, the stream stands
        // still for 300 ms in the quiet rest, and somebody bumps the table before.
        let mut tracks = spiked(clean, 0.01, &mut dice);
        for axis in Half::ALL.into_iter().flat_map(Half::stick) {
            let column = tracks.axes[axis.index()].as_mut().expect("a column");
            for v in &mut column[1_000..1_040] {
                *v += (60.0 * (dice() - 0.5)) as i32;
            }
        }
        let mut tracks = without(&tracks, |row| (1_800..1_875).contains(&row) || dice() < 0.02);
        for marked in [true, false] {
            if !marked {
                tracks.marks.clear();
            }
            let found = segment::find(&tracks);
            super::assert_sound(&tracks, &found);
            let what = told(&found);
            let mut done = Done::found(&found);
            // A press whose edge fell into a lost frame is set aside, never lost in silence.
            for (k, presses) in done.presses.iter_mut().enumerate() {
                let cut = |r: &&Rejected| r.part == Part::Button(k as u8) && r.why == Reason::Cut;
                *presses += found.rejected.iter().filter(cut).count();
            }
            assert_eq!(done, script(marked), "seed {seed}, marked {marked}{what}");
            assert!(found.rests.len() >= 3, "cut by the bump and the stall: {:?}", found.rests);
        }
    }
}

#[test]
fn directions_agree_with_the_boards_own_truth() {
    let (tracks, board) = played(&Options { seed: 3, ..Options::default() });
    let found = segment::find(&tracks);
    for half in Half::ALL {
        let truth = board.truth().stick(half).expect("a stick");
        let part = board.rig().sticks.iter().find(|p| p.half == half).expect("its part");
        let released: Vec<_> = found.releases(half).iter().collect();
        // The let-goes that end the rolls come first.
        assert_eq!(released.len(), 16, "{half:?}: {}", told(&found));
        let rests = &truth.rests[truth.rests.len() - released.len()..];
        for (release, rest) in released.iter().zip(rests) {
            let (sin, cos) = release.direction_deg.to_radians().sin_cos();
            let seen = (if part.y_inverted { -sin } else { sin }).atan2(if part.x_inverted {
                -cos
            } else {
                cos
            });
            let off = seen.to_degrees() - rest.from_deg - truth.rotation_deg;
            let off = (off + 180.0).rem_euclid(360.0) - 180.0;
            assert!(off.abs() < 8.0, "{half:?}: {off}");
            let level = |axis: trimbench::rig::AxisId| {
                let codes = release.settled.of(tracks.axis(axis).expect("a column"));
                codes.iter().map(|&c| f64::from(c)).sum::<f64>() / codes.len() as f64
            };
            for (axis, at) in half.stick().into_iter().zip(rest.at) {
                assert!((level(axis) - at).abs() < 1.0, "{axis:?}: {} {at}", level(axis));
            }
        }
    }
}

/// Figures of a healthy board against its truth, with the intervals that they claim for themselves.
#[test]
fn a_survey_agrees_with_the_board_that_it_is_of() {
    let (tracks, board) = played(&Options { seed: 6, ..Options::default() });
    let found = segment::find(&tracks);
    let mut told = Vec::new();
    let survey = survey::survey(&tracks, &found, board.rig(), &mut |share| {
        told.push(share);
        true
    })
    .expect("not stopped");
    assert!(told.windows(2).all(|w| w[0] < w[1]) && told.last() == Some(&1000), "{told:?}");
    let truth = board.truth();
    let near = |what: &str, figure: &Measured, truth: f64, least: f64| {
        let r = figure.as_ref().unwrap_or_else(|s| panic!("{what}: {s}"));
        let slack = least.max(r.high - r.low);
        assert!((r.value - truth).abs() <= slack, "{what}: {r:?} against {truth}");
    };
    for half in Half::ALL {
        let (stick, of) = (survey.stick(half).expect("a stick"), truth.stick(half).expect("one"));
        assert_eq!(stick.releases.len(), 16);
        for k in 0..2 {
            let id = half.stick()[k];
            let (axis, of_axis) = (survey.axis(id).expect("an axis"), truth.axis(id).expect("one"));
            near(id.key(), &stick.centre[k], of.centre[k], 1.0);
            near(id.key(), &axis.low, of_axis.low, 3.0);
            near(id.key(), &axis.high, of_axis.high, 3.0);
            near(id.key(), &axis.noise_rms, of_axis.noise_sigma, 0.1 * of_axis.noise_sigma);
            assert!(axis.density.hz.len() > 100 && axis.noise_free_bits.is_ok());
        }
        near("radius", &stick.outer_reach, of.gate_radius, 0.01 * of.gate_radius);
        near("orthogonality", &stick.orthogonality_deg, of.orthogonality_deg, 0.5);
        near("coverage", &stick.coverage, 1.0, 1e-9);
        let trigger = survey.trigger(half).expect("a trigger");
        let of = truth.trigger(half).expect("one");
        let span = (of.full - of.rest).abs();
        near("rest", &trigger.rest, of.rest, 0.01 * span);
        near("full", &trigger.full, of.full, 0.01 * span);
        near("hysteresis", &trigger.hysteresis, of.hysteresis, 0.02 * span);
        assert!(trigger.reversal.is_ok(), "{:?}", trigger.reversal);
        assert!(trigger.rest_scatter.is_ok(), "{:?}", trigger.rest_scatter);
        assert_eq!(trigger.pulls, 8);
    }
    for button in &survey.buttons {
        assert_eq!((button.presses, &button.doubles, button.stuck), (6, &Ok(0), false));
        assert!(button.window_ms.is_ok());
    }
    near("rate", &survey.stream.rate_hz, truth.rate_hz, 0.5);
    assert_eq!(survey.stream.lost, Ok(truth.stream.lost));
}

#[test]
fn an_unwanted_survey_stops() {
    let tracks = super::hand::Hand::new(250.0, 10, 0.7, 1).tracks();
    let rig = Rig::default();
    assert!(survey::survey(&tracks, &segment::find(&tracks), &rig, &mut |_| false).is_none());
    let empty = survey::survey(&tracks, &segment::find(&tracks), &rig, &mut |_| true);
    let empty = empty.expect("not stopped");
    assert_eq!(empty.frames, 0);
    assert!(empty.axes.iter().all(|a| a.rest.is_err() && a.noise_rms.is_err()));
}
