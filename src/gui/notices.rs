//! Notices above the page: what happened, what to do next, until they are put away.
use egui::{Align, Frame, Layout, Margin, Sense, Stroke, Ui, vec2};

use super::actions::Action;
use super::look::{Palette, Type, size};
use super::parts::state_mark::State;
use crate::desk::{Notices, Weight};

/// Notices shown at once; older ones wait until these are put away.
const MOST: usize = 3;

/// Draws the newest notices, each with a button to put it away.
pub fn notices_ui(ui: &mut Ui, notices: &Notices, actions: &mut Vec<Action>) {
    let p = Palette::of(ui);
    let count = notices.list().count();
    for notice in notices.list().rev().take(MOST) {
        let state = match notice.weight {
            Weight::Done => State::Done,
            Weight::Note => State::Note,
            Weight::Refused => State::Warning,
        };
        let frame = Frame::new()
            .fill(p.card)
            .stroke(Stroke::new(1.0, p.rule))
            .corner_radius(size::CARD_RADIUS)
            .inner_margin(Margin::symmetric(16, 8));
        frame.show(ui, |ui| {
            ui.horizontal(|ui| {
                let (rect, _) = ui.allocate_exact_size(vec2(20.0, 20.0), Sense::hover());
                state.paint(ui.painter(), rect.center(), p);
                let from_right = Layout::right_to_left(Align::Center);
                ui.with_layout(from_right, |ui| {
                    if ui.button(Action::PutAway(0).label()).clicked() {
                        actions.push(Action::PutAway(notice.id));
                    }
                    ui.with_layout(Layout::left_to_right(Align::Center), |ui| {
                        let text = Type::Label.text(ui, notice.text.as_str());
                        let label = ui.add(egui::Label::new(text).wrap());
                        label.accessible_name(state.spoken(&notice.text));
                    });
                });
            });
        });
        ui.add_space(8.0);
    }
    if count > MOST {
        ui.label(Type::Note.soft(ui, format!("{} more below these", count - MOST)));
    }
}
