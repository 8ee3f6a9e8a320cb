//! Trim: weigh leaking against lost travel, noise against lag · see raw to output · header text.
mod header;
mod smoothing;
mod sources;
pub(super) mod stairs;
mod zone;

use egui::Ui;

use self::header::{LastSaved, Shown};
use super::{Station, View};
use crate::gui::actions::{Action, PartVerb, Screen};
use crate::gui::look::size;
use crate::gui::parts::card::{card_at, cut_right, cut_top, empty_ui, page_ui};
use crate::gui::parts::choice::choice_ui;
use crate::gui::parts::figures;
use crate::gui::parts::state_mark::State;
use crate::trim::ZonePlace;

/// What is shown of an input.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
enum OfInput {
    /// From raw code to output, the whole way.
    #[default]
    Whole,
    /// The steps near the rest.
    Near,
    /// Noise against lag.
    Smoothing,
}

/// What the station keeps to itself.
#[derive(Default)]
pub struct TrimStation {
    /// Which dead zone is shown.
    zone: usize,
    /// Which input is shown.
    input: usize,
    /// What is shown of that input.
    of_input: OfInput,
    /// The radius that is being dragged, counts.
    held: Option<(ZonePlace, f64)>,
    shown: Shown,
    saved: LastSaved,
    /// What keys asked for, until the next frame.
    asked: Vec<Action>,
}

impl Station for TrimStation {
    fn screen(&self) -> Screen {
        Screen::Trim
    }

    fn state(&self, view: &View<'_>) -> State {
        match view.desk.results() {
            None => State::NotStarted,
            Some(r) if r.solution.trim.is_empty() => State::NotStarted,
            Some(r) if r.solution.trim.refusals.is_empty() => State::Done,
            Some(_) => State::Now,
        }
    }

    fn missing(&self, view: &View<'_>) -> Option<&'static str> {
        view.desk.results().is_none().then_some(
            "Dead zones, the way from raw to output and the header will stand here once \
             something is measured",
        )
    }

    fn ui(&mut self, ui: &mut Ui, view: &View<'_>, actions: &mut Vec<Action>) {
        actions.append(&mut self.asked);
        let Some(results) = view.desk.results().cloned() else {
            let sentence = self.missing(view).unwrap_or_default();
            return empty_ui(ui, sentence);
        };
        let folded = ui.available_width() < size::FOLD;
        // On a narrow page the figures of the zone stand below its picture.
        let narrow = ui.available_width() < zone::NARROW + 2.0 * size::CARD;
        let least = match (folded, narrow) {
            (false, _) => 720.0,
            (true, false) => 1220.0,
            (true, true) => 1560.0,
        };
        page_ui(ui, least, |ui, page| {
            let (main, side) = if folded {
                cut_top(page, page.height() - 420.0 + size::PAGE)
            } else {
                cut_right(page, (page.width() * 0.42).min(560.0))
            };
            let share = if narrow { 0.62 } else { 0.54 };
            let (above, below) = cut_top(main, main.height() * share);
            card_at(ui, above, "Dead zone", |ui| {
                self.zone_ui(ui, view.desk, &results, actions);
            });
            card_at(ui, below, "", |ui| {
                let names = ["From raw to output", "Near the rest", "Smoothing"];
                if let Some(k) = choice_ui(ui, &names, self.of_input as usize) {
                    self.of_input = [OfInput::Whole, OfInput::Near, OfInput::Smoothing][k];
                }
                match self.of_input {
                    OfInput::Whole => self.stairs_ui(ui, view, &results, false),
                    OfInput::Near => self.stairs_ui(ui, view, &results, true),
                    OfInput::Smoothing => self.smoothing_ui(ui, view.desk, &results, actions),
                }
            });
            self.header_ui(ui, side, view, &results, actions);
        });
    }

    fn copied(&self, view: &View<'_>) -> Option<String> {
        let results = view.desk.results()?;
        let mut text = String::new();
        for zone in zone::zones(results) {
            text.push_str(&format!("{}, {}\n", zone::zone_name(zone.place), zone.promise()));
            text.push_str(&figures::as_text(&zone::terms(zone, zone.radius_counts)));
            text.push('\n');
        }
        text.push_str(&sources::as_text(&results.solution.trim));
        Some(text)
    }

    fn part(&mut self, verb: PartVerb, view: &View<'_>) {
        let Some(results) = view.desk.results() else { return };
        match verb {
            PartVerb::Zone(larger) => self.nudge(results, Some(larger)),
            PartVerb::ProposedZone => self.nudge(results, None),
            PartVerb::Go(next) => {
                let count = stairs::solved(&results.solution.trim).len().max(1);
                self.input = (self.input + if next { 1 } else { count - 1 }) % count;
            }
            PartVerb::Circles => {}
        }
    }
}
