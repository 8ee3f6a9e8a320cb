//! The source: virtual board, serial port or a file played as if live; connect and let go.
use egui::{ComboBox, TextEdit, Ui};

use super::super::{View, action_button};
use crate::desk::FeedKind;
use crate::gui::actions::Action;
use crate::gui::look::Type;
use crate::gui::parts::choice::choice_ui;
use crate::link::serial::{self, PortEntry};
use crate::source::Address;

/// Height of its card.
pub const HEIGHT: f32 = 164.0;

/// Rates that are common on debug ports; any other may be typed.
const BAUDS: [u32; 8] = [9600, 57_600, 115_200, 230_400, 250_000, 500_000, 1_000_000, 2_000_000];

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
    port: String,
    baud: String,
    file: String,
    ports: Option<Result<Vec<PortEntry>, String>>,
}

impl Default for SourceForm {
    fn default() -> Self {
        SourceForm {
            kind: Kind::Virtual,
            scenario: "healthy".to_owned(),
            port: String::new(),
            baud: "115200".to_owned(),
            file: String::new(),
            ports: None,
        }
    }
}

impl SourceForm {
    /// Draws the form.
    pub fn ui(&mut self, ui: &mut Ui, view: &View<'_>, actions: &mut Vec<Action>) {
        let names = ["Virtual board", "Serial port", "Recording, played"];
        if let Some(k) = choice_ui(ui, &names, self.kind as usize) {
            self.kind = [Kind::Virtual, Kind::Serial, Kind::File][k];
        }
        ui.horizontal(|ui| match self.kind {
            Kind::Virtual => self.virtual_ui(ui),
            Kind::Serial => self.serial_ui(ui),
            Kind::File => self.file_ui(ui, actions),
        });
        ui.horizontal(|ui| {
            let address = self.address();
            let enabled = address.as_ref().map(|_| ()).map_err(String::as_str);
            if action_button(ui, &Action::Connect(String::new()), enabled)
                && let Ok(address) = &address
            {
                actions.push(Action::Connect(address.to_string()));
            }
            let live = view.desk.link().state.is_some();
            let enabled = if live { Ok(()) } else { Err("Nothing is connected") };
            if action_button(ui, &Action::Disconnect, enabled) {
                actions.push(Action::Disconnect);
            }
            if action_button(ui, &Action::Choose, Ok(())) {
                actions.push(Action::Choose);
            }
            let link = view.desk.link();
            if link.kind != FeedKind::Nothing {
                ui.label(Type::Note.soft(ui, format!("now: {}", link.name)));
            }
        });
    }

    fn virtual_ui(&mut self, ui: &mut Ui) {
        let label = ui.label("Scenario");
        ui.add(TextEdit::singleline(&mut self.scenario).desired_width(200.0))
            .labelled_by(label.id)
            .on_hover_text("Name of a scenario; several are joined by +");
    }

    fn serial_ui(&mut self, ui: &mut Ui) {
        let ports = self.ports.get_or_insert_with(find_ports);
        let label = ui.label("Port");
        ui.add(TextEdit::singleline(&mut self.port).desired_width(150.0).hint_text("/dev/ttyUSB0"))
            .labelled_by(label.id);
        let list = ComboBox::from_id_salt("found ports").width(150.0).selected_text("found…");
        let found = list.show_ui(ui, |ui| match ports {
            Ok(ports) if ports.is_empty() => {
                ui.label("None found; type the path of a pseudo-terminal, or plug a board in");
            }
            Ok(ports) => {
                for port in ports {
                    let text = format!("{} {}", port.path, port.kind);
                    if ui.selectable_label(self.port == port.path, text).clicked() {
                        self.port.clone_from(&port.path);
                    }
                }
            }
            Err(why) => {
                ui.label(why.as_str());
            }
        });
        found.response.accessible_name("Serial ports found");
        if ui.button("Look again").clicked() {
            self.ports = None;
        }
        let label = ui.label("Baud");
        ui.add(TextEdit::singleline(&mut self.baud).desired_width(72.0)).labelled_by(label.id);
        let list = ComboBox::from_id_salt("common rates").width(72.0).selected_text("common…");
        let common = list.show_ui(ui, |ui| {
            for baud in BAUDS {
                if ui.selectable_label(self.baud == baud.to_string(), baud.to_string()).clicked() {
                    self.baud = baud.to_string();
                }
            }
        });
        common.response.accessible_name("Common rates");
    }

    fn file_ui(&mut self, ui: &mut Ui, _actions: &mut Vec<Action>) {
        let label = ui.label("File");
        ui.add(
            TextEdit::singleline(&mut self.file).desired_width(360.0).hint_text("board.session"),
        )
        .labelled_by(label.id)
        .on_hover_text("A session or a plain log, played at its own pace as if a board sent it");
    }

    /// The address that the form describes, or what is missing.
    fn address(&self) -> Result<Address, String> {
        let filled = |text: &str, what: &str| match text.trim() {
            "" => Err(format!("{what} is missing")),
            text => Ok(text.to_owned()),
        };
        match self.kind {
            Kind::Virtual => {
                Ok(Address::Virtual { scenario: filled(&self.scenario, "The scenario")? })
            }
            Kind::Serial => {
                let path = filled(&self.port, "The port")?;
                let baud: u32 =
                    self.baud.trim().parse().map_err(|_e| "The baud rate is not a whole number")?;
                match baud {
                    0 => Err("The baud rate is zero".to_owned()),
                    1200 => Err("1200 baud restarts many boards into their loader".to_owned()),
                    _ => Ok(Address::Serial { path, baud }),
                }
            }
            Kind::File => Ok(Address::File { path: filled(&self.file, "The file")?.into() }),
        }
    }
}

fn find_ports() -> Result<Vec<PortEntry>, String> {
    serial::ports().map_err(|e| e.to_string())
}
