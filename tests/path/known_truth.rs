//! Twenty drawn boards with a known truth, played, opened and solved as a person would.
use std::path::Path;

use trimbench::desk::analysis::{Results, analyse};
use trimbench::desk::play::into_session;
use trimbench::rig::{AxisId, Half};
use trimbench::session::Intake;
use trimbench::virtual_board::script::full_run;
use trimbench::virtual_board::{Options, Scenario, Truth, VirtualBoard, bench_dialect, bench_rig};
use trimbench::wire::{ChecksumForm, Dialect};
use trimbench::work::Watch;

struct Solved {
    name: String,
    truth: Truth,
    results: Results,
    period_ms: f64,
}

/// Plays the scripted run of a board into a session in memory and works through it.
fn solved(seed: u64, bits: u8, rate_hz: f64, scenario: &str) -> Solved {
    let scenario: Scenario = scenario.parse().expect("a scenario");
    // Only a checksum tells a frame with a wrong digit from a good one, so that losses are exact.
    let checksum = ChecksumForm::Xor;
    let dialect = Some(Dialect { checksum, ..bench_dialect(&bench_rig(bits)) });
    let raw_bits = Some(bits);
    let options = Options { seed, raw_bits, rate_hz, scenario, dialect, ..Options::default() };
    let mut board = VirtualBoard::new(&options).expect("a board");
    let rig = board.rig().clone();
    let session = into_session(&mut board, &full_run(&rig), Intake::new(None));
    let results = analyse(&session, &rig, "drawn board", &[], &Watch::unwatched()).expect("done");
    let name = format!("{bits} bit, seed {seed}");
    Solved { name, truth: board.truth().clone(), results, period_ms: 1e3 / rate_hz }
}

/// Gathers what was out of bounds, and prints one line a figure.
#[derive(Default)]
struct Judge {
    wrong: Vec<String>,
    worst: std::collections::BTreeMap<&'static str, f64>,
}

impl Judge {
    fn within(&mut self, board: &str, what: &'static str, place: &str, error: f64, bound: f64) {
        let share = error.abs() / bound;
        let worst = self.worst.entry(what).or_insert(0.0);
        *worst = worst.max(share);
        if share.is_nan() || share > 1.0 {
            self.wrong.push(format!("{board} {place} {what}: off by {error:.3}, bound {bound:.3}"));
        }
    }

    fn missing(&mut self, board: &str, what: &str, place: &str, why: &str) {
        self.wrong.push(format!("{board} {place} {what}: none ({why})"));
    }
}

#[test]
fn twenty_drawn_boards_are_solved_to_their_truth() {
    let mut judge = Judge::default();
    for seed in 1..=10 {
        for (bits, rate_hz) in [(10, 250.0), (12, 500.0)] {
            let board = solved(seed, bits, rate_hz, "healthy");
            judge_axes(&board, &mut judge);
            judge_sticks(&board, &mut judge);
            judge_contacts(&board, &mut judge);
            judge_stream(&board, &mut judge);
        }
    }
    println!("figure: largest error as a share of its bound, over 20 boards");
    for (what, share) in &judge.worst {
        println!("  {what:<24} {share:.2}");
    }
    assert!(judge.wrong.is_empty(), "\n{}", judge.wrong.join("\n"));
}

/// Noise within 10 %, for σ of at least 0.5 counts.
fn judge_axes(board: &Solved, judge: &mut Judge) {
    for axis in AxisId::ALL {
        let Some(truth) = board.truth.axis(axis) else { continue };
        let figures = board.results.survey.axis(axis).expect("figures of every axis");
        if truth.noise_sigma < 0.5 {
            continue;
        }
        match &figures.noise_rms {
            Ok(noise) => {
                assert!(noise.n >= 2000, "{}: {} readings at rest", board.name, noise.n);
                let error = noise.value - truth.noise_sigma;
                judge.within(&board.name, "noise", axis.key(), error, 0.1 * truth.noise_sigma);
            }
            Err(short) => judge.missing(&board.name, "noise", axis.key(), &short.to_string()),
        }
    }
}

