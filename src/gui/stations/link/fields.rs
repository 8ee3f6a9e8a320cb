//! The fields of a line: name, how it moves, its value now, and the role that a person may choose.
use crate::measure::DASH;
use egui::{Align2, ComboBox, Rect, ScrollArea, Sense, Stroke, Ui, pos2, vec2};

use super::super::View;
use super::{lines, roles};
use crate::desk::Desk;
use crate::gui::actions::{Action, EditVerb};
use crate::gui::look::{Palette, Type};
use crate::gui::parts::ruler::Ruler;
use crate::gui::stations::live;
use crate::session::ColumnRead;
use crate::wire::Role;

/// Length of the small trace beside each field, µs: so many rows where nothing tells the time.
const SPAN_US: u64 = 2_000_000;
/// Height of a row.
const ROW: f32 = 32.0;

/// The value of each field in the newest row, in words.
pub fn newest(desk: &Desk) -> Vec<String> {
    let session = desk.session();
    let rows = session.rows();
    let last = rows.saturating_sub(1)..rows;
    let of = |field: usize| {
        let cell = session.column_part(field, last.clone()).pop();
        cell.map_or(DASH.to_owned(), |cell| lines::shown(desk, field, cell))
    };
    (0..session.roles().len()).map(of).collect()
}

/// Draws one row a field; `newest` are their values as they are read.
pub fn fields_ui(ui: &mut Ui, view: &View<'_>, newest: &[String], actions: &mut Vec<Action>) {
    let session = view.desk.session();
    let Some(dialect) = session.dialect().cloned() else {
        let sentence = "The fields of a line will stand here once its form is recognised";
        ui.label(Type::Label.soft(ui, sentence));
        return;
    };
    let span = Ruler::of(view.desk.row_us()).length(SPAN_US);
    ui.label(Type::Note.soft(ui, format!("last {span}, value now, and what it means")));
    ScrollArea::vertical().auto_shrink([false, false]).show_rows(
        ui,
        ROW - ui.spacing().item_spacing.y,
        dialect.fields.len(),
        |ui, range| {
            for k in range {
                let place = format!("field {}", k + 1);
                // A name that was made from the order of the columns says nothing.
                let name = match session.roles_by_order() {
                    true => place.as_str(),
                    false => dialect.fields[k].name.as_str(),
                };
                let now = newest.get(k).map_or(DASH, String::as_str);
                field_ui(ui, view, k, [name, now], actions);
            }
        },
    );
}

fn field_ui(
    ui: &mut Ui,
    view: &View<'_>,
    field: usize,
    [name, now]: [&str; 2],
    actions: &mut Vec<Action>,
) {
    let p = Palette::of(ui);
    let desk = view.desk;
    let session = desk.session();
    let role = session.roles().get(field).copied().unwrap_or(Role::Ignore);
    let height = ROW - ui.spacing().item_spacing.y;
    ui.horizontal(|ui| {
        ui.set_height(height);
        let (rect, place) = ui.allocate_exact_size(vec2(64.0, height), Sense::hover());
        name_ui(ui, rect, name);
        let read = desk.results().and_then(|results| results.facts.columns.get(field));
        if let Some(column) = read {
            place.on_hover_text(as_read(column));
        }
        let combo_width = if ui.available_width() < 300.0 { 136.0 } else { 168.0 };
        let wide = (ui.available_width() - 76.0 - combo_width - 28.0).max(40.0);
        let (rect, _) = ui.allocate_exact_size(vec2(wide, height), Sense::hover());
        strip_ui(ui, view, field, rect.shrink2(vec2(0.0, 3.0)));
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
                    actions.push(Action::Edit(EditVerb::SetRole(field, choice)));
                }
            }
        });
        shown.response.accessible_name(format!("Role of field {name}"));
    });
}

/// How a column was read, over the whole session.
fn as_read(column: &ColumnRead) -> String {
    let range = column.range_words();
    let over = if range.is_empty() { range } else { format!(", {range}") };
    format!(
        "{}\ntaken for: {}\n{}{over}\n{}",
        column.words(),
        column.taken_for(),
        column.digits(),
        column.fate.words()
    )
}

/// A field's name; only one that is too long is cut, as each cut is a drawing step of its own.
fn name_ui(ui: &Ui, rect: Rect, name: &str) {
    let ink = Palette::of(ui).ink;
    let name = ui.painter().layout_no_wrap(name.to_owned(), Type::Label.font(), ink);
    let at = pos2(rect.left(), rect.center().y - name.size().y / 2.0);
    if name.size().x <= rect.width() {
        ui.painter().galley(at, name, ink);
    } else {
        ui.painter().with_clip_rect(rect.intersect(ui.clip_rect())).galley(at, name, ink);
    }
}

/// The last stretch of a field, between its own extremes.
fn strip_ui(ui: &Ui, view: &View<'_>, field: usize, rect: Rect) {
    let p = Palette::of(ui);
    let colour = match view.desk.session().roles().get(field) {
        Some(Role::Axis(axis)) => p.axis(*axis),
        _ => p.soft,
    };
    ui.painter().hline(rect.x_range(), rect.bottom(), Stroke::new(1.0, p.rule));
    live::strip(ui.painter(), view.desk, field, rect, SPAN_US, None, colour);
}
