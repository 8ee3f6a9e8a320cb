//! The Link station on a board behind a pseudo-terminal, and long files on their way in.
use std::io::Write;
use std::path::PathBuf;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::mpsc::channel;

use egui::{Key, Modifiers, Role};
use egui_kittest::kittest::{NodeT, Queryable};

use crate::window::{recording, show, wait, window};
use trimbench::desk::FeedKind;
use trimbench::desk::play::{PlayOrder, on_pty};
use trimbench::gui::actions::{Action, LinkVerb, Screen};
use trimbench::link::serial::ControlLine;
use trimbench::source::Address;

/// A healthy board served on a pseudo-terminal until it is dropped.
struct Served {
    path: PathBuf,
    stop: Arc<AtomicBool>,
    thread: Option<std::thread::JoinHandle<()>>,
}

impl Served {
    fn begin() -> Served {
        let stop = Arc::new(AtomicBool::new(false));
        let (told, ready) = channel();
        let until = Arc::clone(&stop);
        let board = std::thread::Builder::new().name("board".to_owned());
        let thread = board.spawn(move || {
            let order = PlayOrder {
                scenario: "healthy".to_owned(),
                rig: None,
                dialect: None,
                rate_hz: 250.0,
                raw_bits: Some(10),
                seed: 3,
                seconds: None,
            };
            let mut ready = |path: &std::path::Path| told.send(path.to_owned()).expect("heard");
            on_pty(&order, None, &until, &mut ready).expect("served");
        });
        let thread = thread.expect("a thread");
        let path = ready.recv().expect("a path");
        Served { path, stop, thread: Some(thread) }
    }
}

impl Drop for Served {
    fn drop(&mut self) {
        self.stop.store(true, Ordering::Relaxed);
        self.thread.take().map(std::thread::JoinHandle::join);
    }
}

#[test]
fn a_board_on_a_port_is_read_paused_searched_copied_and_written_to() {
    let served = Served::begin();
    let mut window = window([1600.0, 1000.0], true);
    window.run();
    window.get_by_label("Serial port").click();
    window.run();
    window.get_by_label("DTR on restarts many boards");
    let port = window.get_by_role_and_label(Role::TextInput, "Port");
    port.focus();
    window.run();
    let path = served.path.display().to_string();
    window.get_by_role_and_label(Role::TextInput, "Port").type_text(&path);
    window.run();
    window.get_by_label_contains("Connect").click();
    wait(&mut window, "frames over the port", |b| b.desk.session().rows() > 300);
    assert_eq!(window.state().desk.link().kind, FeedKind::Serial);
    assert_eq!(window.state().settings.port.path, path, "kept for the next time");
    assert_eq!(window.state().desk.lines().iter().len(), 200);

    window.get_by_label("Pause").click();
    window.step();
    let newest = |w: &crate::window::Window<'_>| {
        let lines: Vec<String> = w
            .query_all_by_label_contains("Line ")
            .filter_map(|n| n.accesskit_node().label().map(|l| l.to_string()))
            .collect();
        lines.last().cloned()
    };
    let held = newest(&window);
    let rows = window.state().desk.session().rows();
    wait(&mut window, "more frames", |b| b.desk.session().rows() > rows + 100);
    assert_eq!(newest(&window), held, "paused lines stand still");

    window.get_by_role_and_label(Role::TextInput, "Find").focus();
    window.step();
    window.get_by_role_and_label(Role::TextInput, "Find").type_text("no such text");
    window.step();
    window.step();
    window.get_by_label("0 of 200 lines");

    window.get_by_role_and_label(Role::TextInput, "Send").focus();
    window.step();
    window.get_by_role_and_label(Role::TextInput, "Send").type_text("led 1");
    window.step();
    window.key_press(Key::Enter);
    window.step();
    window.step();
    let field = window.get_by_role_and_label(Role::TextInput, "Send");
    assert_eq!(field.value().unwrap_or_default(), "", "a line that was sent leaves the field");

    window.key_press_modifiers(Modifiers::COMMAND, Key::D);
    window.step();
    assert_eq!(window.state().desk.link().state, None);
}

#[test]
fn control_lines_are_chosen_and_kept() {
    let mut window = window([1600.0, 1000.0], false);
    window.run();
    window.get_by_label("Serial port").click();
    window.run();
    let off: Vec<_> = window.get_all_by_label("off").collect();
    assert_eq!(off.len(), 2, "one for DTR, one for RTS");
    off[0].click();
    window.run();
    let port = &window.state().settings.port;
    assert_eq!((port.dtr, port.rts), (ControlLine::Off, ControlLine::AsIs));
    assert_eq!(window.state().settings.wishes().dtr, ControlLine::Off);
}

