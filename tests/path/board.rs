//! The virtual board keeps its promises.
use std::time::Duration;

use trimbench::link::Link;
use trimbench::rig::{AxisId, Half, Rig, Task};
use trimbench::virtual_board::script::{Cue, full_run};
use trimbench::virtual_board::{BoardError, FlatOut, Options, Scenario, VirtualBoard};
use trimbench::wire::{ChecksumForm, Framer, Grammar, Place, Role, Sink, Why};

/// Columns of the default line, as a framer gives them.
#[derive(Default)]
struct Columns {
    rows: Vec<Vec<i32>>,
    refused: usize,
}

impl Sink for Columns {
    fn frame(&mut self, _: Place, cells: &[i32]) {
        self.rows.push(cells.to_vec());
    }
    fn refused(&mut self, _: Place, _: Why, _: &[u8]) {
        self.refused += 1;
    }
}

impl Columns {
    fn of(bytes: &[u8], board: &VirtualBoard) -> Self {
        let mut columns = Columns::default();
        let mut framer = Framer::new(board.dialect());
        framer.push(bytes, &mut columns);
        framer.finish(&mut columns);
        columns
    }

    fn column(&self, index: usize) -> impl Iterator<Item = i32> + '_ {
        self.rows.iter().map(move |row| row[index])
    }
}

/// Places of the columns in the default line.
const SEQ: usize = 0;
const CLOCK: usize = 1;
const FIRST_AXIS: usize = 2;
const BUTTONS: usize = 8;

fn options(seed: u64, scenario: &str) -> Options {
    Options { seed, scenario: scenario.parse().expect("a scenario"), ..Options::default() }
}

fn twelve_bit(seed: u64) -> Options {
    Options { seed, raw_bits: Some(12), rate_hz: 1000.0, ..Options::default() }
}

/// Plays the whole script in steps of `step_us`.
fn play(board: &mut VirtualBoard, step_us: u64) -> Vec<u8> {
    let cues = full_run(board.rig());
    follow(board, &cues, step_us)
}

/// Plays a part of each task, 40 s together.
fn play_brief(board: &mut VirtualBoard, step_us: u64) -> Vec<u8> {
    let seconds = [1, 3, 4, 12, 20, 28, 40];
    let tasks = Task::ALL.map(Cue::Begin).into_iter().chain([Cue::End]);
    let cues: Vec<_> = seconds.map(|s| s * 1_000_000).into_iter().zip(tasks).collect();
    follow(board, &cues, step_us)
}

fn follow(board: &mut VirtualBoard, cues: &[(u64, Cue)], step_us: u64) -> Vec<u8> {
    let (hand, mut out) = (board.hand(), Vec::new());
    for &(at_us, cue) in cues {
        while board.now_us() < at_us {
            board.advance((board.now_us() + step_us).min(at_us), &mut out);
        }
        hand.prompt(cue.task());
    }
    board.advance(board.now_us() + 500_000, &mut out);
    out
}

/// Plays one task alone for a while.
fn play_task(board: &mut VirtualBoard, task: Task, seconds: u64) -> Vec<u8> {
    let mut out = Vec::new();
    board.hand().prompt(Some(task));
    board.advance(seconds * 1_000_000, &mut out);
    out
}

fn mean_and_sd(values: impl Iterator<Item = i32>) -> (f64, f64, f64) {
    let values: Vec<f64> = values.map(f64::from).collect();
    let n = values.len() as f64;
    let mean = values.iter().sum::<f64>() / n;
    let variance = values.iter().map(|v| (v - mean).powi(2)).sum::<f64>() / (n - 1.0);
    (mean, variance.sqrt(), n)
}

#[test]
fn the_same_seed_gives_the_same_bytes_and_another_seed_others() {
    let bytes =
        |seed| play_brief(&mut VirtualBoard::new(&options(seed, "healthy")).unwrap(), 100_000);
    assert_eq!(bytes(7), bytes(7));
    assert_ne!(bytes(7), bytes(8));
}

