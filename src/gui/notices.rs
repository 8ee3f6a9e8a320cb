//! Notices above the page: what happened, what to do next, until they are put away; work under way.
use std::time::Duration;

use egui::{Align, Frame, Layout, Margin, Sense, Stroke, Ui, vec2};

use super::actions::{Action, LinkVerb, WindowVerb};
use super::look::{Palette, Type, size};
use super::parts::numbers;
use super::parts::state_mark::State;
use super::stations::action_button;
use crate::desk::{DONE_STANDS, Desk, FeedKind, Notices, Weight};

/// Work that ends sooner is not worth a word.
const QUICK: Duration = Duration::from_millis(300);
/// Notices shown at once; older ones wait until these are put away.
const MOST: usize = 3;

/// Draws the newest notices, each with a button to put it away.
pub fn notices_ui(ui: &mut Ui, notices: &Notices, actions: &mut Vec<Action>) {
    let p = Palette::of(ui);
    let count = notices.list().count();
    for notice in notices.list().rev().take(MOST) {
        if notice.weight == Weight::Done {
            let left = DONE_STANDS.saturating_sub(notice.since.elapsed());
            ui.ctx().request_repaint_after(left + Duration::from_millis(20));
        }
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
                    if ui.button(Action::Window(WindowVerb::PutAway(0)).label()).clicked() {
                        actions.push(Action::Window(WindowVerb::PutAway(notice.id)));
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

/// Draws how far a file has been read or measured, with a way to stop the reading.
pub fn progress_ui(ui: &mut Ui, desk: &Desk, actions: &mut Vec<Action>) {
    if desk.busy_for() < QUICK {
        return;
    }
    let link = desk.link();
    let (words, per_mille, can_stop) = match (desk.opening(), desk.measuring()) {
        (Some(per_mille), _) => {
            let frames = numbers::grouped(desk.session().rows() as u64);
            (format!("Reading {}, {frames} frames so far", link.name), per_mille, true)
        }
        // A live session is measured over and over; that is no news.
        (None, Some(per_mille)) if link.kind == FeedKind::File => {
            (format!("Measuring {}", link.name), per_mille, false)
        }
        _ => return,
    };
    let p = Palette::of(ui);
    let frame = Frame::new()
        .fill(p.card)
        .stroke(Stroke::new(1.0, p.rule))
        .corner_radius(size::CARD_RADIUS)
        .inner_margin(Margin::symmetric(16, 8));
    frame.show(ui, |ui| {
        ui.horizontal(|ui| {
            let said = format!("{words}, {} %", per_mille / 10);
            let label = ui.label(Type::Label.text(ui, words));
            label.accessible_name(said.as_str());
            ui.with_layout(Layout::right_to_left(Align::Center), |ui| {
                if can_stop && action_button(ui, &Action::Link(LinkVerb::StopOpening), Ok(())) {
                    actions.push(Action::Link(LinkVerb::StopOpening));
                }
                ui.label(Type::Value.text(ui, format!("{} %", per_mille / 10)));
                let room = vec2((ui.available_width() - 16.0).max(40.0), 8.0);
                let (track, _) = ui.allocate_exact_size(room, Sense::hover());
                ui.painter().rect_filled(track, 4.0, p.faint);
                let mut done = track;
                done.set_width(track.width() * per_mille as f32 / 1000.0);
                ui.painter().rect_filled(done, 4.0, p.accent);
            });
        });
    });
    ui.add_space(8.0);
}
