//! The response matrix of a roll-call: which channel moved when a control was asked for, and how far.
use egui::{Align2, Rect, Role, Sense, Stroke, StrokeKind, Ui, WidgetInfo, pos2, vec2};

use super::state_mark::State;
use crate::gui::look::{Palette, Type};

/// Height of a row at least and at most.
const CELL: [f32; 2] = [24.0, 34.0];
/// Width of a column at most, and from which on the names of neighbours stand clear of one another.
const COLUMN: f32 = 44.0;
const NAMED: f32 = 30.0;
/// Room for the names of the controls.
const NAMES: f32 = 136.0;
/// Room for the words at the end of a row.
const WORDS: f32 = 156.0;

/// What the picture shows. Every list of `shares` has one entry a channel.
#[derive(Clone, Copy, Debug)]
pub struct Response<'a> {
    /// What was asked for, one a row.
    pub controls: &'a [String],
    /// Short names of the channels, one a column.
    pub channels: &'a [String],
    /// Signed share of full scale by which each channel moved, one list a row.
    pub shares: &'a [Vec<f32>],
    /// The column that is taken for each row's answer.
    pub answered: &'a [Option<usize>],
    /// The row that is asked for at this moment.
    pub under_way: Option<usize>,
}

/// Height of the picture with so many rows.
pub fn height(rows: usize) -> f32 {
    (rows as f32 + 1.0) * CELL[0] + 8.0
}

/// Draws the matrix over the free width, `height` high where its rows can be so high.
///
/// The size of a square is the share; a filled one rose, an open one fell; the frame marks the answer.
pub fn response_ui(ui: &mut Ui, matrix: &Response<'_>, height: f32) {
    let p = Palette::of(ui);
    let wide = ui.available_width();
    let count = matrix.channels.len().max(1) as f32;
    let cell = ((wide - NAMES - WORDS) / count).clamp(8.0, COLUMN);
    let rows = matrix.controls.len() as f32 + 1.0;
    let row = ((height - 16.0) / rows).clamp(CELL[0], CELL[1]);
    let (top, _) = ui.allocate_exact_size(vec2(wide, row), Sense::hover());
    let left = top.left() + NAMES;
    for (c, name) in matrix.channels.iter().enumerate() {
        // Narrow columns show every second name, or fewer.
        if c % (NAMED / cell).ceil().max(1.0) as usize == 0 {
            let at = pos2(left + (c as f32 + 0.5) * cell, top.center().y);
            ui.painter().text(at, Align2::CENTER_CENTER, name, Type::Note.font(), p.soft);
        }
    }
    ui.spacing_mut().item_spacing.y = 0.0;
    for (k, control) in matrix.controls.iter().enumerate() {
        let (rect, response) = ui.allocate_exact_size(vec2(wide, row), Sense::hover());
        let words = words(matrix, k);
        let said = format!("{control}: {words}");
        let mark = match matrix.answered.get(k).copied().flatten() {
            Some(_) => State::None,
            None if matrix.under_way == Some(k) => State::Now,
            None => State::Warning,
        };
        let spoken = if mark == State::None { said.clone() } else { mark.spoken(&said) };
        response.widget_info(|| WidgetInfo::labeled(Role::Label, true, spoken.clone()));
        row_ui(ui, rect, left, cell, matrix, k);
        let at = pos2(rect.left(), rect.center().y);
        ui.painter().text(at, Align2::LEFT_CENTER, control, Type::Note.font(), p.ink);
        let at = pos2(left + count * cell + 12.0, rect.center().y);
        let at = if mark == State::None {
            at
        } else {
            mark.paint(ui.painter(), at + vec2(8.0, 0.0), p);
            at + vec2(22.0, 0.0)
        };
        let text = ui.painter().with_clip_rect(rect);
        text.text(at, Align2::LEFT_CENTER, words, Type::Note.font(), p.soft);
        response.on_hover_text(said);
    }
}

fn row_ui(ui: &Ui, rect: Rect, left: f32, cell: f32, matrix: &Response<'_>, k: usize) {
    let p = Palette::of(ui);
    let painter = ui.painter();
    let right = left + matrix.channels.len() as f32 * cell;
    painter.hline(left..=right, rect.bottom(), Stroke::new(1.0, p.rule));
    let shares = matrix.shares.get(k).map_or(&[][..], Vec::as_slice);
    for (c, share) in shares.iter().enumerate() {
        let centre = pos2(left + (c as f32 + 0.5) * cell, rect.center().y);
        let room = Rect::from_center_size(centre, vec2(cell, rect.height()));
        if *share == 0.0 {
            painter.circle_filled(centre, 1.0, p.rule);
            continue;
        }
        // The area is the share; half of full scale fills the cell, as far as a stick goes.
        let side =
            (2.0 * share.abs()).min(1.0).sqrt().max(0.2) * (cell.min(rect.height()) - 8.0).max(4.0);
        let square = Rect::from_center_size(centre, vec2(side, side));
        if *share > 0.0 {
            painter.rect_filled(square, 1.0, p.ink);
        } else {
            painter.rect_stroke(square, 1.0, Stroke::new(1.75, p.ink), StrokeKind::Inside);
        }
        if matrix.answered.get(k) == Some(&Some(c)) {
            let frame = Stroke::new(1.75, p.accent);
            painter.rect_stroke(room.shrink(1.5), 3.0, frame, StrokeKind::Inside);
        }
    }
}

/// What answered a row in words: "lx, +39 % of full scale".
fn words(matrix: &Response<'_>, k: usize) -> String {
    let Some(c) = matrix.answered.get(k).copied().flatten() else {
        let waiting = matrix.under_way == Some(k);
        return if waiting { "asked for now" } else { "nothing answered" }.to_owned();
    };
    let name = matrix.channels.get(c).map_or("", String::as_str);
    match matrix.shares.get(k).and_then(|row| row.get(c)) {
        Some(share) if share.abs() < 1.0 => format!("{name}, {:+.0} %", 100.0 * share),
        Some(share) if *share < 0.0 => format!("{name}, falls"),
        _ => format!("{name}, rises"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_row_is_said_in_words() {
        let shares =
            [vec![0.39, 0.0, 0.0], vec![0.0, -0.4, 0.0], vec![0.0, 0.0, -1.0], vec![0.0; 3]];
        let channels = ["lx", "ly", "b3"].map(str::to_owned);
        let controls: [String; 4] = std::array::from_fn(|k| k.to_string());
        let answered = [Some(0), Some(1), Some(2), None];
        let matrix = Response {
            controls: &controls,
            channels: &channels,
            shares: &shares,
            answered: &answered,
            under_way: None,
        };
        let said: Vec<String> = (0..4).map(|k| words(&matrix, k)).collect();
        assert_eq!(said, ["lx, +39 %", "ly, -40 %", "b3, falls", "nothing answered"]);
        let matrix = Response { under_way: Some(3), ..matrix };
        assert_eq!(words(&matrix, 3), "asked for now");
    }
}
