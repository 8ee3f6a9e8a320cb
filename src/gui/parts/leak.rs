//! The cost of a dead zone: leak bound over its radius and the travel lost, which can be dragged.
use egui::{EventFilter, Key, Response, Ui, WidgetInfo, vec2};

use super::chart::{Drawn, Hand, chart_ui};
use crate::emit::chart::{self, Chart};
use crate::trim::DeadZone;

/// Smallest radius that can be chosen, counts.
pub const LEAST_RADIUS: f64 = 0.5;
/// What an arrow key changes, counts.
pub const STEP: f64 = 0.5;

/// What is done to the radius.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Held {
    /// It is being dragged and stands here now, counts.
    At(f64),
    /// It was let go here: that is the choice, counts.
    LetGo(f64),
}

/// Draws the leak over the radius, in counts and in travel lost, `height` high, with the radius as it
/// is shown now.
pub fn leak_ui(ui: &mut Ui, zone: &DeadZone, radius: f64, height: f32) -> Option<Held> {
    let chart = chart::leak(zone, radius);
    let drawn = chart_ui(ui, &chart, vec2(ui.available_width(), height), Hand::Drags);
    let words = chart.words.as_str();
    drawn.response.widget_info(|| WidgetInfo::slider(true, radius, words));
    let leak = zone.cost_of(radius).leak_upper * 100.0;
    drawn.now(ui, &chart, [radius, leak.max(chart::LEAST_LEAK)]);
    drawn.focus(ui);
    held(ui, &drawn, &chart, radius)
}

/// By the pointer, or by the arrow keys while it has the focus.
fn held(ui: &Ui, drawn: &Drawn, chart: &Chart, radius: f64) -> Option<Held> {
    let response: Response = drawn.response.clone();
    let [least, most] = [LEAST_RADIUS, chart.x.range[1]];
    let at = response.interact_pointer_pos();
    let under = at.map(|at| drawn.values(chart, at)[0].clamp(least, most));
    // The right button draws a box that is zoomed to.
    let primary = egui::PointerButton::Primary;
    let let_go = response.drag_stopped_by(primary);
    let clicked = response.clicked_by(primary);
    if let_go || clicked {
        response.request_focus();
        return Some(Held::LetGo(under.unwrap_or(radius)));
    }
    if let (true, Some(under)) = (response.dragged_by(primary), under) {
        return Some(Held::At(under));
    }
    if response.has_focus() {
        let arrows = EventFilter { horizontal_arrows: true, ..EventFilter::default() };
        ui.memory_mut(|m| m.set_focus_lock_filter(response.id, arrows));
        let pressed = |key| f64::from(u8::from(ui.input(|i| i.key_pressed(key))));
        let steps = pressed(Key::ArrowRight) - pressed(Key::ArrowLeft);
        if steps != 0.0 {
            return Some(Held::LetGo((radius + steps * STEP).clamp(least, most)));
        }
    }
    response.on_hover_cursor(egui::CursorIcon::ResizeHorizontal);
    None
}
