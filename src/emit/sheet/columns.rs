//! The columns of a line as they were read: what each was taken for, and what is not used.
use super::long_card;
use super::table::{Column, Table};
use crate::emit::markup::{Html, tag};
use crate::emit::meta::Report;
use crate::session::ColumnRead;

/// The card of the columns, where they are known.
pub fn write(report: &Report<'_>, out: &mut Html) {
    let columns = &report.facts.columns;
    if columns.is_empty() {
        return;
    }
    let heads = [
        (Column::Label, ""),
        (Column::Words, "taken for"),
        (Column::Words, "digits"),
        (Column::Note, "range"),
        (Column::Words, "use"),
    ];
    let mut table = Table::new("", &heads);
    columns.iter().for_each(|column| row(&mut table, column));
    let time = report.survey.time_source.words();
    let mut about = format!("Times come from {time}. ");
    if columns.iter().any(|column| column.guessed) {
        about += "Nobody named the columns: what is marked guessed goes by their order alone.";
    }
    let about = tag("p").class("small soft").line(about.trim_end());
    long_card(out, "Columns as read", about.then(table.finish()));
}

fn row(table: &mut Table, column: &ColumnRead) {
    let guess = if column.guessed { " (guessed)" } else { "" };
    let scale = match column.is_processed() {
        true => format!(", a count is {}, processed", column.scale()),
        false => String::new(),
    };
    let range = column.range.map_or(String::new(), |[low, high]| format!("{low} to {high}"));
    table.row([
        Column::Label.of(column.words()),
        Column::Words.of(format!("{}{guess}", column.role.words())),
        Column::Words.of(format!("{}{scale}", column.base.words())),
        Column::Note.of(range),
        Column::Words.of(column.fate.words()),
    ]);
}
