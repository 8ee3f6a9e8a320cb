//! One physical run seen at many rates: figures agree, and no rate accuses what another finds good.
//!
//! A run is played at 2 000 frames a second and thinned to each lower rate as a slower loop would have sampled
//! it: at each tick the newest reading. What a rate cannot decide has to be open there, never wrong.
use std::collections::BTreeMap;
use std::path::Path;
use std::process::Command;

use serde_json::Value;

/// Frames a second.
const RATES: [u32; 8] = [15, 30, 60, 125, 250, 500, 1_000, 2_000];
/// Boards played: scenario and seed.
const BOARDS: [(&str, u64); 5] =
    [("healthy", 1), ("healthy", 2), ("noisy-input", 3), ("chatter", 4), ("release-overshoot", 6)];
/// Figures that belong to the stream itself, which differs, or that count what was seen and have no interval;
/// and bounce, whose lower end is the longest as sampled.
const OF_THE_RATE: [&str; 6] =
    ["source.", "stream.", "coverage", "bounce_press", "bounce_release", "longest_wrong"];
/// Pairs of 95 % intervals of the same readings that may lie apart by chance and by what a mean of other
/// stretches is: one in a hundred.
const APART_MOST: f64 = 0.01;

fn program() -> Command {
    Command::new(env!("CARGO_BIN_EXE_trimbench"))
}

/// The frames of a played run as text with a heading, and the time of each, µs.
fn played(folder: &Path, scenario: &str, seed: u64) -> Vec<(u64, String)> {
    let out = folder.join(format!("{scenario}-{seed}.session"));
    let seed = seed.to_string();
    let done = program()
        .args([
            "virtual",
            "--rate",
            "2000",
            "--bits",
            "12",
            "--scenario",
            scenario,
            "--seed",
            &seed,
        ])
        .arg("--out")
        .arg(&out)
        .output()
        .expect("started");
    assert!(done.status.success(), "{}", String::from_utf8_lossy(&done.stderr));
    let text = std::fs::read(&out).expect("written");
    let frame = |line: &str| {
        let (_, frame) = line.split_once(' ')?;
        let mut fields = frame.split(',');
        fields.next()?.parse::<u64>().ok()?;
        let t_us = fields.next()?.parse().ok()?;
        (frame.matches(',').count() == 8).then(|| (t_us, frame.to_owned()))
    };
    String::from_utf8_lossy(&text).lines().filter_map(frame).collect()
}

/// The run as a loop of the given rate would have printed it.
fn thinned(run: &[(u64, String)], rate: u32) -> String {
    let step = 1e6 / f64::from(rate);
    let mut text = String::from("seq,t_us,lx,ly,rx,ry,lt,rt,buttons\n");
    let mut tick = run[0].0 as f64;
    let mut count = 0;
    for pair in run.windows(2) {
        if (pair[1].0 as f64) <= tick && rate < 2_000 {
            continue;
        }
        let rest = pair[0].1.split_once(',').expect("a counter").1;
        text.push_str(&format!("{count},{rest}\n"));
        count += 1;
        while tick < pair[1].0 as f64 {
            tick += step;
        }
    }
    text
}

fn solved(folder: &Path, text: &str) -> Value {
    let log = folder.join("thinned.csv");
    std::fs::write(&log, text).expect("written");
    let done = program().arg("solve").arg(&log).args(["--json", "-"]).output().expect("started");
    serde_json::from_slice(&done.stdout).expect("JSON")
}

fn is_of_the_rate(path: &str) -> bool {
    OF_THE_RATE.iter().any(|word| path.contains(word))
}

/// The interval and the stretch that it was measured over.
fn interval(of: &Value) -> Option<[f64; 4]> {
    let number = |k: usize| of.get(k).and_then(Value::as_f64);
    Some([number(0)?, number(1)?, number(3)?, number(4)?])
}

/// Two figures of the same moments: what only one of them saw may differ for that reason.
fn same_moments(a: [f64; 4], b: [f64; 4]) -> bool {
    let shared = a[3].min(b[3]) - a[2].max(b[2]);
    shared >= 0.8 * (a[3] - a[2]).max(b[3] - b[2])
}

/// Pairs of figures, those of them that lie apart, and those that one rate finds good and another misses.
#[derive(Default)]
struct Compared {
    pairs: usize,
    apart: Vec<String>,
    contradicted: Vec<String>,
}

impl Compared {
    fn add(&mut self, board: &str, [(r, a), (s, b)]: [(u32, &Value); 2]) {
        let intervals = |of: &Value| of["intervals"].as_object().cloned().unwrap_or_default();
        let others = intervals(b);
        for (path, one) in intervals(a).iter().filter(|(path, _)| !is_of_the_rate(path)) {
            let Some((x, y)) = interval(one).zip(others.get(path).and_then(interval)) else {
                continue;
            };
            if same_moments(x, y) {
                self.pairs += 1;
                if x[1] < y[0] || y[1] < x[0] {
                    self.apart.push(format!("{board} {path}: {r} Hz {x:?}, {s} Hz {y:?}"));
                }
            }
        }
        let judged = |of: &Value| of["judgements"].as_object().cloned().unwrap_or_default();
        let others = judged(b);
        let of_stream = |path: &str| path.starts_with("source.") || path.starts_with("stream.");
        for (path, one) in judged(a).iter().filter(|(path, _)| !of_stream(path)) {
            let other = others.get(path).map(|j| &j["judgement"]);
            let pair = [Some(&one["judgement"]), other].map(|j| j.and_then(Value::as_str));
            if matches!(pair, [Some("good"), Some("missed")] | [Some("missed"), Some("good")]) {
                self.contradicted.push(format!("{board} {path}: {r} Hz {pair:?} {s} Hz"));
            }
        }
    }
}

#[test]
fn figures_agree_at_every_rate_and_none_is_good_at_one_and_missed_at_another() {
    let folder = tempfile::tempdir().expect("a folder");
    let mut compared = Compared::default();
    for (scenario, seed) in BOARDS {
        let run = played(folder.path(), scenario, seed);
        let found: BTreeMap<u32, Value> =
            RATES.iter().map(|&rate| (rate, solved(folder.path(), &thinned(&run, rate)))).collect();
        for (r, a) in &found {
            for (s, b) in found.range(r + 1..) {
                compared.add(scenario, [(*r, a), (*s, b)]);
            }
        }
    }
    let Compared { pairs, apart, contradicted } = compared;
    println!("{} of {pairs} pairs of figures lie apart", apart.len());
    assert!(pairs > 5_000, "{pairs}");
    assert!(contradicted.is_empty(), "{}", contradicted.join("\n"));
    assert!(apart.len() as f64 <= APART_MOST * pairs as f64, "{}", apart.join("\n"));
}
