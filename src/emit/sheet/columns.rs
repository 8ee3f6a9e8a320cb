//! The columns of a line as they were read: what each was taken for, and what is not used.
use super::long_card;
use super::table::{Column, Table};
use crate::emit::markup::{Html, tag};
use crate::emit::meta::Report;
use crate::session::{ColumnRead, TimeSource};

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
    let mut about = match report.survey.time_source {
        TimeSource::Assumed => "Nothing in the lines tells the time. ".to_owned(),
        source => format!("Times come from {}. ", source.words()),
    };
    if columns.iter().any(|column| column.guessed) {
        about += "Nobody named the columns: what is marked guessed goes by their order alone.";
    }
    let about = tag("p").class("small soft").line(about.trim_end());
    long_card(out, "Columns as read", about.then(table.finish()));
}

fn row(table: &mut Table, column: &ColumnRead) {
    table.row([
        Column::Label.of(column.words()),
        Column::Words.of(column.taken_for()),
        Column::Words.of(column.digits()),
        Column::Note.of(column.range_words()),
        Column::Words.of(column.fate.words()),
    ]);
}
