//! What the window records: a whole session under a name of its own, closed by whatever ends it.
use egui::{Key, Modifiers};
use egui_kittest::kittest::Queryable;

use crate::window::{Window, wait, window};
use trimbench::desk::solving::solve_file;
use trimbench::gui::settings::Record;
use trimbench::rig::{Mark, Word};
use trimbench::session::file::{Opened, Overrides, open};
use trimbench::source::Address;
use trimbench::wire::Role;
use trimbench::work::Watch;

fn recording_window(folder: &std::path::Path) -> Window<'static> {
    let mut window = window([1600.0, 1000.0], true);
    window.state_mut().settings.record = Record::Every;
    window.state_mut().settings.sessions = Some(folder.to_owned());
    window
}

fn begin(window: &mut Window<'_>) {
    let address: Address = "virtual:healthy".parse().expect("an address");
    window.state_mut().begin_with(&address);
    wait(window, "a second of frames", |bench| bench.desk.session().rows() > 250);
}

fn sessions(folder: &std::path::Path) -> Vec<std::path::PathBuf> {
    let list = std::fs::read_dir(folder).expect("listed");
    let mut paths: Vec<_> = list.map(|entry| entry.expect("an entry").path()).collect();
    // The sign that one goes on stands beside it.
    paths.retain(|path| path.extension().is_some_and(|ending| ending == "session"));
    paths.sort();
    paths
}

fn read(path: &std::path::Path) -> Opened {
    open(path, &Overrides::default(), &Watch::unwatched(), &mut |_| ()).expect("a session")
}

#[test]
fn a_live_link_is_recorded_and_closing_the_window_loses_nothing() {
    let folder = tempfile::tempdir().expect("a folder");
    let inner = folder.path().join("Trimbench");
    let mut window = recording_window(&inner);
    begin(&mut window);
    window.get_by_label_contains("recording 00:");
    window.state_mut().desk.mark(Mark::new(Word::Note, "here"));
    let rows = window.state().desk.session().rows();
    drop(window);
    let files = sessions(&inner);
    assert_eq!(files.len(), 1, "{files:?}");
    let name = files[0].file_name().expect("a name").to_string_lossy().into_owned();
    assert!(name.starts_with("virtual-healthy-20") && name.ends_with(".session"), "{name}");
    let Opened { session, damage, .. } = read(&files[0]);
    assert!(damage.is_empty(), "{damage:?}");
    assert!(session.rows() >= rows, "{} of {rows} rows", session.rows());
    assert!(session.marks().iter().any(|m| m.word == Word::Note));
    assert!(session.about.rig.is_some());
}

#[test]
fn recording_ends_and_begins_anew_while_the_link_goes_on() {
    let folder = tempfile::tempdir().expect("a folder");
    let mut window = recording_window(folder.path());
    begin(&mut window);
    let rows = window.state().desk.session().rows();
    window.key_press_modifiers(Modifiers::COMMAND, Key::R);
    window.step();
    assert!(!window.state().desk.is_recording());
    wait(&mut window, "the link to go on", |b| b.desk.session().rows() > rows + 100);
    window.key_press_modifiers(Modifiers::COMMAND, Key::R);
    window.step();
    assert!(window.state().desk.is_recording());
    let rows = window.state().desk.session().rows();
    // The recorder takes the wish up a little later than the window counts its rows.
    wait(&mut window, "some frames", |b| b.desk.session().rows() > rows + 300);
    window.state_mut().desk.disconnect();
    let files = sessions(folder.path());
    assert_eq!(files.len(), 2, "{files:?}");
    for file in &files {
        let opened = read(file);
        assert!(opened.damage.is_empty(), "{:?}", opened.damage);
        assert!(opened.session.rows() >= 100);
    }
}

#[test]
fn a_role_given_by_hand_stands_in_the_session_file() {
    let folder = tempfile::tempdir().expect("a folder");
    let mut window = recording_window(folder.path());
    begin(&mut window);
    let field = window.state().desk.session().field_of(Role::Buttons).expect("a mask");
    window.state_mut().desk.set_role(field, Role::Ignore);
    window.step();
    drop(window);
    let opened = read(&sessions(folder.path())[0]);
    assert_eq!(opened.session.roles()[field], Role::Ignore);
    let solved = solve_file(&sessions(folder.path())[0], None, None, &Watch::unwatched());
    assert!(solved.expect("solved").survey.buttons.is_empty());
}

#[test]
fn a_file_that_vanishes_while_it_is_written_is_told_and_written_again() {
    let folder = tempfile::tempdir().expect("a folder");
    let mut window = recording_window(folder.path());
    begin(&mut window);
    std::fs::remove_file(&sessions(folder.path())[0]).expect("removed");
    wait(&mut window, "the file", |_| !sessions(folder.path()).is_empty());
    window.step();
    window.get_by_label_contains("deleted while it was written");
    assert!(window.state().desk.is_recording());
}