#[test]
fn bytes_do_not_depend_on_how_the_advance_is_cut() {
    for scenario in ["healthy", "stale-half+lossy-link", "half-hang+board-reset", "slow-loop"] {
        let bytes =
            |step_us| play_brief(&mut VirtualBoard::new(&options(3, scenario)).unwrap(), step_us);
        let whole = bytes(u64::MAX / 2);
        assert!(whole == bytes(1_733), "{scenario}: small steps differ");
        assert!(whole == bytes(50_000), "{scenario}: middling steps differ");
    }
}

#[test]
fn it_boots_with_a_banner_and_a_heading() {
    let mut board = VirtualBoard::new(&Options::default()).unwrap();
    let mut out = Vec::new();
    board.advance(400_000, &mut out);
    let text = String::from_utf8(out).unwrap();
    let mut lines = text.lines();
    assert_eq!(lines.next(), Some("# Sandpiper rev B boot, reset cause power-on"));
    assert_eq!(lines.next(), Some("seq,t_us,lx,ly,rx,ry,lt,rt,buttons"));
    assert!(lines.next().unwrap().starts_with("0,27"));
    assert!(lines.next().unwrap().starts_with("1,27"));
}

#[test]
fn at_rest_noise_and_level_are_those_of_the_truth() {
    for options in [options(11, "healthy"), options(12, "healthy"), twelve_bit(13)] {
        let mut board = VirtualBoard::new(&options).unwrap();
        let bytes = play_task(&mut board, Task::Rest, 20);
        let columns = Columns::of(&bytes, &board);
        for axis in AxisId::ALL {
            let truth = *board.truth().axis(axis).unwrap();
            let (mean, sd, n) = mean_and_sd(columns.column(FIRST_AXIS + axis.index()));
            assert!(n >= 4_000.0);
            // Quantisation adds 1/12, a sine of peak a adds a²/2 (Sheppard; both independent).
            let expected =
                (truth.noise_sigma.powi(2) + 1.0 / 12.0 + truth.hum.powi(2) / 2.0).sqrt();
            assert!(
                (sd / expected - 1.0).abs() < 4.0 / (2.0 * n).sqrt(),
                "{axis:?} {sd} {expected}"
            );
            // One rest lies a few seats' SD from the mean of all rests.
            let seat = match board.truth().stick(axis.half()) {
                Some(stick) if !axis.is_trigger() => stick.seat_sd[0].max(stick.seat_sd[1]),
                _ => board.truth().trigger(axis.half()).unwrap().rest_sd,
            };
            assert!((mean - truth.rest).abs() < 4.5 * seat + 0.2, "{axis:?} {mean} {truth:?}");
        }
    }
}

#[test]
fn the_gate_is_reached_all_round() {
    for options in [options(21, "healthy"), twelve_bit(22)] {
        let mut board = VirtualBoard::new(&options).unwrap();
        let columns = Columns::of(&play_task(&mut board, Task::Roll, 19), &board);
        for half in Half::ALL {
            let stick = board.truth().stick(half).unwrap();
            let [x, y] = half.stick().map(|a| FIRST_AXIS + a.index());
            let mut furthest = [0.0_f64; 72];
            for row in &columns.rows {
                let d = [f64::from(row[x]) - stick.centre[0], f64::from(row[y]) - stick.centre[1]];
                let turn = d[1].atan2(d[0]).to_degrees().rem_euclid(360.0);
                let sector = (turn / 5.0) as usize % 72;
                furthest[sector] = furthest[sector].max(d[0].hypot(d[1]));
            }
            for (sector, (&found, &truth)) in furthest.iter().zip(&stick.profile).enumerate() {
                let off = found / truth - 1.0;
                assert!((-0.004..0.015).contains(&off), "{half:?} {sector}: {found} {truth}");
            }
            for axis in half.stick() {
                let truth = board.truth().axis(axis).unwrap();
                let k = FIRST_AXIS + axis.index();
                let low = f64::from(columns.column(k).min().unwrap());
                let high = f64::from(columns.column(k).max().unwrap());
                assert!((low - truth.low).abs() < 0.01 * stick.gate_radius, "{axis:?} {low}");
                assert!((high - truth.high).abs() < 0.01 * stick.gate_radius, "{axis:?} {high}");
            }
        }
    }
}

