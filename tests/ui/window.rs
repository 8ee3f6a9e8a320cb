//! The whole window driven by its names and keys: empty, on a recording, live.
use std::path::PathBuf;
use std::sync::OnceLock;
use std::time::{Duration, Instant};

use egui::{Key, Modifiers, vec2};
use egui_kittest::Harness;
use egui_kittest::kittest::Queryable;

use crate::cpu_renderer::CpuRenderer;
use crate::gallery::keep;
use trimbench::desk::play::{PlayOrder, to_file};
use trimbench::desk::solving::{header_text, solve_file};
use trimbench::gui::actions::{Action, Screen};
use trimbench::gui::app::Bench;
use trimbench::gui::settings::Record;
use trimbench::source::Address;
use trimbench::work::Watch;

pub type Window<'a> = Harness<'a, Bench>;

/// Longest wait for something that the window does by itself.
const PATIENCE: Duration = Duration::from_secs(120);

pub fn window(size: [f32; 2], dark: bool) -> Window<'static> {
    let theme = if dark { egui::Theme::Dark } else { egui::Theme::Light };
    Harness::builder()
        .with_size(vec2(size[0], size[1]))
        .with_theme(theme)
        .with_max_steps(16)
        .renderer(CpuRenderer::default())
        .build_eframe(|cc| {
            let mut bench = Bench::new(cc);
            // Nothing is written into the folders of whoever runs the tests.
            bench.settings.record = Record::Nothing;
            bench.settings.theme =
                if dark { egui::ThemePreference::Dark } else { egui::ThemePreference::Light };
            cc.egui_ctx.set_theme(bench.settings.theme);
            bench
        })
}

/// Steps the window until something is so.
pub fn wait(window: &mut Window<'_>, what: &str, is_so: impl Fn(&Bench) -> bool) {
    let begun = Instant::now();
    loop {
        window.step();
        if is_so(window.state()) {
            return;
        }
        assert!(begun.elapsed() < PATIENCE, "waited in vain: {what}");
        std::thread::sleep(Duration::from_millis(10));
    }
}

/// A healthy virtual board's whole scripted run as a session file, made once.
fn made_once() -> &'static [u8] {
    static BYTES: OnceLock<Vec<u8>> = OnceLock::new();
    BYTES.get_or_init(|| {
        let folder = tempfile::tempdir().expect("a folder");
        let path = folder.path().join("healthy.session");
        let order = PlayOrder {
            scenario: "healthy".to_owned(),
            rig: None,
            dialect: None,
            rate_hz: 250.0,
            raw_bits: Some(10),
            seed: 7,
            seconds: None,
        };
        to_file(&order, Some("2026-05-04T10:00:00Z"), &path).expect("a recording");
        std::fs::read(&path).expect("read back")
    })
}

/// The recording in a folder of its own.
pub fn recording(folder: &tempfile::TempDir) -> PathBuf {
    let path = folder.path().join("healthy.session");
    std::fs::write(&path, made_once()).expect("written");
    path
}

pub fn opened(size: [f32; 2], dark: bool, path: &std::path::Path) -> Window<'static> {
    let mut window = window(size, dark);
    window.state_mut().desk.open(path);
    wait(&mut window, "results", |bench| {
        bench.desk.opening().is_none() && bench.desk.results_are_current()
    });
    window
}

pub fn show(window: &mut Window<'_>, place: Screen) {
    let shortcut = Action::Show(place).shortcut().expect("a key");
    window.key_press_modifiers(shortcut.modifiers, shortcut.logical_key);
    window.run();
    assert_eq!(window.state().place, place);
}

/// Presses the key of what is looked at otherwise.
pub fn press(window: &mut Window<'_>, verb: impl Into<Action>) {
    let shortcut = verb.into().shortcut().expect("a key");
    window.key_press_modifiers(shortcut.modifiers, shortcut.logical_key);
    window.run_ok();
}

#[test]
fn an_empty_window_says_what_every_station_will_show() {
    let mut window = window([1280.0, 720.0], false);
    window.run();
    window.get_by_label_contains("Link: Controller without a name nothing connected");
    for place in Screen::ALL {
        show(&mut window, *place);
        if *place != Screen::Link {
            assert!(window.query_by_label_contains("will stand here").is_some(), "{place:?}");
        }
    }
}

#[test]
fn a_recording_fills_every_station() {
    let folder = tempfile::tempdir().expect("a folder");
    let path = recording(&folder);
    for (size, dark) in [([1600.0, 1000.0], false), ([1280.0, 720.0], true)] {
        let mut window = opened(size, dark, &path);
        for place in Screen::ALL {
            show(&mut window, *place);
            let theme = if dark { "dark" } else { "light" };
            keep(&mut window, &format!("{place:?}-{}-{theme}", size[0]).to_lowercase());
        }
        show(&mut window, Screen::Sticks);
        assert_eq!(window.get_all_by_label_contains("roundness: ").count(), 2);
        assert_eq!(window.get_all_by_label_contains("Rest cloud: 16 releases").count(), 2);
        show(&mut window, Screen::Trim);
        window.get_by_label_contains("loses");
        show(&mut window, Screen::Sheet);
        window.get_by_label_contains("left x: low");
    }
}

