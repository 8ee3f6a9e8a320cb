//! Rows of figures: label, value on one right-hand edge, unit and interval soft behind it.
use std::sync::Arc;

use egui::{Align2, Galley, Response, Role, Sense, Stroke, StrokeKind, Ui, WidgetInfo, pos2, vec2};

use super::state_mark::State;
use crate::gui::look::{Palette, Type};
use crate::measure::noise::{FLOOR_COUNTS, is_below_floor};
use crate::measure::{DASH, Measured, spaced};
use crate::units::Unit;

/// One row.
#[derive(Clone, Debug, Default)]
pub struct Figure {
    /// What it is: "roundness".
    pub label: String,
    /// Its value; `None` = not enough data.
    pub value: Option<String>,
    /// Unit, interval or limit behind the value; the advice when there is no value.
    pub note: String,
    /// Whether it stands out.
    pub state: State,
    /// More in words, shown on hovering.
    pub hint: String,
}

impl Figure {
    /// A row from a measured figure: value, unit and interval, or the advice.
    pub fn measured(label: &str, figure: &Measured) -> Figure {
        match figure {
            Ok(r) => {
                let w = r.words();
                // A degree or per cent sign belongs to its number; longer units stand behind it.
                let sign = match r.unit {
                    Unit::Degrees | Unit::Fraction => spaced(r.unit),
                    _ => String::new(),
                };
                let unit = if sign.is_empty() { w.unit.as_str() } else { "" };
                let note = [unit, w.interval.as_str()]
                    .into_iter()
                    .filter(|s| !s.is_empty())
                    .collect::<Vec<_>>()
                    .join(", ");
                Figure {
                    label: label.to_owned(),
                    value: Some(w.value + &sign),
                    note,
                    ..Figure::default()
                }
            }
            Err(shortage) if is_below_floor(shortage) => {
                let note = "counts, below what the converter's steps can show";
                Figure::plain(label, format!("< {FLOOR_COUNTS}"), note)
            }
            Err(shortage) => Figure {
                label: label.to_owned(),
                note: format!("{} of {} {}", shortage.have, shortage.need, plain(&shortage.what)),
                hint: shortage.to_string(),
                ..Figure::default()
            },
        }
    }

    /// A row from ready words.
    pub fn plain(label: &str, value: impl Into<String>, note: impl Into<String>) -> Figure {
        Figure {
            label: label.to_owned(),
            value: Some(value.into()),
            note: note.into(),
            ..Figure::default()
        }
    }

    /// The row with a state mark before its label.
    pub fn marked(mut self, state: State) -> Figure {
        self.state = state;
        self
    }

    /// The row with more words on hovering.
    pub fn hinted(mut self, hint: &str) -> Figure {
        hint.clone_into(&mut self.hint);
        self
    }

    /// The row with another note.
    pub fn noted(mut self, note: impl Into<String>) -> Figure {
        self.note = note.into();
        self
    }

    fn spoken(&self) -> String {
        let value = self.value.as_deref().unwrap_or("not enough data");
        self.state.spoken(&format!("{}: {value} {}", self.label, self.note))
    }
}

/// What is missing without the part that the card is about anyway.
fn plain(what: &str) -> &str {
    let parts = [" of the left ", " of the right ", " of this "];
    parts.into_iter().fold(what, |what, part| what.split(part).next().unwrap_or(what))
}

/// The rows as text with tabs, for the clipboard.
pub fn as_text(rows: &[Figure]) -> String {
    let lines: Vec<String> = rows
        .iter()
        .map(|row| {
            let value = row.value.as_deref().unwrap_or(DASH);
            format!("{}\t{value}\t{}\n", row.label, row.note)
        })
        .collect();
    lines.concat()
}

/// Height of one row whose note stands in one line, with the gap below it.
pub const ROW: f32 = 28.0;
/// What a further line of a note adds.
const LINE: f32 = 17.0;
/// Room for the state mark before the labels.
const INDENT: f32 = 24.0;
/// Gap between value and note.
const GAP: f32 = 12.0;
/// In a narrower column beside the values no note is broken: it goes below its row.
const LEAST_NOTE: f32 = 96.0;

/// Where values end and notes begin, for rows under one another.
#[derive(Clone, Copy)]
struct Columns {
    width: f32,
    /// Right edge of the values.
    edge: f32,
    /// Every note stands below its row: the column beside the values is too narrow for some.
    below: bool,
}