#[test]
fn sixteen_releases_settle_round_the_centre() {
    let mut board = VirtualBoard::new(&options(31, "healthy")).unwrap();
    play_task(&mut board, Task::Releases, 29);
    for half in Half::ALL {
        let stick = board.truth().stick(half).unwrap();
        assert_eq!(stick.rests.len(), 16);
        let mut directions = [0; 8];
        for rest in &stick.rests {
            directions[(rest.from_deg / 45.0).round().rem_euclid(8.0) as usize] += 1;
        }
        assert_eq!(directions, [2; 8]);
        for axis in 0..2 {
            let off: Vec<f64> =
                stick.rests.iter().map(|r| r.at[axis] - stick.centre[axis]).collect();
            let mean = off.iter().sum::<f64>() / 16.0;
            let sd = (off.iter().map(|d| (d - mean).powi(2)).sum::<f64>() / 15.0).sqrt();
            // Friction adds its band (up to 0.4 % of the travel) to the seat's scatter.
            assert!((0.5..2.0).contains(&(sd / stick.seat_sd[axis])), "{sd} {:?}", stick.seat_sd);
            assert!(mean.abs() < 4.0 * sd / 4.0, "{mean} {sd}");
        }
    }
}

#[test]
fn triggers_go_from_rest_to_full_in_either_polarity() {
    let mut polarities = [false; 2];
    for seed in 40..46 {
        let mut board = VirtualBoard::new(&options(seed, "healthy")).unwrap();
        let columns = Columns::of(&play_task(&mut board, Task::Triggers, 22), &board);
        for half in Half::ALL {
            let truth = board.truth().trigger(half).unwrap();
            let k = FIRST_AXIS + half.trigger().index();
            let low = f64::from(columns.column(k).min().unwrap());
            let high = f64::from(columns.column(k).max().unwrap());
            let (least, most) = (truth.rest.min(truth.full), truth.rest.max(truth.full));
            let slack = 5.0 * truth.rest_sd + 6.0;
            assert!((low - least).abs() < slack && (high - most).abs() < slack, "{low} {high}");
            assert!(truth.reversal == 0.0 && truth.hysteresis > 0.0);
            polarities[usize::from(truth.rest > truth.full)] = true;
        }
    }
    assert_eq!(polarities, [true; 2], "both polarities are drawn");
}

#[test]
fn presses_are_seen_as_the_truth_says() {
    for options in [options(51, "healthy"), twelve_bit(52)] {
        let period_us = 1e6 / options.rate_hz;
        let mut board = VirtualBoard::new(&options).unwrap();
        let columns = Columns::of(&play_task(&mut board, Task::Buttons, 27), &board);
        for (bit, truth) in board.truth().buttons.iter().enumerate() {
            let presses: Vec<_> = truth.edges.iter().filter(|e| e.pressed).collect();
            assert_eq!((presses.len(), truth.edges.len()), (5, 10), "button {bit}");
            let mut changes = Vec::new();
            let mut level = 0;
            for row in &columns.rows {
                let now = row[BUTTONS] >> bit & 1;
                if now != level {
                    changes.push(f64::from(row[CLOCK]));
                }
                level = now;
            }
            for edge in &truth.edges {
                let bounce = edge.bounce_ms().unwrap();
                assert!((0.5..=3.0).contains(&bounce), "{bounce}");
                let seen = edge.seen_bounce_ms();
                assert!(seen <= bounce + period_us / 1000.0 && seen >= 0.0);
                for seen_us in [edge.seen_first_us, edge.seen_last_us] {
                    let at = seen_us * (1.0 + board.truth().clock_ppm * 1e-6);
                    assert!(changes.iter().any(|c| (c - at).abs() < 2.0), "{at}");
                }
            }
        }
    }
}

