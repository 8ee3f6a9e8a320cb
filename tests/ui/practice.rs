//! Practice: a hidden fault, no finding before it is named, then the cause and the score.
use egui::{Key, Modifiers};
use egui_kittest::kittest::Queryable;

use crate::gallery::keep;
use crate::window::{Window, show, wait, window};
use trimbench::gui::actions::{Action, LinkVerb, Screen};

fn measured(window: &mut Window<'_>) {
    wait(window, "a board", |bench| bench.desk.practice().is_some());
    wait(window, "results", |bench| bench.desk.results_are_current());
    window.run_ok();
}

/// Nothing on any station says what is wrong.
fn says_nothing(window: &mut Window<'_>) {
    for place in Screen::ALL {
        show(window, *place);
        let shown = window.query_all_by_label_contains("Axes swapped").count();
        let offered = usize::from(*place == Screen::Wiring);
        assert_eq!(shown, offered, "{place:?} gives it away");
    }
    assert!(window.state().desk.names_found().is_none());
    let results = window.state().desk.results().expect("results");
    assert!(results.findings.is_empty());
    assert!(results.facts.notes.join("; ").contains("kept back"), "a sheet saved now says so");
}

#[test]
fn a_fault_is_hidden_until_it_is_named() {
    let mut window = window([1280.0, 720.0], true);
    window.state_mut().desk.practise_with("swapped-axes", 4);
    measured(&mut window);
    says_nothing(&mut window);
    show(&mut window, Screen::Wiring);
    window.get_by_label("Frames lost on the way").click();
    window.run_ok();
    keep(&mut window, "practice-asked-1280-dark");
    window.get_by_label("Name it").click();
    window.run_ok();
    window.get_by_label_contains(
        "You said \u{201c}Frames lost on the way\u{201d}; it is \u{201c}Axes swapped",
    );
    window.get_by_label_contains("Planted: left x and left y are wired");
    window.get_by_label("Named right so far: 0 of 1");
    assert!(window.query_all_by_label_contains("Axes swapped, left stick").count() >= 1);
    keep(&mut window, "practice-answered-1280-dark");
    // The next one: another board takes its place, the score stands.
    window.state_mut().desk.practise_with("swapped-axes", 5);
    wait(&mut window, "the next board", |bench| bench.desk.keeps_back());
    measured(&mut window);
    says_nothing(&mut window);
    show(&mut window, Screen::Wiring);
    window.get_by_label("Axes swapped").click();
    window.run_ok();
    window.get_by_label("Name it").click();
    window.run_ok();
    window.get_by_label_contains("Right: \u{201c}Axes swapped");
    window.get_by_label("Named right so far: 1 of 2");
}

#[test]
fn a_key_begins_it_and_another_ends_it() {
    let mut window = window([1280.0, 720.0], false);
    window.key_press_modifiers(Modifiers::COMMAND, Key::B);
    window.step();
    wait(&mut window, "a board", |bench| bench.desk.practice().is_some());
    assert_eq!(window.state().place, Screen::Wiring);
    let leave = Action::Link(LinkVerb::LeavePractice).shortcut().expect("a key");
    window.key_press_modifiers(leave.modifiers, leave.logical_key);
    window.run_ok();
    assert!(window.state().desk.practice().is_none());
    assert_eq!(window.state().desk.session().rows(), 0);
}
