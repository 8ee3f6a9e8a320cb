//! The roll-call names every channel of streams that nobody described.
use rand::seq::SliceRandom;
use rand::{Rng, SeedableRng};
use rand_chacha::ChaCha8Rng;

use trimbench::desk::Naming;
use trimbench::desk::analysis::analyse;
use trimbench::desk::naming::name_session;
use trimbench::rig::{AxisId, Control, Half, HostUs, Mark, POSITIONS, Rig, Word};
use trimbench::session::{About, Intake, Session};
use trimbench::virtual_board::script::{Cue, full_run};
use trimbench::virtual_board::{Options, VirtualBoard, bench_rig};
use trimbench::wire::Role;
use trimbench::work::Watch;

/// What a healthy board printed while the roll was called, line by line, and when it was asked what.
struct Called {
    /// Host time and numbers of each line: counter, clock, six axes, mask.
    lines: Vec<(u64, Vec<i64>)>,
    /// Host times of the calls.
    calls: Vec<(u64, Control)>,
    full_scale: i64,
    /// Triggers (left, right) that read high when nobody touches them.
    high: [bool; 2],
}

/// Half a second of rest and a roll-call of the board of a seed.
fn called(seed: u64) -> Called {
    let twelve = seed % 4 == 3;
    let options =
        Options { seed, raw_bits: Some(if twelve { 12 } else { 10 }), ..Options::default() };
    let mut board = VirtualBoard::new(&options).expect("a board");
    let script = full_run(board.rig());
    let first = script.iter().position(|(_, cue)| matches!(cue, Cue::Call(_))).expect("called");
    let shift_us = script[first].0 - 500_000;
    let (mut bytes, mut lines, mut calls) = (Vec::new(), Vec::new(), Vec::new());
    let last = script[first..].iter().position(|(_, c)| !matches!(c, Cue::Call(_))).expect("ends");
    let mut take = |board: &mut VirtualBoard, until_us: u64| {
        while board.now_us() < until_us {
            bytes.clear();
            board.advance((board.now_us() + 4_000).min(until_us), &mut bytes);
            for line in String::from_utf8_lossy(&bytes).lines() {
                // The mask at the end is printed in hexadecimal.
                let read =
                    |(k, c): (usize, &str)| i64::from_str_radix(c, if k == 8 { 16 } else { 10 });
                let numbers: Result<Vec<i64>, _> = line.split(',').enumerate().map(read).collect();
                let numbers = numbers.ok();
                lines.extend(numbers.filter(|n| n.len() == 9).map(|n| (board.now_us(), n)));
            }
        }
    };
    for (at_us, cue) in &script[first..first + last] {
        take(&mut board, at_us - shift_us);
        cue.give(&board.hand());
        let Cue::Call(control) = cue else { unreachable!("calls alone") };
        calls.push((board.now_us(), *control));
    }
    take(&mut board, script[first + last].0 - shift_us);
    let full_scale = if twelve { 4095 } else { 1023 };
    let high = [6, 7].map(|k| lines[10].1[k] > full_scale / 2);
    Called { lines, calls, full_scale, high }
}

/// How somebody wired and printed a board.
#[derive(Debug)]
struct Wiring {
    /// `order[k]` = which number of a healthy line stands in column k.
    order: Vec<usize>,
    /// `bits[n]` = the bit of button n.
    bits: Vec<u8>,
    inverted: [bool; 6],
    dead: usize,
    active_low: bool,
    hex: bool,
    separator: char,
}

impl Wiring {
    fn draw(dice: &mut ChaCha8Rng) -> Wiring {
        let mut order: Vec<usize> = (0..9).collect();
        order.shuffle(dice);
        let mut bits: Vec<u8> = (0..15).collect();
        bits.shuffle(dice);
        Wiring {
            order,
            bits,
            inverted: std::array::from_fn(|_| dice.random_bool(0.5)),
            dead: dice.random_range(0..15),
            active_low: dice.random_bool(0.5),
            hex: dice.random_bool(0.5),
            separator: [',', ';', '\t', ' '][dice.random_range(0..4)],
        }
    }

