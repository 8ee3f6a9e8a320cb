//! The confusion table: every scenario of the virtual board against what is named of it.
//!
//! `cargo bench --bench doctor -- --seeds 50 [--healthy 2000] [--pairs 20] [--only WORD] [--show]`
#[path = "doctor/run.rs"]
mod run;
#[path = "doctor/table.rs"]
mod table;

use std::collections::BTreeMap;
use std::sync::Mutex;
use std::sync::atomic::{AtomicUsize, Ordering};

use run::{is_loud, is_named, played, strangers, struck};
use table::{ROWS, Row};

/// Raw widths that every scenario is played with.
const WIDTHS: [u8; 2] = [10, 12];

/// Pairs of faults that are planted at once.
const PAIRS: &[[&str; 2]] = &[
    ["stale-half", "lossy-link"],
    ["stale-half", "mains-hum"],
    ["lossy-link", "chatter"],
    ["lossy-link", "noisy-input"],
    ["board-reset", "sticky-return"],
    ["slow-loop", "skewed-axes"],
    ["floating-input", "gate-defect"],
    ["floating-input", "stuck-button"],
    ["stuck-rail", "mux-crosstalk"],
    ["grounded-trigger", "sticky-return"],
    ["swapped-axes", "noisy-input"],
    ["inverted-axis", "sticky-return"],
    ["halves-exchanged", "double-fire"],
    ["mirrored-half", "mains-hum"],
    ["reference-noise", "worn-track"],
    ["mains-hum", "noisy-input"],
    ["mux-crosstalk", "non-monotonic"],
    ["worn-track", "skewed-axes"],
    ["sticky-return", "gate-defect"],
    ["release-overshoot", "trigger-plateau"],
    ["warm-up-drift", "sticky-return"],
    ["uneven-travel", "warm-up-drift"],
    ["skewed-axes", "gate-defect"],
    ["rotated-stick", "worn-track"],
    ["trigger-plateau", "missing-pull-up"],
    ["non-monotonic", "bridged-buttons"],
    ["missing-pull-up", "chatter"],
    ["bridged-buttons", "double-fire"],
    ["stuck-button", "stale-half"],
    ["half-hang", "release-overshoot"],
];

struct Words {
    seeds: u64,
    healthy: u64,
    pairs: u64,
    only: Option<String>,
    show: bool,
}

fn main() {
    let words = words();
    println!("scenario                 strength  named  boards  also named, loud");
    let rows: Vec<&Row> = ROWS.iter().filter(|r| wanted(&words, r.scenario)).collect();
    let (mut loud, mut strange) = (0, 0);
    for half in [false, true] {
        for row in rows.iter().filter(|r| r.scales || !half) {
            let tally = of_row(row, half, &words);
            loud += tally.loud;
            strange += tally.strange;
        }
    }
    if loud > 0 {
        let share = 100.0 * (1.0 - strange as f64 / loud as f64);
        println!(
            "loud findings: {loud}, {strange} of them of another name: precision {share:.1} %"
        );
    }
    if words.healthy > 0 {
        healthy(&words);
    }
    if words.pairs > 0 {
        pairs(&words);
    }
}

fn words() -> Words {
    let mut words = Words { seeds: 2, healthy: 0, pairs: 0, only: None, show: false };
    let mut args = std::env::args().skip(1);
    while let Some(word) = args.next() {
        let mut number = || args.next().and_then(|n| n.parse().ok()).expect("a number");
        match word.as_str() {
            "--seeds" => words.seeds = number(),
            "--healthy" => words.healthy = number(),
            "--pairs" => words.pairs = number(),
            "--only" => words.only = args.next(),
            "--show" => words.show = true,
            // Cargo adds this to every bench.
            "--bench" => {}
            other => panic!("{other} is not known"),
        }
    }
    words
}

fn wanted(words: &Words, scenario: &str) -> bool {
    words.only.as_deref().is_none_or(|only| only.split(',').any(|one| one == scenario))
}

struct Tally {
    loud: usize,
    strange: usize,
}

/// Result of one board: was it named, and what else was.
struct Outcome {
    struck: bool,
    named: bool,
    loud: usize,
    strangers: Vec<(String, String, u64)>,
}

fn of_row(row: &Row, half: bool, words: &Words) -> Tally {
    let scenario = if half { format!("{}@0.5", row.scenario) } else { row.scenario.to_owned() };
    let boards: Vec<(u8, u64)> = WIDTHS
        .into_iter()
        .filter(|b| row.bits.is_none_or(|only| only == *b))
        .flat_map(|bits| (1..=words.seeds).map(move |s| (bits, s)))
        .collect();
    let outcomes = on_both_cores(&boards, |&(bits, seed)| {
        let (results, truth) = played(&scenario, bits, seed);
        if words.show {
            for f in &results.findings {
                println!(
                    "  {bits} bit, seed {seed}: {:?} {} {}: {}",
                    f.severity, f.code, f.place, f.evidence
                );
            }
        }
        let strangers = strangers(&[row], &results.findings);
        Outcome {
            struck: struck(row, &truth),
            named: is_named(row, &results.findings),
            loud: results.findings.iter().filter(|f| is_loud(f)).count(),
            strangers: strangers
                .into_iter()
                .map(|f| (f.code.to_string(), f.place.key(), seed))
                .collect(),
        }
    });
    let at_all = outcomes.iter().filter(|o| o.struck).count();
    let named = outcomes.iter().filter(|o| o.struck && o.named).count();
    let others = counted(outcomes.iter().flat_map(|o| &o.strangers));
    println!(
        "{:<24} {:>8} {:>5.1}% {:>7}  {others}",
        row.scenario,
        if half { "0.5" } else { "1" },
        100.0 * named as f64 / at_all.max(1) as f64,
        at_all,
    );
    Tally {
        loud: outcomes.iter().map(|o| o.loud).sum(),
        strange: outcomes.iter().map(|o| o.strangers.len()).sum(),
    }
}

