//! After the flash: fresh runs of a drawn board against the record, as they should be and with
//! everything that can go wrong between record and firmware.
use std::fmt::Write as _;
use std::path::{Path, PathBuf};

use trimbench::desk::proving::{ProveError, Proved, prove_file};
use trimbench::desk::solving::solve_file;
use trimbench::limits::Decision;
use trimbench::proof::{Check, Judged};
use trimbench::rig::{AxisId, Half, Rig};
use trimbench::trim::apply::{Debouncer, Stick, Trigger};
use trimbench::trim::{Fitted, Trim};
use trimbench::virtual_board::script::full_run;
use trimbench::virtual_board::{Options, VirtualBoard, bench_rig};
use trimbench::work::Watch;

/// Rest behind a run of the script, µs.
const BEHIND_US: u64 = 1_500_000;

/// Rows of a run: counter, clock, six axes, buttons (1 = pressed).
pub(super) type Run = Vec<[i64; 9]>;

/// One board whose hand does the whole run twice, and the record fitted to the first.
pub(super) struct Bench {
    folder: tempfile::TempDir,
    rig: Rig,
    pub(super) fresh: Run,
    pub(super) trim: Trim,
}

fn runs(seed: u64) -> [Run; 2] {
    let mut board = VirtualBoard::new(&Options { seed, ..Options::default() }).expect("a board");
    let script = full_run(board.rig());
    let hand = board.hand();
    [0, 1].map(|_| {
        let from_us = board.now_us();
        let mut bytes = Vec::new();
        for (at_us, cue) in &script {
            board.advance(from_us + at_us, &mut bytes);
            hand.prompt(cue.task());
        }
        board.advance(board.now_us() + BEHIND_US, &mut bytes);
        String::from_utf8_lossy(&bytes).lines().filter_map(row).collect()
    })
}

pub(super) fn row(line: &str) -> Option<[i64; 9]> {
    let mut cells = line.split(',').map(|cell| match cell.strip_prefix("0x") {
        Some(hex) => i64::from_str_radix(hex, 16),
        None => cell.parse(),
    });
    let row: Vec<i64> = cells.by_ref().map_while(Result::ok).collect();
    row.try_into().ok()
}

pub(super) fn raw_log(run: &[[i64; 9]]) -> String {
    let mut text = String::from("seq,t_us,lx,ly,rx,ry,lt,rt,buttons\n");
    for row in run {
        let cells: Vec<String> = row[..8].iter().map(i64::to_string).collect();
        let _ = writeln!(text, "{},0x{:04X}", cells.join(","), row[8]);
    }
    text
}

impl Bench {
    pub(super) fn new(seed: u64) -> Bench {
        let folder = tempfile::tempdir().expect("a folder");
        let [first, fresh] = runs(seed);
        let rig = Rig { buttons_active_low: Some(false), ..bench_rig(10) };
        let path = folder.path().join("first.log");
        std::fs::write(&path, raw_log(&first)).expect("written");
        let solved = solve_file(&path, Some(rig.clone()), None, &Watch::unwatched());
        let trim = solved.expect("it opens").solution.trim;
        assert_eq!((trim.sticks.len(), trim.triggers.len()), (2, 2), "{:?}", trim.refusals);
        let bench = Bench { folder, rig, fresh, trim };
        bench.record(&bench.trim);
        bench
    }

    pub(super) fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    pub(super) fn record(&self, trim: &Trim) -> PathBuf {
        let path = self.path("record.trim.ron");
        std::fs::write(&path, trim.to_ron()).expect("written");
        path
    }

    pub(super) fn prove(&self, log: &Path) -> Result<Proved, ProveError> {
        let record = self.path("record.trim.ron");
        prove_file(log, &record, Some(self.rig.clone()), None, &Watch::unwatched())
    }

    pub(super) fn proved(&self, text: &str) -> Proved {
        let path = self.path("fresh.log");
        std::fs::write(&path, text).expect("written");
        self.prove(&path).expect("fresh")
    }
}

/// What the board makes of its raw codes: the firmware with these constants.
struct Flashed {
    sticks: [Stick; 2],
    triggers: [Trigger; 2],
    windows: Vec<(u8, Debouncer)>,
    crc: u16,
}

impl Flashed {
    fn with(trim: &Trim) -> Flashed {
        Flashed {
            sticks: Half::ALL.map(|h| Stick::of(trim, h).expect("solved")),
            triggers: Half::ALL.map(|h| Trigger::of(trim, h).expect("solved")),
            windows: trim.buttons.iter().map(|b| (b.index, Debouncer::new(b))).collect(),
            crc: trim.crc().expect("a zone"),
        }
    }

