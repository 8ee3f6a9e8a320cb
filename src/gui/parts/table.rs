//! A plain table: a label column in ink, then right-aligned columns of values.
use egui::{Align2, Role, Sense, Stroke, Ui, WidgetInfo, pos2, vec2};

use crate::gui::look::{Palette, Type};

/// Height of a row.
pub const ROW: f32 = 22.0;

/// Widest column of values, the width that holds any of them, and the least gap between two.
const WIDEST: f32 = 148.0;
const ROOMY: f32 = 100.0;
const GAP: f32 = 10.0;

/// Pitch of the values and width of the labels where the labels must give up room.
fn narrow(ui: &Ui, headings: &[&str], rows: &[Vec<String>], width: f32) -> (f32, f32) {
    let wide = |text: &str| Type::Note.width(ui, text);
    let values = headings.iter().skip(1).copied();
    let values = values.chain(rows.iter().flat_map(|r| r.iter().skip(1).map(String::as_str)));
    let least = values.map(wide).fold(0.0, f32::max) + GAP;
    let labels = headings.iter().take(1).copied();
    let labels = labels.chain(rows.iter().filter_map(|r| r.first().map(String::as_str)));
    let labels = labels.map(wide).fold(0.0, f32::max);
    let others = headings.len().saturating_sub(1).max(1) as f32;
    (((width - labels) / others).min(WIDEST).max(least), labels)
}

/// Draws the table over the free width; `label_width` for the first column, the rest shared.
///
/// Every row has as many cells as there are headings.
pub fn table_ui(ui: &mut Ui, headings: &[&str], rows: &[Vec<String>], label_width: f32) {
    let p = Palette::of(ui);
    let width = ui.available_width();
    let others = headings.len().saturating_sub(1).max(1) as f32;
    let pitch = ((width - label_width) / others).clamp(0.0, WIDEST);
    let (pitch, label_width) = match pitch < ROOMY {
        true => narrow(ui, headings, rows, width),
        false => (pitch, label_width),
    };
    let spacing = std::mem::replace(&mut ui.spacing_mut().item_spacing.y, 0.0);
    let (rect, _) = ui.allocate_exact_size(vec2(width, ROW), Sense::hover());
    let line = |ui: &Ui, rect: egui::Rect, cells: &mut dyn Iterator<Item = &str>, head: bool| {
        for (k, cell) in cells.enumerate() {
            let (x, align) = match k {
                0 => (rect.left(), Align2::LEFT_CENTER),
                _ => (rect.left() + label_width + k as f32 * pitch, Align2::RIGHT_CENTER),
            };
            let ink = if head || k == 0 { p.soft } else { p.ink };
            ui.painter().text(pos2(x, rect.center().y), align, cell, Type::Note.font(), ink);
        }
    };
    line(ui, rect, &mut headings.iter().copied(), true);
    ui.painter().hline(rect.x_range(), rect.bottom(), Stroke::new(1.0, p.rule));
    for row in rows {
        let (rect, response) = ui.allocate_exact_size(vec2(width, ROW), Sense::hover());
        response.widget_info(|| WidgetInfo::labeled(Role::Row, true, spoken(headings, row)));
        line(ui, rect, &mut row.iter().map(String::as_str), false);
    }
    ui.spacing_mut().item_spacing.y = spacing;
}

fn spoken(headings: &[&str], row: &[String]) -> String {
    let cells = headings.iter().zip(row).skip(1).map(|(h, c)| format!("{h} {c}"));
    let cells: Vec<String> = cells.collect();
    format!("{}: {}", row.first().map_or("", String::as_str), cells.join(", "))
}

/// The table as text with tabs, for the clipboard.
pub fn as_text(headings: &[&str], rows: &[Vec<String>]) -> String {
    let mut text = headings.join("\t");
    for row in rows {
        text.push('\n');
        text.push_str(&row.join("\t"));
    }
    text
}