#[test]
fn the_clock_wraps_and_the_counter_goes_on() {
    let start_clock_us = (1 << 32) - 20_000_000;
    let mut board = VirtualBoard::new(&Options { start_clock_us, ..Options::default() }).unwrap();
    let mut out = Vec::new();
    board.advance(25_000_000, &mut out);
    let columns = Columns::of(&out, &board);
    let clocks: Vec<u32> = columns.column(CLOCK).map(|c| c as u32).collect();
    assert_eq!(clocks.windows(2).filter(|w| w[1] < w[0]).count(), 1);
    let steps = clocks.windows(2).map(|w| w[1].wrapping_sub(w[0]));
    assert!(steps.clone().all(|s| (3_900..4_100).contains(&s)), "{:?}", steps.max());
    let seqs: Vec<i32> = columns.column(SEQ).collect();
    assert!(seqs.windows(2).all(|w| w[1] == w[0] + 1));
}

#[test]
fn a_fast_clock_shows_in_true_time() {
    let mut board = VirtualBoard::new(&options(61, "healthy")).unwrap();
    let ppm = board.truth().clock_ppm;
    let mut lines = Vec::new();
    board.advance_lines(100_000_000, |t_us, line| lines.push((t_us, line.to_vec())));
    let stamp = |line: &[u8]| {
        let text = String::from_utf8(line.to_vec()).unwrap();
        text.split(',').nth(CLOCK).and_then(|c| c.parse::<f64>().ok())
    };
    let frames: Vec<(u64, f64)> =
        lines.iter().filter_map(|(t, line)| Some((*t, stamp(line)?))).collect();
    let (first, last) = (frames[0], frames[frames.len() - 1]);
    let ratio = (last.1 - first.1) / (last.0 - first.0) as f64;
    assert!(((ratio - 1.0) * 1e6 - ppm).abs() < 2.0, "{ratio} {ppm}");
}

#[test]
fn lost_frames_are_those_that_the_counter_misses() {
    let mut board = VirtualBoard::new(&options(71, "lossy-link")).unwrap();
    let mut out = Vec::new();
    board.advance(60_000_000, &mut out);
    let stream = board.truth().stream;
    assert!((200..420).contains(&stream.dropped), "{stream:?}");
    assert!(stream.destroyed + stream.altered > 40, "{stream:?}");
    let columns = Columns::of(&out, &board);
    let whole = stream.sent - stream.dropped - stream.destroyed;
    assert_eq!(columns.rows.len() as u64, whole);
    let seqs: Vec<i64> = columns.column(SEQ).map(i64::from).collect();
    let span = (seqs[seqs.len() - 1] - seqs[0] + 1) as u64;
    assert_eq!(span - whole, stream.lost);
}

#[test]
fn labelled_lines_with_a_checksum_let_no_wrong_number_through() {
    let rig = trimbench::virtual_board::bench_rig(10);
    let mut dialect = trimbench::virtual_board::bench_dialect(&rig);
    dialect.grammar = Grammar::Labelled;
    dialect.checksum = ChecksumForm::Xor;
    dialect.seq_bits = Some(8);
    let options = Options { dialect: Some(dialect), ..options(71, "lossy-link@4") };
    let mut board = VirtualBoard::new(&options).unwrap();
    let mut out = Vec::new();
    board.advance(60_000_000, &mut out);
    let stream = board.truth().stream;
    assert!(stream.destroyed > 150 && stream.altered == 0, "{stream:?}");
    let columns = Columns::of(&out, &board);
    assert_eq!(columns.rows.len() as u64, stream.sent - stream.dropped - stream.destroyed);
    let missing: i32 =
        columns.rows.windows(2).map(|w| (w[1][SEQ] - w[0][SEQ]).rem_euclid(256) - 1).sum();
    assert_eq!(missing as u64, stream.lost);
}