/// "code place ×3 (seed 5)", the most frequent first.
fn counted<'a>(strangers: impl Iterator<Item = &'a (String, String, u64)>) -> String {
    let mut counts: BTreeMap<(&str, &str), (usize, u64)> = BTreeMap::new();
    for (code, place, seed) in strangers {
        counts.entry((code, place)).or_insert((0, *seed)).0 += 1;
    }
    let mut counts: Vec<_> = counts.into_iter().collect();
    counts.sort_by_key(|(_, (n, _))| std::cmp::Reverse(*n));
    let words = counts
        .into_iter()
        .map(|((code, place), (n, seed))| format!("{code} {place} ×{n} (seed {seed})"));
    words.collect::<Vec<_>>().join(", ")
}

/// How many healthy boards raise a fault or a warning.
fn healthy(words: &Words) {
    let boards: Vec<(u8, u64)> =
        (1..=words.healthy).map(|k| (WIDTHS[usize::from(k % 2 == 0)], 100_000 + k)).collect();
    let found = on_both_cores(&boards, |&(bits, seed)| {
        let (results, _) = played("healthy", bits, seed);
        let loud = results.findings.iter().filter(|f| is_loud(f));
        loud.map(|f| (f.code.to_string(), f.place.key(), seed)).collect::<Vec<_>>()
    });
    let alarmed = found.iter().filter(|f| !f.is_empty()).count();
    println!(
        "healthy: {alarmed} of {} boards raise a fault or a warning, {:.2} %: {}",
        found.len(),
        100.0 * alarmed as f64 / found.len().max(1) as f64,
        counted(found.iter().flatten()),
    );
}

/// Thirty pairs of faults at once: both named?
fn pairs(words: &Words) {
    println!(
        "pair                                          both  boards  missed; also named, loud"
    );
    let (mut both, mut all) = (0, 0);
    for [a, b] in PAIRS {
        let rows: Vec<&Row> =
            ROWS.iter().filter(|r| r.scenario == *a || r.scenario == *b).collect();
        let scenario = format!("{a}+{b}");
        let seeds: Vec<u64> = (1..=words.pairs).collect();
        let outcomes = on_both_cores(&seeds, |&seed| {
            let (results, _) = played(&scenario, WIDTHS[usize::from(seed % 2 == 0)], seed);
            let missed =
                rows.iter().filter(|r| !is_named(&beside(r, &scenario), &results.findings));
            let others = strangers(&rows, &results.findings);
            let others = others.into_iter().map(|f| (f.code.to_string(), f.place.key(), seed));
            (missed.map(|r| r.scenario).collect::<Vec<_>>(), others.collect::<Vec<_>>())
        });
        let named = outcomes.iter().filter(|(missed, _)| missed.is_empty()).count();
        let missed: Vec<&str> = outcomes.iter().flat_map(|(missed, _)| missed.clone()).collect();
        let others = counted(outcomes.iter().flat_map(|(_, others)| others));
        println!(
            "{scenario:<44} {:>5.1}% {:>6}  {}; {others}",
            100.0 * named as f64 / outcomes.len().max(1) as f64,
            outcomes.len(),
            missed.join(" "),
        );
        both += named;
        all += outcomes.len();
    }
    println!("both named: {both} of {all}, {:.1} %", 100.0 * both as f64 / all.max(1) as f64);
}

/// A row as it shows in a pair: halves that are exchanged carry their buttons with them.
fn beside(row: &Row, pair: &str) -> Row {
    let moved = pair.contains("halves-exchanged") && row.place == "b4";
    // Fifteen buttons: the first eight are the left half's, so that b4 answers as b12.
    Row { place: if moved { "b12" } else { row.place }, ..*row }
}

/// Works through `items` with two threads; results in the order of the items.
fn on_both_cores<T: Sync, R: Send>(items: &[T], work: impl Fn(&T) -> R + Sync) -> Vec<R> {
    let next = AtomicUsize::new(0);
    let done = Mutex::new(Vec::new());
    std::thread::scope(|scope| {
        for _ in 0..2 {
            scope.spawn(|| {
                while let Some((k, item)) = Some(next.fetch_add(1, Ordering::Relaxed))
                    .and_then(|k| Some((k, items.get(k)?)))
                {
                    let result = work(item);
                    done.lock().expect("no thread failed").push((k, result));
                }
            });
        }
    });
    let mut done = done.into_inner().expect("no thread failed");
    done.sort_by_key(|(k, _)| *k);
    done.into_iter().map(|(_, result)| result).collect()
}
