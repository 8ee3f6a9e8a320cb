//! Raw code to output exactly as the firmware computes it, and where the input stands now.
use egui::{Align2, Response, Role, Sense, Shape, Stroke, Ui, WidgetInfo, pos2, vec2};

use super::area::{Area, note, round_steps};
use super::numbers::number;
use super::state_mark::dot;
use crate::gui::look::{Palette, Type};

/// What the picture shows.
pub struct Staircase<'a> {
    /// Name of the input.
    pub name: &'a str,
    /// Greatest raw code.
    pub full_scale: u16,
    /// Lowest output drawn: −32767 or 0.
    pub lowest: i16,
    /// The firmware's arithmetic.
    pub run: &'a dyn Fn(u16) -> i16,
    /// The raw code now.
    pub now: Option<u16>,
    /// Right half: dashed.
    pub dashed: bool,
}

/// Draws the staircase over the free width, `height` high; one step for each raw code.
pub fn staircase_ui(ui: &mut Ui, stairs: &Staircase<'_>, height: f32) -> Response {
    let p = Palette::of(ui);
    let width = ui.available_width();
    ui.label(
        Type::Note
            .soft(ui, format!("{}, raw code to output as the firmware computes it", stairs.name)),
    );
    let (rect, response) = ui.allocate_exact_size(vec2(width, height), Sense::hover());
    response.widget_info(|| {
        WidgetInfo::labeled(Role::Image, true, format!("Output of {} by raw code", stairs.name))
    });
    let painter = ui.painter_at(rect.expand(2.0));
    let inner = egui::Rect::from_min_max(rect.min + vec2(60.0, 8.0), rect.max - vec2(16.0, 24.0));
    let y = [f64::from(stairs.lowest) * 1.05, 32767.0 * 1.05];
    let area = Area { rect: inner, x: [0.0, f64::from(stairs.full_scale)], y };
    for y in [-32767.0, -16384.0, 0.0, 16384.0, 32767.0] {
        if y >= f64::from(stairs.lowest) {
            area.rule_y(&painter, p, y, &number(y, 0));
        }
    }
    for x in round_steps(0.0, area.x[1], (inner.width() / 80.0) as usize) {
        area.rule_x(&painter, p, x, &number(x, 0));
    }
    // Codes finer than pixels are drawn once a pixel: each of them exact.
    let step = (f64::from(stairs.full_scale) / f64::from(inner.width() * 2.0)).ceil().max(1.0);
    let mut codes: Vec<(u32, i16)> = Vec::new();
    let mut code = 0u32;
    while code <= u32::from(stairs.full_scale) {
        let out = (stairs.run)(code as u16);
        codes.push((code, out));
        code += step as u32;
    }
    // Codes between two of the same output add nothing to the line.
    let kept = codes.iter().enumerate().filter(|(k, (_, out))| {
        let same = |other: Option<&(u32, i16)>| other.is_some_and(|o| o.1 == *out);
        !(same(k.checked_sub(1).and_then(|k| codes.get(k))) && same(codes.get(k + 1)))
    });
    let points: Vec<_> =
        kept.map(|(_, (code, out))| area.at(f64::from(*code), f64::from(*out))).collect();
    if stairs.dashed {
        painter.extend(Shape::dashed_line(&points, Stroke::new(2.0, p.ink), 6.0, 4.0));
    } else {
        painter.add(Shape::line(points, Stroke::new(2.0, p.ink)));
    }
    if let Some(now) = stairs.now {
        let out = (stairs.run)(now);
        let at = area.at(f64::from(now), f64::from(out));
        dot(&painter, at, 5.0, p.accent, p.card);
        let words = format!("{now} gives {}", number(f64::from(out), 0));
        let (x, align) = if at.x < inner.center().x {
            (at.x + 10.0, Align2::LEFT_CENTER)
        } else {
            (at.x - 10.0, Align2::RIGHT_CENTER)
        };
        note(&painter, pos2(x, (at.y - 12.0).max(inner.top() + 8.0)), align, &words, p.ink);
    }
    response
}
