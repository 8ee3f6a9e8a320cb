//! The last lines as they came, each with its fields or the reason for its refusal.
use egui::{Align2, Rect, Role, ScrollArea, Sense, Ui, WidgetInfo, pos2, vec2};

use super::state_mark::State;
use crate::gui::look::{Palette, Type};

/// One line, ready to be drawn.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct LineRow {
    /// Line number in the stream.
    pub number: u64,
    /// Its bytes, unprintable ones escaped.
    pub text: String,
    /// Its fields by name, or why it gave no frame.
    pub verdict: String,
    /// A warning where it was refused.
    pub state: State,
}

/// Height of a row.
const ROW: f32 = 20.0;

/// Draws the rows in a scrolling list that sticks to the newest unless it is held.
pub fn raw_lines_ui(ui: &mut Ui, rows: &[LineRow], held: bool) {
    let p = Palette::of(ui);
    ScrollArea::vertical()
        .id_salt("raw lines")
        .auto_shrink([false, false])
        .stick_to_bottom(!held)
        .show_rows(ui, ROW - ui.spacing().item_spacing.y, rows.len(), |ui, range| {
            let width = ui.available_width();
            // The raw line gets the width it needs, up to a half.
            let split = split_at(ui, &rows[range.clone()], width);
            for row in &rows[range] {
                let height = ROW - ui.spacing().item_spacing.y;
                let (rect, response) = ui.allocate_exact_size(vec2(width, height), Sense::hover());
                response.widget_info(|| {
                    let said = format!("Line {}: {}, {}", row.number, row.text, row.verdict);
                    WidgetInfo::labeled(Role::Label, true, row.state.spoken(&said))
                });
                row_ui(ui, p, rect, row, split);
                if response.hovered() {
                    response.on_hover_text(format!("{}\n{}", row.text, row.verdict));
                }
            }
        });
}

fn split_at(ui: &Ui, rows: &[LineRow], width: f32) -> f32 {
    let longest = rows.iter().map(|r| r.text.chars().count()).max().unwrap_or(0) as f32;
    let advance = ui.fonts_mut(|f| f.glyph_width(&Type::Raw.font(), '0'));
    (64.0 + longest * advance + 16.0).clamp(200.0, width * 0.6)
}

fn row_ui(ui: &Ui, p: &Palette, rect: Rect, row: &LineRow, split: f32) {
    let y = rect.center().y;
    let clipped = |from: f32, to: f32| {
        let cell = Rect::from_min_max(pos2(from, rect.top()), pos2(to, rect.bottom()));
        ui.painter().with_clip_rect(cell.expand2(vec2(0.0, 4.0)).intersect(ui.clip_rect()))
    };
    let number = clipped(rect.left(), rect.left() + 56.0);
    let at = pos2(rect.left() + 52.0, y);
    number.text(at, Align2::RIGHT_CENTER, row.number.to_string(), Type::Raw.font(), p.soft);
    let text = clipped(rect.left() + 64.0, rect.left() + split);
    let at = pos2(rect.left() + 64.0, y);
    text.text(at, Align2::LEFT_CENTER, &row.text, Type::Raw.font(), p.ink);
    let verdict = clipped(rect.left() + split, rect.right());
    let mut x = rect.left() + split + 8.0;
    if row.state != State::None {
        row.state.paint(&verdict, pos2(x + 8.0, y), p);
        x += 24.0;
    }
    let ink = if row.state == State::None { p.soft } else { p.ink };
    verdict.text(pos2(x, y), Align2::LEFT_CENTER, &row.verdict, Type::Note.font(), ink);
}

/// Bytes as text: printable ASCII as it is, the rest escaped.
pub fn escaped(bytes: &[u8]) -> String {
    let mut out = String::with_capacity(bytes.len());
    for b in bytes {
        match b {
            b'\t' => out.push_str("\\t"),
            b'\r' => out.push_str("\\r"),
            0x20..=0x7E => out.push(*b as char),
            _ => out.push_str(&format!("\\x{b:02X}")),
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::escaped;

    #[test]
    fn unprintable_bytes_are_shown_as_codes() {
        assert_eq!(escaped(b"12,\t34\xFF\0\r"), "12,\\t34\\xFF\\x00\\r");
    }
}
