//! The fields of a line: name, how it moves, its value now, and the role that a person may choose.
use egui::{Align2, ComboBox, Rect, ScrollArea, Sense, Stroke, Ui, pos2, vec2};

use super::super::View;
use super::{lines, roles};
use crate::gui::actions::Action;
use crate::gui::look::{Palette, Type};
use crate::gui::stations::live;
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
        let (rect, _) = ui.allocate_exact_size(vec2(64.0, height), Sense::hover());
        let at = pos2(rect.left(), rect.center().y);
        let text = ui.painter().with_clip_rect(rect.intersect(ui.clip_rect()));
        text.text(at, Align2::LEFT_CENTER, name, Type::Label.font(), p.ink);
        let combo_width = if ui.available_width() < 300.0 { 136.0 } else { 168.0 };
        let wide = (ui.available_width() - 76.0 - combo_width - 28.0).max(40.0);
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
    let colour = match view.desk.session().roles().get(field) {
        Some(Role::Axis(axis)) => p.axis(*axis),
        _ => p.soft,
    };
    ui.painter().hline(rect.x_range(), rect.bottom(), Stroke::new(1.0, p.rule));
    live::strip(ui.painter(), view.desk, field, rect, SPAN_US, None, colour);
}