#[test]
fn a_stale_half_repeats_three_frames_in_five() {
    let mut board = VirtualBoard::new(&options(81, "stale-half")).unwrap();
    let bytes = play_task(&mut board, Task::Roll, 19);
    let share = board.truth().stream.stale_share().unwrap();
    assert!((share - 0.6).abs() < 0.01, "{share}");
    let columns = Columns::of(&bytes, &board);
    let same = |axes: [usize; 3]| {
        let moving = &columns.rows[500..4000];
        let same = moving.windows(2).filter(|w| axes.iter().all(|&k| w[0][k] == w[1][k])).count();
        same as f64 / (moving.len() - 1) as f64
    };
    let (left, right) = (same([2, 3, 6]), same([4, 5, 7]));
    assert!(left < 0.05, "{left}");
    assert!((0.58..0.66).contains(&right), "{right}");
    let healthy = VirtualBoard::new(&options(81, "healthy")).unwrap();
    assert_eq!(healthy.truth().stick(Half::Left), board_stick_unmoved(&board, Half::Left).as_ref());
}

/// A stick's truth without what has happened to it.
fn board_stick_unmoved(
    board: &VirtualBoard,
    half: Half,
) -> Option<trimbench::virtual_board::StickTruth> {
    let mut stick = board.truth().stick(half)?.clone();
    stick.rests.clear();
    Some(stick)
}

#[test]
fn a_reset_restarts_counter_and_clock_behind_a_banner() {
    let mut board = VirtualBoard::new(&options(91, "board-reset")).unwrap();
    let mut out = Vec::new();
    board.advance(70_000_000, &mut out);
    assert_eq!(board.truth().stream.resets, 1);
    let text = String::from_utf8(out.clone()).unwrap();
    assert!(text.contains("boot, reset cause watchdog"));
    let columns = Columns::of(&out, &board);
    let again = columns.rows.windows(2).filter(|w| w[1][SEQ] < w[0][SEQ]).collect::<Vec<_>>();
    assert_eq!(again.len(), 1);
    assert_eq!(again[0][1][SEQ], 0);
    assert!(again[0][1][CLOCK] < 100_000, "{:?}", again[0][1]);
}

#[test]
fn the_mouse_drags_a_stick_and_lets_it_spring_back() {
    let mut board = VirtualBoard::new(&options(101, "healthy")).unwrap();
    let (hand, mut out) = (board.hand(), Vec::new());
    board.advance(1_000_000, &mut out);
    hand.drag(Half::Right, Some((0.5, 0.0)));
    board.advance(2_000_000, &mut out);
    let last = |out: &[u8], board: &VirtualBoard| Columns::of(out, board).rows.pop().unwrap();
    let held = f64::from(last(&out, &board)[FIRST_AXIS + AxisId::Rx.index()]);
    let truth = *board.truth().axis(AxisId::Rx).unwrap();
    let half_way = truth.rest + 0.5 * (truth.high - truth.rest);
    assert!((held - half_way).abs() < 0.03 * (truth.high - truth.low), "{held} {half_way}");
    hand.drag(Half::Right, None);
    board.advance(3_000_000, &mut out);
    let back = f64::from(last(&out, &board)[FIRST_AXIS + AxisId::Rx.index()]);
    assert!((back - truth.rest).abs() < 14.0, "{back}");
    hand.press(4);
    board.advance(4_000_000, &mut out);
    assert_eq!(board.truth().buttons[4].edges.len(), 2);
}

#[test]
fn every_scenario_plays_and_differs_from_a_healthy_board() {
    let healthy = play_brief(&mut VirtualBoard::new(&options(5, "healthy")).unwrap(), u64::MAX / 2);
    for (word, _) in Scenario::all().filter(|(word, _)| *word != "healthy") {
        let mut board = VirtualBoard::new(&options(5, word)).unwrap();
        let bytes = play_brief(&mut board, u64::MAX / 2);
        // What strikes once a minute may miss these 40 s, and nobody holds three buttons.
        let seldom = ["half-hang", "board-reset", "dead-half", "matrix-ghost"].contains(&word);
        assert!(bytes != healthy || seldom, "{word} changes nothing");
        let columns = Columns::of(&bytes, &board);
        let frames = columns.rows.len();
        // At another symbol rate no frame comes through.
        assert_eq!(frames > 3_000, word != "baud-mismatch", "{word}: {frames} frames");
    }
}

