//! Every station on an empty, a live, a damaged and a large document; names; actions by button and key.
use std::io::Write;
use std::path::{Path, PathBuf};

use egui::{Key, Role, vec2};
use egui_kittest::kittest::{By, NodeT, Queryable};

use crate::window::{Window, opened, recording, wait, window};
use trimbench::gui::actions::{Action, Screen, WindowVerb};
use trimbench::source::Address;

/// Lines of the large log: 7 minutes at 500 Hz.
const LARGE: usize = 200_000;

/// Roles of what a person acts on or reads off as one thing.
const NAMED: [Role; 13] = [
    Role::Button,
    Role::CheckBox,
    Role::ComboBox,
    Role::Image,
    Role::Link,
    Role::ProgressIndicator,
    Role::RadioButton,
    Role::Row,
    Role::Slider,
    Role::SpinButton,
    Role::TextInput,
    Role::MultilineTextInput,
    Role::Switch,
];

/// Brings a station up by its key; a live document never comes to rest.
fn bring_up(window: &mut Window<'_>, place: Screen) {
    let shortcut = Action::Show(place).shortcut().expect("a key");
    window.key_press_modifiers(shortcut.modifiers, shortcut.logical_key);
    window.run_steps(4);
    assert_eq!(window.state().place, place);
}

/// What has a role in `NAMED` and no name.
fn nameless(window: &Window<'_>) -> Vec<String> {
    let without = |node: &egui_kittest::kittest::AccessKitNode<'_>| {
        let role = node.role();
        NAMED.contains(&role) && node.label().is_none_or(|label| label.trim().is_empty())
    };
    let found = window.query_all(By::new().predicate(without));
    found.map(|node| format!("{:?}", node.accesskit_node().role())).collect()
}

/// Goes through all stations; every control and picture must have a name, and none may clip the page.
fn walk(window: &mut Window<'_>, what: &str) {
    for place in Screen::ALL {
        bring_up(window, *place);
        let nameless = nameless(window);
        assert!(nameless.is_empty(), "{place:?} on {what}: without a name {nameless:?}");
    }
}

/// The healthy recording with one block spoilt and the end torn off in a line.
fn damaged(folder: &tempfile::TempDir) -> PathBuf {
    let path = recording(folder);
    let mut bytes = std::fs::read(&path).expect("read");
    let third = bytes.len() / 3;
    for byte in &mut bytes[third..third + 400] {
        *byte ^= 0x15;
    }
    let most = bytes.len() - 777;
    bytes.truncate(most);
    std::fs::write(&path, bytes).expect("written");
    path
}

fn large(folder: &Path) -> PathBuf {
    let path = folder.join("large.log");
    let mut out = std::io::BufWriter::new(std::fs::File::create(&path).expect("created"));
    writeln!(out, "seq,t_us,lx,ly,rx,ry,lt,rt,buttons").expect("written");
    for k in 0..LARGE {
        let wave = |n: usize| 2048 + (1700.0 * (k as f64 / (90.0 + n as f64)).sin()) as i32;
        let [lx, ly, rx, ry] = [0, 7, 13, 29].map(wave);
        let mask = (k / 400) & 3;
        let t_us = k * 2000;
        writeln!(out, "{k},{t_us},{lx},{ly},{rx},{ry},40,41,{mask}").expect("written");
    }
    out.flush().expect("written");
    path
}

#[test]
fn every_station_stands_on_an_empty_document() {
    for size in [[1600.0, 1000.0], [1280.0, 720.0], [1100.0, 640.0]] {
        let mut window = window(size, true);
        walk(&mut window, "an empty document");
    }
}

#[test]
fn every_station_stands_on_a_live_document() {
    let mut window = window([1280.0, 720.0], false);
    let address: Address = "virtual:healthy".parse().expect("an address");
    window.state_mut().begin_with(&address);
    wait(&mut window, "a second of frames", |bench| bench.desk.session().rows() > 250);
    walk(&mut window, "a live document");
    wait(&mut window, "results", |bench| bench.desk.results().is_some());
    walk(&mut window, "a live document with results");
}

#[test]
fn every_station_stands_on_a_damaged_document() {
    let folder = tempfile::tempdir().expect("a folder");
    let mut window = opened([1280.0, 720.0], true, &damaged(&folder));
    assert!(!window.state().desk.damage().is_empty());
    window.run_steps(4);
    window.get_by_label_contains("damaged place");
    walk(&mut window, "a damaged document");
}

#[test]
fn every_station_stands_on_a_large_document() {
    let folder = tempfile::tempdir().expect("a folder");
    let mut window = opened([1600.0, 1000.0], false, &large(folder.path()));
    assert_eq!(window.state().desk.session().rows(), LARGE);
    walk(&mut window, "a large document");
}

#[test]
fn every_station_stands_at_the_largest_scale() {
    let folder = tempfile::tempdir().expect("a folder");
    // 1280×720 at 150 % and 1600×1000 at 200 %.
    for size in [[853.0, 480.0], [800.0, 500.0]] {
        let mut window = opened(size, false, &recording(&folder));
        for place in Screen::ALL {
            bring_up(&mut window, *place);
            let entry = window.get_all_by_role(Role::Button).filter(|node| {
                let title = Action::Show(*place).label();
                node.accesskit_node().label().is_some_and(|label| label.starts_with(title))
            });
            let lowest = entry.map(|node| node.rect().bottom()).fold(0.0, f32::max);
            assert!(lowest > 0.0 && lowest < size[1] - 92.0, "{place:?} ends at {lowest}");
        }
    }
}

/// The list of keys is the list of buttons too: each action can be clicked there.
#[test]
fn every_action_has_a_button_and_a_key() {
    for action in Action::all() {
        assert!(action.shortcut().is_some(), "{action:?} has no key");
    }
    let mut window = window([1280.0, 2400.0], true);
    window.run_steps(2);
    window.key_press(Key::F1);
    // The list finds its place in the middle once its size is known.
    window.run_steps(6);
    for action in Action::all() {
        let named = window.get_all_by_role(Role::Button).filter(|node| {
            node.accesskit_node().label().is_some_and(|label| label == action.label())
        });
        assert!(named.count() > 0, "{action:?} has no button");
    }
    let larger = Action::from(WindowVerb::Larger);
    let buttons: Vec<_> = window
        .get_all_by_role_and_label(Role::Button, larger.label())
        .map(|node| node.rect().size())
        .collect();
    assert!(buttons.iter().all(|size| size.y >= 20.0), "{buttons:?}");
    window.get_by_role_and_label(Role::Button, larger.label()).click_accesskit();
    window.run_steps(6);
    assert_eq!(window.state().settings.scale, 1.1);
    assert!(!window.state().help, "a chosen action closes the list");
}

/// Every station can be worked with Tab alone: the focus goes round and comes back.
#[test]
fn the_focus_reaches_the_controls_of_every_station() {
    let folder = tempfile::tempdir().expect("a folder");
    let mut window = opened([1600.0, 1000.0], true, &recording(&folder));
    for place in Screen::ALL {
        bring_up(&mut window, *place);
        let mut seen = std::collections::BTreeSet::new();
        for _ in 0..60 {
            window.key_press(Key::Tab);
            window.run_steps(1);
            let focused = window.query_all(By::new().predicate(|node| node.is_focused()));
            seen.extend(focused.filter_map(|node| node.accesskit_node().label()));
        }
        assert!(seen.len() > 10, "{place:?}: only {seen:?}");
        // A click into the empty page lets the focus go.
        window.hover_at(vec2(1590.0, 4.0).to_pos2());
        window.key_press(Key::Escape);
        window.run_steps(2);
    }
}
