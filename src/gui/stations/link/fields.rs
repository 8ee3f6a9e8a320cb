//! The fields of a line: name, how it moves, its value now, and the role that a person may choose.
use egui::{Align2, ComboBox, Rect, ScrollArea, Sense, Stroke, Ui, pos2, vec2};

use super::super::View;
use super::{lines, roles};
use crate::gui::actions::Action;
use crate::gui::look::{Palette, Type};
use crate::gui::parts::lane;
use crate::gui::stations::traces::channels::FieldRows;
use crate::gui::stations::traces::sampling::{Rows, column_rows, extents};
use crate::wire::Role;

/// Length of the small trace beside each field, µs.
const SPAN_US: u64 = 2_000_000;
/// Height of a row.
const ROW: f32 = 32.0;

/// Draws one row a field.
pub fn fields_ui(ui: &mut Ui, view: &View<'_>, actions: &mut Vec<Action>) {
    let session = view.desk.session();
    let Some(dialect) = session.dialect().cloned() else {
        let sentence = "The fields of a line will stand here once its form is recognised";
        ui.label(Type::Label.soft(ui, sentence));
        return;
    };
    ui.label(Type::Note.soft(ui, "last 2 s, value now, and what it means"));
    let rows = session.rows();
    ScrollArea::vertical().auto_shrink([false, false]).show_rows(
        ui,
        ROW - ui.spacing().item_spacing.y,
        dialect.fields.len(),
        |ui, range| {
            for k in range {
                let name = dialect.fields[k].name.as_str();
                field_ui(ui, view, k, name, rows, actions);
            }
        },
    );
}

fn field_ui(
    ui: &mut Ui,
    view: &View<'_>,
    field: usize,
    name: &str,
    rows: usize,
    actions: &mut Vec<Action>,
) {
    let p = Palette::of(ui);
    let desk = view.desk;
    let session = desk.session();
    let role = session.roles().get(field).copied().unwrap_or(Role::Ignore);
    let height = ROW - ui.spacing().item_spacing.y;
    ui.horizontal(|ui| {
        ui.set_height(height);
        let (rect, _) = ui.allocate_exact_size(vec2(72.0, height), Sense::hover());
        let at = pos2(rect.left(), rect.center().y);
        let text = ui.painter().with_clip_rect(rect.intersect(ui.clip_rect()));
        text.text(at, Align2::LEFT_CENTER, name, Type::Label.font(), p.ink);
        let combo_width = if ui.available_width() < 360.0 { 136.0 } else { 176.0 };
        let wide = (ui.available_width() - 76.0 - combo_width - 40.0).max(40.0);
        let (rect, _) = ui.allocate_exact_size(vec2(wide, height), Sense::hover());
        strip_ui(ui, view, field, rect.shrink2(vec2(0.0, 3.0)));
        let now = rows.checked_sub(1).and_then(|r| session.column_part(field, r..rows).pop());
        let now = now.map_or("–".to_owned(), |cell| lines::shown(desk, field, cell));
        let (rect, _) = ui.allocate_exact_size(vec2(76.0, height), Sense::hover());
        let at = pos2(rect.right(), rect.center().y);
        ui.painter().text(at, Align2::RIGHT_CENTER, now, Type::Note.font(), p.ink);
        let combo = ComboBox::from_id_salt(("role", field))
            .width(combo_width)
            .truncate()
            .selected_text(Type::Note.text(ui, roles::words(role)));
        let shown = combo.show_ui(ui, |ui| {
            for choice in roles::choices(16) {
                let words = roles::words(choice);
                if ui.selectable_label(choice == role, words).clicked() && choice != role {
                    actions.push(Action::SetRole { field, role: choice });
                }
            }
        });
        shown.response.accessible_name(format!("Role of field {name}"));
    });
}

/// The last seconds of a field, between its own extremes.
fn strip_ui(ui: &Ui, view: &View<'_>, field: usize, rect: Rect) {
    let p = Palette::of(ui);
    let desk = view.desk;
    let source = FieldRows { session: desk.session(), timebase: desk.timebase(), field };
    let end_us = desk.transport.at_us;
    let from_us = end_us.saturating_sub(SPAN_US);
    ui.painter().hline(rect.x_range(), rect.bottom(), Stroke::new(1.0, p.rule));
    let count = rect.width().max(1.0) as usize / 2;
    let columns: Vec<_> = (0..count as u64)
        .map(|k| {
            let edge = |k: u64| from_us + SPAN_US * k / count.max(1) as u64;
            Some([edge(k), edge(k + 1)])
        })
        .collect();
    let first = source.row_at(from_us);
    let Some((low, high)) = source.min_max(first..source.row_at(end_us + 1)) else { return };
    let (low, high) = (low as f32, high as f32);
    let pad = ((high - low) * 0.1).max(1.0);
    let role = desk.session().roles().get(field);
    let colour = match role {
        Some(Role::Axis(axis)) => p.axis(*axis),
        _ => p.soft,
    };
    let extents = extents(&source, &column_rows(&source, &columns));
    lane::band(ui.painter(), rect, &extents, [low - pad, high + pad], colour);
}
