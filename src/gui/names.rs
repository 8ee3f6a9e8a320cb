//! The names that a roll-call found: how many channels, what changes, and the key that takes them.
use egui::{Rect, ScrollArea, Ui};

use super::actions::{Action, EditVerb};
use super::look::Type;
use super::parts::card::card_at;
use super::parts::state_mark::State;
use super::stations::action_button;
use crate::desk::Naming;

/// Height of the card at most, beside other cards.
const MOST: f32 = 236.0;

/// Height of the card: what it says, as far as other cards leave room.
pub fn height(naming: &Naming) -> f32 {
    let lines = naming.changes.len() + naming.silent.len() + naming.doubtful.len();
    (124.0 + 22.0 * lines as f32).min(MOST)
}

/// Draws the card in `rect`. `buttons` = with the button that takes the names.
pub fn names_ui(
    ui: &mut Ui,
    rect: Rect,
    naming: &Naming,
    buttons: bool,
    actions: &mut Vec<Action>,
) {
    card_at(ui, rect, "Names found by the roll-call", |ui| {
        ui.horizontal_wrapped(|ui| {
            let said = naming.summary();
            ui.label(Type::Label.text(ui, format!("{said}.")));
            if buttons && action_button(ui, &Action::Edit(EditVerb::TakeNames), Ok(())) {
                actions.push(Action::Edit(EditVerb::TakeNames));
            }
        });
        let count = naming.changes.len();
        let what = if count == 1 { "1 thing changes" } else { "things change" };
        let what = if count == 1 { what.to_owned() } else { format!("{count} {what}") };
        ui.label(Type::Note.soft(ui, format!("{what}; every role can still be set in Link")));
        ScrollArea::vertical().id_salt("names").auto_shrink([false, false]).show(ui, |ui| {
            ui.spacing_mut().item_spacing.y = 4.0;
            for line in &naming.changes {
                ui.label(Type::Note.text(ui, line.as_str()));
            }
            for name in naming.silent.iter().chain(&naming.doubtful) {
                let words = if naming.silent.contains(name) {
                    format!("{name}: nothing answered; look at its wire, or call the roll again")
                } else {
                    format!("{name}: more than one channel answered; call the roll again")
                };
                let label = ui.label(Type::Note.text(ui, words.as_str()));
                label.accessible_name(State::Warning.spoken(&words));
            }
        });
    });
}
