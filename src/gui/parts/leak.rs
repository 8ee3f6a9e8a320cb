//! The cost of a dead zone: leak bound and lost travel over its radius, with the radius chosen.
use egui::{Align2, Pos2, Response, Role, Sense, Shape, Stroke, Ui, WidgetInfo, vec2};

use super::area::{Area, note, round_steps};
use super::numbers::number;
use super::state_mark::dot;
use crate::gui::look::{Palette, Type};
use crate::trim::DeadZone;

/// Smallest leak shown: one in ten thousand.
const LEAST_LEAK: f64 = 1e-4;

/// Draws leak (solid, logarithmic) and lost travel (dashed) over the radius, `height` high.
pub fn leak_ui(ui: &mut Ui, zone: &DeadZone, height: f32) -> Response {
    let p = Palette::of(ui);
    let width = ui.available_width();
    ui.label(Type::Note.soft(ui, "releases that leak, at most (solid); travel lost (dashed)"));
    let (rect, response) = ui.allocate_exact_size(vec2(width, height), Sense::hover());
    response.widget_info(|| {
        let said = format!(
            "Dead zone {} counts loses {} % of travel; {}",
            number(zone.radius_counts, 1),
            number(zone.radius_fraction * 100.0, 1),
            zone.promise()
        );
        WidgetInfo::labeled(Role::Image, true, said)
    });
    let painter = ui.painter_at(rect.expand(2.0));
    let inner = egui::Rect::from_min_max(rect.min + vec2(60.0, 8.0), rect.max - vec2(60.0, 24.0));
    let far = zone.leak.last().map_or(1.0, |l| l.radius_counts).max(zone.radius_counts * 1.2);
    let leak = Area { rect: inner, x: [0.0, far], y: [LEAST_LEAK.log10(), 0.0] };
    for (share, words) in
        [(1.0, "all"), (0.1, "10 %"), (0.01, "1 %"), (0.001, "0.1 %"), (1e-4, "0.01 %")]
    {
        leak.rule_y(&painter, p, f64::log10(share), words);
    }
    for x in round_steps(0.0, far, (inner.width() / 80.0) as usize) {
        leak.rule_x(&painter, p, x, &number(x, 0));
    }
    let most = zone.leak.iter().map(|l| l.lost_travel).fold(zone.radius_fraction, f64::max);
    let lost = Area { y: [0.0, (most * 1.1).max(0.05)], ..leak };
    for y in round_steps(0.0, lost.y[1], 4) {
        let at = egui::pos2(inner.right() + 8.0, lost.py(y));
        note(&painter, at, Align2::LEFT_CENTER, &format!("{} %", number(y * 100.0, 0)), p.soft);
    }
    let points: Vec<Pos2> = zone
        .leak
        .iter()
        .map(|l| leak.at(l.radius_counts, l.leak_upper.max(LEAST_LEAK).log10()))
        .collect();
    painter.add(Shape::line(points, Stroke::new(2.0, p.ink)));
    let points: Vec<Pos2> =
        zone.leak.iter().map(|l| lost.at(l.radius_counts, l.lost_travel)).collect();
    painter.extend(Shape::dashed_line(&points, Stroke::new(1.5, p.ink), 6.0, 4.0));
    let x = leak.px(zone.radius_counts);
    painter.vline(x, inner.y_range(), Stroke::new(1.5, p.accent));
    dot(&painter, lost.at(zone.radius_counts, zone.radius_fraction), 5.0, p.accent, p.card);
    under_pointer(&response, &leak, zone);
    response
}

/// What a radius under the pointer would cost.
fn under_pointer(response: &Response, area: &Area, zone: &DeadZone) {
    let Some(at) = response.hover_pos() else { return };
    let radius = area.value_x(at.x);
    let near = zone.leak.iter().min_by(|a, b| {
        let away = |l: &crate::trim::LeakPoint| (l.radius_counts - radius).abs();
        away(a).total_cmp(&away(b))
    });
    if let Some(point) = near {
        response.show_tooltip_text(format!(
            "{} counts: at most {} % of releases leak, {} % of travel is lost",
            number(point.radius_counts, 1),
            number(point.leak_upper * 100.0, 2),
            number(point.lost_travel * 100.0, 1)
        ));
    }
}
