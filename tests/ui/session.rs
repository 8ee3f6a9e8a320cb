//! Along a session: jumps to marks and findings, marks by hand, replays under load, undo of steps.
use std::collections::BTreeMap;
use std::time::Duration;

use eframe::App;
use egui::{Key, Modifiers};
use egui_kittest::kittest::Queryable;

use crate::gallery::keep;
use crate::window::{Window, opened, press, recording, show, wait, window};
use trimbench::desk::{Fate, KEPT_LINES, Sight};
use trimbench::gui::actions::{Screen, TimeVerb, TraceVerb};
use trimbench::gui::app::Bench;
use trimbench::guide::Ending;
use trimbench::rig::Task;
use trimbench::source::Address;

#[test]
fn marks_and_findings_are_jumped_to_in_order() {
    let folder = tempfile::tempdir().expect("a folder");
    let path = recording(&folder);
    let mut window = opened([1600.0, 1000.0], true, &path);
    window.run_ok();
    let marks = window.state().desk.sights(Sight::Mark);
    assert!(marks.len() > 5, "{marks:?}");
    window.state_mut().desk.transport.seek(marks[2] - 5_000);
    press(&mut window, TimeVerb::Jump(Sight::Mark, true));
    assert_eq!(window.state().desk.transport.at_us, marks[2]);
    window.get_by_label("Previous mark").click();
    window.run_ok();
    assert_eq!(window.state().desk.transport.at_us, marks[1]);
    for (step, verb) in [(-1_000_000_i64, "Step back"), (1_000_000, "Step forward")] {
        let before = window.state().desk.transport.at_us as i64;
        window.get_by_label(verb).click();
        window.run_ok();
        assert_eq!(window.state().desk.transport.at_us as i64, before + step);
    }
    keep(&mut window, "timeline-1600-dark");
    // A mark by hand stands where the session is looked at, and can be taken back.
    let at_us = window.state().desk.transport.at_us;
    window.key_press(Key::M);
    window.run_ok();
    assert!(window.state().desk.sights(Sight::Mark).iter().any(|t| t.abs_diff(at_us) <= 4_000));
    window.key_press_modifiers(Modifiers::COMMAND, Key::Z);
    window.run_ok();
    assert_eq!(window.state().desk.sights(Sight::Mark), marks);
    // Speeds end where they end, and say so by being out of reach.
    for _ in 0..10 {
        window.key_press(Key::CloseBracket);
        window.run_ok();
    }
    assert_eq!(window.state().desk.transport.speed, 32.0);
    window.get_by_label("Faster");
}

#[test]
fn a_file_opened_whole_shows_its_last_lines() {
    let folder = tempfile::tempdir().expect("a folder");
    let path = recording(&folder);
    let mut window = opened([1600.0, 1000.0], false, &path);
    show(&mut window, Screen::Link);
    let desk = &window.state().desk;
    let lines: Vec<_> = desk.lines().iter().collect();
    assert_eq!(lines.len(), KEPT_LINES);
    let text = std::fs::read_to_string(&path).expect("the session");
    let last = text.lines().rev().find(|l| l.starts_with(|c: char| c.is_ascii_digit()));
    let (_, last) = last.expect("a record").split_once(' ').expect("time and bytes");
    assert_eq!(lines[KEPT_LINES - 1].text, last.trim_end_matches("\\r"));
    let Fate::Frame(cells) = &lines[KEPT_LINES - 1].fate else { panic!("{:?}", lines.last()) };
    let rows = desk.session().rows();
    let want: Vec<i32> = (0..desk.session().roles().len())
        .map(|field| desk.session().column_part(field, rows - 1..rows)[0])
        .collect();
    assert_eq!(*cells, want);
    window.get_by_label("200 lines");
    // A plain log too.
    let log = folder.path().join("plain.log");
    let records = text.lines().filter(|l| l.starts_with(|c: char| c.is_ascii_digit()));
    let plain: Vec<&str> = records.filter_map(|l| Some(l.split_once(' ')?.1)).collect();
    std::fs::write(&log, plain.join("\n").replace("\\r", "")).expect("written");
    let window = opened([1280.0, 720.0], false, &log);
    let lines = window.state().desk.lines();
    assert_eq!(lines.iter().len(), KEPT_LINES);
    let newest = lines.iter().next_back().expect("a line");
    assert_eq!(newest.place.line, plain.len() as u64, "numbered from the file's beginning");
}

