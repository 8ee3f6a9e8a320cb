//! Sticks, buttons and limits by name and key: rests and their releases, circles, parts, bands.
use egui::{Key, Modifiers};
use egui_kittest::kittest::Queryable;

use crate::gallery::keep;
use crate::window::{Window, opened, press, recording, show, wait, window};
use trimbench::gui::actions::{OutputVerb, PartVerb, Screen};
use trimbench::rig::Task;
use trimbench::source::Address;

#[test]
fn a_rest_leads_to_its_release_and_circles_come_on_request() {
    let folder = tempfile::tempdir().expect("a folder");
    let path = recording(&folder);
    let mut window = opened([1600.0, 1000.0], true, &path);
    show(&mut window, Screen::Sticks);
    press(&mut window, PartVerb::Go(true));
    window.get_by_label_contains("release 1 of 16, pushed ");
    press(&mut window, PartVerb::Go(true));
    window.get_by_label_contains("release 2 of 16, pushed ");
    press(&mut window, PartVerb::Circles);
    assert_eq!(window.get_all_by_label_contains("with reference circles").count(), 2);
    keep(&mut window, "sticks-circles-1600-dark");
    press(&mut window, OutputVerb::CopyFigures);
    window.get_by_label_contains("figures are on the clipboard");
    window.get_by_label_contains("release 2 of 16").focus();
    window.run_ok();
    window.key_press(Key::ArrowRight);
    window.run_ok();
    window.get_by_label_contains("release 3 of 16");
    window.key_press(Key::Enter);
    window.run_ok();
    assert_eq!(window.state().place, Screen::Traces);
    window.get_by_label_contains("over 1.44 s");
}

#[test]
fn the_ring_fills_while_the_sticks_are_rolled() {
    let mut window = window([1600.0, 1000.0], false);
    let address: Address = "virtual:healthy".parse().expect("an address");
    window.state_mut().begin_with(&address);
    wait(&mut window, "a second of frames", |bench| bench.desk.session().rows() > 250);
    window.key_press(Key::G);
    window.step();
    while window.state().desk.guided().and_then(|run| run.task()) != Some(Task::Roll) {
        window.key_press(Key::N);
        window.step();
    }
    wait(&mut window, "sectors", |bench| {
        let run = bench.desk.guided().expect("a run");
        let seen = |(_, v): &(_, Vec<u8>)| v.iter().filter(|v| **v > 0).count() > 10;
        run.task() != Some(Task::Roll) || run.prompt().visits.iter().any(seen)
    });
    window.step();
    assert!(window.query_all_by_label_contains("twice in this roll").next().is_some());
    keep(&mut window, "sticks-ring-1600-light");
}

#[test]
fn buttons_are_gone_through_by_name_and_number() {
    let folder = tempfile::tempdir().expect("a folder");
    let path = recording(&folder);
    for (size, dark) in [([1600.0, 1000.0], false), ([1280.0, 720.0], true)] {
        let mut window = opened(size, dark, &path);
        show(&mut window, Screen::Triggers);
        press(&mut window, OutputVerb::CopyFigures);
        window.get_by_label_contains("figures are on the clipboard");
        let put_away = window.get_all_by_label("Put away").next().expect("a notice");
        put_away.click();
        window.run_ok();
        show(&mut window, Screen::Buttons);
        window.get_by_label("south, b0");
        press(&mut window, PartVerb::Go(true));
        window.get_by_label("east, b1");
        press(&mut window, PartVerb::Go(false));
        press(&mut window, PartVerb::Go(false));
        assert!(window.query_by_label("south, b0").is_none());
        keep(&mut window, &format!("buttons-part-{}", size[0]));
        press(&mut window, OutputVerb::CopyFigures);
        window.get_by_label_contains("figures are on the clipboard");
    }
}

#[test]
fn a_band_is_changed_by_hand_judged_by_and_taken_back() {
    let folder = tempfile::tempdir().expect("a folder");
    let path = recording(&folder);
    let mut window = opened([1600.0, 1000.0], false, &path);
    show(&mut window, Screen::Sheet);
    window.get_by_label("Limits").click();
    window.run_ok();
    window.get_by_label_contains("common practice");
    let name = "noise rms, reject, at most";
    window.get_by_label(name).focus();
    window.run_ok();
    window.key_press_modifiers(Modifiers::COMMAND, Key::A);
    window.get_by_label(name).type_text("0.1");
    window.run_ok();
    window.key_press(Key::Enter);
    window.run_ok();
    wait(&mut window, "the findings", |b| b.desk.results_are_current());
    window.run_ok();
    let used = |w: &Window<'_>| {
        let results = w.state().desk.results().expect("results");
        results.limits.noise_rms_counts.reject.high
    };
    assert_eq!(used(&window), Some(0.1));
    window.get_by_label("changed by hand");
    keep(&mut window, "sheet-limits-1600-light");
    let found = &window.state().desk.results().expect("results").findings;
    assert!(found.iter().any(|f| f.code.key() == "noisy-input"), "{found:?}");
    window.key_press_modifiers(Modifiers::COMMAND, Key::Z);
    window.run_ok();
    wait(&mut window, "the findings", |b| b.desk.results_are_current());
    assert_eq!(used(&window), Some(3.0));
}
