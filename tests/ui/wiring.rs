//! The Wiring station: the matrix in words, findings set aside with a reason, names taken with a key.
use egui::Key;
use egui_kittest::kittest::Queryable;

use crate::gallery::keep;
use crate::window::{Window, opened, show, wait};
use trimbench::desk::play::{PlayOrder, to_file};
use trimbench::gui::actions::Screen;
use trimbench::rig::{AxisId, Rig};
use trimbench::wire::Role;

fn recorded(folder: &tempfile::TempDir, scenario: &str) -> std::path::PathBuf {
    let path = folder.path().join("board.session");
    let order = PlayOrder {
        scenario: scenario.to_owned(),
        rig: None,
        dialect: None,
        rate_hz: 250.0,
        raw_bits: Some(10),
        seed: 7,
        seconds: Some(34.0),
    };
    to_file(&order, Some("2026-05-04T10:00:00Z"), &path).expect("a recording");
    path
}

fn measured(window: &mut Window<'_>) {
    wait(window, "results", |bench| bench.desk.results_are_current());
    window.run_ok();
}

#[test]
fn a_finding_is_shown_in_the_traces_and_set_aside_with_a_reason() {
    let folder = tempfile::tempdir().expect("a folder");
    let path = recorded(&folder, "swapped-axes");
    let mut window = opened([1600.0, 1000.0], false, &path);
    show(&mut window, Screen::Wiring);
    window.get_by_label_contains("left stick right: ");
    assert!(window.query_all_by_label_contains("Axes swapped, left stick").count() >= 1);
    keep(&mut window, "wiring-swapped-light");
    window.get_all_by_label("Show me").next().expect("a way to the traces").click();
    window.run_ok();
    assert_eq!(window.state().place, Screen::Traces);
    show(&mut window, Screen::Wiring);
    window.get_by_label_contains("Checked, ignore Axes swapped").click();
    window.run_ok();
    window.get_by_label("Reason").type_text("turned on purpose");
    window.run_ok();
    window.key_press(Key::Enter);
    window.run_ok();
    let aside = window.state().desk.checked();
    assert_eq!(aside.len(), 1);
    assert_eq!(
        (aside[0].code.key(), aside[0].reason.as_str()),
        ("swapped-axes", "turned on purpose")
    );
    measured(&mut window);
    window.get_by_label("Checked and set aside");
    // It is kept beside the recording, and can be undone like any edit.
    let again = opened([1280.0, 720.0], false, &path);
    assert_eq!(again.state().desk.checked(), window.state().desk.checked());
    drop(again);
    window.state_mut().desk.undo_edit();
    assert!(window.state().desk.checked().is_empty());
    window.state_mut().desk.redo_edit();
    measured(&mut window);
    let results = window.state().desk.results().expect("results").clone();
    let notes = results.facts.notes.join("; ");
    assert!(notes.contains("checked and set aside: turned on purpose"), "{notes}");
    keep(&mut window, "wiring-aside-light");
    window.get_by_label("Count it again").click();
    window.run_ok();
    assert!(window.state().desk.checked().is_empty());
}

#[test]
fn names_are_taken_with_one_key_and_taken_back() {
    let folder = tempfile::tempdir().expect("a folder");
    let path = recorded(&folder, "healthy");
    let mut window = opened([1280.0, 720.0], true, &path);
    let desk = &mut window.state_mut().desk;
    // Somebody mixed up the fields and never listed the parts.
    let x = desk.session().field_of(Role::Axis(AxisId::Lx)).expect("left x");
    let t = desk.session().field_of(Role::Axis(AxisId::Rt)).expect("right trigger");
    desk.set_role(x, Role::Ignore);
    desk.set_role(t, Role::Axis(AxisId::Lx));
    let before: Vec<Role> = desk.session().roles().to_vec();
    measured(&mut window);
    show(&mut window, Screen::Wiring);
    window.get_by_label("Names found by the roll-call");
    window.get_by_label_contains("21 of 21 controls answered");
    keep(&mut window, "wiring-names-dark");
    window.key_press(Key::T);
    window.run_ok();
    let desk = &window.state().desk;
    assert_eq!(desk.session().roles()[x], Role::Axis(AxisId::Lx));
    assert_eq!(desk.session().roles()[t], Role::Axis(AxisId::Rt));
    assert_ne!(desk.rig(), &Rig::default());
    measured(&mut window);
    assert!(window.state().desk.names_found().is_none(), "they stand");
    window.state_mut().desk.undo_edit();
    assert_eq!(window.state().desk.session().roles(), before);
}
