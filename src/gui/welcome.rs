//! The welcome of the first start: what is connected, and the one key that shows what the bench does.
use egui::{Label, Ui};

use super::actions::{Action, RunVerb, WindowVerb};
use super::look::Type;
use super::parts::card::card;
use super::stations::action_button;

/// Draws the welcome above the page; gives true when it was put away.
pub fn welcome_ui(ui: &mut Ui, actions: &mut Vec<Action>) -> bool {
    let mut away = false;
    card(ui, "Welcome to the bench", |ui| {
        let words = "A virtual board is connected. Press G and watch a scripted hand follow the \
                     guided run, two minutes from rest to header; your own board is connected in \
                     Link. F1 lists every key.";
        ui.add(Label::new(Type::Label.text(ui, words)).wrap());
        ui.horizontal(|ui| {
            let start = Action::Run(RunVerb::Start);
            if action_button(ui, &start, Ok(())) {
                actions.push(start);
            }
            away = ui.button(Action::Window(WindowVerb::PutAway(0)).label()).clicked();
        });
    });
    ui.add_space(8.0);
    away
}
