//! The loop closed without a person: an emulated board with a drawn truth is captured, solved, its
//! header compiled into the firmware, and fresh releases and rolls of the same board prove it.
use std::path::{Path, PathBuf};
use std::sync::OnceLock;

use tempfile::TempDir;
use trimbench::desk::analysis::Results;
use trimbench::desk::proving::{ProveError, prove_file};
use trimbench::desk::solving::{header_text, solve_file};
use trimbench::limits::Decision;
use trimbench::proof::Judged;
use trimbench::rig::{AxisId, Half};
use trimbench::segment::Rows;
use trimbench::session::Session;
use trimbench::session::file::{Overrides, open};
use trimbench::virtual_board::{VirtualBoard, bench_rig};
use trimbench::wire::{Grammar, Role};
use trimbench::work::Watch;

use crate::emulator::{captured, damaged_inside, harness, plain_program, trimbench};
use crate::pins;

/// Output that every direction must reach.
const LEAST_REACH: f64 = 32_750.0;
/// Greatest output.
const FULL: i32 = 32_767;

/// How the firmware starts to print.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Form {
    Text,
    Packed,
}

impl Form {
    fn defines(self) -> &'static [&'static str] {
        match self {
            Form::Text => &[],
            Form::Packed => &["BENCH_START=BENCH_PACKED"],
        }
    }
}

/// What is missing of a proof, in words.
#[derive(Default)]
struct Judge {
    board: String,
    wrong: Vec<String>,
}

impl Judge {
    fn check(&mut self, holds: bool, words: impl FnOnce() -> String) {
        if !holds {
            self.wrong.push(format!("{}: {}", self.board, words()));
        }
    }
}

/// A session of the flashed board, with its processed columns.
struct Fresh {
    session: Session,
    results: Results,
}

impl Fresh {
    fn output(&self, axis: AxisId) -> Vec<i32> {
        let field = self.session.field_of(Role::OutAxis(axis)).expect("processed values are sent");
        self.session.column(field)
    }

    /// Settled after a release, or at rest.
    fn stick_rests(&self, half: Half) -> Vec<Rows> {
        let segments = &self.results.segments;
        let settled = segments.releases(half).iter().map(|r| r.settled);
        settled.chain(segments.rests.iter().map(|r| r.rows)).collect()
    }
}

/// Opens a log and works through it.
pub fn solved(path: &Path) -> Results {
    solve_file(path, Some(bench_rig(10)), None, &Watch::unwatched()).expect("it opens")
}

fn prove_stick(fresh: &Fresh, half: Half, judge: &mut Judge) {
    let [x, y] = half.stick().map(|axis| fresh.output(axis));
    let name = half.key();
    let releases = fresh.results.segments.releases(half).len();
    judge.check(releases >= 12, || format!("{name}: only {releases} fresh releases"));
    for rows in fresh.stick_rests(half) {
        let leaks = rows.of(&x).iter().zip(rows.of(&y)).filter(|(x, y)| (**x, **y) != (0, 0));
        let leaks = leaks.count();
        judge.check(leaks == 0, || format!("{name}: {leaks} of {} rows leak", rows.len()));
    }
    for (axis, column) in half.stick().into_iter().zip([&x, &y]) {
        let ends = (column.iter().min().copied(), column.iter().max().copied());
        judge.check(ends == (Some(-FULL), Some(FULL)), || format!("{}: {ends:?}", axis.key()));
    }
    let mut reach = [0.0_f64; 16];
    for roll in fresh.results.segments.rolls(half) {
        for (x, y) in roll.rows.of(&x).iter().zip(roll.rows.of(&y)) {
            let (x, y) = (f64::from(*x), f64::from(*y));
            let sector = (y.atan2(x) / std::f64::consts::TAU * 16.0 + 16.5) as usize % 16;
            reach[sector] = reach[sector].max(x.hypot(y));
        }
    }
    judge.check(reach.iter().all(|r| *r >= LEAST_REACH), || format!("{name}: reach {reach:?}"));
}