    fn line(&self, numbers: &[i64], full_scale: i64) -> String {
        let mask = (0..15).filter(|&n| n != self.dead && numbers[8] >> n & 1 == 1);
        let mask = mask.fold(0_i64, |mask, n| mask | 1 << self.bits[n]);
        let mask = if self.active_low { mask ^ 0x7FFF } else { mask };
        let cell = |&k: &usize| match k {
            8 if self.hex => format!("0x{mask:04X}"),
            8 => mask.to_string(),
            2..=7 if self.inverted[k - 2] => (full_scale - numbers[k]).to_string(),
            _ => numbers[k].to_string(),
        };
        let cells: Vec<String> = self.order.iter().map(cell).collect();
        cells.join(&self.separator.to_string()) + "\n"
    }

    /// The session of a board wired so, with the marks of the roll-call and nothing else known.
    fn session(&self, called: &Called, rig: Option<Rig>) -> Session {
        let mut intake = Intake::new(None);
        for (host_us, numbers) in &called.lines {
            intake.push(*host_us, self.line(numbers, called.full_scale).as_bytes());
        }
        intake.finish();
        let mut session = Session::new(About { rig, ..About::default() });
        session.append(&intake.take());
        for (host_us, control) in &called.calls {
            session.mark(Mark::new(Word::Call, control.word()).set_at(HostUs(*host_us)));
        }
        session
    }

    fn check(&self, naming: &Naming, called: &Called) -> Result<(), String> {
        for (column, number) in self.order.iter().enumerate() {
            let truth = match number {
                0 => Role::Seq,
                1 => Role::Clock,
                8 => Role::Buttons,
                k => Role::Axis(AxisId::ALL[k - 2]),
            };
            if naming.roles[column] != truth {
                let found = naming.roles[column];
                return Err(format!("column {column} is {truth:?} and was named {found:?}"));
            }
        }
        let sign = |axis: AxisId| self.inverted[axis.index()];
        for half in Half::ALL {
            let [x, y] = half.stick();
            let part = naming.rig.sticks.iter().find(|s| s.half == half).ok_or("no stick")?;
            if (part.x_inverted, part.y_inverted) != (sign(x), sign(y)) {
                return Err(format!("signs of the {} stick: {part:?}", half.key()));
            }
            let part = naming.rig.triggers.iter().find(|t| t.half == half).ok_or("no trigger")?;
            if part.rests_high != Some(sign(half.trigger()) != called.high[half as usize]) {
                return Err(format!("rest of the {} trigger: {part:?}", half.key()));
            }
        }
        for (n, bit) in self.bits.iter().enumerate() {
            let name = naming.rig.buttons.get(usize::from(*bit)).map_or("", String::as_str);
            let truth = if n == self.dead { "" } else { POSITIONS[n] };
            if name != truth {
                return Err(format!("bit {bit} is \"{truth}\" and was named \"{name}\""));
            }
        }
        if naming.rig.buttons_active_low != Some(self.active_low) {
            return Err(format!("polarity {:?}", naming.rig.buttons_active_low));
        }
        let dead = POSITIONS[self.dead];
        if naming.silent != [dead] || !naming.doubtful.is_empty() {
            return Err(format!("{dead} is dead; {}", naming.summary()));
        }
        Ok(())
    }
}

