//! From bytes to a compiled header: whole sessions are measured and solved, and the header of what
//! could be solved equals `trim::apply` for every raw code of every axis.
use std::path::{Path, PathBuf};

use trimbench::desk::play::{PlayOrder, to_file};
use trimbench::desk::solving::{header_text, solve_file};
use trimbench::trim::check::check;
use trimbench::work::Watch;

use crate::compilers::{C99, CPP11};
use crate::equal::{compare, grids};

/// The sessions that the repository carries.
fn carried() -> Vec<PathBuf> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("sample_sessions");
    let entries = std::fs::read_dir(folder).into_iter().flatten().flatten();
    let mut files: Vec<PathBuf> = entries.map(|e| e.path()).collect();
    files.retain(|p| p.extension().is_some_and(|e| e == "session"));
    files.sort();
    files
}

#[test]
fn headers_of_whole_sessions_equal_the_arithmetic() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let mut files = carried();
    for (bits, rate_hz, seed) in [(10u8, 250.0, 3), (12, 1000.0, 4)] {
        let out = folder.path().join(format!("played{bits}.session"));
        let order = PlayOrder {
            scenario: "healthy".to_owned(),
            rig: None,
            dialect: None,
            rate_hz,
            raw_bits: Some(bits),
            seed,
            seconds: None,
        };
        to_file(&order, Some("2026-01-01T00:00:00Z"), &out).expect("a session is played");
        files.push(out);
    }
    let mut trims = Vec::new();
    for file in &files {
        let results = solve_file(file, None, None, &Watch::unwatched()).expect("it opens");
        let trim = results.solution.trim.clone();
        let text = header_text(&results).expect("some part is solved");
        for refusal in &trim.refusals {
            assert!(text.contains(&format!("Absent: {}", refusal.what)), "{refusal:?}");
        }
        let outcome = check(&trim);
        assert!(outcome.sound(), "{}: {outcome:?}", file.display());
        for field in outcome.sticks {
            assert!(field.least_magnitude >= 32_750, "{}: {field:?}", file.display());
        }
        let step = if trim.raw_bits > 10 { 13 } else { 3 };
        let grids = grids(&trim, step);
        trims.push((trim, grids));
    }
    for (trim, _) in &trims[trims.len() - 2..] {
        assert_eq!((trim.axes.len(), trim.sticks.len()), (4, 2), "the healthy board is solved");
    }
    compare(&trims, &[(&C99, "c"), (&CPP11, "c++")]);
}
