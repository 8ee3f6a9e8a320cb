//! What a frame of the window costs its thread: every station, sessions of a minute to ten hours, live.
//!
//! `cargo bench --bench frames -- [--hours]` (`--hours` adds the session of ten hours: 2 GB on disk).
#[path = "frames/feed.rs"]
mod feed;
#[path = "long_log.rs"]
mod long_log;
#[path = "frames/stage.rs"]
mod stage;

use std::time::{Duration, Instant};

use feed::Feed;
use stage::{Cost, Stage};
use trimbench::gui::actions::Place;

/// Frames a scene is measured over.
const FRAMES: usize = 600;

fn main() {
    let hours = std::env::args().any(|word| word == "--hours");
    println!(
        "{:<44}{:>8}{:>8}{:>8}   median of each part",
        "ms of one frame", "median", "99 %", "most"
    );
    let folder = tempfile::tempdir().expect("a folder");
    let lengths = [("1 min", 60_000), ("1 h", 3_600_000), ("10 h", 36_000_000)];
    for (name, frames) in lengths.into_iter().take(if hours { 3 } else { 2 }) {
        let log = folder.path().join("long.log");
        long_log::write_log(&log, frames);
        let mut stage = Stage::new(Place::Traces);
        stage.open(&log, frames < 10_000_000);
        std::fs::remove_file(&log).expect("removed");
        traces(name, &mut stage);
        if name == "1 h" {
            stations(name, &mut stage);
        }
    }
    live("live 1 kHz", 1_000, 9, Duration::from_secs(12), Place::Traces);
    live("live 1 kHz", 1_000, 9, Duration::from_secs(12), Place::Link);
    live("live 1 kHz", 1_000, 9, Duration::from_secs(12), Place::Sticks);
    live("live 8 kHz, 24 fields", 8_000, 24, Duration::from_secs(30), Place::Traces);
}

/// The traces over five seconds and over the whole session, at rest and under a hand.
fn traces(name: &str, stage: &mut Stage) {
    row(&format!("Traces, {name}, last 5 s"), still(stage));
    stage.show_all();
    row(&format!("Traces, {name}, whole"), still(stage));
    row(&format!("Traces, {name}, whole, dragged and zoomed"), handled(stage));
}

fn stations(name: &str, stage: &mut Stage) {
    for place in Place::ALL.iter().filter(|p| **p != Place::Traces) {
        stage.bench.place = *place;
        row(&format!("{place:?}, {name}"), still(stage));
    }
}

fn still(stage: &mut Stage) -> Vec<Cost> {
    warm_up(stage);
    (0..FRAMES).map(|_| stage.frame(Vec::new())).collect()
}

/// The first frames lay out text and fill caches.
fn warm_up(stage: &mut Stage) {
    for _ in 0..30 {
        stage.frame(Vec::new());
    }
}

fn handled(stage: &mut Stage) -> Vec<Cost> {
    warm_up(stage);
    (0..FRAMES)
        .map(|_| {
            let events = stage.handled();
            stage.frame(events)
        })
        .collect()
}

/// Sixty frames a second while a board prints, the mouse at work; every line must have come.
fn live(name: &str, rate_hz: u64, fields: usize, length: Duration, place: Place) {
    let mut stage = Stage::new(place);
    let mut feed = Feed::begin(rate_hz, fields);
    stage.bench.begin_with(&feed.address);
    stage.until("the first lines", |bench| bench.desk.session().rows() > 0);
    let begun = Instant::now();
    let mut costs = Vec::new();
    while begun.elapsed() < length {
        let frame = Instant::now();
        let events = if place == Place::Traces { stage.handled() } else { Vec::new() };
        costs.push(stage.frame(events));
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