/// Twenty boards, each wired and printed in ten ways; every second time nobody listed its parts.
#[test]
fn two_hundred_boards_without_labels_are_named() {
    let mut dice = ChaCha8Rng::seed_from_u64(6);
    let mut wrong = Vec::new();
    let mut longest_s = 0.0_f64;
    for seed in 0..20 {
        let called = called(seed);
        let time_s = (called.lines[called.lines.len() - 1].0 - called.calls[0].0) as f64 * 1e-6;
        longest_s = longest_s.max(time_s);
        for turn in 0..10 {
            let wiring = Wiring::draw(&mut dice);
            let listed = Rig { buttons: POSITIONS.map(str::to_owned).to_vec(), ..Rig::default() };
            let rig = (turn % 2 == 0).then_some(listed);
            let session = wiring.session(&called, rig.clone());
            let rig = rig.unwrap_or_default();
            let named = name_session(&session, &session.tracks(&rig), &rig);
            let verdict =
                named.ok_or("no names".to_owned()).and_then(|n| wiring.check(&n, &called));
            if let Err(why) = verdict {
                wrong.push(format!("board {seed}, turn {turn}: {why}; {wiring:?}"));
            }
        }
    }
    assert!(longest_s < 35.0, "{longest_s} s");
    assert!(wrong.is_empty(), "{} of 200:\n{}", wrong.len(), wrong.join("\n"));
}

/// Roles that go by the order of the columns contradict nobody; declared ones do.
#[test]
fn wires_are_judged_by_what_was_declared() {
    let called = called(1);
    let mut order: Vec<usize> = (0..9).collect();
    order.swap(2, 3);
    let inverted = [false, false, true, true, false, false];
    let (bits, dead) = ((0..15).collect(), 14);
    let wiring =
        Wiring { order, bits, inverted, dead, active_low: false, hex: true, separator: ',' };
    let found = |session: &Session, rig: &Rig| -> Vec<String> {
        let watch = Watch::unwatched();
        let results = analyse(session, rig, "", &[], &watch).expect("not stopped");
        assert!(
            results.naming.is_some_and(|n| !n.changes.is_empty()),
            "names are found either way"
        );
        let wires = ["swapped-axes", "inverted-axis"];
        results
            .findings
            .iter()
            .map(|f| f.code.to_string())
            .filter(|c| wires.contains(&&c[..]))
            .collect()
    };
    let session = wiring.session(&called, None);
    assert!(session.roles_by_order());
    assert_eq!(found(&session, &Rig::default()), Vec::<String>::new());
    let heading = b"seq,t_us,lx,ly,rx,ry,lt,rt,buttons\n";
    let mut intake = Intake::new(None);
    intake.push(0, heading);
    for (host_us, numbers) in &called.lines {
        intake.push(*host_us, wiring.line(numbers, called.full_scale).as_bytes());
    }
    intake.finish();
    let mut named = Session::new(About::default());
    named.append(&intake.take());
    for (host_us, control) in &called.calls {
        named.mark(Mark::new(Word::Call, control.word()).set_at(HostUs(*host_us)));
    }
    assert!(!named.roles_by_order());
    // Without a parts list nobody has said which way an axis should go.
    assert_eq!(found(&named, &Rig::default()), ["swapped-axes"]);
    let rig = bench_rig(10);
    assert_eq!(found(&named, &rig), ["swapped-axes", "inverted-axis", "inverted-axis"]);
}

/// Names that stand already change nothing, also when they were taken a moment ago.
#[test]
fn names_that_are_taken_are_not_found_again() {
    let mut dice = ChaCha8Rng::seed_from_u64(60);
    let called = called(1);
    for _ in 0..5 {
        let wiring = Wiring::draw(&mut dice);
        let rig = Rig::default();
        let mut session = wiring.session(&called, None);
        let first = name_session(&session, &session.tracks(&rig), &rig).expect("names");
        assert!(!first.changes.is_empty());
        first.put_into(&mut session);
        let again = name_session(&session, &session.tracks(&first.rig), &first.rig);
        let again = again.expect("names");
        assert_eq!(again.changes, Vec::<String>::new());
        assert_eq!(wiring.check(&first, &called), Ok(()));
        assert_eq!((again.roles, again.rig), (first.roles, first.rig));
    }
}