impl Columns {
    fn of(ui: &Ui, rows: &[Figure], width: f32) -> Columns {
        let wide = |text: &str, font: Type| font.width(ui, text);
        let labels = rows.iter().map(|r| wide(&r.label, Type::Label)).fold(0.0, f32::max);
        let values = rows.iter().filter_map(|r| r.value.as_deref());
        let values = values.map(|v| wide(v, Type::Value)).fold(24.0, f32::max);
        // The value's right-hand edge: behind the longest label and the longest value.
        let least = INDENT + labels + 16.0 + values;
        let roomy = least.max((width * 0.46).min(INDENT + 260.0));
        let notes = rows.iter().map(|r| wide(&r.note, Type::Note)).fold(0.0, f32::max);
        // Long notes get what the values can spare.
        let edge = if notes > width - roomy - GAP { least } else { roomy }.min(width);
        let beside = width - edge - GAP;
        let below = beside < LEAST_NOTE && notes > beside;
        // Values then stand at the right edge.
        Columns { width, edge: if below { width } else { edge }, below }
    }

    /// The note laid out in its place: right of the value, or below the row in all of its width.
    fn note(self, ui: &Ui, row: &Figure) -> (Arc<Galley>, bool) {
        let below = self.below && !row.note.is_empty();
        let room =
            if below { self.width - INDENT } else { (self.width - self.edge - GAP).max(1.0) };
        let ink = Palette::of(ui).soft;
        // A number stays with its sign where a note is broken.
        let note = row.note.replace(" = ", "\u{a0}=\u{a0}").replace("± ", "±\u{a0}");
        (ui.painter().layout(note, Type::Note.font(), ink, room), below)
    }
}

/// Height of rows under one another in so much width, with the gap below the last one.
pub fn height(ui: &Ui, rows: &[Figure], width: f32) -> f32 {
    let columns = Columns::of(ui, rows, width);
    rows.iter().map(|row| row_height(&columns.note(ui, row)) + ROW - INNER).sum()
}

/// Height of a row without the gap below it.
const INNER: f32 = 20.0;

fn row_height((note, below): &(Arc<Galley>, bool)) -> f32 {
    let lines = note.rows.len().max(1) - usize::from(!below);
    INNER + lines as f32 * LINE
}

/// Draws the rows under one another; gives each row's response (clickable: where it came from).
pub fn figures_ui(ui: &mut Ui, rows: &[Figure]) -> Vec<Response> {
    let columns = Columns::of(ui, rows, ui.available_width());
    rows.iter().map(|row| row_ui(ui, row, columns)).collect()
}

fn row_ui(ui: &mut Ui, row: &Figure, columns: Columns) -> Response {
    let p = Palette::of(ui);
    let note = columns.note(ui, row);
    let size = vec2(columns.width, row_height(&note));
    let (rect, response) = ui.allocate_exact_size(size, Sense::click());
    response.widget_info(|| WidgetInfo::labeled(Role::Label, true, row.spoken()));
    let painter = ui.painter();
    let y = rect.top() + INNER / 2.0;
    let left = rect.left() + INDENT;
    if response.has_focus() {
        let frame = Stroke::new(2.0, p.accent);
        painter.rect_stroke(rect.expand(2.0), 4.0, frame, StrokeKind::Inside);
    }
    row.state.paint(painter, pos2(rect.left() + 9.0, y), p);
    let at = pos2(left, y);
    painter.text(at, Align2::LEFT_CENTER, &row.label, Type::Label.font(), p.soft);
    let value_at = pos2(rect.left() + columns.edge, y);
    let (value, ink) = row.value.as_deref().map_or((DASH, p.soft), |value| (value, p.ink));
    painter.text(value_at, Align2::RIGHT_CENTER, value, Type::Value.font(), ink);
    let (galley, below) = note;
    let first = galley.rows.first().map_or(0.0, |row| row.height());
    let note_at = match below {
        true => pos2(left, rect.top() + INNER),
        false => pos2(rect.left() + columns.edge + GAP, y - first / 2.0),
    };
    painter.galley(note_at, galley, p.soft);
    if row.hint.is_empty() { response } else { response.on_hover_text(&row.hint) }
}
