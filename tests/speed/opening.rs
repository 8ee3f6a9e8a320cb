//! Opening an hour of log in the window: time to the first traces, longest frame, time to the end.
#[path = "long_log.rs"]
mod long_log;

use std::path::Path;
use std::time::{Duration, Instant};

use egui_kittest::Harness;
use trimbench::gui::actions::Screen;
use trimbench::gui::app::Bench;
use trimbench::gui::settings::Record;

/// Frames of an hour at 1 kHz.
const FRAMES: usize = 3_600_000;

fn main() {
    let folder = tempfile::tempdir().expect("a folder");
    let log = folder.path().join("hour.log");
    long_log::write_log(&log, FRAMES);
    let size = std::fs::metadata(&log).expect("written").len();
    println!("{FRAMES} lines, {:.1} MB", size as f64 / 1e6);
    for place in [Screen::Traces, Screen::Link, Screen::Sticks] {
        open(&log, place);
    }
}

/// Opens the log with a station on screen and steps the window as fast as it goes.
fn open(log: &Path, place: Screen) {
    let mut window = Harness::builder().with_size(egui::vec2(1600.0, 1000.0)).build_eframe(|cc| {
        let mut bench = Bench::new(cc);
        bench.settings.record = Record::Nothing;
        bench.place = place;
        bench
    });
    window.step();
    let begun = Instant::now();
    window.state_mut().desk.open(log);
    let (mut first, mut read, mut measured) = (None, None, None);
    let mut frames: Vec<Duration> = Vec::new();
    while measured.is_none() {
        let frame = Instant::now();
        window.step();
        frames.push(frame.elapsed());
        let desk = &window.state().desk;
        if desk.session().rows() > 0 {
            first.get_or_insert_with(|| begun.elapsed());
        }
        if desk.opening().is_none() && !desk.is_catching_up() {
            read.get_or_insert_with(|| begun.elapsed());
        }
        if desk.results_are_current() && desk.opening().is_none() {
            measured = Some(begun.elapsed());
        }
        // The window draws 60 frames a second.
        std::thread::sleep(Duration::from_millis(16).saturating_sub(frame.elapsed()));
    }
    frames.sort_unstable();
    let at = |share: f64| frames[((frames.len() - 1) as f64 * share) as usize].as_secs_f64() * 1e3;
    let ms = |t: Option<Duration>| t.unwrap_or_default().as_secs_f64() * 1e3;
    println!(
        "{place:?}: first traces {:.0} ms, read {:.0} ms, measured {:.0} ms; frame median {:.1} ms, \
         99 % {:.1} ms, longest {:.1} ms of {}",
        ms(first),
        ms(read),
        ms(measured),
        at(0.5),
        at(0.99),
        at(1.0),
        frames.len()
    );
}
