//! The travel of a trigger as a bar: rest, thresholds, full, and where it stands now.
use egui::{Align2, Painter, Rect, Response, Role, Sense, Stroke, Ui, WidgetInfo, pos2, vec2};

use super::numbers::number;
use crate::gui::look::{Palette, Type};

/// What the bar shows; all in raw counts.
#[derive(Clone, Debug, Default)]
pub struct Travel {
    /// Greatest raw code.
    pub full_scale: f64,
    /// Released level.
    pub rest: Option<f64>,
    /// Fully pulled level.
    pub full: Option<f64>,
    /// Pressed from here, released from there.
    pub thresholds: Option<[f64; 2]>,
    /// Now.
    pub now: Option<f64>,
    /// The trigger can be moved from here (virtual board).
    pub draggable: bool,
}

/// Draws the bar over the free width, about 84 points high; gives the raw count it is dragged to.
pub fn travel_ui(ui: &mut Ui, name: &str, travel: &Travel) -> (Response, Option<f64>) {
    let p = Palette::of(ui);
    let sense = if travel.draggable { Sense::click_and_drag() } else { Sense::hover() };
    let (rect, response) = ui.allocate_exact_size(vec2(ui.available_width(), 84.0), sense);
    response.widget_info(|| {
        let now =
            travel.now.map_or("no reading".to_owned(), |v| format!("now {} counts", number(v, 0)));
        WidgetInfo::labeled(Role::Meter, true, format!("Travel of the {name}, {now}"))
    });
    let painter = ui.painter_at(rect);
    let bar =
        Rect::from_min_max(rect.min + vec2(8.0, 30.0), pos2(rect.right() - 8.0, rect.top() + 54.0));
    let x = |v: f64| bar.left() + (v / travel.full_scale.max(1.0)) as f32 * bar.width();
    painter.rect_filled(bar, 4.0, p.faint);
    if let (Some(rest), Some(now)) = (travel.rest, travel.now) {
        let (a, b) = (x(rest.min(now)), x(rest.max(now)));
        let pulled = Rect::from_min_max(pos2(a, bar.top() + 4.0), pos2(b, bar.bottom() - 4.0));
        painter.rect_filled(pulled, 2.0, p.trigger);
    }
    marks_ui(&painter, p, rect, bar, travel);
    if let Some(v) = travel.now {
        painter.circle(pos2(x(v), bar.center().y), 6.0, p.accent, Stroke::new(1.5, p.card));
    }
    if response.has_focus() {
        let frame = Stroke::new(2.0, p.accent);
        painter.rect_stroke(bar.expand(6.0), 6.0, frame, egui::StrokeKind::Inside);
    }
    let held = travel.draggable && response.is_pointer_button_down_on();
    let to = held.then(|| response.interact_pointer_pos()).flatten().map(|at| {
        let share = ((at.x - bar.left()) / bar.width()).clamp(0.0, 1.0);
        f64::from(share) * travel.full_scale
    });
    (response, to)
}

/// The levels and thresholds with their words above and below the bar.
fn marks_ui(painter: &Painter, p: &Palette, rect: Rect, bar: Rect, travel: &Travel) {
    let x = |v: f64| bar.left() + (v / travel.full_scale.max(1.0)) as f32 * bar.width();
    // Words above the bar from the left on: none begins where the one before it has not ended.
    let mut free_from = rect.left();
    let mut line = |at: Option<f64>, words: &str, above: bool| {
        let Some(v) = at else { return };
        let px = x(v);
        painter.vline(px, bar.expand(4.0).y_range(), Stroke::new(2.0, p.ink));
        let words = format!("{words} {}", number(v, 0));
        let (y, align) = match (above, px > bar.center().x) {
            (true, true) => (bar.top() - 6.0, Align2::RIGHT_BOTTOM),
            (true, false) => (bar.top() - 6.0, Align2::LEFT_BOTTOM),
            (false, true) => (bar.bottom() + 6.0, Align2::RIGHT_TOP),
            (false, false) => (bar.bottom() + 6.0, Align2::LEFT_TOP),
        };
        let galley = painter.layout_no_wrap(words, Type::Note.font(), p.soft);
        let mut place = align.anchor_size(pos2(px, y), galley.size());
        if above {
            place = place.translate(vec2((free_from - place.left()).max(0.0), 0.0));
            free_from = place.right() + 10.0;
        }
        painter.galley(place.min, galley, p.soft);
    };
    let mut ends = [(travel.rest, "released"), (travel.full, "full")];
    if travel.full < travel.rest {
        ends.reverse();
    }
    for (at, words) in ends {
        line(at, words, true);
    }
    line(travel.thresholds.map(|t| t[0]), "pressed from", false);
    if let Some(v) = travel.thresholds.map(|t| t[1]) {
        let ends = [pos2(x(v), bar.top() - 4.0), pos2(x(v), bar.bottom() + 4.0)];
        painter.extend(egui::Shape::dashed_line(&ends, Stroke::new(1.5, p.ink), 4.0, 3.0));
    }
}
