//! Figures of the visible stretch and of the cursors, one row a channel.
use std::ops::Range;

use egui::{ScrollArea, Ui};

use super::channels::{Channel, Contacts};
use super::picture::Cursors;
use crate::desk::Desk;
use crate::gui::actions::Action;
use crate::gui::look::Type;
use crate::gui::parts::numbers::{clock, number, signed};
use crate::gui::parts::table;
use crate::session::Session;

/// Rows up to which mean and deviation are computed each frame.
const MOST_ROWS: usize = 65_536;

/// Headings without cursors.
const SPAN: [&str; 5] = ["counts", "mean", "deviation", "least", "greatest"];
/// Headings with cursors.
const CURSORS: [&str; 8] =
    ["counts", "at A", "at B", "B − A", "mean", "deviation", "least", "greatest"];

/// Draws the table, and the button that copies it in the corner above it.
pub fn figures_ui(
    ui: &mut Ui,
    desk: &Desk,
    shown: &[Channel],
    contacts: &Contacts,
    rows: Range<usize>,
    cursors: Cursors,
    actions: &mut Vec<Action>,
) {
    let headings: &[&str] =
        if cursors == Cursors::default() { SPAN.as_slice() } else { CURSORS.as_slice() };
    let levels = shown.iter().filter_map(|c| Some((*c, c.field(desk.session())?)));
    let lines: Vec<Vec<String>> = levels
        .map(|(channel, field)| level_line(desk, channel, field, rows.clone(), cursors))
        .chain(shown.iter().filter_map(|c| {
            let mut line = contact_line(desk, contacts, *c, &rows)?;
            line.resize(headings.len(), String::new());
            Some(line)
        }))
        .collect();
    // Level with the title above, at the right.
    let corner = egui::pos2(ui.max_rect().right() - 64.0, ui.max_rect().top());
    ScrollArea::vertical()
        .auto_shrink([false, false])
        .show(ui, |ui| table::table_ui(ui, headings, &lines, 112.0));
    let copy = Action::Copy(table::as_text(headings, &lines));
    let at = egui::Rect::from_min_size(corner, egui::vec2(64.0, 28.0));
    if ui
        .put(at, egui::Button::new("Copy"))
        .on_hover_text("Put the table on the clipboard")
        .clicked()
    {
        actions.push(copy);
    }
}

/// Draws how many samples are seen, and the cursors' times and what lies between them.
pub fn cursors_ui(ui: &mut Ui, samples: usize, cursors: Cursors) {
    ui.label(Type::Note.soft(ui, format!("{samples} samples")));
    for (name, at) in [("A", cursors.a), ("B", cursors.b)] {
        if let Some(t) = at {
            ui.label(Type::Label.text(ui, format!("{name} {}", clock(t))));
        }
    }
    if let (Some(a), Some(b)) = (cursors.a, cursors.b) {
        let dt_s = (b as f64 - a as f64) / 1e6;
        let shown = format!("Δt {}\u{a0}ms", signed(dt_s * 1e3, 2));
        ui.label(Type::Value.text(ui, shown));
        if dt_s != 0.0 {
            let hz = number((1.0 / dt_s).abs(), 2);
            ui.label(Type::Value.text(ui, format!("1/Δt {hz}\u{a0}Hz")));
        }
    }
}

fn level_line(
    desk: &Desk,
    channel: Channel,
    field: usize,
    rows: Range<usize>,
    cursors: Cursors,
) -> Vec<String> {
    let session = desk.session();
    let at = |t: Option<u64>| value_at(desk, field, t?);
    let (a, b) = (at(cursors.a), at(cursors.b));
    let whole = |v: Option<i32>| v.map_or("–".to_owned(), |v| number(f64::from(v), 0));
    let difference = a.zip(b).map_or("–".to_owned(), |(a, b)| signed(f64::from(b - a), 0));
    let extremes = session.span_of(field, rows.clone());
    let (mean, deviation) = match moments(session, field, rows) {
        Some((mean, sd)) => (number(mean, 2), number(sd, 3)),
        None => ("zoom in".to_owned(), "zoom in".to_owned()),
    };
    let mut line = vec![channel.name(desk)];
    if cursors != Cursors::default() {
        line.extend([whole(a), whole(b), difference]);
    }
    let [least, greatest] = [extremes.map(|e| e.0), extremes.map(|e| e.1)].map(whole);
    line.extend([mean, deviation, least, greatest]);
    line
}

fn contact_line(
    desk: &Desk,
    contacts: &Contacts,
    channel: Channel,
    rows: &Range<usize>,
) -> Option<Vec<String>> {
    let Channel::Button(bit) = channel else { return None };
    let changes = contacts.changes(bit);
    let within = changes.partition_point(|c| *c < rows.end)
        - changes.partition_point(|c| *c <= rows.start).min(changes.len());
    let mut line = vec![channel.name(desk)];
    line.push(format!("{within} edges"));
    Some(line)
}

/// The cell in force at a time: that of the last row at or before it.
fn value_at(desk: &Desk, field: usize, t_us: u64) -> Option<i32> {
    let row = desk.timebase().row_at(t_us.saturating_add(1)).checked_sub(1)?;
    desk.session().column_part(field, row..row + 1).first().copied()
}

/// Mean and standard deviation (n − 1) of the visible samples; `None` when there are too many to
/// add up each frame, or fewer than two.
fn moments(session: &Session, field: usize, rows: Range<usize>) -> Option<(f64, f64)> {
    if rows.len() > MOST_ROWS || rows.len() < 2 {
        return None;
    }
    let cells = session.column_part(field, rows);
    let n = cells.len() as f64;
    let mean = cells.iter().map(|c| f64::from(*c)).sum::<f64>() / n;
    let squares: f64 = cells.iter().map(|c| (f64::from(*c) - mean).powi(2)).sum();
    Some((mean, (squares / (n - 1.0)).sqrt()))
}
