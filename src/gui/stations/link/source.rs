//! The source: virtual board, serial port or a recording; connect, let go, and record.
use std::path::{Path, PathBuf};

use egui::{Align, ComboBox, Key, Layout, TextEdit, Ui};

use super::super::{News, View, action_button};
use crate::gui::actions::{Action, LinkVerb, WindowVerb};
use crate::gui::app::is_ron;
use crate::gui::look::Type;
use crate::gui::parts::choice::{choice_ui, toggle_ui};
use crate::gui::settings::{Port, Record, Settings};
use crate::link::board::PortEntry;
use crate::link::serial::{self, ControlLine, LIKELY_BAUDS};
use crate::source::Address;

/// Height of its card.
pub const HEIGHT: f32 = 236.0;

/// Rates that are common on debug ports; any other may be typed.
const BAUDS: [u32; 8] = [9600, 57_600, 115_200, 230_400, 250_000, 500_000, 1_000_000, 2_000_000];
/// Width of the labels before the rows.
const LABEL: f32 = 72.0;

/// The kind of source that the form shows.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
enum Kind {
    #[default]
    Virtual,
    Serial,
    File,
}

/// What a person has typed so far.
pub struct SourceForm {
    kind: Kind,
    scenario: String,
    /// Port and rate as typed; `None` = as last used.
    port: Option<(String, String)>,
    file: String,
    folder: Option<String>,
    ports: Option<Result<Vec<PortEntry>, String>>,
}

impl Default for SourceForm {
    fn default() -> Self {
        SourceForm {
            kind: Kind::Virtual,
            scenario: "healthy".to_owned(),
            port: None,
            file: String::new(),
            folder: None,
            ports: None,
        }
    }
}

impl SourceForm {
    /// Draws the form.
    pub fn ui(&mut self, ui: &mut Ui, view: &View<'_>, actions: &mut Vec<Action>) {
        let names = ["Virtual board", "Serial port", "Recording"];
        ui.horizontal(|ui| {
            if let Some(k) = choice_ui(ui, &names, self.kind as usize) {
                self.kind = [Kind::Virtual, Kind::Serial, Kind::File][k];
            }
            ui.with_layout(Layout::right_to_left(Align::Center), |ui| {
                let (name, hint) = (
                    Action::Window(WindowVerb::Tones).label(),
                    Action::Window(WindowVerb::Tones).hint(),
                );
                if toggle_ui(ui, name, view.settings.tones, hint) {
                    actions.push(Action::Window(WindowVerb::Tones));
                }
            });
        });
        ui.horizontal(|ui| match self.kind {
            Kind::Virtual => self.virtual_ui(ui),
            Kind::Serial => self.serial_ui(ui, view),
            Kind::File => self.file_ui(ui, view, actions),
        });
        ui.horizontal(|ui| match self.kind {
            Kind::Serial => lines_ui(ui, view, actions),
            Kind::Virtual => {
                row_label(ui, "");
                let words = "the hand follows the guided run; sticks and triggers can be dragged";
                ui.label(Type::Note.soft(ui, words));
            }
            Kind::File => {
                row_label(ui, "");
                let words = "opened whole, or played as if a board sent it, line by line";
                ui.label(Type::Note.soft(ui, words));
            }
        });
        ui.horizontal(|ui| self.buttons_ui(ui, view, actions));
        ui.horizontal(|ui| {
            if !odd_rate_ui(ui, view, actions) {
                self.record_ui(ui, view, actions);
            }
        });
    }

    fn buttons_ui(&mut self, ui: &mut Ui, view: &View<'_>, actions: &mut Vec<Action>) {
        row_label(ui, "");
        let address = self.address(view);
        let enabled = address.as_ref().map(|_| ()).map_err(String::as_str);
        let connect = Action::Link(LinkVerb::Connect(String::new()));
        let play = egui::Button::new("Play");
        let pressed = match self.kind {
            Kind::File => {
                let play = ui.add_enabled(enabled.is_ok(), play);
                let clicked = play.clicked();
                play.on_hover_text("Read it line by line at its own pace, as if a board sent it")
                    .on_disabled_hover_text(enabled.err().unwrap_or_default());
                clicked
            }
            _ => action_button(ui, &connect, enabled),
        };
        if let (true, Ok(address)) = (pressed, &address) {
            actions.push(Action::Link(LinkVerb::Connect(address.to_string())));
        }
        if self.kind == Kind::File {
            let open = ui.add_enabled(enabled.is_ok(), egui::Button::new("Open whole"));
            if let (true, Ok(Address::File { path })) = (open.clicked(), &address) {
                actions.push(Action::Link(LinkVerb::Open(path.clone())));
            }
            open.on_hover_text("Read the file to its end at once, then measure it");
        }
        if self.kind == Kind::File && action_button(ui, &Action::Link(LinkVerb::Choose), Ok(())) {
            actions.push(Action::Link(LinkVerb::Choose));
        }
        let live = view.desk.link().state.is_some();
        let enabled = if live { Ok(()) } else { Err("Nothing is connected") };
        if action_button(ui, &Action::Link(LinkVerb::Disconnect), enabled) {
            actions.push(Action::Link(LinkVerb::Disconnect));
        }
        if self.kind == Kind::Serial {
            let port = matches!(view.desk.link().address, Some(Address::Serial { .. }));
            let enabled = if live && port { Ok(()) } else { Err("No serial port is open") };
            if action_button(ui, &Action::Link(LinkVerb::HandOver), enabled) {
                actions.push(Action::Link(LinkVerb::HandOver));
            }
        }
        if self.kind != Kind::File {
            record_button_ui(ui, view, actions);
        }
    }

