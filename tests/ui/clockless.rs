//! A log that nothing tells the time of: no second, no hertz anywhere; places and lengths in rows.
use std::path::{Path, PathBuf};

use egui::epaint::Shape;
use egui_kittest::kittest::{By, NodeT, Queryable};

use crate::gallery::keep;
use crate::window::{Window, opened, press};
use trimbench::gui::actions::{Action, RunVerb, Screen, TimeVerb, TraceVerb};
use trimbench::virtual_board::script::{Cue, full_run};
use trimbench::virtual_board::{Options, VirtualBoard};
use trimbench::wire::Role;

/// The scripted run of a healthy board that prints neither clock nor counter, as a plain log.
pub fn clockless_log(folder: &Path) -> PathBuf {
    let mut board = VirtualBoard::new(&Options { seed: 7, ..Options::default() }).expect("a board");
    let mut dialect = board.dialect().clone();
    dialect.fields.retain(|field| !matches!(field.role, Role::Clock | Role::Seq));
    let options = Options { seed: 7, dialect: Some(dialect), ..Options::default() };
    board = VirtualBoard::new(&options).expect("a board");
    let hand = board.hand();
    let mut bytes = Vec::new();
    for (at_us, cue) in full_run(board.rig()) {
        board.advance(at_us, &mut bytes);
        cue.give(&hand);
        if let Cue::Drive(command) = cue {
            board.write(&command.line());
        }
    }
    let path = folder.join("clockless.log");
    std::fs::write(&path, bytes).expect("written");
    path
}

/// Every text on screen: what is drawn, and what a screen reader is told.
fn texts(window: &Window<'_>) -> Vec<String> {
    fn of(shape: &Shape, found: &mut Vec<String>) {
        match shape {
            Shape::Text(text) => found.push(text.galley.text().to_owned()),
            Shape::Vec(shapes) => shapes.iter().for_each(|shape| of(shape, found)),
            _ => {}
        }
    }
    let mut found = Vec::new();
    window.output().shapes.iter().for_each(|clipped| of(&clipped.shape, &mut found));
    for node in window.query_all(By::new().predicate(|_| true)) {
        let node = node.accesskit_node();
        found.extend([node.label(), node.value(), node.description()].into_iter().flatten());
    }
    found
}

/// Units of time and frequency.
const UNITS: [&str; 10] =
    ["s", "ms", "µs", "us", "Hz", "kHz", "min", "second", "seconds", "minutes"];

/// True where a number stands before a unit of time or frequency, where a time of day is written, and for
/// the caption of an axis of either.
fn tells_time(text: &str) -> bool {
    let caption = |unit: &&str| text.ends_with(&format!(", {unit}"));
    if UNITS.iter().any(caption) {
        return true;
    }
    let letters: Vec<char> = text.chars().collect();
    let digit = |at: usize| letters.get(at).is_some_and(char::is_ascii_digit);
    (0..letters.len()).filter(|at| digit(*at) && !digit(at + 1)).any(|at| {
        if letters[at + 1..].first() == Some(&':') && digit(at + 2) && digit(at + 3) {
            return true;
        }
        let behind: String = letters[at + 1..].iter().collect();
        let behind = behind.trim_start_matches([' ', '\u{a0}']);
        let unit: String = behind.chars().take_while(|c| c.is_alphabetic()).collect();
        let whole = !behind[unit.len()..].starts_with(|c: char| c.is_ascii_digit() || c == '_');
        whole && UNITS.contains(&unit.as_str())
    })
}

/// Nothing on screen tells a time.
fn check(window: &Window<'_>, what: &str) {
    let found: Vec<String> = texts(window).into_iter().filter(|text| tells_time(text)).collect();
    assert!(found.is_empty(), "{what} tells a time: {found:#?}");
}

