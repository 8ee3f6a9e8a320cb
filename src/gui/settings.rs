//! What the window remembers between runs; none of it alters a figure.
use std::path::{Path, PathBuf};

use egui::ThemePreference;
use serde::{Deserialize, Serialize};

use super::actions::Screen;
use crate::desk::Keep;
use crate::link::serial::ControlLine;
use crate::source::{Address, Wishes};

/// Which links are written into a session file by themselves.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub enum Record {
    /// Every board, the virtual one too.
    Every,
    /// Boards on a serial port.
    #[default]
    Serial,
    /// None, until a person says so.
    Nothing,
}

/// The serial port as it was last used.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct Port {
    /// Device path.
    pub path: String,
    /// Symbol rate.
    pub baud: u32,
    /// Data terminal ready on open.
    pub dtr: ControlLine,
    /// Request to send on open.
    pub rts: ControlLine,
}

impl Default for Port {
    fn default() -> Port {
        let as_is = ControlLine::AsIs;
        Port { path: String::new(), baud: 115_200, dtr: as_is, rts: as_is }
    }
}

/// How the traces were last looked at.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct TracesLook {
    /// Counts, travel, output; none of them = as at first.
    pub forms: [bool; 3],
    /// Inputs that belong together share a lane.
    pub shared: bool,
    /// A live picture sweeps.
    pub sweeps: bool,
}

/// Kept in the toolkit's storage.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct Settings {
    /// Light, dark, or as the system has it.
    pub theme: ThemePreference,
    /// Size of everything, 0.8 to 2.
    pub scale: f32,
    /// Where outputs are saved; `None` = beside the session, else the home folder.
    pub folder: Option<PathBuf>,
    /// Where sessions are recorded; `None` = the folder `Trimbench` among the documents.
    pub sessions: Option<PathBuf>,
    /// Which links are recorded.
    pub record: Record,
    /// The serial port as it was last used.
    pub port: Port,
    /// The guided run sounds tones.
    pub tones: bool,
    /// Files opened last, the newest first.
    pub recent: Vec<PathBuf>,
    /// The station that was looked at last.
    pub place: Screen,
    /// How the traces were last looked at.
    pub traces: TracesLook,
}

/// Files remembered.
const MOST_RECENT: usize = 8;

impl Default for Settings {
    fn default() -> Self {
        Settings {
            theme: ThemePreference::System,
            scale: 1.0,
            folder: None,
            sessions: None,
            record: Record::default(),
            port: Port::default(),
            tones: false,
            recent: Vec::new(),
            place: Screen::default(),
            traces: TracesLook::default(),
        }
    }
}

impl Settings {
    /// The folder for outputs of a session that stands at `session`.
    pub fn output_folder(&self, session: Option<&Path>) -> PathBuf {
        if let Some(folder) = &self.folder {
            return folder.clone();
        }
        let beside = session.and_then(Path::parent).filter(|p| !p.as_os_str().is_empty());
        let home = || directories::UserDirs::new().map(|dirs| dirs.home_dir().to_owned());
        beside.map(Path::to_owned).or_else(home).unwrap_or_else(|| PathBuf::from("."))
    }

    /// The folder for recordings.
    pub fn session_folder(&self) -> PathBuf {
        if let Some(folder) = &self.sessions {
            return folder.clone();
        }
        let dirs = directories::UserDirs::new();
        let documents = dirs
            .as_ref()
            .map(|dirs| dirs.document_dir().unwrap_or_else(|| dirs.home_dir()).to_owned());
        documents.unwrap_or_else(|| PathBuf::from(".")).join("Trimbench")
    }

    /// Where a link to `address` is recorded; `folder` is the one for recordings.
    pub fn keep<'a>(&self, address: &Address, folder: &'a Path) -> Keep<'a> {
        match (self.record, address) {
            (Record::Every, Address::Serial { .. } | Address::Virtual { .. })
            | (Record::Serial, Address::Serial { .. }) => Keep::Into(folder),
            _ => Keep::Nothing,
        }
    }

    /// How a source is to be opened.
    pub fn wishes(&self) -> Wishes {
        Wishes { dtr: self.port.dtr, rts: self.port.rts, ..Wishes::default() }
    }

    /// Puts a file first among those opened last.
    pub fn remember(&mut self, path: &Path) {
        let path = std::fs::canonicalize(path).unwrap_or_else(|_| path.to_owned());
        self.recent.retain(|p| *p != path);
        self.recent.insert(0, path);
        self.recent.truncate(MOST_RECENT);
    }

    /// The next theme: system, light, dark, and round again.
    pub fn next_theme(&mut self) {
        self.theme = match self.theme {
            ThemePreference::System => ThemePreference::Light,
            ThemePreference::Light => ThemePreference::Dark,
            ThemePreference::Dark => ThemePreference::System,
        };
    }

    /// A tenth larger or smaller, within 80 to 200 %; 0 = back to 100 %.
    pub fn rescale(&mut self, by: i8) {
        let tenths = if by == 0 { 10.0 } else { (self.scale * 10.0).round() + f32::from(by) };
        self.scale = (tenths / 10.0).clamp(0.8, 2.0);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_boards_are_recorded_and_only_where_wanted() {
        let folder = Path::new("/tmp/sessions");
        let serial: Address = "serial:/dev/ttyACM0".parse().expect("an address");
        let board: Address = "virtual:healthy".parse().expect("an address");
        let played: Address = "file:/tmp/a.session".parse().expect("an address");
        let mut settings = Settings { record: Record::Every, ..Settings::default() };
        let kept = |s: &Settings| [&serial, &board, &played].map(|a| s.keep(a, folder));
        let into = Keep::Into(folder);
        assert_eq!(kept(&settings), [into, into, Keep::Nothing]);
        settings.record = Record::default();
        assert_eq!(kept(&settings), [into, Keep::Nothing, Keep::Nothing]);
        settings.record = Record::Nothing;
        assert_eq!(kept(&settings), [Keep::Nothing; 3]);
    }

    #[test]
    fn the_file_opened_last_stands_first_and_once() {
        let mut settings = Settings::default();
        for k in 0..10 {
            settings.remember(Path::new(&format!("/no/{k}.session")));
        }
        settings.remember(Path::new("/no/5.session"));
        assert_eq!(settings.recent.len(), 8);
        assert_eq!(settings.recent[0], Path::new("/no/5.session"));
        assert_eq!(settings.recent[1], Path::new("/no/9.session"));
    }

    #[test]
    fn the_scale_stays_within_its_range() {
        let mut settings = Settings::default();
        for _ in 0..30 {
            settings.rescale(1);
        }
        assert_eq!(settings.scale, 2.0);
        settings.rescale(0);
        settings.rescale(-1);
        assert_eq!(settings.scale, 0.9);
    }
}