    fn virtual_ui(&mut self, ui: &mut Ui) {
        let label = row_label(ui, "Scenario");
        ui.add(TextEdit::singleline(&mut self.scenario).desired_width(240.0))
            .labelled_by(label)
            .on_hover_text("Name of a scenario; several are joined by +");
    }

    fn serial_ui(&mut self, ui: &mut Ui, view: &View<'_>) {
        let last = &view.settings.port;
        let (port, baud) =
            self.port.get_or_insert_with(|| (last.path.clone(), last.baud.to_string()));
        let ports = self.ports.get_or_insert_with(find_ports);
        let label = row_label(ui, "Port");
        ui.add(TextEdit::singleline(port).desired_width(150.0).hint_text("/dev/ttyUSB0"))
            .labelled_by(label);
        let mut look_again = false;
        let list = ComboBox::from_id_salt("found ports").width(88.0).selected_text("found…");
        let found = list.show_ui(ui, |ui| {
            match ports {
                Ok(ports) if ports.is_empty() => {
                    ui.label("None found; type the path of a pseudo-terminal, or plug a board in");
                }
                Ok(ports) => {
                    for entry in ports {
                        let socket = entry.socket.as_deref().unwrap_or_default();
                        let text = format!("{} {} {} {socket}", entry.path, entry.kind, entry.ids);
                        if ui.selectable_label(*port == entry.path, text).clicked() {
                            port.clone_from(&entry.path);
                        }
                    }
                }
                Err(why) => {
                    ui.label(why.as_str());
                }
            }
            look_again = ui.button("Look again").clicked();
        });
        found.response.accessible_name("Serial ports found");
        if look_again {
            self.ports = None;
        }
        let label = ui.label("Baud").id;
        ui.add(TextEdit::singleline(baud).desired_width(80.0)).labelled_by(label);
        let list = ComboBox::from_id_salt("common rates").width(96.0).selected_text("common…");
        let common = list.show_ui(ui, |ui| {
            for rate in BAUDS {
                if ui.selectable_label(*baud == rate.to_string(), rate.to_string()).clicked() {
                    *baud = rate.to_string();
                }
            }
        });
        common.response.accessible_name("Common rates");
    }

    fn file_ui(&mut self, ui: &mut Ui, view: &View<'_>, actions: &mut Vec<Action>) {
        let label = row_label(ui, "File");
        ui.add(
            TextEdit::singleline(&mut self.file)
                .desired_width(300.0)
                .hint_text("a session or a log"),
        )
        .labelled_by(label);
        let recent = &view.settings.recent;
        let list = ComboBox::from_id_salt("recent files").width(96.0).selected_text("recent…");
        let shown = list.show_ui(ui, |ui| {
            if recent.is_empty() {
                ui.label("Files that were opened will stand here");
            }
            for path in recent {
                let text = path.display().to_string();
                if ui.selectable_label(self.file == text, text.as_str()).clicked() {
                    self.file = text;
                    actions.push(Action::Link(LinkVerb::Open(path.clone())));
                }
            }
        });
        shown.response.accessible_name("Files opened last");
    }

    /// Which links are recorded, and where.
    fn record_ui(&mut self, ui: &mut Ui, view: &View<'_>, actions: &mut Vec<Action>) {
        let settings = view.settings;
        row_label(ui, "Record");
        let names = ["every board", "serial only", "nothing"];
        if let Some(k) = choice_ui(ui, &names, settings.record as usize) {
            let record = [Record::Every, Record::Serial, Record::Nothing][k];
            actions.push(Action::Window(WindowVerb::Keep(Box::new(Settings {
                record,
                ..settings.clone()
            }))));
        }
        let label = ui.label("into").id;
        let said = settings.session_folder().display().to_string();
        let wide = (ui.available_width() - 16.0).clamp(80.0, 420.0);
        let folder = self.folder.get_or_insert_with(|| said.clone());
        let field = ui
            .add(TextEdit::singleline(folder).desired_width(wide).clip_text(true))
            .labelled_by(label)
            .on_hover_text("Folder for sessions; it is made when it is missing");
        let left = field.lost_focus() || ui.input(|i| i.key_pressed(Key::Enter));
        if left && *folder != said {
            let typed = folder.trim();
            let sessions = (!typed.is_empty()).then(|| PathBuf::from(typed));
            self.folder = None;
            actions.push(Action::Window(WindowVerb::Keep(Box::new(Settings {
                sessions,
                ..settings.clone()
            }))));
        } else if !field.has_focus() {
            self.folder = None;
        }
    }

