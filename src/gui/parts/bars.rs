//! Small bar pictures: undulations per turn, histograms.
use egui::{Align2, Rect, Response, Role, Sense, Stroke, Ui, WidgetInfo, pos2, vec2};

use super::area::note;
use crate::gui::look::Palette;

/// Draws `bars` (value, label below) in ink over the free width; the greatest fills the height.
pub fn bars_ui(ui: &mut Ui, name: &str, bars: &[(f64, String)], height: f32) -> Response {
    let p = Palette::of(ui);
    let (rect, response) =
        ui.allocate_exact_size(vec2(ui.available_width(), height), Sense::hover());
    response.widget_info(|| WidgetInfo::labeled(Role::Image, true, name));
    let painter = ui.painter_at(rect);
    let base = rect.bottom() - 20.0;
    painter.hline(rect.x_range(), base, Stroke::new(1.0, p.rule));
    let most = bars.iter().map(|b| b.0).filter(|v| v.is_finite()).fold(0.0, f64::max);
    let pitch = rect.width() / bars.len().max(1) as f32;
    let mut label_free_from = rect.left();
    for (k, (value, label)) in bars.iter().enumerate() {
        let x = rect.left() + (k as f32 + 0.5) * pitch;
        if most > 0.0 && value.is_finite() {
            let tall = (value / most) as f32 * (base - rect.top() - 2.0);
            let wide = (pitch * 0.6).max(1.0);
            let bar =
                Rect::from_min_max(pos2(x - wide / 2.0, base - tall), pos2(x + wide / 2.0, base));
            painter.rect_filled(bar, 1.0, p.ink);
        }
        if !label.is_empty() && x >= label_free_from {
            let used = note(&painter, pos2(x, base + 4.0), Align2::CENTER_TOP, label, p.soft);
            label_free_from = used.right() + used.width() / 2.0 + 4.0;
        }
    }
    response
}
