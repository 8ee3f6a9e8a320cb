//! How long the path from a log to the constants takes on signals that no hand makes: time a row must not grow.
use std::fmt::Write as _;
use std::fs;
use std::hint::black_box;
use std::path::Path;
use std::process::{Command, Stdio};

use divan::Bencher;
use divan::counter::ItemsCount;
use rand::{Rng, SeedableRng};
use rand_chacha::ChaCha8Rng;

const ROWS: [usize; 3] = [62_500, 250_000, 1_000_000];

fn main() {
    println!("trimbench solve --json on a plain log of 10 bits at 1 kHz; items are rows");
    divan::main();
}

/// Six inputs and fifteen buttons of one row.
type Row = ([u16; 6], u16);

const STILL: [u16; 6] = [512, 512, 512, 512, 40, 40];

/// Writes a log and lets the program solve it as often as the bench asks.
fn solved(
    bencher: Bencher<'_, '_>,
    rows: usize,
    mut row: impl FnMut(usize, &mut ChaCha8Rng) -> Row,
) {
    let folder = tempfile::tempdir().expect("a folder");
    let log = folder.path().join("signal.log");
    let mut rng = ChaCha8Rng::seed_from_u64(9);
    let mut text = String::with_capacity(48 * rows);
    // Named, so that noise is measured as what the names say and not set aside as unlike any input.
    text.push_str("seq t_us lx ly rx ry lt rt buttons\n");
    for k in 0..rows {
        let ([lx, ly, rx, ry, lt, rt], buttons) = row(k, &mut rng);
        writeln!(text, "{k} {} {lx} {ly} {rx} {ry} {lt} {rt} {buttons}", 1_000 * k).expect("text");
    }
    fs::write(&log, text).expect("written");
    let json = folder.path().join("out.json");
    let solve = |log: &Path| {
        let _ = fs::remove_file(&json);
        let mut program = Command::new(env!("CARGO_BIN_EXE_trimbench"));
        let program = program.arg("solve").arg(log).arg("--json").arg(&json);
        program.stdout(Stdio::null()).stderr(Stdio::null()).status().expect("run")
    };
    bencher.counter(ItemsCount::new(rows)).bench_local(|| black_box(solve(&log)));
}

fn noise(rng: &mut ChaCha8Rng) -> u16 {
    rng.random_range(0..1024)
}

#[divan::bench(args = ROWS, sample_count = 3, sample_size = 1)]
fn noise_on_one_input(bencher: Bencher<'_, '_>, rows: usize) {
    solved(bencher, rows, |_, rng| {
        let mut inputs = STILL;
        inputs[0] = noise(rng);
        (inputs, 0)
    });
}

#[divan::bench(args = ROWS, sample_count = 3, sample_size = 1)]
fn noise_on_all_inputs(bencher: Bencher<'_, '_>, rows: usize) {
    solved(bencher, rows, |_, rng| ([0; 6].map(|_| noise(rng)), 0));
}

#[divan::bench(args = ROWS, sample_count = 3, sample_size = 1)]
fn nothing_moves(bencher: Bencher<'_, '_>, rows: usize) {
    solved(bencher, rows, |_, _| (STILL, 0));
}

#[divan::bench(args = ROWS, sample_count = 3, sample_size = 1)]
fn saws(bencher: Bencher<'_, '_>, rows: usize) {
    solved(bencher, rows, |k, _| {
        ([3, 5, 7, 11, 13, 17].map(|step| (k * step / 4 % 1024) as u16), 0)
    });
}

#[divan::bench(args = ROWS, sample_count = 3, sample_size = 1)]
fn random_buttons(bencher: Bencher<'_, '_>, rows: usize) {
    solved(bencher, rows, |_, rng| (STILL, rng.random_range(0..1 << 15)));
}

#[divan::bench(args = ROWS, sample_count = 3, sample_size = 1)]
fn rest_and_noise_by_turns(bencher: Bencher<'_, '_>, rows: usize) {
    solved(bencher, rows, |k, rng| {
        let quiet = k / 750 % 2 == 0;
        (if quiet { STILL } else { [0; 6].map(|_| noise(rng)) }, 0)
    });
}

/// Both sticks, both triggers and all buttons, let go every 0.6 s for the whole recording.
#[divan::bench(args = ROWS, sample_count = 3, sample_size = 1)]
fn let_go_without_end(bencher: Bencher<'_, '_>, rows: usize) {
    solved(bencher, rows, |k, rng| {
        let (push, out) = (k / 600, k % 600 < 150);
        let (sin, cos) = (2.399_96 * push as f64).sin_cos();
        let reach = if out { 400.0 } else { 3.0 };
        let at = |way: f64, rng: &mut ChaCha8Rng| {
            (512.0 + reach * way).round() as u16 + rng.random_range(0..2)
        };
        let [x, y, z, w] = [cos, sin, cos, sin].map(|way| at(way, rng));
        let pulled = if out { 840 } else { 40 };
        ([x, y, z, w, pulled, pulled], if out { 0x7fff } else { 0 })
    });
}