    /// The address that the form describes, or what is missing.
    fn address(&self, view: &View<'_>) -> Result<Address, String> {
        let filled = |text: &str, what: &str| match text.trim() {
            "" => Err(format!("{what} is missing")),
            text => Ok(text.to_owned()),
        };
        match self.kind {
            Kind::Virtual => {
                Ok(Address::Virtual { scenario: filled(&self.scenario, "The scenario")? })
            }
            Kind::Serial => {
                let last = &view.settings.port;
                let as_last = (last.path.clone(), last.baud.to_string());
                let (port, baud) = self.port.as_ref().unwrap_or(&as_last);
                let path = filled(port, "The port")?;
                let baud: u32 =
                    baud.trim().parse().map_err(|_e| "The baud rate is not a whole number")?;
                match baud {
                    0 => Err("The baud rate is zero".to_owned()),
                    1200 => Err("1200 baud restarts many boards into their loader".to_owned()),
                    _ => Ok(Address::Serial { path, baud }),
                }
            }
            Kind::File => Ok(Address::File { path: filled(&self.file, "The file")?.into() }),
        }
    }

    /// Shows what was connected or opened, from wherever it was asked for.
    pub fn told(&mut self, news: &News<'_>) {
        match news {
            News::Connected(Address::Serial { path, baud }) => {
                self.kind = Kind::Serial;
                self.port = Some((path.clone(), baud.to_string()));
            }
            News::Connected(Address::Virtual { scenario }) => {
                self.kind = Kind::Virtual;
                self.scenario.clone_from(scenario);
            }
            News::Connected(Address::File { path }) => self.show_file(path),
            News::Opened(path) if !is_ron(path) => self.show_file(path),
            News::Opened(_) | News::Disconnected | News::Followed => {}
        }
    }

    fn show_file(&mut self, path: &Path) {
        self.kind = Kind::File;
        self.file = path.display().to_string();
    }
}

/// A label of fixed width, so that the rows stand under one another.
fn row_label(ui: &mut Ui, text: &str) -> egui::Id {
    let height = ui.spacing().interact_size.y;
    let layout = egui::Layout::left_to_right(egui::Align::Center);
    let size = egui::vec2(LABEL, height);
    ui.allocate_ui_with_layout(size, layout, |ui| {
        ui.set_min_width(LABEL);
        ui.label(text).id
    })
    .inner
}

/// What the control lines do when the port is opened.
fn lines_ui(ui: &mut Ui, view: &View<'_>, actions: &mut Vec<Action>) {
    let port = &view.settings.port;
    let states = [ControlLine::AsIs, ControlLine::On, ControlLine::Off];
    let mut keep = |port: Port| {
        let settings = Settings { port, ..view.settings.clone() };
        actions.push(Action::Window(WindowVerb::Keep(Box::new(settings))));
    };
    let names = ["as it is", "on", "off"];
    row_label(ui, "DTR");
    if let Some(k) = choice_ui(ui, &names, port.dtr as usize) {
        keep(Port { dtr: states[k], ..port.clone() });
    }
    ui.label("RTS");
    if let Some(k) = choice_ui(ui, &names, port.rts as usize) {
        keep(Port { rts: states[k], ..port.clone() });
    }
    let words = ["DTR on restarts many boards", "on restarts many", ""];
    let words = Type::Note.fitting(ui, ui.available_width() - 8.0, &words);
    ui.label(Type::Note.soft(ui, words)).on_hover_text(
        "Many boards couple DTR to their reset pin: opening the port then starts them anew. \
         Others, with a USB port of their own, send nothing until DTR is on. Takes effect at the \
         next connect",
    );
}

/// Begins or ends a recording of the live link.
fn record_button_ui(ui: &mut Ui, view: &View<'_>, actions: &mut Vec<Action>) {
    let words = if view.desk.is_recording() { "Stop recording" } else { "Record" };
    let key = Action::Link(LinkVerb::Record).key_words(ui.ctx());
    let live = view.desk.link().state.is_some();
    let button = ui.add_enabled(live, egui::Button::new(words).shortcut_text(key));
    if button.clicked() {
        actions.push(Action::Link(LinkVerb::Record));
    }
    button
        .on_hover_text(Action::Link(LinkVerb::Record).hint())
        .on_disabled_hover_text("Nothing is connected");
}

/// Offers the likely rates when the bytes look like another one; gives true when it did.
fn odd_rate_ui(ui: &mut Ui, view: &View<'_>, actions: &mut Vec<Action>) -> bool {
    let link = view.desk.link();
    let (true, Some(Address::Serial { path, baud })) = (link.odd_rate, &link.address) else {
        return false;
    };
    row_label(ui, "Rate?");
    ui.label(Type::Note.text(ui, "the bytes look like another rate; try"));
    for rate in LIKELY_BAUDS.iter().filter(|r| *r != baud).take(5) {
        if ui.button(rate.to_string()).on_hover_text("Connect again at this rate").clicked() {
            actions.push(Action::Link(LinkVerb::Connect(format!("serial:{path}@{rate}"))));
        }
    }
    true
}

fn find_ports() -> Result<Vec<PortEntry>, String> {
    serial::ports().map_err(|e| e.to_string())
}