    fn row(&mut self, raw: &[i64; 9]) -> [i64; 7] {
        let code = |axis: AxisId| raw[2 + axis.index()] as u16;
        let mut out = [0; 7];
        for half in Half::ALL {
            let [x, y] = half.stick();
            let pair = self.sticks[half as usize].run(code(x), code(y));
            (out[x.index()], out[y.index()]) = (i64::from(pair.0), i64::from(pair.1));
            let trigger = half.trigger();
            let pull = self.triggers[half as usize].run(code(trigger));
            out[trigger.index()] = i64::from(pull);
        }
        let now_ms = (raw[1] / 1000) as u16;
        for (bit, window) in &mut self.windows {
            let pressed = window.sample(raw[8] >> *bit & 1 == 1, now_ms);
            out[6] |= i64::from(pressed) << *bit;
        }
        out
    }
}

/// The log of a flashed board, its outputs changed by `fault`.
fn flashed_log(run: &Run, trim: &Trim, fault: impl Fn(&[i64; 9], &mut [i64; 7])) -> String {
    let mut flashed = Flashed::with(trim);
    let mut text = String::from(
        "seq,t_us,lx,ly,rx,ry,lt,rt,buttons,out_lx,out_ly,out_rx,out_ry,out_lt,out_rt,\
         out_buttons,identity\n",
    );
    for raw in run {
        let mut out = flashed.row(raw);
        fault(raw, &mut out);
        let cells: Vec<String> = raw[..8].iter().map(i64::to_string).collect();
        let outs: Vec<String> = out[..6].iter().map(i64::to_string).collect();
        let _ = writeln!(
            text,
            "{},0x{:04X},{},0x{:04X},{}",
            cells.join(","),
            raw[8],
            outs.join(","),
            out[6],
            flashed.crc
        );
    }
    text
}

fn failed(proved: &Proved) -> Vec<(&'static str, String)> {
    let fails = |c: &&Check| c.decision == Some(Decision::Fail);
    proved.proof.checks.iter().filter(fails).map(|c| (c.key, c.part())).collect()
}

#[test]
fn a_fresh_run_proves_the_constants_and_the_flashed_board() {
    let bench = Bench::new(21);
    let raw = bench.proved(&raw_log(&bench.fresh));
    assert_eq!(raw.proof.judged, Judged::Record);
    assert_eq!(raw.proof.decision(), Decision::Pass, "{:#?}", raw.proof);
    let log = flashed_log(&bench.fresh, &bench.trim, |_, _| ());
    let board = bench.proved(&log);
    assert_eq!(board.proof.judged, Judged::Board);
    assert_eq!(board.proof.decision(), Decision::Pass, "{:#?}", board.proof);
    for key in ["identity", "equal-to-record", "reach-16-sectors", "one-press-one-event"] {
        let decided = |c: &&Check| c.key == key && c.decision == Some(Decision::Pass);
        assert!(board.proof.checks.iter().any(|c| decided(&c)), "{key}");
    }
    assert_eq!(board.proof.checks.len(), raw.proof.checks.len());
    // Rounding of a radial zone keeps every direction at 32 750 or more.
    let reach = board.proof.checks.iter().filter(|c| c.key == "reach-16-sectors");
    assert!(reach.map(|c| c.value).all(|v| v >= Some(32_750.0 / 32_767.0)));
}

#[test]
fn the_readings_that_were_fitted_prove_nothing_nor_does_a_part_of_them() {
    let bench = Bench::new(22);
    let first = bench.path("first.log");
    let whole = std::fs::read_to_string(&first).expect("written");
    let part: String = whole.lines().take(6000).flat_map(|l| [l, "\n"]).collect();
    std::fs::write(bench.path("part.log"), part).expect("written");
    for log in [first, bench.path("part.log")] {
        let error = bench.prove(&log).expect_err("refused").to_string();
        assert!(
            error.contains("were fitted to") && error.contains("record the flashed"),
            "{error}"
        );
    }
    // A record that does not say which readings it came from goes by the date of the session.
    let older = Trim { fitted_to: Fitted::default(), ..bench.trim.clone() };
    bench.record(&older);
    assert!(bench.prove(&bench.path("part.log")).is_ok(), "a log has no date");
}

#[test]
fn what_goes_wrong_between_record_and_firmware_is_named() {
    let bench = Bench::new(23);
    let run = &bench.fresh;
    let faulty = |fault: &dyn Fn(&[i64; 9], &mut [i64; 7])| {
        let proved = bench.proved(&flashed_log(run, &bench.trim, fault));
        let names = failed(&proved).iter().map(|(k, p)| format!("{k} {p}")).collect::<Vec<_>>();
        assert_eq!(proved.proof.decision(), Decision::Fail, "{:#?}", proved.proof);
        names.join(", ")
    };
    // Outputs that stay short on one stick.
    let short = faulty(&|_, out| (out[0], out[1]) = (out[0] * 97 / 100, out[1] * 97 / 100));
    assert_eq!(short, "full-on-axes left stick, reach-16-sectors left stick");
    // A right stick that never comes to zero.
    let leaking = faulty(&|_, out| out[2] += i64::from(out[2] == 0) * 3);
    assert!(leaking.contains("zero-at-rest right stick"), "{leaking}");
    // A left trigger that folds back near its end.
    let folded = faulty(&|_, out| out[4] -= i64::from((30_000..32_000).contains(&out[4])) * 2500);
    assert_eq!(folded, "monotonic left trigger");
    // A first button whose events come again while it is held.
    let bouncing = faulty(&|raw, out| out[6] &= !i64::from(raw[0] % 8 == 0));
    assert!(bouncing.starts_with("one-press-one-event b0"), "{bouncing}");
}

