//! Saving what a session gave: header, sheet, figures, constants.
use std::path::{Path, PathBuf};

use super::solving::{Wanted, header_text, write_wanted};
use super::{Desk, Weight};

/// What can be saved.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Saved {
    /// C header.
    Header,
    /// Sheet, one HTML file.
    Sheet,
    /// Constants with their readings, RON.
    Trim,
    /// All figures, JSON.
    Figures,
}

impl Saved {
    /// All of them, the constants' files first.
    pub const ALL: [Saved; 4] = [Saved::Header, Saved::Sheet, Saved::Trim, Saved::Figures];

    /// The usual ending of its name.
    pub fn ending(self) -> &'static str {
        match self {
            Saved::Header => "h",
            Saved::Sheet => "html",
            Saved::Trim => "trim.ron",
            Saved::Figures => "json",
        }
    }
}

impl Desk {
    /// The header's text from the newest results, or why there is none.
    pub fn header_text(&self) -> Result<String, String> {
        match self.results() {
            Some(results) => header_text(results),
            None => Err("nothing measured yet; connect a board or open a session".to_owned()),
        }
    }

    /// Saves one output of the newest results; a notice says how it went.
    pub fn save(&mut self, what: Saved, path: &Path) {
        let Some(results) = self.results().cloned() else {
            self.notify(Weight::Refused, "Nothing measured yet; connect a board or open a session");
            return;
        };
        let mut wanted = Wanted::default();
        let place: Option<PathBuf> = Some(path.to_owned());
        match what {
            Saved::Header => wanted.header = place,
            Saved::Sheet => wanted.sheet = place,
            Saved::Trim => wanted.trim = place,
            Saved::Figures => wanted.json = place,
        }
        match write_wanted(&results, &wanted) {
            Ok(refused) => match refused.first() {
                None => self.notify(Weight::Done, format!("Saved {}", path.display())),
                Some(file) => self.notify(Weight::Refused, format!("Not saved: {}", file.why)),
            },
            Err(e) => self.notify(Weight::Refused, e.to_string()),
        }
    }
}