/// A plain log of `lines` lines.
fn long_log(folder: &std::path::Path, lines: usize) -> PathBuf {
    let path = folder.join("long.log");
    let mut file = std::io::BufWriter::new(std::fs::File::create(&path).expect("created"));
    for k in 0..lines {
        let (a, b) = (500 + k % 7, 510 + k % 5);
        writeln!(file, "{k},{},{a},{b},{b},{a},30,31,0000", k * 1000).expect("written");
    }
    file.flush().expect("written");
    path
}

#[test]
fn a_long_log_shows_what_is_read_and_can_be_stopped() {
    let folder = tempfile::tempdir().expect("a folder");
    let path = long_log(folder.path(), 4_000_000);
    let mut window = window([1600.0, 1000.0], true);
    window.run();
    window.state_mut().desk.open(&path);
    show_without_rest(&mut window, Screen::Traces);
    wait(&mut window, "a first part", |b| b.desk.session().rows() > 0);
    assert!(window.state().desk.opening().is_some(), "still reading");
    wait(&mut window, "the words", |b| b.desk.busy_for().as_millis() > 400);
    window.step();
    window.get_by_label_contains("Reading long.log");
    let stop = Action::Link(LinkVerb::StopOpening).shortcut().expect("a key");
    window.key_press_modifiers(stop.modifiers, stop.logical_key);
    window.step();
    window.step();
    let desk = &window.state().desk;
    assert!(desk.opening().is_none());
    let rows = desk.session().rows();
    assert!((1..4_000_000).contains(&rows), "{rows}");
    window.get_by_label_contains("reading was stopped");
    window.get_by_label_contains("Traces of left x");
}

fn show_without_rest(window: &mut crate::window::Window<'_>, place: Screen) {
    let shortcut = Action::Show(place).shortcut().expect("a key");
    window.key_press_modifiers(shortcut.modifiers, shortcut.logical_key);
    window.step();
    window.step();
    assert_eq!(window.state().place, place);
}

#[test]
fn a_recording_is_played_line_by_line() {
    let folder = tempfile::tempdir().expect("a folder");
    let path = recording(&folder);
    let mut window = window([1600.0, 1000.0], false);
    window.run();
    let address: Address = format!("file:{}", path.display()).parse().expect("an address");
    window.state_mut().begin_with(&address);
    wait(&mut window, "frames", |b| b.desk.session().rows() > 200);
    window.step();
    window.get_by_label("Role of field lx");
    assert!(window.query_all_by_label_contains("Line ").next().is_some());
}

#[test]
fn the_virtual_board_is_moved_by_mouse_and_keys() {
    let mut window = window([1600.0, 1000.0], true);
    let address: Address = "virtual:healthy".parse().expect("an address");
    window.state_mut().begin_with(&address);
    wait(&mut window, "first results", |b| b.desk.results().is_some());
    show_without_rest(&mut window, Screen::Sticks);
    let lx = |b: &trimbench::gui::app::Bench| {
        let axis = trimbench::rig::AxisId::Lx;
        let field = b.desk.session().field_of(trimbench::wire::Role::Axis(axis)).expect("left x");
        let rows = b.desk.session().rows();
        b.desk.session().column_part(field, rows - 1..rows)[0]
    };
    let rest = lx(window.state());
    let outline = window.get_all_by_label_contains("Gate outline").next().expect("drawn").rect();
    let at = outline.center() - egui::vec2(0.0, 10.0);
    window.hover_at(at);
    window.step();
    window.drag_at(at);
    window.step();
    window.hover_at(at + egui::vec2(outline.width() * 0.3, 0.0));
    wait(&mut window, "the stick to follow", |b| (lx(b) - rest).abs() > 100);
    window.drop_at(at + egui::vec2(outline.width() * 0.3, 0.0));
    wait(&mut window, "it to spring back", |b| (lx(b) - rest).abs() < 30);

    show_without_rest(&mut window, Screen::Buttons);
    window.get_by_label_contains("Press it").click();
    let pressed = |b: &trimbench::gui::app::Bench| {
        let field = b.desk.session().field_of(trimbench::wire::Role::Buttons).expect("a mask");
        let rows = b.desk.session().rows();
        let cells = b.desk.session().column_part(field, rows.saturating_sub(500)..rows);
        cells.first() != cells.iter().max() || cells.first() != cells.iter().min()
    };
    wait(&mut window, "the press", pressed);
    show(&mut window, Screen::Link);
}
