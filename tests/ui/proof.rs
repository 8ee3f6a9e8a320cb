//! The Proof station: the record by key, by path and by dropping; fresh and fitted sessions; the same bytes.
use std::path::{Path, PathBuf};

use egui::{Key, Modifiers, Role};
use egui_kittest::kittest::Queryable;

use crate::gallery::keep;
use crate::window::{Window, opened, recording, show, wait};
use trimbench::desk::play::{PlayOrder, to_file};
use trimbench::desk::proving::prove_file;
use trimbench::desk::solving::solve_file;
use trimbench::emit::proof_json;
use trimbench::gui::actions::{Action, OutputVerb, Screen};
use trimbench::work::Watch;

/// Another run of the board that `recording` is of, read out at another rate.
fn fresh(folder: &tempfile::TempDir) -> PathBuf {
    let path = folder.path().join("fresh.session");
    let order = PlayOrder {
        scenario: "healthy".to_owned(),
        rig: None,
        dialect: None,
        rate_hz: 260.0,
        raw_bits: Some(10),
        seed: 7,
        seconds: None,
    };
    to_file(&order, Some("2026-05-05T10:00:00Z"), &path).expect("a recording");
    path
}

/// The record of the constants of `recording`.
fn record(folder: &tempfile::TempDir, session: &Path) -> PathBuf {
    let solved = solve_file(session, None, None, &Watch::unwatched()).expect("solved");
    let path = folder.path().join("healthy.trim.ron");
    std::fs::write(&path, solved.solution.trim.to_ron()).expect("written");
    path
}

fn judged(window: &mut Window<'_>) {
    wait(window, "a proof", |b| b.desk.judgement().is_some() && b.desk.judgement_is_current());
    window.run_steps(3);
}

#[test]
fn a_fresh_session_is_held_against_a_record_and_every_check_stands_there() {
    let folder = tempfile::tempdir().expect("a folder");
    let (fresh, record) = (fresh(&folder), record(&folder, &recording(&folder)));
    for (size, dark) in [([1600.0, 1000.0], true), ([1280.0, 720.0], false)] {
        let mut window = opened(size, dark, &fresh);
        show(&mut window, Screen::Proof);
        window.get_by_label_contains("open the record of its constants");
        // By keyboard: into the field, the path, Enter.
        window.get_by_role_and_label(Role::TextInput, "Record").focus();
        window.run_steps(2);
        let field = window.get_by_role_and_label(Role::TextInput, "Record");
        field.type_text(&record.display().to_string());
        window.run_steps(2);
        window.key_press(Key::Enter);
        window.run_steps(2);
        judged(&mut window);
        keep(&mut window, &format!("proof-{}", size[0]));
        let proved = prove_file(&fresh, &record, None, None, &Watch::unwatched()).expect("fresh");
        for check in &proved.proof.checks {
            let said = check.figures.replace(" -", " \u{2212}");
            assert!(window.query_all_by_label(said.as_str()).next().is_some(), "{said}");
            let limit = check.limit_words();
            assert!(
                limit.is_empty() || window.query_all_by_label(&limit).next().is_some(),
                "{limit}"
            );
        }
        for key in ["zero at rest", "reach 16 sectors", "monotonic", "one press one event"] {
            assert!(proved.proof.checks.iter().any(|c| c.words() == key), "{key}");
        }
        assert_eq!(window.query_all_by_label_contains("stick in 16 directions").count(), 2);
        let shortcut = Action::Output(OutputVerb::SaveProof).shortcut().expect("a key");
        window.key_press_modifiers(shortcut.modifiers, shortcut.logical_key);
        window.run_steps(2);
        let saved = folder.path().join("fresh.proof.json");
        let written = std::fs::read_to_string(&saved).expect("saved");
        assert_eq!(written, proof_json(&proved.proof, &proved.facts), "as the command line has it");
        std::fs::remove_file(saved).expect("removed");
    }
}

#[test]
fn the_session_that_was_fitted_to_is_refused_and_a_fresh_one_is_not() {
    let folder = tempfile::tempdir().expect("a folder");
    let mut window = opened([1280.0, 720.0], false, &recording(&folder));
    show(&mut window, Screen::Proof);
    let own = Action::Output(OutputVerb::TakeOwnConstants).shortcut().expect("a key");
    window.key_press_modifiers(own.modifiers, own.logical_key);
    window.run_steps(2);
    judged(&mut window);
    window.get_by_label_contains("they prove nothing");
    // The record stays when the next session is opened.
    let fresh = fresh(&folder);
    window.state_mut().desk.open(&fresh);
    wait(&mut window, "the fresh session", |b| {
        b.desk.opening().is_none() && b.desk.session().rows() > 0
    });
    judged(&mut window);
    assert!(window.state().desk.judgement().expect("judged").is_ok());
    window.key_press_modifiers(Modifiers::COMMAND | Modifiers::SHIFT, Key::K);
    window.run_steps(2);
    assert!(window.state().desk.record().is_none());
}

#[test]
fn a_record_named_on_the_line_or_dropped_brings_the_station_up() {
    let folder = tempfile::tempdir().expect("a folder");
    let session = recording(&folder);
    let (fresh, record) = (fresh(&folder), record(&folder, &session));
    let mut window = crate::window::window([1280.0, 720.0], true);
    // The order on the line does not matter.
    window.state_mut().open_all(&[record.clone(), fresh]);
    wait(&mut window, "the session", |b| b.desk.opening().is_none());
    assert_eq!(window.state().place, Screen::Proof);
    judged(&mut window);
    let broken = folder.path().join("broken.trim.ron");
    std::fs::write(&broken, "(layout: 1)").expect("written");
    window.state_mut().open_all(&[broken]);
    window.run_steps(3);
    assert!(window.query_all_by_label_contains("broken.trim.ron").next().is_some());
    assert_eq!(window.state().desk.record().expect("the one before").name, "healthy.trim.ron");
}

#[test]
fn a_parts_list_named_beside_a_session_goes_before_its_own() {
    let folder = tempfile::tempdir().expect("a folder");
    let session = recording(&folder);
    let rig = folder.path().join("mine.ron");
    let text =
        "(format: 1, name: \"Plover\", limits: (dead_zone_share: AtMost(0.0001, 0.0002, 0.0003)))";
    std::fs::write(&rig, text).expect("written");
    let mut window = crate::window::window([1280.0, 720.0], true);
    window.state_mut().open_all(&[rig, session]);
    wait(&mut window, "results", |b| b.desk.opening().is_none() && b.desk.results_are_current());
    assert_eq!(window.state().desk.rig().name, "Plover");
    let limits = &window.state().desk.results().expect("measured").limits;
    assert_eq!(limits.dead_zone_share.reject.high, Some(0.0003));
}
