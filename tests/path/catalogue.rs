//! The catalogue of figures over sessions of every kind: a value or a reason, shown wherever its row
//! says, judged once.
use std::collections::BTreeSet;
use std::path::{Path, PathBuf};

use serde_json::Value;
use trimbench::desk::analysis::{Results, analyse};
use trimbench::desk::solving::solve_file;
use trimbench::emit;
use trimbench::findings::Severity;
use trimbench::measure::DASH;
use trimbench::rig::Rig;
use trimbench::session::{About, Session};
use trimbench::survey::catalogue::{Entry, Figure, Judgement, Shown};
use trimbench::work::Watch;

const SAMPLES: [&str; 3] =
    ["sandpiper-10bit-250hz.session", "dunlin-12bit-1khz.session", "sandpiper-stale-half.session"];

fn sample(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("sample_sessions").join(name)
}

fn solved(path: &Path) -> Results {
    solve_file(path, None, None, &Watch::unwatched()).expect("it opens")
}

fn written(folder: &Path, name: &str, bytes: &[u8]) -> Results {
    let path = folder.join(name);
    std::fs::write(&path, bytes).expect("a scratch file");
    solved(&path)
}

/// A stick that goes round in 600 rows, then rests, without counter, clock or names beyond `columns`.
fn log(heading: &str, columns: impl Fn(usize) -> String) -> Vec<u8> {
    let mut text = format!("{heading}\n");
    for row in 0..4_000 {
        text.push_str(&columns(row));
        text.push('\n');
    }
    text.into_bytes()
}

fn circle(row: usize) -> [i32; 2] {
    let angle = row as f64 * std::f64::consts::TAU / 600.0;
    let reach = if row < 3_000 { 380.0 } else { 0.0 };
    // A little noise that repeats with no period of the motion.
    let noise = |k: usize| (row * (7 + k) % 5) as f64 / 2.0 - 1.0;
    [
        (512.0 + reach * angle.cos() + noise(0)).round() as i32,
        (510.0 + reach * angle.sin() + noise(1)).round() as i32,
    ]
}

/// Sessions of every kind, each with its name.
fn sessions() -> Vec<(String, Results)> {
    let folder = tempfile::tempdir().expect("a scratch folder");
    let mut all: Vec<(String, Results)> =
        SAMPLES.iter().map(|name| ((*name).to_owned(), solved(&sample(name)))).collect();
    let mut damaged = std::fs::read(sample(SAMPLES[0])).expect("a sample");
    let middle = damaged.len() / 2;
    damaged[middle..middle + 600].fill(0xA5);
    all.push(("damaged".to_owned(), written(folder.path(), "damaged.session", &damaged)));
    let heading = log("t_us,lx,ly", |row| {
        let [x, y] = circle(row);
        format!("{},{x},{y}", row * 4_000)
    });
    all.push(("one stick".to_owned(), written(folder.path(), "one.log", &heading)));
    let clockless = log("lx,ly,rx,ry", |row| {
        let ([x, y], [u, v]) = (circle(row), circle(row + 90));
        format!("{x},{y},{u},{v}")
    });
    all.push(("clockless".to_owned(), written(folder.path(), "clockless.log", &clockless)));
    let none = Session::new(About::default());
    let empty = analyse(&none, &Rig::default(), "empty", &[], &Watch::unwatched());
    all.push(("empty".to_owned(), empty.expect("nothing stops it")));
    all
}

#[test]
fn every_figure_has_a_value_or_a_reason_and_one_place_in_every_output() {
    for (name, results) in sessions() {
        let report = results.report();
        let entries = report.entries();
        let paths: BTreeSet<&str> = entries.iter().map(|e| e.path.as_str()).collect();
        assert_eq!(paths.len(), entries.len(), "{name}: a path stands for two figures");
        for entry in &entries {
            has_a_value_or_a_reason(&name, entry);
        }
        json_has_them_all(&name, &results, &entries);
        csv_has_them_all(&name, &results, &entries);
        text_shows_what_its_rows_say(&name, &results, &entries);
    }
}

