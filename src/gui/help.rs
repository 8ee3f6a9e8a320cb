//! The list of keys, made from the list of actions; each can be clicked there as well.
use egui::{Context, Frame, Grid, Modal, ScrollArea};

use super::actions::{Action, WindowVerb};
use super::look::Type;

/// Shows every action with its key; a click does it. Escape, a click outside or the button closes it.
pub fn help_ui(ctx: &Context, actions: &mut Vec<Action>) {
    let mut chosen = None;
    let frame = Frame::popup(&ctx.global_style()).inner_margin(20);
    let modal = Modal::new(egui::Id::unique("keys")).frame(frame).show(ctx, |ui| {
        ui.set_width(700.0);
        ui.label(Type::Title.text(ui, "Keys"));
        // Told both ways: else the list grows towards its height frame by frame.
        let tall = ctx.content_rect().height() * 0.7;
        let list = ScrollArea::vertical().max_height(tall).min_scrolled_height(tall);
        list.show(ui, |ui| {
            Grid::new("list of keys").num_columns(3).spacing([24.0, 6.0]).show(ui, |ui| {
                for action in Action::all() {
                    ui.label(Type::Chosen.text(ui, action.key_words(ctx)));
                    let button = ui.add(egui::Button::new(action.label()).frame(false));
                    ui.label(Type::Note.soft(ui, action.hint()));
                    ui.end_row();
                    // The list closes for what was chosen in it; closing it is an action too.
                    if button.clicked() {
                        if action != Action::Window(WindowVerb::Help) {
                            chosen = Some(action);
                        }
                        ui.close();
                    }
                }
            });
        });
        if ui.button("Close").clicked() {
            ui.close();
        }
    });
    if modal.should_close() {
        actions.push(Action::Window(WindowVerb::Help));
    }
    actions.extend(chosen);
}
