//! Figures of the visible stretch and of the cursors, one row a line of the picture.
use crate::measure::DASH;
use std::ops::Range;

use egui::{ScrollArea, Ui};

use super::channels::Contacts;
use super::lanes::Form;
use super::picture::Cursors;
use super::sampling::Rows;
use crate::desk::Desk;
use crate::gui::actions::Action;
use crate::gui::look::Type;
use crate::gui::parts::numbers::{grouped, number, signed};
use crate::gui::parts::ruler::Ruler;
use crate::gui::parts::table;
use crate::gui::stations::copy_corner;
use crate::measure::moments::moments_of_sums;

/// Headings without cursors.
const SPAN: [&str; 6] = ["", "unit", "mean", "deviation", "least", "greatest"];
/// Width from which the number of samples has room beside both cursors.
const WIDE: f32 = 480.0;
/// Headings with cursors.
const CURSORS: [&str; 9] =
    ["", "unit", "at A", "at B", "B − A", "mean", "deviation", "least", "greatest"];

/// One line of the picture.
pub struct FigureLine<'a> {
    /// Its channel.
    pub name: String,
    /// What is shown of it.
    pub form: Form,
    /// The contact that it is.
    pub contact: Option<(&'a Contacts, u8)>,
    /// The rows behind it.
    pub rows: Box<dyn Rows + 'a>,
}

fn headings(cursors: Cursors) -> &'static [&'static str] {
    if cursors == Cursors::default() { SPAN.as_slice() } else { CURSORS.as_slice() }
}

/// The cells of the table, line by line.
pub fn cells(
    desk: &Desk,
    lines: &[FigureLine<'_>],
    rows: &Range<usize>,
    cursors: Cursors,
) -> Vec<Vec<String>> {
    let width = headings(cursors).len();
    lines
        .iter()
        .map(|line| match line.contact {
            Some((contacts, bit)) => contact_line(line, contacts, bit, rows, width),
            None => level_line(desk, line, rows.clone(), cursors),
        })
        .collect()
}

/// The table as text, for the clipboard.
pub fn as_text(
    desk: &Desk,
    lines: &[FigureLine<'_>],
    rows: Range<usize>,
    cursors: Cursors,
) -> String {
    table::as_text(headings(cursors), &cells(desk, lines, &rows, cursors))
}

/// Draws the table, and the button that copies it in the corner above it.
pub fn figures_ui(ui: &mut Ui, cells: &[Vec<String>], cursors: Cursors, actions: &mut Vec<Action>) {
    copy_corner(ui, || table::as_text(headings(cursors), cells), actions);
    ScrollArea::vertical()
        .auto_shrink([false, false])
        .show(ui, |ui| table::table_ui(ui, headings(cursors), cells, 104.0));
}

/// Draws how many samples are seen, and the cursors' places and what lies between them.
pub fn cursors_ui(ui: &mut Ui, samples: usize, cursors: Cursors, ruler: Ruler) {
    // Both cursors and what lies between them need a narrow line for themselves.
    let both = cursors.a.is_some() && cursors.b.is_some();
    if !both || ui.available_width() >= WIDE {
        ui.label(Type::Note.soft(ui, format!("{} samples", grouped(samples as u64))));
    }
    for (name, at) in [("A", cursors.a), ("B", cursors.b)] {
        if let Some(t) = at {
            ui.label(Type::Label.text(ui, format!("{name} {}", ruler.place(t))));
        }
    }
    if let (Some(a), Some(b)) = (cursors.a, cursors.b) {
        for words in ruler.between(a, b) {
            ui.label(Type::Value.text(ui, words));
        }
    }
}

fn level_line(
    desk: &Desk,
    line: &FigureLine<'_>,
    rows: Range<usize>,
    cursors: Cursors,
) -> Vec<String> {
    let (scale, decimals) = (line.form.scale(), line.form.decimals());
    let shown =
        |v: Option<i32>| v.map_or(DASH.to_owned(), |v| number(f64::from(v) * scale, decimals));
    let mut cells = vec![line.name.clone(), line.form.unit().to_owned()];
    if cursors != Cursors::default() {
        let at = |t: Option<u64>| value_at(desk, line.rows.as_ref(), t?);
        let (a, b) = (at(cursors.a), at(cursors.b));
        let between = a.zip(b).map(|(a, b)| signed(f64::from(b - a) * scale, decimals));
        cells.extend([shown(a), shown(b), between.unwrap_or_else(|| DASH.to_owned())]);
    }
    let extremes = line.rows.min_max(rows.clone());
    let (mean, deviation) = match spread(line.rows.as_ref(), rows) {
        Some((mean, sd)) => (number(mean * scale, 2), number(sd * scale, 3)),
        None => (DASH.to_owned(), DASH.to_owned()),
    };
    let [least, greatest] = [extremes.map(|e| e.0), extremes.map(|e| e.1)].map(shown);
    cells.extend([mean, deviation, least, greatest]);
    cells
}

fn contact_line(
    line: &FigureLine<'_>,
    contacts: &Contacts,
    bit: u8,
    rows: &Range<usize>,
    width: usize,
) -> Vec<String> {
    let changes = contacts.changes(bit);
    let within = changes.partition_point(|c| *c < rows.end)
        - changes.partition_point(|c| *c <= rows.start).min(changes.len());
    let mut cells = vec![line.name.clone(), format!("{within} edges")];
    cells.resize(width, String::new());
    cells
}

/// The value in force at a time: that of the last row at or before it; none behind the last row.
fn value_at(desk: &Desk, rows: &dyn Rows, t_us: u64) -> Option<i32> {
    if t_us > desk.timebase().end_us() {
        return None;
    }
    let row = desk.timebase().row_at(t_us.saturating_add(1)).checked_sub(1)?;
    rows.cells(row..row + 1)?.first().copied()
}

/// Mean and standard deviation (n − 1) of the visible samples; `None` while their sums are not
/// worked out, and with fewer than two.
fn spread(rows: &dyn Rows, range: Range<usize>) -> Option<(f64, f64)> {
    let sums = rows.sums(range)?;
    let found = moments_of_sums(sums.n, sums.sum, sums.squares).filter(|m| m.n > 1)?;
    Some((found.mean, found.sd()))
}