#[test]
fn a_rig_with_one_stick_and_no_buttons_is_fine() {
    let mut rig: Rig = trimbench::virtual_board::bench_rig(10);
    rig.sticks.truncate(1);
    rig.triggers.clear();
    rig.buttons.clear();
    let cues = full_run(&rig);
    assert!(cues.iter().all(|c| c.1 != Cue::Begin(Task::Triggers)));
    for (word, _) in Scenario::all() {
        let options = Options { rig: Some(rig.clone()), ..options(5, word) };
        let mut board = VirtualBoard::new(&options).unwrap();
        assert_eq!(board.dialect().fields.len(), 4);
        let frames = Columns::of(&play_brief(&mut board, u64::MAX / 2), &board).rows.len();
        assert_eq!(frames > 3_000, word != "baud-mismatch", "{word}");
    }
}

#[test]
fn buttons_that_only_the_dialect_knows_are_there() {
    let mut rig = trimbench::virtual_board::bench_rig(10);
    let mut dialect = trimbench::virtual_board::bench_dialect(&rig);
    rig.buttons.clear();
    dialect.fields[BUTTONS].role = Role::Button(2);
    let options = Options { rig: Some(rig), dialect: Some(dialect), ..Options::default() };
    let mut board = VirtualBoard::new(&options).unwrap();
    assert_eq!(board.rig().buttons, ["b0", "b1", "b2"]);
    let mut out = Vec::new();
    board.advance(500_000, &mut out);
    board.hand().press(2);
    board.advance(1_000_000, &mut out);
    let levels: Vec<i32> = Columns::of(&out, &board).column(BUTTONS).collect();
    assert!(levels.contains(&1) && levels.contains(&0) && levels.iter().all(|l| *l < 2));
}

#[test]
fn what_cannot_be_built_is_refused_with_words() {
    let refused = |options: Options| VirtualBoard::new(&options).err().unwrap();
    let rate = refused(Options { rate_hz: 0.0, ..Options::default() });
    assert_eq!(rate, BoardError::Rate(0.0));
    assert!(
        refused(Options { rate_hz: f64::NAN, ..Options::default() })
            .to_string()
            .contains("1 to 4000")
    );
    let bits = refused(Options { raw_bits: Some(20), ..Options::default() });
    assert_eq!(bits, BoardError::RawBits(20));
    let mut dialect = VirtualBoard::new(&Options::default()).unwrap().dialect().clone();
    dialect.fields[3].role = Role::OutButtons;
    let field = refused(Options { dialect: Some(dialect), ..Options::default() });
    assert!(field.to_string().contains("\"ly\""), "{field}");
}

#[test]
fn flat_out_the_link_gives_the_same_bytes_as_the_board() {
    let board = || VirtualBoard::new(&Options::default()).unwrap();
    let mut link = FlatOut::new(board(), "healthy");
    assert_eq!(link.name(), "virtual healthy");
    let (mut read, mut buffer) = (Vec::new(), [0; 777]);
    for _ in 0..100 {
        let n = link.read(&mut buffer, Duration::ZERO).unwrap();
        read.extend_from_slice(&buffer[..n]);
    }
    assert_eq!(read.len(), 77_700);
    link.write(b"hello").unwrap();
    assert_eq!(link.board().truth().stream.bytes_received, 5);
    let mut whole = Vec::new();
    board().advance(20_000_000, &mut whole);
    assert_eq!(read, whole[..read.len()]);
}

#[test]
fn a_whole_run_stays_short() {
    let mut board = VirtualBoard::new(&Options::default()).unwrap();
    assert!(play(&mut board, u64::MAX / 2).len() < 2_500_000);
    let mut board = VirtualBoard::new(&twelve_bit(1)).unwrap();
    assert!(play(&mut board, u64::MAX / 2).len() < 7_000_000);
}
