//! What a frame of the window costs its thread: every station, sessions of a minute to ten hours, live.
//!
//! `cargo bench --bench frames -- [--hours] [--only live|files]` (`--hours` adds the session of ten
//! hours: 2 GB on disk).
#[path = "frames/feed.rs"]
mod feed;
#[path = "long_log.rs"]
mod long_log;
#[path = "frames/stage.rs"]
mod stage;

use std::time::{Duration, Instant};

use feed::{Feed, Stepped};
use stage::{Cost, Stage};
use trimbench::gui::actions::Screen;

/// Frames a scene is measured over.
const FRAMES: usize = 600;

fn main() {
    let words: Vec<String> = std::env::args().collect();
    let only = words.iter().skip_while(|word| *word != "--only").nth(1).map(String::as_str);
    println!(
        "{:<44}{:>8}{:>8}{:>8}   median of each part",
        "ms of one frame", "median", "99 %", "most"
    );
    if only != Some("live") {
        files(words.iter().any(|word| word == "--hours"));
    }
    if only != Some("files") {
        streams();
    }
}

/// Recordings of up to three lengths, frame by frame in turn, so that all meet the same machine.
fn files(hours: bool) {
    let folder = tempfile::tempdir().expect("a folder");
    let lengths = [("1 min", 60_000), ("1 h", 3_600_000), ("10 h", 36_000_000)];
    let mut stages: Vec<(&str, Stage)> = Vec::new();
    for (name, frames) in lengths.into_iter().take(if hours { 3 } else { 2 }) {
        let log = folder.path().join("long.log");
        long_log::write_log(&log, frames);
        let mut stage = Stage::new(Screen::Traces);
        stage.open(&log);
        std::fs::remove_file(&log).expect("removed");
        stages.push((name, stage));
    }
    in_turn("last 5 s", &mut stages, still);
    stages.iter_mut().for_each(|(_, stage)| stage.show_all());
    in_turn("whole", &mut stages, still);
    in_turn("whole, dragged and zoomed", &mut stages, handled);
    let (name, stage) = &mut stages[1];
    for place in Screen::ALL.iter().filter(|p| **p != Screen::Traces) {
        stage.bench.place = *place;
        warm_up(stage);
        row(&format!("{place:?}, {name}"), (0..FRAMES).map(|_| still(stage)).collect());
    }
}

/// The traces of every recording, a frame of each after the other.
fn in_turn(what: &str, stages: &mut [(&str, Stage)], frame: fn(&mut Stage) -> Cost) {
    stages.iter_mut().for_each(|(_, stage)| warm_up(stage));
    let mut costs = vec![Vec::new(); stages.len()];
    for _ in 0..FRAMES {
        for ((_, stage), costs) in stages.iter_mut().zip(&mut costs) {
            costs.push(frame(stage));
        }
    }
    for ((name, _), costs) in stages.iter().zip(costs) {
        row(&format!("Traces, {name}, {what}"), costs);
    }
}

fn still(stage: &mut Stage) -> Cost {
    stage.frame(Vec::new())
}

fn handled(stage: &mut Stage) -> Cost {
    let events = stage.handled();
    stage.frame(events)
}

/// The first frames lay out text and fill caches.
fn warm_up(stage: &mut Stage) {
    for _ in 0..30 {
        stage.frame(Vec::new());
    }
}

/// Boards that print while they are looked at.
fn streams() {
    for place in [Screen::Traces, Screen::Link, Screen::Sticks] {
        stepped(1_000, 9, 12, place);
    }
    live("live 1 kHz", 1_000, 9, Duration::from_secs(12), Screen::Traces);
    live("live 1 kHz", 1_000, 9, Duration::from_secs(12), Screen::Link);
    live("live 1 kHz", 1_000, 9, Duration::from_secs(12), Screen::Sticks);
    live("live 8 kHz, 24 fields", 8_000, 24, Duration::from_secs(30), Screen::Traces);
}

/// Sixty frames a simulated second: frames follow each other as soon as what is due has been printed.
fn stepped(rate_hz: u64, fields: usize, seconds: u64, place: Screen) {
    let mut stage = Stage::new(place);
    let mut feed = Stepped::begin(rate_hz, fields);
    stage.bench.begin_with(&feed.address);
    let costs = (1..=seconds * 60)
        .map(|frame| {
            feed.print_until(Duration::from_micros(frame * 1_000_000 / 60));
            // The reader's turn.
            std::thread::sleep(Duration::from_millis(2));
            if place == Screen::Traces { handled(&mut stage) } else { still(&mut stage) }
        })
        .collect();
    stage.until("the last lines", |bench| bench.desk.session().rows() as u64 >= feed.sent);
    assert_eq!(stage.bench.desk.session().rows() as u64, feed.sent, "every line");
    row(&format!("{place:?}, simulated {rate_hz} Hz, {} lines", feed.sent), costs);
}

/// Sixty frames a second while a board prints, the mouse at work; every line must have come.
fn live(name: &str, rate_hz: u64, fields: usize, length: Duration, place: Screen) {
    let mut stage = Stage::new(place);
    let mut feed = Feed::begin(rate_hz, fields);
    stage.bench.begin_with(&feed.address);
    stage.until("the first lines", |bench| bench.desk.session().rows() > 0);
    let begun = Instant::now();
    let mut costs = Vec::new();
    while begun.elapsed() < length {
        let frame = Instant::now();
        let cost = if place == Screen::Traces { handled(&mut stage) } else { still(&mut stage) };
        costs.push(cost);
        std::thread::sleep(Duration::from_micros(16_667).saturating_sub(frame.elapsed()));
    }
    let sent = feed.end();
    stage.until("the last lines", |bench| bench.desk.session().rows() as u64 >= sent);
    let session = stage.bench.desk.session();
    let axes = session.roles().len();
    assert_eq!((session.rows() as u64, axes), (sent, fields), "every line, every field");
    row(&format!("{place:?}, {name}, {sent} lines, none lost"), costs);
}

fn row(name: &str, costs: Vec<Cost>) {
    let sorted = |part: fn(&Cost) -> f64| {
        let mut all: Vec<f64> = costs.iter().map(part).collect();
        all.sort_unstable_by(f64::total_cmp);
        all
    };
    let whole = sorted(Cost::whole);
    let at = |share: f64| whole[((whole.len() - 1) as f64 * share) as usize];
    let part = |part: fn(&Cost) -> f64| sorted(part)[costs.len() / 2];
    println!(
        "{name:<44}{:>8.2}{:>8.2}{:>8.2}   logic {:.2}, ui {:.2}, tessellation {:.2}",
        at(0.5),
        at(0.99),
        at(1.0),
        part(|c| c.logic),
        part(|c| c.ui),
        part(|c| c.tessellation)
    );
}