#[test]
fn constants_of_another_unit_fail_by_checksum_and_by_what_they_do() {
    let bench = Bench::new(24);
    let other = Bench::new(25);
    let log = flashed_log(&bench.fresh, &other.trim, |_, _| ());
    let proved = bench.proved(&log);
    let failed = failed(&proved);
    assert!(failed.contains(&("identity", String::new())), "{failed:?}");
    assert!(failed.len() > 1, "{failed:?}");
}

#[test]
fn outputs_alone_are_judged_and_what_they_cannot_show_is_left_out() {
    let bench = Bench::new(26);
    let whole = flashed_log(&bench.fresh, &bench.trim, |_, _| ());
    let cut = |line: &str| {
        let cells: Vec<&str> = line.split(',').collect();
        [&cells[..2], &cells[9..]].concat().join(",") + "\n"
    };
    let proved = bench.proved(&whole.lines().map(cut).collect::<String>());
    assert!(failed(&proved).is_empty(), "{:#?}", proved.proof);
    let of = |key: &str| {
        let checks = proved.proof.checks.iter();
        checks.filter(|c| c.key == key).map(|c| c.decision).collect::<Vec<_>>()
    };
    assert_eq!(of("reach-16-sectors"), [Some(Decision::Pass); 2], "{:#?}", proved.proof);
    assert_eq!(of("zero-at-rest"), [Some(Decision::Pass); 2]);
    assert_eq!(of("equal-to-record"), [None; 4]);
    assert_eq!(of("monotonic"), [None; 6]);
}

#[test]
fn too_little_is_undecided_and_never_a_pass() {
    let bench = Bench::new(27);
    let rest: Run = bench.fresh.iter().take(1500).copied().collect();
    let proved = bench.proved(&flashed_log(&rest, &bench.trim, |_, _| ()));
    assert_ne!(proved.proof.decision(), Decision::Pass);
    let open: Vec<_> =
        proved.proof.checks.iter().filter(|c| c.decision == Some(Decision::CannotTell)).collect();
    assert!(open.len() > 10 && open.iter().all(|c| !c.advice.is_empty()), "{open:?}");
}

/// Exit code, and what was said on both outputs together.
fn said(words: &[&std::ffi::OsStr]) -> (Option<i32>, String) {
    let out = std::process::Command::new(env!("CARGO_BIN_EXE_trimbench"))
        .arg("prove")
        .args(words)
        .output()
        .expect("it starts");
    let text = [out.stdout, out.stderr].concat();
    (out.status.code(), String::from_utf8_lossy(&text).into_owned())
}

#[test]
fn the_verb_ends_with_the_verdict() {
    let bench = Bench::new(28);
    let [good, bad, rig, json] =
        ["good.log", "bad.log", "rig.ron", "proof.json"].map(|n| bench.path(n));
    let write = |path: &PathBuf, text: &str| std::fs::write(path, text).expect("written");
    write(&good, &flashed_log(&bench.fresh, &bench.trim, |_, _| ()));
    write(&bad, &flashed_log(&bench.fresh, &bench.trim, |_, out| out[0] /= 2));
    write(&rig, "(format: 1, raw_bits: 10, buttons_active_low: false)");
    let (first, record) = (bench.path("first.log"), bench.path("record.trim.ron"));
    let with = |log: &PathBuf, more: &[&PathBuf]| {
        let mut words = vec![log.as_os_str(), "--against".as_ref(), record.as_os_str()];
        words.extend(["--rig".as_ref(), rig.as_os_str()]);
        words.extend(more.iter().flat_map(|m| ["--json".as_ref(), m.as_os_str()]));
        said(&words)
    };
    let (code, text) = with(&good, &[&json]);
    assert_eq!(code, Some(0), "{text}");
    assert!(text.contains("pass") && text.ends_with("the limits are met\n"), "{text}");
    let written = std::fs::read_to_string(&json).expect("written");
    let read: serde_json::Value = serde_json::from_str(&written).expect("valid");
    assert_eq!(read["decision"], serde_json::json!("pass"));
    let (code, text) = with(&bad, &[]);
    assert_eq!(code, Some(1), "{text}");
    assert!(text.contains("fail") && text.contains("full on axes"), "{text}");
    let (code, text) = with(&first, &[]);
    assert_eq!((code, text.lines().count()), (Some(2), 1), "{text}");
}
