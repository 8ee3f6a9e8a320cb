//! The timeline over the whole session: overview kept between frames, play controls, marks.
use egui::{Rect, Ui, UiBuilder, pos2, vec2};

use super::actions::Action;
use super::look::{Palette, size};
use super::parts::lane::Extent;
use super::parts::timeline::{OverviewLane, Timeline, overview_rect, timeline_ui};
use super::stations::traces::channels::FieldRows;
use super::stations::traces::sampling::{column_rows, extents};
use crate::desk::Desk;
use crate::rig::AxisId;
use crate::wire::Role;

/// Lanes of the overview, computed anew only when the session or the width changed.
#[derive(Default)]
pub struct Overview {
    made_of: (usize, usize),
    lanes: Vec<(AxisId, Vec<Extent>, [f32; 2])>,
}

impl Overview {
    /// Draws the timeline and its controls.
    pub fn timeline_ui(&mut self, ui: &mut Ui, desk: &Desk, actions: &mut Vec<Action>) {
        let p = Palette::of(ui);
        let rect = ui.available_rect_before_wrap();
        self.follow(desk, overview_rect(rect).width() as usize);
        let lanes: Vec<OverviewLane<'_>> = self
            .lanes
            .iter()
            .map(|(axis, extents, range)| OverviewLane {
                name: axis.key(),
                extents,
                range: *range,
                colour: p.axis(*axis),
            })
            .collect();
        let session = desk.session();
        let marks: Vec<(u64, &str)> = session
            .stamps()
            .iter()
            .map(|s| (desk.timebase().time_us(session.row_of(s)), s.word.as_str()))
            .collect();
        let transport = desk.transport;
        let live = desk.link().state.is_some();
        let timeline = Timeline {
            state: match (transport.following, transport.playing, live) {
                (true, _, true) => "live",
                (true, _, false) => "at the end",
                (false, true, _) => "playing",
                (false, false, _) => "paused",
            },
            span_us: [0, desk.timebase().end_us()],
            head_us: transport.at_us,
            lanes: &lanes,
            marks: &marks,
            window_us: None,
        };
        if let (_, Some(t_us)) = timeline_ui(ui, &timeline) {
            actions.push(Action::Seek(t_us));
        }
        let left = Rect::from_min_max(
            rect.min + vec2(16.0, 54.0),
            pos2(rect.left() + size::RAIL - 8.0, rect.bottom() - 4.0),
        );
        ui.scope_builder(UiBuilder::new().max_rect(left), |ui| {
            ui.spacing_mut().button_padding = vec2(8.0, 2.0);
            ui.spacing_mut().item_spacing.x = 4.0;
            ui.horizontal(|ui| controls_ui(ui, desk, actions));
        });
    }

    fn follow(&mut self, desk: &Desk, width: usize) {
        let session = desk.session();
        if self.made_of == (session.rows(), width) {
            return;
        }
        // While live, a new picture for every thousandth of the session is soon enough.
        let grown = session.rows().abs_diff(self.made_of.0);
        if width == self.made_of.1 && grown * 1000 < session.rows() {
            return;
        }
        self.made_of = (session.rows(), width);
        let end_us = desk.timebase().end_us().max(1);
        let columns: Vec<_> = (0..width as u64)
            .map(|k| Some([end_us * k / width as u64, end_us * (k + 1) / width as u64 + 1]))
            .collect();
        let of = |axis: AxisId| Some((axis, session.field_of(Role::Axis(axis))?));
        let sticks = [AxisId::Lx, AxisId::Ly, AxisId::Rx, AxisId::Ry].into_iter().filter_map(of);
        let mut rows = None;
        self.lanes = sticks
            .map(|(axis, field)| {
                let source = FieldRows { session, timebase: desk.timebase(), field };
                let rows = rows.get_or_insert_with(|| column_rows(&source, &columns));
                let (low, high) = session.span_of(field, 0..session.rows()).unwrap_or((0, 1));
                // Noise alone must not fill a lane: at least a tenth of the greatest reading.
                let least = high.abs().max(low.abs()) as f32 * 0.1;
                let pad = (least - (high - low) as f32).max(2.0) / 2.0;
                let range = [low as f32 - pad, high as f32 + pad];
                (axis, extents(&source, rows), range)
            })
            .collect();
    }
}

fn controls_ui(ui: &mut Ui, desk: &Desk, actions: &mut Vec<Action>) {
    let transport = desk.transport;
    let some = if desk.session().rows() > 0 { Ok(()) } else { Err("There is no session yet") };
    let play = if transport.playing { "Pause" } else { "Play" };
    let button = ui.add_enabled(some.is_ok(), egui::Button::new(play));
    if button.on_hover_text("Play or pause (P)").clicked() {
        actions.push(Action::Play);
    }
    if transport.following {
        return;
    }
    if ui.button("Newest").on_hover_text("Stay at the newest frame (L)").clicked() {
        actions.push(Action::Follow);
    }
    let speed = egui::Button::new(format!("×{}", transport.speed));
    if ui.add(speed).on_hover_text("Faster; the key [ slows down").clicked() {
        actions.push(Action::Speed(1));
    }
}
