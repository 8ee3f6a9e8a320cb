//! The guided run on a live board by its three keys alone, and the welcome that leads to it.
use egui::Key;
use egui_kittest::kittest::Queryable;

use crate::gallery::keep;
use crate::window::{Window, wait, window};
use trimbench::gui::actions::{Action, WindowVerb};
use trimbench::gui::tones::Tones;
use trimbench::guide::Ending;
use trimbench::rig::Task;
use trimbench::source::Address;

/// A window on a live virtual board that has sent a second of frames.
fn live(size: [f32; 2]) -> Window<'static> {
    let mut window = window(size, false);
    let address: Address = "virtual:healthy".parse().expect("an address");
    window.state_mut().begin_with(&address);
    wait(&mut window, "a second of frames", |bench| bench.desk.session().rows() > 250);
    window
}

fn key(window: &mut Window<'_>, key: Key) {
    window.key_press(key);
    window.step();
}

fn task(window: &Window<'_>) -> Option<Task> {
    window.state().desk.guided().and_then(|run| run.task())
}

fn share(window: &Window<'_>) -> f64 {
    window.state().desk.guided().map_or(0.0, |run| run.prompt().share)
}

fn ending(window: &Window<'_>, of: Task) -> Option<Ending> {
    let run = window.state().desk.guided().expect("a run");
    run.tasks().find(|(task, _)| *task == of).and_then(|(_, ending)| ending)
}

#[test]
fn a_live_run_is_redone_skipped_and_accepted_by_its_keys() {
    let mut window = live([1600.0, 1000.0]);
    key(&mut window, Key::G);
    let first = task(&window).expect("a task");
    // Backspace throws away what the step has gathered and asks for it again.
    wait(&mut window, "some of the data", |bench| {
        bench.desk.guided().is_some_and(|run| run.prompt().share > 0.2)
    });
    let gathered = share(&window);
    key(&mut window, Key::Backspace);
    assert_eq!(task(&window), Some(first), "the step is the same");
    assert!(share(&window) < gathered / 2.0, "{} of {gathered} is left", share(&window));
    assert_eq!(ending(&window, first), None);
    // N leaves a step out, Space takes it as it is; both go on.
    key(&mut window, Key::N);
    assert_eq!(ending(&window, first), Some(Ending::Skipped));
    let second = task(&window).expect("the next");
    assert_ne!(first, second);
    key(&mut window, Key::Space);
    assert_eq!(ending(&window, second), Some(Ending::Accepted));
    assert_ne!(task(&window), Some(second));
    // Backspace at the review brings the last step back.
    while task(&window).is_some() {
        key(&mut window, Key::N);
    }
    let last = window.state().desk.guided().and_then(|run| run.tasks().last()).expect("a task").0;
    window.get_by_label_contains("Look at the verdicts, then save");
    key(&mut window, Key::Backspace);
    assert_eq!(task(&window), Some(last));
    key(&mut window, Key::Escape);
    assert!(window.state().desk.guided().is_none());
}

#[test]
fn the_welcome_leads_into_the_run_by_one_key_and_goes() {
    let mut window = live([1280.0, 720.0]);
    assert!(window.query_by_label_contains("A virtual board is connected").is_none());
    window.state_mut().welcome = true;
    window.step();
    window.get_by_label_contains("A virtual board is connected");
    keep(&mut window, "welcome-1280-light");
    key(&mut window, Key::G);
    window.step();
    assert!(task(&window).is_some());
    assert!(window.query_by_label_contains("A virtual board is connected").is_none());
    key(&mut window, Key::Escape);
    window.step();
    assert!(window.query_by_label_contains("A virtual board is connected").is_none());
    // Or it is put away.
    window.state_mut().welcome = true;
    window.step();
    window.get_by_label("Put away").click();
    window.step();
    window.step();
    assert!(!window.state().welcome);
}

/// Tones are off, go on by their key, and last as long as the prompt takes to say.
#[cfg(unix)]
#[test]
fn the_run_sounds_its_prompts_once_it_is_asked_to() {
    use std::os::unix::fs::PermissionsExt;
    let folder = tempfile::tempdir().expect("a folder");
    let (player, heard) = (folder.path().join("aplay"), folder.path().join("heard"));
    // A player that notes how long the files are that it is given.
    let script = format!("#!/bin/sh\n/usr/bin/wc -c < \"$2\" >> '{}'\n", heard.display());
    std::fs::write(&player, script).expect("written");
    std::fs::set_permissions(&player, std::fs::Permissions::from_mode(0o755)).expect("set");
    let mut window = live([1280.0, 720.0]);
    window.state_mut().tones = Tones::found_in(folder.path().as_os_str());
    key(&mut window, Key::G);
    key(&mut window, Key::Escape);
    let shortcut = Action::Window(WindowVerb::Tones).shortcut().expect("a key");
    window.key_press_modifiers(shortcut.modifiers, shortcut.logical_key);
    window.step();
    assert!(window.state().settings.tones);
    key(&mut window, Key::G);
    window.step();
    wait(&mut window, "a tone", |_| std::fs::read(&heard).is_ok_and(|said| said.ends_with(b"\n")));
    let prompt = window.state().desk.guided().expect("a run").prompt().title.clone();
    let said = std::fs::read_to_string(&heard).expect("heard");
    // 0.4 s a word, 22 050 samples of two bytes a second, and 44 bytes before them.
    let words = prompt.split_whitespace().count();
    let want = 44 + words * 4 * 22_050 / 10 * 2;
    let first = said.lines().next().expect("a line").trim();
    assert_eq!(first, want.to_string(), "{prompt}: {said}");
}
