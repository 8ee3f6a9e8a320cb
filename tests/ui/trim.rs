//! The trim by name and key: another dead zone with both consequences, smoothing, changes, sources.
use egui::{Key, Modifiers, PointerButton, pos2};
use egui_kittest::kittest::{NodeT, Queryable};

use crate::gallery::keep;
use crate::window::{Window, opened, press, recording, show};
use trimbench::gui::actions::{PartVerb, Screen};
use trimbench::rig::Half;

fn inner(window: &Window<'_>) -> u16 {
    let results = window.state().desk.results().expect("results");
    results.solution.trim.stick(Half::Left).expect("the left stick").inner
}

#[test]
fn a_dead_zone_is_dragged_with_both_consequences_and_taken_back() {
    let folder = tempfile::tempdir().expect("a folder");
    let path = recording(&folder);
    let mut window = opened([1600.0, 1000.0], false, &path);
    show(&mut window, Screen::Trim);
    let proposed = inner(&window);
    let header = window.state().desk.header_text().expect("a header");
    // The key first: half a count more loses more travel.
    press(&mut window, PartVerb::Zone(true));
    let larger = inner(&window);
    assert!(larger > proposed, "{larger} after {proposed}");
    window.get_by_label_contains("chosen by hand: at most");
    keep(&mut window, "trim-chosen-1600-light");
    // The pointer: while it is held the figures follow and nothing is decided yet.
    let rect = window.get_by_label_contains("of travel, at most").rect();
    let at = |share: f32| {
        let y = rect.center().y;
        pos2(rect.left() + 60.0 + share * (rect.width() - 120.0), y)
    };
    let modifiers = Modifiers::NONE;
    let button = |pos, pressed| egui::Event::PointerButton {
        pos,
        button: PointerButton::Primary,
        pressed,
        modifiers,
    };
    window.hover_at(at(0.5));
    window.run_ok();
    window.event(button(at(0.5), true));
    window.step();
    window.event(egui::Event::PointerMoved(at(0.2)));
    window.step();
    window.step();
    window.event(egui::Event::PointerMoved(at(0.25)));
    window.step();
    assert_eq!(inner(&window), larger, "nothing is decided while it is held");
    let shown = |window: &Window<'_>| {
        let row = window.get_by_label_contains("radius: ");
        row.accesskit_node().value().unwrap_or_default()
    };
    let held = shown(&window);
    assert!(held.contains("by hand"), "{held}");
    window.event(button(at(0.25), false));
    window.run_ok();
    assert!(inner(&window) < proposed, "{} is smaller than {proposed}", inner(&window));
    window.get_by_label_contains("of releases like those captured leak");
    // Both edits are taken back one by one, done again, and the header is as it was.
    for want in [larger, proposed] {
        window.key_press_modifiers(Modifiers::COMMAND, Key::Z);
        window.run_ok();
        assert_eq!(inner(&window), want);
    }
    assert_eq!(window.state().desk.header_text().as_deref(), Ok(header.as_str()));
    window.key_press_modifiers(Modifiers::COMMAND.plus(Modifiers::SHIFT), Key::Z);
    window.run_ok();
    assert_eq!(inner(&window), larger);
    press(&mut window, PartVerb::ProposedZone);
    assert_eq!(inner(&window), proposed);
}

#[test]
fn what_was_chosen_is_kept_beside_the_session_and_in_force_again() {
    let folder = tempfile::tempdir().expect("a folder");
    let path = recording(&folder);
    let kept = folder.path().join("healthy.session.edits.ron");
    let mut window = opened([1280.0, 720.0], false, &path);
    show(&mut window, Screen::Trim);
    let proposed = inner(&window);
    assert!(!kept.exists(), "nothing was changed");
    press(&mut window, PartVerb::Zone(true));
    let larger = inner(&window);
    let header = window.state().desk.header_text().expect("a header");
    window.key_press(Key::M);
    window.run_ok();
    let marks = window.state().desk.session().marks().len();
    assert!(kept.exists());
    drop(window);
    assert_eq!(solved(&path, &["--edited"]).0, header, "the command line has them too");
    let (without, said) = solved(&path, &[]);
    assert_ne!(without, header);
    assert!(said.contains("healthy.session.edits.ron: changes made by hand"), "{said}");
    let before = std::fs::read(&path).expect("the session");
    let mut window = opened([1280.0, 720.0], false, &path);
    assert_eq!(inner(&window), larger);
    assert_eq!(window.state().desk.session().marks().len(), marks);
    window.get_by_label_contains("made by hand before are in force again");
    assert_eq!(std::fs::read(&path).expect("the session"), before, "the recording is untouched");
    window.key_press_modifiers(Modifiers::COMMAND, Key::Z);
    window.run_ok();
    crate::window::wait(&mut window, "the constants", |b| b.desk.results_are_current());
    assert_eq!(inner(&window), proposed);
    assert!(!kept.exists(), "everything was taken back");
}