#[test]
fn the_window_saves_the_same_header_as_the_command_line() {
    let folder = tempfile::tempdir().expect("a folder");
    let path = recording(&folder);
    let mut window = opened([1280.0, 720.0], false, &path);
    window.key_press_modifiers(Modifiers::COMMAND, Key::S);
    window.run();
    let saved = std::fs::read_to_string(folder.path().join("healthy.h")).expect("a header");
    let solved = solve_file(&path, None, None, &Watch::unwatched()).expect("solved");
    assert_eq!(saved, header_text(&solved).expect("a header"));
    window.get_by_label_contains("Saved");
    window.get_by_label("Put away").click();
    window.run();
    assert!(window.query_by_label_contains("Saved").is_none());
}

#[test]
fn typing_into_a_field_opens_no_station() {
    let mut window = window([1280.0, 720.0], false);
    window.run();
    window.get_by_role_and_label(egui::Role::TextInput, "Find").focus();
    window.run();
    window.get_by_role_and_label(egui::Role::TextInput, "Find").type_text("2g3f");
    window.run();
    assert_eq!(window.state().place, Screen::Link);
    assert!(window.state().desk.guided().is_none());
    let field = window.get_by_role_and_label(egui::Role::TextInput, "Find");
    assert_eq!(field.value().as_deref(), Some("2g3f"));
}

#[test]
fn help_lists_every_action_with_its_key() {
    let mut window = window([1280.0, 1600.0], false);
    window.run();
    window.key_press(Key::F1);
    window.run();
    for action in Action::all() {
        assert!(window.query_all_by_label(action.label()).next().is_some(), "{action:?}");
    }
    window.key_press(Key::Escape);
    window.run();
    assert!(!window.state().help);
}

#[test]
fn a_live_board_moves_the_traces_and_its_roles_can_be_changed() {
    let mut window = window([1600.0, 1000.0], true);
    let address: Address = "virtual:healthy".parse().expect("an address");
    window.state_mut().begin_with(&address);
    wait(&mut window, "two seconds of frames", |bench| bench.desk.session().rows() > 500);
    window.get_by_label_contains("virtual healthy, live");
    window.get_by_label("Role of field lx");
    keep(&mut window, "link-live-dark");
    show(&mut window, Screen::Traces);
    window.get_by_label_contains("Traces of left x, left y, right x");
    let before = window.state().desk.transport.at_us;
    wait(&mut window, "time to pass", |bench| bench.desk.transport.at_us > before);
    keep(&mut window, "traces-live-dark");
    let field = window
        .state()
        .desk
        .session()
        .field_of(trimbench::wire::Role::Axis(trimbench::rig::AxisId::Lx))
        .expect("left x");
    window.state_mut().desk.set_role(field, trimbench::wire::Role::Ignore);
    window.step();
    assert!(window.query_by_label_contains("Traces of left x").is_none());
}

#[test]
fn a_missing_port_is_a_notice_with_a_way_on() {
    let mut window = window([1280.0, 720.0], false);
    let address: Address = "serial:/dev/no-such-port@115200".parse().expect("an address");
    window.state_mut().begin_with(&address);
    window.run();
    window.get_by_label_contains("no such port");
}

#[test]
fn the_guided_run_follows_a_recording_by_keyboard_alone() {
    let folder = tempfile::tempdir().expect("a folder");
    let path = recording(&folder);
    let mut window = opened([1600.0, 1000.0], false, &path);
    window.key_press(Key::G);
    window.run_ok();
    assert!(window.state().desk.guided().is_some());
    wait(&mut window, "the roll", |bench| bench.place == Screen::Sticks);
    keep(&mut window, "run-roll-light");
    wait(&mut window, "the review", |bench| {
        bench.desk.guided().is_some_and(|run| run.task().is_none())
            && bench.desk.results_are_current()
    });
    window.step();
    let zones = window.query_all_by_label_contains("dead zone").count();
    assert!(zones >= 2, "a sentence for each stick, {zones} found");
    keep(&mut window, "run-review-light");
    // A station can be looked at meanwhile.
    let shortcut = Action::Show(Screen::Trim).shortcut().expect("a key");
    window.key_press(shortcut.logical_key);
    window.run_ok();
    window.get_by_label("The review of the guided run waits");
    window.get_by_label_contains("loses");
    window.key_press(Key::R);
    window.run_ok();
    assert!(window.query_by_label("The review of the guided run waits").is_none());
    window.key_press(Key::Space);
    window.run_ok();
    assert!(window.state().desk.guided().is_none(), "the run has ended");
    assert!(folder.path().join("healthy.h").exists());
}
