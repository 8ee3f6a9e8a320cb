//! The last lines as they came: pause, find, copy; and a line to send.
use egui::{Key, TextEdit, Ui};

use super::super::View;
use crate::desk::{Desk, Fate, FeedKind, Line};
use crate::gui::actions::{Action, LinkVerb, OutputVerb};
use crate::gui::look::Type;
use crate::gui::parts::choice::toggle_ui;
use crate::gui::parts::held::Held;
use crate::gui::parts::raw_lines::{LineRow, raw_lines_ui};
use crate::gui::parts::state_mark::State;

/// Height of the row that sends, with the gap above it.
const SEND: f32 = 40.0;

/// What the pane keeps to itself.
#[derive(Default)]
pub struct LinesPane {
    /// The pane was paused: the lines stay as they are.
    paused: bool,
    /// The lines as they are shown.
    shown: Held<Vec<LineRow>>,
    find: String,
    send: String,
}

impl LinesPane {
    /// Draws pause, find, copy and the list.
    pub fn ui(&mut self, ui: &mut Ui, view: &View<'_>, actions: &mut Vec<Action>) {
        let desk = view.desk;
        let rows = || desk.lines().iter().map(|line| row(desk, line)).collect();
        let all = match self.paused {
            true => self.shown.last().map_or(&[][..], Vec::as_slice),
            false => self.shown.of(ui.ctx(), rows).as_slice(),
        };
        let needle = self.find.trim().to_owned();
        let fits = |r: &&LineRow| r.text.contains(&needle) || r.verdict.contains(&needle);
        let found: Vec<&LineRow> = all.iter().filter(fits).collect();
        ui.horizontal(|ui| {
            ui.label(Type::Title.text(ui, "Last lines"));
            ui.add_space(8.0);
            let hint = "Hold these lines while recording goes on";
            self.paused ^= toggle_ui(ui, "Pause", self.paused, hint);
            let label = ui.label("Find");
            ui.add(TextEdit::singleline(&mut self.find).desired_width(140.0)).labelled_by(label.id);
            if ui.button("Copy").on_hover_text("Put the lines shown on the clipboard").clicked() {
                let lines: Vec<&str> = found.iter().map(|r| r.text.as_str()).collect();
                actions.push(Action::Output(OutputVerb::Copy(lines.join("\n"))));
            }
            let words = if needle.is_empty() {
                format!("{} lines", found.len())
            } else {
                format!("{} of {} lines", found.len(), all.len())
            };
            ui.label(Type::Note.soft(ui, words));
        });
        let free = ui.available_rect_before_wrap();
        let list = egui::Rect::from_min_max(free.min, free.max - egui::vec2(0.0, SEND));
        ui.scope_builder(egui::UiBuilder::new().max_rect(list), |ui| match all.is_empty() {
            true => empty_ui(ui, view, actions),
            false => raw_lines_ui(ui, &names(desk), &found, self.paused),
        });
        let send = egui::Rect::from_min_max(list.left_bottom() + egui::vec2(0.0, 8.0), free.max);
        ui.scope_builder(egui::UiBuilder::new().max_rect(send), |ui| {
            self.send_ui(ui, view, actions);
        });
    }

    /// Draws the line to send.
    fn send_ui(&mut self, ui: &mut Ui, view: &View<'_>, actions: &mut Vec<Action>) {
        ui.horizontal(|ui| {
            let label = ui.label("Send");
            let wide = (ui.available_width() - 120.0).max(80.0);
            let field = TextEdit::singleline(&mut self.send)
                .desired_width(wide)
                .font(Type::Raw.font())
                .hint_text("a line of text");
            let response = ui.add(field).labelled_by(label.id);
            let entered = response.lost_focus() && ui.input(|i| i.key_pressed(Key::Enter));
            let live = view.desk.link().state.is_some();
            let button = ui.add_enabled(live, egui::Button::new("Send line"));
            let pressed = button.clicked();
            button.on_disabled_hover_text("Nothing is connected");
            if (entered || pressed) && live {
                actions.push(Action::Link(LinkVerb::Send(std::mem::take(&mut self.send))));
                response.request_focus();
            }
        });
    }
}

/// What stands where no line has come.
fn empty_ui(ui: &mut Ui, view: &View<'_>, actions: &mut Vec<Action>) {
    ui.add_space(24.0);
    let sentence = match (view.desk.link().kind, view.desk.path()) {
        (FeedKind::File, Some(path)) => {
            let words = "Play the recording to see its lines as they came";
            if ui.button(words).clicked() {
                actions.push(Action::Link(LinkVerb::Connect(format!("file:{}", path.display()))));
            }
            return;
        }
        _ => "What the board prints will stand here, line by line, with its fields",
    };
    ui.label(Type::Label.soft(ui, sentence));
}

/// The names of the fields in order.
fn names(desk: &Desk) -> Vec<String> {
    let count = desk.session().dialect().map_or(0, |d| d.fields.len());
    (0..count).map(|k| name(desk, k)).collect()
}

/// A field's name in the lines; its number where only the order of the columns gave it one.
fn name(desk: &Desk, k: usize) -> String {
    let session = desk.session();
    match session.dialect().and_then(|d| d.fields.get(k)) {
        Some(_) if session.roles_by_order() => (k + 1).to_string(),
        Some(field) => field.name.clone(),
        None => "?".to_owned(),
    }
}

fn row(desk: &Desk, line: &Line) -> LineRow {
    let (verdict, state) = match &line.fate {
        Fate::Frame(cells) => (named(desk, cells), State::None),
        Fate::Refused(why, None) => (why.words().to_owned(), State::Warning),
        Fate::Refused(why, Some(at)) => (format!("{}; {at}", why.words()), State::Warning),
        Fate::Heading => ("the heading that names the columns".to_owned(), State::None),
        Fate::Blank => ("blank".to_owned(), State::None),
        Fate::Edge => ("a change of the buttons".to_owned(), State::None),
    };
    let cells = match &line.fate {
        Fate::Frame(cells) => {
            cells.iter().enumerate().map(|(k, cell)| shown(desk, k, *cell)).collect()
        }
        _ => Vec::new(),
    };
    LineRow { number: line.place.line, text: line.text.clone(), cells, verdict, state }
}

/// The cells with the names of their fields: "lx 512 · ly 498".
fn named(desk: &Desk, cells: &[i32]) -> String {
    use std::fmt::Write;
    let mut text = String::new();
    for (k, cell) in cells.iter().enumerate() {
        let name = name(desk, k);
        let gap = if k == 0 { "" } else { "  " };
        // Writing into a string cannot fail.
        let _ = write!(text, "{gap}{name} {}", shown(desk, k, *cell));
    }
    text
}

/// A cell as it is meant: counters, clocks and masks are unsigned.
pub fn shown(desk: &Desk, field: usize, cell: i32) -> String {
    use crate::wire::Role;
    match desk.session().roles().get(field) {
        Some(Role::Buttons | Role::OutButtons) => format!("{:X}h", cell as u32),
        Some(Role::Seq | Role::Clock | Role::RemoteSeq(_) | Role::RemoteAge(_)) => {
            (cell as u32).to_string()
        }
        _ => cell.to_string(),
    }
}