/// Centre within max(1 count, 4·s/√n), gate radius within 1 %, orthogonality within 0.5°.
fn judge_sticks(board: &Solved, judge: &mut Judge) {
    for half in Half::ALL {
        let Some(truth) = board.truth.stick(half) else { continue };
        let stick = board.results.survey.stick(half).expect("figures of every stick");
        let n = stick.releases.len() as f64;
        for (i, axis) in half.stick().into_iter().enumerate() {
            let Ok(centre) = &stick.centre[i] else {
                judge.missing(&board.name, "centre", axis.key(), "short");
                continue;
            };
            let mean = stick.releases.iter().map(|r| r.at[i]).sum::<f64>() / n;
            let ss: f64 = stick.releases.iter().map(|r| (r.at[i] - mean).powi(2)).sum();
            let sd = (ss / (n - 1.0)).sqrt();
            let bound = (4.0 * sd / n.sqrt()).max(1.0);
            judge.within(&board.name, "centre", axis.key(), centre.value - truth.centre[i], bound);
        }
        match &stick.outer_reach {
            Ok(reach) => {
                let error = reach.value - truth.gate_radius;
                let bound = 0.01 * truth.gate_radius;
                judge.within(&board.name, "gate radius", half.key(), error, bound);
            }
            Err(short) => judge.missing(&board.name, "gate", half.key(), &short.to_string()),
        }
        match &stick.orthogonality_deg {
            Ok(angle) => {
                let error = angle.value - truth.orthogonality_deg;
                judge.within(&board.name, "orthogonality", half.key(), error, 0.5);
            }
            Err(short) => judge.missing(&board.name, "angle", half.key(), &short.to_string()),
        }
    }
}

/// Largest bounce within one sample of the largest as sampled.
fn judge_contacts(board: &Solved, judge: &mut Judge) {
    for (k, truth) in board.truth.buttons.iter().enumerate() {
        let figures = &board.results.survey.buttons[k];
        let presses = truth.edges.iter().filter(|e| e.pressed).count();
        if figures.presses != presses {
            judge
                .wrong
                .push(format!("{} b{k}: {} presses of {presses}", board.name, figures.presses));
        }
        let seen = |pressed: bool| {
            let edges = truth.edges.iter().filter(|e| e.pressed == pressed);
            edges.map(|e| e.seen_bounce_ms()).fold(0.0, f64::max)
        };
        let figures = [
            (&figures.bounce_press_max_ms, seen(true)),
            (&figures.bounce_release_max_ms, seen(false)),
        ];
        for (figure, truth_ms) in figures {
            match figure {
                Ok(at_most) => {
                    let error = at_most.low - truth_ms;
                    let place = format!("b{k}");
                    judge.within(&board.name, "bounce", &place, error, 1.01 * board.period_ms);
                }
                Err(short) => judge.missing(&board.name, "bounce", "button", &short.to_string()),
            }
        }
    }
}

fn judge_stream(board: &Solved, judge: &mut Judge) {
    match &board.results.survey.stream.lost {
        Ok(lost) if *lost == board.truth.stream.lost => {}
        other => judge
            .wrong
            .push(format!("{}: lost {other:?}, truth {}", board.name, board.truth.stream.lost)),
    }
}

#[test]
fn lost_frames_are_counted_exactly() {
    for seed in 1..=5 {
        let board = solved(seed, 10, 250.0, "lossy-link");
        let truth = &board.truth.stream;
        assert!(truth.lost > 100, "the scenario loses frames: {truth:?}");
        let lost = board.results.survey.stream.lost.as_ref().expect("a counter is sent");
        let frames = board.results.survey.frames;
        assert_eq!(*lost, truth.lost, "seed {seed}: {frames} frames, {truth:?}");
    }
}

#[test]
fn a_stale_half_is_seen_with_its_share() {
    let board = solved(1, 10, 250.0, "stale-half");
    let truth = board.truth.stream.stale_share().expect("a second half");
    let stale = board.results.survey.stream.stale[1].as_ref().expect("the half moves");
    assert!((stale.value - truth).abs() < 0.05, "{} of {truth}", stale.value);
    assert!(board.results.findings.iter().any(|f| f.code.key() == "stale-half"));
}

#[test]
fn the_samples_are_where_the_readme_says() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("sample_sessions");
    let readme = std::fs::read_to_string(folder.join("README.md")).expect("a README");
    for entry in std::fs::read_dir(&folder).expect("the folder") {
        let name = entry.expect("an entry").file_name().to_string_lossy().into_owned();
        assert!(name == "README.md" || readme.contains(&name), "{name} is not explained");
    }
}