/// Hovers over everything that may say more, and over every chart and picture.
fn hover_all(window: &mut Window<'_>, what: &str) {
    let role = |node: &egui_kittest::kittest::AccessKitNode<'_>| {
        matches!(node.role(), egui::Role::Row | egui::Role::Image | egui::Role::Button)
    };
    let places: Vec<egui::Rect> =
        window.query_all(By::new().predicate(role)).map(|node| node.rect()).collect();
    for rect in places {
        window.hover_at(rect.center());
        window.run_steps(3);
        check(window, what);
    }
}

#[test]
fn what_tells_a_time_is_known() {
    let yes = [
        "5 s",
        "over 1.25\u{a0}s",
        "20ms",
        "at 250 Hz",
        "02:41.306",
        "60.0 min",
        "2.5 s, n",
        "time, s",
    ];
    let no = ["row 12", "250 rows/s", "3 sticks", "ab5s_x", "4 hits", "16 samples", "1:2 ratio"];
    assert!(yes.iter().all(|text| tells_time(text)));
    assert!(!no.iter().any(|text| tells_time(text)));
}

/// Brings a station up by its key.
fn bring_up(window: &mut Window<'_>, place: Screen) {
    let shortcut = Action::Show(place).shortcut().expect("a key");
    window.key_press_modifiers(shortcut.modifiers, shortcut.logical_key);
    window.run_ok();
    assert_eq!(window.state().place, place);
}

#[test]
fn a_log_without_a_clock_tells_no_time_at_any_station() {
    let folder = tempfile::tempdir().expect("a folder");
    let path = clockless_log(folder.path());
    for (size, dark) in [([1600.0, 1000.0], false), ([1280.0, 720.0], true)] {
        let mut window = opened(size, dark, &path);
        assert!(!window.state().desk.session().tells_time());
        let rows = window.state().desk.session().rows();
        assert!(rows > 20_000, "{rows}");
        for place in Screen::ALL {
            bring_up(&mut window, *place);
            let theme = if dark { "dark" } else { "light" };
            keep(&mut window, &format!("clockless-{place:?}-{}-{theme}", size[0]).to_lowercase());
            let what = format!("{place:?} at {size:?}");
            check(&window, &what);
            hover_all(&mut window, &what);
        }
        press(&mut window, RunVerb::Start);
        check(&window, "the review of a run");
    }
}

#[test]
fn places_and_lengths_of_such_a_log_are_rows() {
    let folder = tempfile::tempdir().expect("a folder");
    let path = clockless_log(folder.path());
    let mut window = opened([1600.0, 1000.0], true, &path);
    let rows = window.state().desk.session().rows();
    let written = |rows: usize| trimbench::gui::parts::numbers::grouped(rows as u64);
    bring_up(&mut window, Screen::Traces);
    window.get_by_label(&format!("Timeline, at the end at row {0} of {0}", written(rows)));
    window.get_by_label_contains("over 1\u{a0}250\u{a0}rows");
    // A step back is as many rows as its button says, and both cursors are that far apart.
    press(&mut window, TraceVerb::CursorA);
    press(&mut window, TimeVerb::Step(false));
    press(&mut window, TraceVerb::CursorB);
    window.get_by_label("B − A \u{2212}250\u{a0}rows");
    window.get_by_label(&format!(
        "Timeline, paused at row {} of {}",
        written(rows - 250),
        written(rows)
    ));
    window.get_by_label("250 rows/s");
    press(&mut window, TimeVerb::Speed(true));
    window.get_by_label("500 rows/s");
    for (below, said) in [
        ("Spectrum", "frequency, cycles/row"),
        ("Histogram", "samples"),
        ("Allan", "rows averaged, rows"),
    ] {
        window.get_by_label(below).click();
        window.run_ok();
        assert!(
            texts(&window).iter().any(|text| text.contains(said)),
            "{below}: {:?}",
            texts(&window)
        );
        check(&window, below);
        keep(&mut window, &format!("clockless-{below}-1600-dark").to_lowercase());
    }
    bring_up(&mut window, Screen::Link);
    window.get_by_label("last 500\u{a0}rows, value now, and what it means");
}
