//! The stations: one screen each. They look at a borrowed view and return actions.
mod buttons;
pub mod found;
mod limits_pane;
pub mod link;
pub mod live;
mod proof;
mod rows;
pub mod sheet;
mod sticks;
pub mod traces;
mod triggers;
mod trim;
mod undulations;
mod wiring;

use crate::survey::Page;
use std::path::Path;

use egui::Ui;

use super::actions::{Action, OutputVerb, PartVerb, Screen, TraceVerb};
use super::parts::finding::state_of;
use super::parts::state_mark::State;
use super::settings::Settings;
use crate::desk::{Desk, Results, Saved};
use crate::source::Address;

/// What a station may look at.
#[derive(Clone, Copy)]
pub struct View<'a> {
    /// The session under work and all that follows from it.
    pub desk: &'a Desk,
    /// Where outputs are saved.
    pub folder: &'a Path,
    /// What is remembered between runs.
    pub settings: &'a Settings,
}

impl View<'_> {
    /// The newest results, unless their findings are kept back under practice.
    fn judged(&self) -> Option<&Results> {
        self.desk.results().filter(|_| !self.desk.keeps_back()).map(|results| &**results)
    }
}

/// What stations hear of, for what they keep to themselves.
#[derive(Clone, Copy, Debug)]
pub enum News<'a> {
    /// A source is being connected.
    Connected(&'a Address),
    /// A file is being opened: a session, a log, a parts list or constants.
    Opened(&'a Path),
    /// The source is let go of.
    Disconnected,
    /// The newest frame is followed again.
    Followed,
}

/// One screen of the bench.
pub trait Station {
    /// Where it stands in the rail.
    fn screen(&self) -> Screen;

    /// Its state in the rail; none by itself.
    fn state(&self, _view: &View<'_>) -> State {
        State::None
    }

    /// What must be done first, one sentence, while it has nothing to show.
    fn missing(&self, view: &View<'_>) -> Option<&'static str>;

    /// Draws it over the free space and adds what the person asked for.
    fn ui(&mut self, ui: &mut Ui, view: &View<'_>, actions: &mut Vec<Action>);

    /// Its figures as a table of text, for the clipboard.
    fn copied(&self, _view: &View<'_>) -> Option<String> {
        None
    }

    /// The stretch of the session that it looks at, if not the whole, µs.
    fn window_us(&self, _desk: &Desk) -> Option<[u64; 2]> {
        None
    }

    /// Looks as it did when the window was closed.
    fn restore(&mut self, _settings: &Settings) {}

    /// Notes how it looks for the next time.
    fn remember(&self, _settings: &mut Settings) {}

    /// Changes how traces look.
    fn trace(&mut self, _verb: TraceVerb, _view: &View<'_>) {}

    /// Changes how its part is looked at.
    fn part(&mut self, _verb: PartVerb, _view: &View<'_>) {}

    /// Hears what concerns what it keeps to itself, before that is done.
    fn told(&mut self, _news: &News<'_>, _view: &View<'_>) {}
}

/// Every station, in the order of the rail.
pub fn all() -> Vec<Box<dyn Station>> {
    vec![
        Box::<link::Link>::default(),
        Box::<wiring::Wiring>::default(),
        Box::<traces::Traces>::default(),
        Box::<sticks::Sticks>::default(),
        Box::<triggers::Triggers>::default(),
        Box::<buttons::Buttons>::default(),
        Box::<trim::TrimStation>::default(),
        Box::<proof::ProofStation>::default(),
        Box::<sheet::Sheet>::default(),
    ]
}

/// The state of a station about some parts: its gravest finding, else done or in work.
fn part_state(results: &Results, page: Page, done: impl Fn() -> bool) -> State {
    // Findings stand with the gravest first.
    let gravest = results.findings.iter().find(|f| f.concerns(page)).map(|f| f.severity);
    match gravest {
        Some(severity) if severity < crate::findings::Severity::Note => state_of(severity),
        _ if done() => State::Done,
        _ => State::NotStarted,
    }
}

/// A button for an action that says its key and hint; gives true when it was pressed.
pub fn action_button(ui: &mut Ui, action: &Action, enabled: Result<(), &str>) -> bool {
    let key = action.key_words(ui.ctx());
    let button = egui::Button::new(action.label()).shortcut_text(&key);
    let response = ui.add_enabled(enabled.is_ok(), button);
    let pressed = response.clicked();
    match enabled {
        Ok(()) => response.on_hover_text(action.hint()),
        Err(why) => response.on_disabled_hover_text(why),
    };
    pressed
}

/// The buttons that save; what needs the constants says why while there are none.
pub fn save_buttons(
    ui: &mut Ui,
    header: &Result<String, String>,
    what: &[Saved],
    actions: &mut Vec<Action>,
) {
    for saved in what.iter().copied() {
        let enabled = match saved {
            Saved::Header | Saved::Trim => header.as_ref().map(|_| ()).map_err(String::as_str),
            Saved::Sheet | Saved::Figures => Ok(()),
        };
        if action_button(ui, &Action::Output(OutputVerb::Save(saved)), enabled) {
            actions.push(Action::Output(OutputVerb::Save(saved)));
        }
    }
}

/// A "Copy" in the upper right corner of a card, level with its title.
pub fn copy_corner(ui: &mut Ui, text: impl FnOnce() -> String, actions: &mut Vec<Action>) {
    let corner = egui::pos2(ui.max_rect().right() - 64.0, ui.max_rect().top() - 2.0);
    let at = egui::Rect::from_min_size(corner, egui::vec2(64.0, 28.0));
    // A child of its own: the card's content goes on where it was.
    let mut child = ui.new_child(egui::UiBuilder::new().max_rect(at));
    let button = child.add_sized(at.size(), egui::Button::new("Copy"));
    if button.on_hover_text("Put these figures on the clipboard as a table").clicked() {
        actions.push(Action::Output(OutputVerb::Copy(text())));
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_place_has_its_station_in_order() {
        let places: Vec<Screen> = all().iter().map(|s| s.screen()).collect();
        assert_eq!(places, Screen::ALL);
    }
}