/// The tasks of a replayed run and how they ended, with pauses of `pause` between two frames.
fn endings(path: &std::path::Path, pause: Duration) -> Vec<(Task, Option<Ending>)> {
    let mut window = opened([1280.0, 720.0], false, path);
    window.key_press(Key::G);
    window.run_ok();
    for _ in 0..10_000 {
        window.step();
        if window.state().desk.guided().is_some_and(|run| run.task().is_none()) {
            break;
        }
        std::thread::sleep(pause);
    }
    let run = window.state().desk.guided().expect("at its review");
    assert!(run.task().is_none(), "the review has come");
    run.tasks().collect()
}

#[test]
fn a_replay_under_load_leaves_no_task_out() {
    let folder = tempfile::tempdir().expect("a folder");
    let path = recording(&folder);
    let calm = endings(&path, Duration::from_millis(10));
    // At eight times the pace a pause of four seconds passes two or three prompts at once.
    let loaded = endings(&path, Duration::from_secs(4));
    for run in [&calm, &loaded] {
        assert!(run.iter().all(|(_, ending)| *ending == Some(Ending::Sufficed)), "{run:?}");
    }
    assert_eq!(calm, loaded);
}

#[test]
fn an_accepted_step_is_taken_back_and_goes_on_where_it_was() {
    let mut window = window([1600.0, 1000.0], false);
    let address: Address = "virtual:healthy".parse().expect("an address");
    window.state_mut().begin_with(&address);
    wait(&mut window, "a second of frames", |bench| bench.desk.session().rows() > 250);
    window.key_press(Key::G);
    window.step();
    let task = |w: &Window<'_>| w.state().desk.guided().and_then(|run| run.task());
    let first = task(&window).expect("a task");
    window.key_press(Key::Space);
    window.step();
    let second = task(&window).expect("the next");
    assert_ne!(first, second);
    window.key_press(Key::N);
    window.step();
    assert_ne!(task(&window), Some(second));
    for want in [second, first] {
        window.key_press_modifiers(Modifiers::COMMAND, Key::Z);
        window.step();
        assert_eq!(task(&window), Some(want));
    }
    window.key_press_modifiers(Modifiers::COMMAND.plus(Modifiers::SHIFT), Key::Z);
    window.step();
    assert_eq!(task(&window), Some(second));
    wait(&mut window, "the marks", |b| {
        b.desk.session().marks().iter().filter(|m| m.task() == Some(second)).count() >= 2
    });
}

/// What the toolkit keeps from one start to the next.
#[derive(Debug, Default, PartialEq)]
struct Stored(BTreeMap<String, String>);

impl eframe::Storage for Stored {
    fn get_string(&self, key: &str) -> Option<String> {
        self.0.get(key).cloned()
    }
    fn set_string(&mut self, key: &str, value: String) {
        self.0.insert(key.to_owned(), value);
    }
    fn remove_string(&mut self, key: &str) {
        self.0.remove(key);
    }
    fn flush(&mut self) {}
}

#[test]
fn the_window_comes_back_as_it_was_left() {
    let folder = tempfile::tempdir().expect("a folder");
    let mut window = opened([1280.0, 720.0], false, &recording(&folder));
    let mut fresh = Stored::default();
    window.state_mut().save(&mut fresh);
    show(&mut window, Screen::Traces);
    for verb in [TraceVerb::Motion, TraceVerb::Forms, TraceVerb::Shared] {
        press(&mut window, verb);
    }
    let mut left = Stored::default();
    window.state_mut().save(&mut left);
    assert_ne!(left, fresh);
    let mut cc = eframe::CreationContext::_new_kittest(egui::Context::default());
    cc.storage = Some(&left);
    let mut bench = Bench::new(&cc);
    assert_eq!(bench.place, Screen::Traces);
    // What the stations look like now is what they looked like then.
    let mut again = Stored::default();
    bench.save(&mut again);
    assert_eq!(again, left);
}
