//! The cost of a dead zone: leak bound and lost travel over its radius, which can be dragged.
use egui::{
    Align2, EventFilter, Key, Pos2, Rect, Response, Sense, Shape, Stroke, Ui, WidgetInfo, vec2,
};

use super::area::{Area, note, round_steps};
use super::numbers::number;
use super::state_mark::dot;
use crate::gui::look::{Palette, Type};
use crate::trim::DeadZone;

/// Smallest leak shown: one in ten thousand.
const LEAST_LEAK: f64 = 1e-4;
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

/// Draws leak (solid, logarithmic) and lost travel (dashed) over the radius, `height` high, with the
/// radius as it is shown now.
pub fn leak_ui(ui: &mut Ui, zone: &DeadZone, radius: f64, height: f32) -> Option<Held> {
    let p = Palette::of(ui);
    let width = ui.available_width();
    ui.label(Type::Note.soft(ui, "releases that leak, at most (solid); travel lost (dashed)"));
    let (rect, response) = ui.allocate_exact_size(vec2(width, height), Sense::click_and_drag());
    response.widget_info(|| WidgetInfo::slider(true, radius, spoken(zone, radius)));
    let painter = ui.painter_at(rect.expand(2.0));
    let inner = Rect::from_min_max(rect.min + vec2(60.0, 20.0), rect.max - vec2(60.0, 24.0));
    let (leak, lost) = areas(zone, inner);
    rules(&painter, p, zone, &leak, &lost);
    let points: Vec<Pos2> = zone
        .leak
        .iter()
        .map(|l| leak.at(l.radius_counts, l.leak_upper.max(LEAST_LEAK).log10()))
        .collect();
    painter.add(Shape::line(points, Stroke::new(2.0, p.ink)));
    let points: Vec<Pos2> =
        zone.leak.iter().map(|l| lost.at(l.radius_counts, l.lost_travel)).collect();
    painter.extend(Shape::dashed_line(&points, Stroke::new(1.5, p.ink), 6.0, 4.0));
    let proposed = leak.px(zone.proposed_counts).round();
    let ends = [Pos2::new(proposed, inner.top() - 4.0), Pos2::new(proposed, inner.bottom())];
    painter.extend(Shape::dashed_line(&ends, Stroke::new(1.0, p.ink), 5.0, 4.0));
    let at = Pos2::new(proposed, inner.top() - 4.0);
    note(&painter, at, Align2::CENTER_BOTTOM, "proposed", p.soft);
    let cost = zone.cost_of(radius);
    painter.vline(leak.px(radius), inner.y_range(), Stroke::new(2.0, p.accent));
    dot(&painter, lost.at(radius, cost.lost_travel), 5.0, p.accent, p.card);
    let height = cost.leak_upper.clamp(LEAST_LEAK, 1.0).log10();
    dot(&painter, leak.at(radius, height), 5.0, p.accent, p.card);
    if response.has_focus() {
        painter.rect_stroke(rect, 4.0, Stroke::new(2.0, p.accent), egui::StrokeKind::Inside);
    }
    held(ui, response, &leak, radius)
}

/// The radius with both of its consequences, in words.
fn spoken(zone: &DeadZone, radius: f64) -> String {
    let cost = zone.cost_of(radius);
    format!(
        "Dead zone {} counts loses {} % of travel, at most {} % of releases leak; {} counts are \
         proposed",
        number(radius, 1),
        number(cost.lost_travel * 100.0, 1),
        number(cost.leak_upper * 100.0, 1),
        number(zone.proposed_counts, 1),
    )
}

/// Leak and lost travel over the same radii.
fn areas(zone: &DeadZone, inner: Rect) -> (Area, Area) {
    // The scale depends on the data alone, so that it does not move under the hand.
    let far = zone.leak.last().map_or(1.0, |l| l.radius_counts).max(zone.proposed_counts * 1.2);
    let leak = Area { rect: inner, x: [0.0, far], y: [LEAST_LEAK.log10(), 0.0] };
    let most = zone.leak.iter().map(|l| l.lost_travel).fold(0.0, f64::max);
    (leak, Area { y: [0.0, (most * 1.1).max(0.05)], ..leak })
}

fn rules(painter: &egui::Painter, p: &Palette, zone: &DeadZone, leak: &Area, lost: &Area) {
    let inner = leak.rect;
    for (share, words) in
        [(1.0, "all"), (0.1, "10 %"), (0.01, "1 %"), (0.001, "0.1 %"), (1e-4, "0.01 %")]
    {
        leak.rule_y(painter, p, f64::log10(share), words);
    }
    let steps = round_steps(0.0, leak.x[1], (inner.width() / 80.0) as usize);
    let last = steps.last().copied();
    for x in steps {
        let unit = if Some(x) == last { " counts" } else { "" };
        leak.rule_x(painter, p, x, &format!("{}{unit}", number(x, 0)));
    }
    for y in round_steps(0.0, lost.y[1], 4) {
        let at = egui::pos2(inner.right() + 8.0, lost.py(y));
        let words = format!("{} %", number(y * 100.0, 0));
        note(painter, at, Align2::LEFT_CENTER, &words, p.soft);
    }
    debug_assert!(zone.leak.is_sorted_by(|a, b| a.radius_counts <= b.radius_counts));
}

/// By the pointer, or by the arrow keys while it has the focus.
fn held(ui: &Ui, response: Response, area: &Area, radius: f64) -> Option<Held> {
    let [least, most] = [LEAST_RADIUS, area.x[1]];
    let under = response.interact_pointer_pos().map(|at| area.value_x(at.x).clamp(least, most));
    let clicked = response.clicked_by(egui::PointerButton::Primary);
    if response.drag_stopped() || clicked {
        response.request_focus();
        return Some(Held::LetGo(under.unwrap_or(radius)));
    }
    if let (true, Some(under)) = (response.dragged(), under) {
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
    response
        .on_hover_cursor(egui::CursorIcon::ResizeHorizontal)
        .on_hover_text("Drag, or use the arrow keys, to choose another radius");
    None
}
