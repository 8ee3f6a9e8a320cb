//! Readings that constants were fitted to are known again wherever they stand; honest boards pass.
use std::fmt::Write as _;

use rand::{Rng, SeedableRng};
use rand_chacha::ChaCha8Rng;
use trimbench::proof::fingerprint;
use trimbench::session::file::{Overrides, open};
use trimbench::trim::{Fitted, Trim};
use trimbench::work::Watch;

use super::proof::{Bench, Run, raw_log, row};

/// Rows of the session that the constants were fitted to.
fn fitted(bench: &Bench) -> Run {
    let text = std::fs::read_to_string(bench.path("first.log")).expect("written");
    text.lines().filter_map(row).collect()
}

/// Why a log is refused; `None` where it is judged.
fn refused(bench: &Bench, name: &str, log: &str) -> Option<String> {
    let path = bench.path(name);
    std::fs::write(&path, log).expect("written");
    bench.prove(&path).map(|_| ()).err().map(|why| why.to_string())
}

/// The seconds that a refusal names.
fn place(words: &str) -> (f64, f64) {
    let mut numbers = words.split(' ').filter_map(|word| word.parse().ok());
    (numbers.next().expect("from"), numbers.next().expect("to"))
}

#[test]
fn no_small_change_hides_the_readings_that_were_fitted() {
    let bench = Bench::new(31);
    let rows = fitted(&bench);
    let mut digit = rows.clone();
    digit[700][3] += 1;
    let without = |gone: std::ops::Range<usize>| -> Run {
        rows.iter().enumerate().filter(|(k, _)| !gone.contains(k)).map(|(_, row)| *row).collect()
    };
    let half_way = rows[rows.len() / 2..].to_vec();
    for (what, log) in [
        ("one line is missing", without(100..101)),
        ("one digit is another", digit),
        ("a block is missing", without(0..250)),
        ("the first lines are missing", without(0..3000)),
        ("half of it", half_way),
    ] {
        let why = refused(&bench, "again.log", &raw_log(&log)).expect(what);
        assert!(why.contains("were fitted to") && why.contains("record the flashed"), "{why}");
    }
    // A counter and clock of another recording change nothing.
    let renumbered: Run = (0..)
        .zip(&rows)
        .map(|(k, row)| {
            let mut row = *row;
            (row[0], row[1]) = (k % 65_536, 5_000_000 + 3_999 * k);
            row
        })
        .collect();
    assert!(refused(&bench, "again.log", &raw_log(&renumbered)).is_some());
}

#[test]
fn any_second_of_them_in_a_fresh_session_is_found_and_its_place_is_said() {
    let bench = Bench::new(32);
    let (rows, fresh) = (fitted(&bench), bench.fresh.clone());
    assert_eq!(refused(&bench, "fresh.log", &raw_log(&fresh)), None);
    let mut random = ChaCha8Rng::seed_from_u64(5);
    for _ in 0..80 {
        let from = random.random_range(0..rows.len() - 250);
        let at = random.random_range(500..fresh.len() - 500);
        let mut log: Run = fresh[..at].to_vec();
        // In the counter and the clock of the fresh one, so that nothing else gives it away.
        let renumbered = |(k, row): (usize, &[i64; 9])| {
            let mut row = *row;
            (row[0], row[1]) = (fresh[at + k][0], fresh[at + k][1]);
            row
        };
        log.extend(rows[from..from + 250].iter().enumerate().map(renumbered));
        log.extend_from_slice(&fresh[at + 250.min(fresh.len() - at)..]);
        let why = refused(&bench, "spliced.log", &raw_log(&log));
        let why = why.unwrap_or_else(|| panic!("rows {from} at {at} pass"));
        let (begin_s, end_s) = place(&why);
        let second = |row: usize| (fresh[row][1] - fresh[0][1]) as f64 * 1e-6;
        assert!(begin_s + 0.01 > second(at) && end_s < second(at + 250) + 0.01, "{at}: {why}");
    }
}

#[test]
fn honest_boards_are_not_accused() {
    // Of one kind and one script, drawn anew: each fresh run against every record.
    let benches: Vec<Bench> = (41..45).map(Bench::new).collect();
    for record in &benches {
        for other in &benches {
            let why = refused(record, "other.log", &raw_log(&other.fresh));
            assert_eq!(why, None);
        }
    }
}

/// A log of a board that boots alike each time: levels rise through a filter, then stand without noise.
fn booted(seed: u64, rows: usize, noisy: bool) -> String {
    let mut random = ChaCha8Rng::seed_from_u64(seed);
    let mut level = [0.0_f64; 4];
    let mut text = String::from("seq,t_us,lx,ly,rx,ry\n");
    for k in 0..rows {
        let _ = write!(text, "{k},{}", 4000 * k);
        for (axis, level) in level.iter_mut().enumerate() {
            *level += (512.0 + 7.0 * axis as f64 - *level) / 24.0;
            let noise = if noisy && k > 200 { random.random_range(0..2) } else { 0 };
            let _ = write!(text, ",{}", level.round() as i64 + noise);
        }
        text.push('\n');
    }
    text
}

#[test]
fn boards_that_boot_and_rest_alike_are_not_accused() {
    let bench = Bench::new(46);
    let print = |log: &str| -> Fitted {
        let path = bench.path("booted.log");
        std::fs::write(&path, log).expect("written");
        let opened = open(&path, &Overrides::default(), &Watch::unwatched(), &mut |_| ());
        fingerprint(&opened.expect("opened").session.tracks(&Default::default()))
    };
    // Noise of one count, and no noise at all: nothing but the start is the same.
    for noisy in [true, false] {
        let known = print(&booted(1, 5000, noisy));
        assert!(noisy != known.others.is_empty(), "{known:?}");
        bench.record(&Trim { fitted_to: known, ..bench.trim.clone() });
        for seed in 2..6 {
            assert_eq!(
                refused(&bench, "later.log", &booted(seed, 5000, noisy)),
                None,
                "{seed} {noisy}"
            );
        }
        // The very session is known where it has noise; without any it cannot be told from others.
        assert_eq!(refused(&bench, "later.log", &booted(1, 5000, noisy)).is_some(), noisy);
    }
}

#[test]
fn what_a_record_knows_its_session_by_is_small_and_comes_back() {
    let bench = Bench::new(47);
    let text = bench.trim.to_ron();
    assert_eq!(Trim::from_ron(&text).expect("its own form"), bench.trim);
    let seconds = fitted(&bench).len() as f64 / 250.0;
    let known = &bench.trim.fitted_to;
    let bytes = String::from(known.clone()).len() as f64 / seconds;
    println!("{bytes:.1} bytes a second, {} stretches in {seconds:.0} s", known.others.len());
    assert!(bytes < 110.0, "{bytes}");
    // A record of the first format is read, and says what it does not know.
    let first = text.replace("format: 2", "format: 1");
    let older = Trim { format: 1, fitted_to: Fitted::default(), ..bench.trim.clone() };
    let start = first.find("fitted_to: \"").expect("there") + "fitted_to: \"".len();
    let end = start + first[start..].find('"').expect("closed");
    let former = format!("{}first 2000 rows, CRC-32 0BADCAFE{}", &first[..start], &first[end..]);
    assert_eq!(Trim::from_ron(&former).expect("format 1"), older);
    std::fs::write(bench.path("record.trim.ron"), former).expect("written");
    let proved = bench.proved(&raw_log(&bench.fresh));
    let said =
        trimbench::emit::proof_text(&proved.proof, &proved.facts, trimbench::emit::Width::FULL);
    assert!(said.contains("by its date alone"), "{said}");
}