/// The header that the command line makes of a session, and what it says on standard error.
fn solved(session: &std::path::Path, words: &[&str]) -> (String, String) {
    let header = session.with_extension("h");
    let mut command = std::process::Command::new(env!("CARGO_BIN_EXE_trimbench"));
    command.arg("solve").arg(session).arg("--header").arg(&header).args(words);
    let output = command.output().expect("it runs");
    let said = String::from_utf8_lossy(&output.stderr).into_owned();
    (std::fs::read_to_string(&header).unwrap_or_default(), said)
}

#[test]
fn changes_that_cannot_be_read_are_told_and_left_out() {
    let folder = tempfile::tempdir().expect("a folder");
    let path = recording(&folder);
    let kept = folder.path().join("healthy.session.edits.ron");
    for text in ["(format: 9)", "(format: 1, nonsense: 3)", "((((((((", ""] {
        std::fs::write(&kept, text).expect("written");
        let window = opened([1280.0, 720.0], false, &path);
        window.get_by_label_contains("changes made before cannot be read");
        assert!(window.state().desk.choices().zones.is_empty());
        let (header, said) = solved(&path, &["--edited"]);
        assert!(header.is_empty() && said.contains("made by hand cannot be read"), "{said}");
    }
    std::fs::remove_file(&kept).expect("removed");
    assert!(solved(&path, &["--edited"]).1.contains("no changes made by hand are kept"));
}

#[test]
fn smoothing_changes_and_sources_stand_beside_the_header() {
    let folder = tempfile::tempdir().expect("a folder");
    let path = recording(&folder);
    let mut window = opened([1600.0, 1000.0], true, &path);
    show(&mut window, Screen::Trim);
    window.get_by_label("Near the rest").click();
    window.run_ok();
    keep(&mut window, "trim-near-1600-dark");
    // Nothing saved yet; then the same; then what smoothing changes.
    window.get_by_label("Changes").click();
    window.run_ok();
    window.get_by_label_contains("Nothing was saved yet");
    window.key_press_modifiers(Modifiers::COMMAND, Key::S);
    window.run_ok();
    std::thread::sleep(std::time::Duration::from_millis(1100));
    window.run_ok();
    window.get_by_label("No changes");
    window.get_by_label("Smoothing").click();
    window.run_ok();
    window.get_by_label_contains("Noise over lag of left x");
    window.get_by_label_contains("3: noise, counts");
    window.get_by_label("3").click();
    window.run_ok();
    crate::window::wait(&mut window, "the constants", |b| b.desk.results_are_current());
    window.run_ok();
    let trim = window.state().desk.results().expect("results").solution.trim.clone();
    assert_eq!(trim.options.smoothing.len(), 2, "both axes of the left stick");
    assert!(trim.options.smoothing.iter().all(|s| s.shift == 3), "{:?}", trim.options.smoothing);
    window.get_by_label_contains("Changes, ");
    window.get_by_label_contains("+ #define TB_LX_SHIFT");
    keep(&mut window, "trim-smoothing-1600-dark");
    // A constant leads to the stretch that its reading came from.
    // The tabs move when the changes are counted anew: no click by place.
    window.get_by_label("Constants").click_accesskit();
    window.run_ok();
    keep(&mut window, "trim-constants-1600-dark");
    window.get_by_label_contains("left x centre: ").click();
    window.run_ok();
    assert_eq!(window.state().place, Screen::Traces);
    // The outputs drawn there are without the smoothing, and say so.
    window.get_by_label("Output").click_accesskit();
    window.run_ok();
    window.get_by_label("outputs without the header's smoothing");
    window.get_by_label_contains("left x (unsmoothed)");
    keep(&mut window, "traces-unsmoothed-1600-dark");
}
