//! A row of choices, one of them in force: bold and underlined, so that it is not only a colour.
use egui::{Align2, Rect, Role, Sense, Stroke, StrokeKind, Ui, WidgetInfo, pos2, vec2};

use crate::gui::look::{Palette, Type};

/// Draws the names side by side; gives the one that was clicked.
pub fn choice_ui(ui: &mut Ui, names: &[&str], chosen: usize) -> Option<usize> {
    let mut clicked = None;
    ui.horizontal(|ui| {
        ui.spacing_mut().item_spacing.x = 4.0;
        for (k, name) in names.iter().enumerate() {
            if toggle_ui(ui, name, k == chosen, "") {
                clicked = Some(k);
            }
        }
    });
    clicked
}

/// One choice by itself, on or off; gives true when it was clicked.
pub fn toggle_ui(ui: &mut Ui, name: &str, on: bool, hint: &str) -> bool {
    let p = Palette::of(ui);
    let font = if on { Type::Chosen } else { Type::Label };
    // As wide as the bold form, so that nothing moves when it is chosen.
    let wide = Type::Chosen.width(ui, name);
    let (rect, response) = ui.allocate_exact_size(vec2(wide + 20.0, 28.0), Sense::click());
    response.widget_info(|| WidgetInfo::selected(Role::Button, ui.is_enabled(), on, name));
    let painter = ui.painter();
    if response.hovered() {
        painter.rect_filled(rect, 4.0, p.faint);
    }
    if response.has_focus() {
        painter.rect_stroke(rect, 4.0, Stroke::new(2.0, p.accent), StrokeKind::Inside);
    }
    painter.text(rect.center(), Align2::CENTER_CENTER, name, font.font(), p.ink);
    if on {
        let bar = Rect::from_min_max(
            pos2(rect.left() + 10.0, rect.bottom() - 3.0),
            pos2(rect.right() - 10.0, rect.bottom() - 1.0),
        );
        painter.rect_filled(bar, 0.0, p.accent);
    }
    let clicked = response.clicked();
    if !hint.is_empty() {
        response.on_hover_text(hint);
    }
    clicked
}
