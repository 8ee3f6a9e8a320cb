//! What the window remembers between runs; none of it alters a figure.
use std::path::{Path, PathBuf};

use egui::ThemePreference;
use serde::{Deserialize, Serialize};

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
}

impl Default for Settings {
    fn default() -> Self {
        Settings { theme: ThemePreference::System, scale: 1.0, folder: None }
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
