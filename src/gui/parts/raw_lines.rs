//! The last lines as they came, each with its fields or the reason for its refusal.
use egui::{Align2, Pos2, Rect, Role, ScrollArea, Sense, Stroke, Ui, WidgetInfo, pos2, vec2};

use super::state_mark::State;
use crate::gui::look::{Palette, Type};

/// One line, ready to be drawn.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct LineRow {
    /// Line number in the stream.
    pub number: u64,
    /// Its bytes, unprintable ones escaped.
    pub text: String,
    /// The values of its fields in order; none where it gave no frame.
    pub cells: Vec<String>,
    /// Its fields by name, or why it gave no frame.
    pub verdict: String,
    /// A warning where it was refused.
    pub state: State,
}

/// Height of a row.
const ROW: f32 = 20.0;

/// Room for the line number.
const NUMBER: f32 = 60.0;
/// Gap behind the raw line.
const GAP: f32 = 4.0;
/// Letters between two fields.
const BETWEEN: usize = 2;

/// Draws the rows under the names of their fields, in a list that sticks to the newest unless held.
pub fn raw_lines_ui(ui: &mut Ui, names: &[String], rows: &[&LineRow], held: bool) {
    let p = Palette::of(ui);
    let columns = Columns::of(ui, names, rows);
    let width = columns.width.max(ui.available_width() - 12.0);
    ScrollArea::horizontal().id_salt("fields of lines").auto_shrink([false, false]).show(
        ui,
        |ui| {
            ui.set_min_width(width);
            let height = ROW - ui.spacing().item_spacing.y;
            let (head, _) = ui.allocate_exact_size(vec2(width, height), Sense::hover());
            head_ui(ui, p, head, names, &columns);
            // Whole rows only.
            let gap = ui.spacing().item_spacing.y;
            let fit = ((ui.available_height() + gap) / ROW).floor().max(1.0);
            ScrollArea::vertical()
                .id_salt("raw lines")
                .max_height(fit * ROW - gap)
                .auto_shrink([false, false])
                .stick_to_bottom(!held)
                .show_rows(ui, height, rows.len(), |ui, range| {
                    for row in &rows[range] {
                        let (rect, response) =
                            ui.allocate_exact_size(vec2(width, height), Sense::hover());
                        response.widget_info(|| {
                            let said =
                                format!("Line {}: {}, {}", row.number, row.text, row.verdict);
                            WidgetInfo::labeled(Role::Label, true, row.state.spoken(&said))
                        });
                        row_ui(ui, p, rect, row, &columns);
                        if response.hovered() {
                            response.on_hover_text(format!("{}\n{}", row.text, row.verdict));
                        }
                    }
                });
        },
    );
}

/// Where the columns stand, from the left of a row.
struct Columns {
    /// Letters of a raw line that are shown.
    letters: usize,
    /// Right edge of the raw line.
    split: f32,
    /// Letters of each field.
    wide: Vec<usize>,
    /// Right edge of each field.
    edges: Vec<f32>,
    /// Width of it all.
    width: f32,
}

impl Columns {
    fn of(ui: &Ui, names: &[String], rows: &[&LineRow]) -> Columns {
        let advance = ui.fonts_mut(|f| f.glyph_width(&Type::Raw.font(), '0'));
        // A torn or foreign line may be long: it does not push the fields of the others away.
        let frames = rows.iter().filter(|r| !r.cells.is_empty());
        let letters = frames.clone().map(|r| r.text.len()).max().unwrap_or(40).clamp(12, 96);
        let split = NUMBER + letters as f32 * advance + GAP;
        let mut at = split;
        let (mut wide, mut edges) = (Vec::new(), Vec::new());
        for (k, name) in names.iter().enumerate() {
            let cells = frames.clone().filter_map(|r| r.cells.get(k));
            let most = cells.map(|c| c.len()).max().unwrap_or(0).max(name.chars().count());
            at += (BETWEEN + most) as f32 * advance;
            wide.push(most);
            edges.push(at);
        }
        Columns { letters, split, wide, edges, width: at }
    }

    /// The fields of a row in one text of fixed pitch: a text a field would cost ten times as much.
    fn line(&self, cells: &[String]) -> String {
        use std::fmt::Write;
        let mut line = String::new();
        for (cell, most) in cells.iter().zip(&self.wide) {
            // Writing into a string cannot fail.
            let _ = write!(line, "{:BETWEEN$}{cell:>most$}", "");
        }
        line
    }
}

fn head_ui(ui: &Ui, p: &Palette, rect: Rect, names: &[String], columns: &Columns) {
    let y = rect.center().y;
    let left = pos2(rect.left() + NUMBER, y);
    ui.painter().text(left, Align2::LEFT_CENTER, "as it came", Type::Note.font(), p.soft);
    for (name, edge) in names.iter().zip(&columns.edges) {
        let at = pos2(rect.left() + edge, y);
        ui.painter().text(at, Align2::RIGHT_CENTER, name, Type::Note.font(), p.soft);
    }
    ui.painter().hline(rect.x_range(), rect.bottom() + 3.0, Stroke::new(1.0, p.rule));
}

fn row_ui(ui: &Ui, p: &Palette, rect: Rect, row: &LineRow, columns: &Columns) {
    let y = rect.center().y;
    let raw = Type::Raw.font();
    let at = pos2(rect.left() + NUMBER - 12.0, y);
    ui.painter().text(at, Align2::RIGHT_CENTER, row.number.to_string(), raw.clone(), p.soft);
    let at = pos2(rect.left() + NUMBER, y);
    text_ui(ui, p, rect, at, &row.text, columns);
    let at = pos2(rect.left() + columns.split, y);
    if !row.cells.is_empty() {
        ui.painter().text(at, Align2::LEFT_CENTER, columns.line(&row.cells), raw, p.ink);
        return;
    }
    let mut x = at.x + 2.0 * GAP;
    if row.state != State::None {
        row.state.paint(ui.painter(), pos2(x + 8.0, y), p);
        x += 24.0;
    }
    let ink = if row.state == State::None { p.soft } else { p.ink };
    ui.painter().text(pos2(x, y), Align2::LEFT_CENTER, &row.verdict, Type::Note.font(), ink);
}

/// The line as it came, as far as its column reaches.
fn text_ui(ui: &Ui, p: &Palette, rect: Rect, at: Pos2, text: &str, columns: &Columns) {
    let raw = Type::Raw.font();
    if text.is_ascii() {
        let shown = &text[..text.len().min(columns.letters)];
        ui.painter().text(at, Align2::LEFT_CENTER, shown, raw, p.ink);
        return;
    }
    // Other letters are not all of one width: the column's edge cuts them.
    let right = rect.left() + columns.split;
    let cell = Rect::from_min_max(pos2(at.x, rect.top() - 4.0), pos2(right, rect.bottom() + 4.0));
    let clipped = ui.painter().with_clip_rect(cell.intersect(ui.clip_rect()));
    let shown: String = text.chars().take(4 * columns.letters).collect();
    clipped.text(at, Align2::LEFT_CENTER, shown, raw, p.ink);
}