fn prove_trigger(fresh: &Fresh, half: Half, judge: &mut Judge) {
    let axis = half.trigger();
    let column = fresh.output(axis);
    let pulls = fresh.results.segments.pulls(half);
    judge.check(pulls.len() >= 5, || format!("{}: {} fresh pulls", axis.key(), pulls.len()));
    for rest in &fresh.results.segments.rests {
        let most = rest.rows.of(&column).iter().max().copied();
        judge.check(most == Some(0), || format!("{}: {most:?} at rest", axis.key()));
    }
    for pull in pulls {
        let most = pull.hold.of(&column).iter().max().copied();
        judge.check(most == Some(FULL), || format!("{}: a pull gives {most:?}", axis.key()));
    }
}

fn prove_buttons(fresh: &Fresh, board: &VirtualBoard, second_us: u64, judge: &mut Judge) {
    let field = fresh.session.field_of(Role::OutButtons).expect("debounced buttons are sent");
    let masks = fresh.session.column(field);
    for (bit, truth) in board.truth().buttons.iter().enumerate() {
        let pressed = |e: &&trimbench::virtual_board::EdgeTruth| {
            e.pressed && e.seen_first_us > second_us as f64
        };
        let presses = truth.edges.iter().filter(pressed).count();
        let events = masks.windows(2).filter(|w| !w[0] & w[1] & 1 << bit != 0).count();
        judge.check(events == presses && presses >= 5, || {
            format!("b{bit}: {events} events of {presses} presses")
        });
    }
}

/// Runs a program over one of the board's tables while `trimbench capture` records its port.
fn pass(program: &Path, board: &pins::Board, k: usize) -> PathBuf {
    let rig = program.with_extension("rig.ron");
    let text = ron::ser::to_string(&bench_rig(10)).expect("RON");
    std::fs::write(&rig, text).expect("written");
    captured(program, board.seconds[k], &board.tables[k], &rig)
}

/// The session of the unflashed board, solved.
fn measured(form: Form, board: &pins::Board, folder: &Path) -> (PathBuf, Results) {
    let raw = plain_program(folder, &format!("raw-{form:?}"), form.defines(), None);
    let session = pass(&raw, board, 0);
    let results = solved(&session);
    (session, results)
}

/// What the first board prints as text, solved; made once for all who ask.
fn first_captured() -> &'static (TempDir, PathBuf, Results) {
    static FIRST: OnceLock<(TempDir, PathBuf, Results)> = OnceLock::new();
    FIRST.get_or_init(|| {
        let folder = tempfile::tempdir().expect("a folder");
        let (session, results) = measured(Form::Text, pins::first(), folder.path());
        (folder, session, results)
    })
}

/// `trimbench solve` as a person would call it: writes header and record, and gives the header.
fn solve(session: &Path, folder: &Path, judge: &mut Judge) -> String {
    let [header, record] = ["trim.h", "record.trim.ron"].map(|name| folder.join(name));
    let place = |path: &Path| path.display().to_string();
    let (code, said) = trimbench(&[
        "solve",
        &place(session),
        "--header",
        &place(&header),
        "--trim",
        &place(&record),
    ]);
    // A drawn board may well be at fault; the header is written all the same.
    judge.check(matches!(code, Some(0 | 1)), || format!("solve ends with {code:?}: {said}"));
    std::fs::read_to_string(header).expect("a header")
}

/// The header of the first board.
pub fn first_header() -> &'static str {
    static FIRST: OnceLock<String> = OnceLock::new();
    FIRST.get_or_init(|| header_text(&first_captured().2).expect("a header"))
}

