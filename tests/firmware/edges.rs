//! The edge log of the emulated board: its bounce figures hold what the pins did, far below the
//! interval of the frames, and the board's own truth.
use trimbench::measure::contact::{self, ContactFigures};
use trimbench::measure::{Measured, Reading};
use trimbench::survey::ButtonFigures;

use crate::closed_loop::solved;
use crate::emulator::{Run, damaged_inside, harness, plain_program, run};
use crate::pins;

/// Rows of the pin table, µs: what the pins do is known to this.
const ROW_US: f64 = 500.0;
/// How often the firmware looks, ms, and by how much other interrupts may delay it.
const LOOK_MS: f64 = 0.25;
const LATE_MS: f64 = 0.05;

/// Contacts as the pins of a table had them.
fn of_pins(board: &pins::Board) -> Vec<ContactFigures> {
    let table = std::fs::read(&board.tables[0]).expect("written before");
    let masks: Vec<u32> = table[14..]
        .chunks_exact(14)
        .map(|row| u32::from(u16::from_le_bytes([row[12], row[13]])))
        .collect();
    let t_us: Vec<u64> = (0..masks.len() as u64).map(|k| k * ROW_US as u64).collect();
    contact::logs(&masks, &t_us, 15, ROW_US).iter().map(contact::figures).collect()
}

fn value(figure: &Measured<Reading>) -> f64 {
    figure.as_ref().expect("pressed").value
}

#[test]
fn bounce_is_measured_by_the_boards_own_times() {
    if harness().is_none() {
        return;
    }
    let folder = tempfile::tempdir().expect("a folder");
    let board = pins::first();
    let pins = of_pins(board);
    for defines in [&[][..], &["BENCH_START=BENCH_PACKED"]] {
        let name = if defines.is_empty() { "lines" } else { "packed" };
        let program = plain_program(folder.path(), name, defines, None);
        let table = Some(board.tables[0].as_path());
        let say = [(300_000, "edges 1")];
        let order = Run { table, say: &say, ..Run::default() };
        let log = folder.path().join(format!("{name}.log"));
        std::fs::write(&log, run(&program, board.seconds[0], order)).expect("written");
        let results = solved(&log);
        let edges = &results.tracks.edges;
        assert_eq!(edges.lost, 0);
        assert!(edges.changes[0].begins && edges.changes[1..].iter().all(|c| !c.begins));
        let session = trimbench::session::file::open(
            &log,
            &Default::default(),
            &trimbench::work::Watch::unwatched(),
            &mut |_| (),
        );
        assert_eq!(damaged_inside(&session.expect("it opens").session), 0);
        assert_eq!(results.survey.buttons.len(), 15);
        let mut below = 0;
        for (figures, pin) in results.survey.buttons.iter().zip(&pins) {
            let place = format!("{name}, b{}", figures.index);
            assert!(figures.looked.by_log, "{place}");
            let every_ms = figures.looked.every_ms;
            assert!((LOOK_MS..=LOOK_MS + LATE_MS).contains(&every_ms), "{place}: {every_ms} ms");
            // Every change of a pin lasts two looks, so the log holds them all.
            assert_eq!(figures.presses, pin.presses, "{place}");
            let most = [&pin.press.edges_max, &pin.release.edges_max].map(Clone::clone);
            assert_eq!(figures.edges_max, most, "{place}");
            assert_eq!(figures.doubles, Ok(pin.doubles), "{place}");
            let pairs = [
                (&figures.bounce_press_ms, &pin.press.typical_ms),
                (&figures.bounce_release_ms, &pin.release.typical_ms),
            ];
            for (have, want) in pairs {
                let (have, want) = (value(have), want.as_ref().expect("pressed").value);
                assert!((have - want).abs() <= LOOK_MS + LATE_MS, "{place}: {have} {want}");
                below += usize::from(have > 0.0 && have < results.tracks.period_us / 1e3);
            }
            hold_the_truth(board, figures, &place);
        }
        // What the frames alone could not have told.
        assert!(below >= 8, "{below} typical bounces are shorter than a frame");
    }
}

/// The bounds of a button hold its longest bounce in continuous time.
fn hold_the_truth(board: &pins::Board, figures: &ButtonFigures, place: &str) {
    let truth = &board.board.truth().buttons[usize::from(figures.index)].edges;
    let before_us = board.second_us as f64;
    for (pressed, bound) in
        [(true, &figures.bounce_press_max_ms), (false, &figures.bounce_release_max_ms)]
    {
        let bound = bound.as_ref().expect("pressed");
        let longest = truth
            .iter()
            .filter(|e| e.pressed == pressed && e.seen_last_us < before_us)
            .filter_map(|e| e.bounce_ms())
            .fold(0.0, f64::max);
        // The pins follow the truth to a row at either end.
        let rows_ms = 2.0 * ROW_US / 1e3;
        let holds = bound.low - rows_ms..=bound.value + rows_ms;
        assert!(holds.contains(&longest), "{place}: {longest} ms, {bound:?}");
    }
}