fn has_a_value_or_a_reason(name: &str, entry: &Entry<'_>) {
    let path = &entry.path;
    match entry.figure {
        Figure::Reading(Ok(r)) | Figure::Sampled(Ok(r), _) => {
            assert!(
                r.value.is_finite() && !r.low.is_nan() && !r.high.is_nan(),
                "{name}: {path} {r:?}"
            );
            assert!(r.low <= r.value && r.value <= r.high, "{name}: {path} {r:?}");
            assert_eq!(r.unit, entry.info.unit, "{name}: {path}");
        }
        figure => {
            let short =
                figure.shortage().is_none_or(|s| !s.what.is_empty() && !s.advice.is_empty());
            assert!(short, "{name}: {path} lacks a reason: {figure:?}");
        }
    }
    assert!(entry.info.note.len() > 10 && !entry.info.label.is_empty(), "{path} is not explained");
}

fn json_has_them_all(name: &str, results: &Results, entries: &[Entry<'_>]) {
    let document: Value =
        serde_json::from_str(&emit::data::solve_json(&results.report())).expect("valid JSON");
    let intervals = document["intervals"].as_object().expect("an object");
    let judgements = document["judgements"].as_object().expect("an object");
    for entry in entries {
        let at = format!("/{}", entry.path.replace('.', "/"));
        let value = document.pointer(&at).unwrap_or_else(|| panic!("{name}: {at} is missing"));
        match entry.figure {
            Figure::Flag(flag) => assert_eq!(value.as_bool(), flag, "{name}: {at}"),
            // The reader of JSON may miss the last digit.
            figure => match (value.as_f64(), figure.value()) {
                (Some(read), Some(is)) => {
                    assert!((read - is).abs() <= 1e-12 * is.abs(), "{name}: {at} {read} {is}");
                }
                (read, is) => assert_eq!(read, is, "{name}: {at}"),
            },
        }
        let read = entry.figure.reading().is_some();
        assert_eq!(intervals.contains_key(&entry.path), read, "{name}: interval of {at}");
        assert_eq!(judgements.contains_key(&entry.path), entry.judged.is_some(), "{name}: {at}");
    }
    let read = entries.iter().filter(|e| e.figure.reading().is_some()).count();
    assert_eq!(intervals.len(), read, "{name}: each interval stands once");
}

fn csv_has_them_all(name: &str, results: &Results, entries: &[Entry<'_>]) {
    let text = emit::data::figures_csv(&results.report());
    let keys: Vec<&str> = text.lines().skip(1).filter_map(|line| line.split(',').nth(1)).collect();
    let want: Vec<&str> = entries.iter().map(|e| e.path.as_str()).collect();
    assert_eq!(keys, want, "{name}");
}

fn text_shows_what_its_rows_say(name: &str, results: &Results, entries: &[Entry<'_>]) {
    let report = results.report();
    let (summary, sheet) = (emit::summary(&report, emit::Width::FULL), emit::sheet(&report));
    for entry in entries.iter().filter(|e| !e.path.starts_with("coupling.")) {
        let label = entry.info.label;
        if entry.is_shown(Shown::Summary) {
            assert!(summary.contains(label), "{name}: {label} is not in\n{summary}");
        }
        if entry.is_shown(Shown::Sheet) {
            let escaped = label.replace('&', "&amp;");
            assert!(sheet.contains(&escaped), "{name}: {label} is not in the sheet");
        }
    }
    let asked = entries.iter().filter(|e| e.is_shown(Shown::Asked));
    let missing = asked.filter(|e| e.figure.cell() == DASH).count();
    if missing > 0 && results.survey.frames > 0 {
        let said = results.findings.iter().any(|f| f.code.key() == "not-enough-data");
        assert!(said, "{name}: {missing} figures are missing and nothing asks for them");
    }
    // One sign alone stands for what is not there.
    for other in ["\u{2014}", "n/a", "NaN", "inf "] {
        assert!(!summary.contains(other), "{name}: {other:?} in\n{summary}");
        assert!(!sheet.contains(&format!(">{other}<")), "{name}: {other:?} in the sheet");
    }
    assert!(!summary.contains("  -  ") && !sheet.contains(">-<"), "{name}: another dash");
}

#[test]
fn a_missed_figure_owns_a_finding_and_an_undecided_one_changes_nothing() {
    for (name, results) in sessions() {
        for entry in results.report().entries() {
            let Some(judged) = entry.judged else { continue };
            if let Judgement::Missed(grade) = judged.judgement {
                let severity = Severity::of(grade).expect("a miss has a severity");
                let owned = results.findings.iter().any(|f| {
                    f.place.meets(entry.place)
                        && (f.code == judged.code || f.severity <= severity.max(Severity::Warning))
                });
                assert!(owned, "{name}: {} misses its limit in silence", entry.path);
            }
        }
    }
}