/// Capture, solve, rebuild, run again, prove.
fn close(seed: u64, form: Form, board: &pins::Board, judge: &mut Judge) {
    judge.board = format!("board {seed}, {form:?}");
    let folder = tempfile::tempdir().expect("a folder");
    let made;
    let (first_log, first) = if (seed, form) == (1, Form::Text) {
        let (_, log, first) = first_captured();
        (log.as_path(), first)
    } else {
        made = measured(form, board, folder.path());
        (made.0.as_path(), &made.1)
    };
    let trim = &first.solution.trim;
    let whole = (trim.axes.len(), trim.sticks.len(), trim.triggers.len(), trim.buttons.len());
    judge.check(whole == (4, 2, 2, 15), || format!("{whole:?}: {:?}", trim.refusals));
    let header = solve(first_log, folder.path(), judge);
    judge.check(header == header_text(first).expect("a header"), || "another header".to_owned());
    let flashed = plain_program(folder.path(), "flashed", form.defines(), Some(&header));
    let log = pass(&flashed, board, 1);
    let opened = open(&log, &Overrides::default(), &Watch::unwatched(), &mut |_| ());
    let fresh = Fresh { session: opened.expect("it opens").session, results: solved(&log) };
    let dialect = fresh.session.dialect().expect("recognised");
    assert_eq!(dialect.grammar == Grammar::Packed, form == Form::Packed);
    let stream = &fresh.results.tracks.stream;
    let damaged = damaged_inside(&fresh.session);
    judge.check(stream.lost == Some(0) && damaged == 0, || format!("{stream:?}"));
    judge.check((fresh.results.tracks.period_us - 4000.0).abs() < 1.0, || {
        format!("period {} µs", fresh.results.tracks.period_us)
    });
    let field = fresh.session.field_of(Role::Identity).expect("the constants' CRC is sent");
    let crc = i32::from(trim.crc().expect("consistent"));
    judge.check(fresh.session.column(field).iter().all(|c| *c == crc), || "identity".to_owned());
    for half in Half::ALL {
        prove_stick(&fresh, half, judge);
        prove_trigger(&fresh, half, judge);
    }
    prove_buttons(&fresh, &board.board, board.second_us, judge);
    // The tool's own verdict, from the record on disk, and its refusal of what it has fitted.
    let record = folder.path().join("record.trim.ron");
    let words = |session: &Path| {
        let [session, record] = [session, &record].map(|path| path.display().to_string());
        trimbench(&["prove", &session, "--against", &record])
    };
    let (code, said) = words(&log);
    judge.check(code == Some(0), || format!("prove ends with {code:?}: {said}"));
    let (code, said) = words(first_log);
    judge.check(code == Some(2), || format!("prove of fitted data ends with {code:?}: {said}"));
    let rig = || Some(bench_rig(10));
    let proved = prove_file(&log, &record, rig(), None, &Watch::unwatched()).expect("judged");
    judge.check(proved.proof.judged == Judged::Board, || "stand-ins were judged".to_owned());
    for check in &proved.proof.checks {
        let passed = matches!(check.decision, None | Some(Decision::Pass));
        judge.check(passed, || format!("{} {}: {}", check.place, check.words(), check.figures));
    }
    let decision = proved.proof.decision();
    judge.check(decision == Decision::Pass, || format!("prove says {decision:?}"));
    let stale = prove_file(first_log, &record, rig(), None, &Watch::unwatched());
    judge
        .check(matches!(stale, Err(ProveError::NotFresh { .. })), || "fitted data pass".to_owned());
}

#[test]
fn the_loop_closes_on_drawn_boards() {
    if harness().is_none() {
        return;
    }
    // Where nothing may be skipped, all five; elsewhere one.
    let all = ["TRIMBENCH_STRICT", "TRIMBENCH_LONG"];
    let long = all.iter().any(|name| std::env::var(name).is_ok_and(|v| v == "1"));
    let mut judge = Judge::default();
    let folder = tempfile::tempdir().expect("a folder");
    for seed in if long { 1..=5 } else { 1..=1 } {
        let drawn;
        let board = if seed == 1 {
            pins::first()
        } else {
            drawn = pins::record(seed, folder.path());
            &drawn
        };
        // The two forms share nothing but the board.
        let [text, packed] = std::thread::scope(|scope| {
            let threads = [Form::Text, Form::Packed].map(|form| {
                scope.spawn(move || {
                    let mut judge = Judge::default();
                    close(seed, form, board, &mut judge);
                    judge.wrong
                })
            });
            threads.map(|t| t.join().expect("closed"))
        });
        judge.wrong.extend(text);
        judge.wrong.extend(packed);
        println!("board {seed}: {} wrong so far", judge.wrong.len());
    }
    assert!(judge.wrong.is_empty(), "\n{}", judge.wrong.join("\n"));
}
