//! Rows of figures in HTML: label, value, 95 % interval, n, and the reason where there is none.
use crate::emit::escape::html;
use crate::measure::{Measured, Reading};

/// One table with a head; cells are given already escaped.
pub struct Table {
    html: String,
    columns: usize,
}

/// How a column stands.
#[derive(Clone, Copy)]
pub enum Column {
    /// A label.
    Label,
    /// A short label that is kept on one line.
    Name,
    /// A value: bold, on the right edge.
    Value,
    /// A unit, interval or count: soft, on the right edge.
    Note,
    /// Words: soft, wrapped.
    Words,
}

impl Column {
    fn class(self) -> &'static str {
        match self {
            Column::Label => "",
            Column::Name => " class=\"l\"",
            Column::Value => " class=\"v\"",
            Column::Note => " class=\"n\"",
            Column::Words => " class=\"w\"",
        }
    }
}

impl Table {
    /// Starts a table; heads are plain text.
    pub fn new(caption: &str, heads: &[(Column, &str)]) -> Table {
        let mut out = String::from("<table>\n");
        if !caption.is_empty() {
            out.push_str(&format!("<caption>{}</caption>\n", html(caption)));
        }
        out.push_str("<thead><tr>");
        for (column, head) in heads {
            let class = if matches!(column, Column::Words) { "" } else { column.class() };
            out.push_str(&format!("<th scope=\"col\"{class}>{}</th>", html(head)));
        }
        out.push_str("</tr></thead>\n<tbody>\n");
        Table { html: out, columns: heads.len() }
    }

    /// One row of cells, escaped by the caller.
    pub fn row(&mut self, cells: &[(Column, String)]) {
        self.html.push_str("<tr>");
        for (column, cell) in cells {
            self.html.push_str(&format!("<td{}>{cell}</td>", column.class()));
        }
        self.html.push_str("</tr>\n");
    }

    /// A row that names the part that follows.
    pub fn part(&mut self, name: &str) {
        let (columns, name) = (self.columns, html(name));
        let row = format!("<tr class=\"part\"><td colspan=\"{columns}\">{name}</td></tr>\n");
        self.html.push_str(&row);
    }

    /// Label, value, interval, n; a figure that is missing says why in their place.
    pub fn figure(&mut self, label: &str, figure: &Measured) {
        let label = html(label);
        match figure {
            Ok(reading) => self.row(&[
                (Column::Name, label),
                (Column::Value, value(reading)),
                (Column::Note, interval(reading)),
                (Column::Note, reading.n.to_string()),
            ]),
            Err(short) => {
                let why = html(&format!("{} {}, {} needed", short.have, short.what, short.need));
                let advice = html(&short.to_string());
                self.html.push_str(&format!(
                    "<tr title=\"{advice}\"><td class=\"l\">{label}</td><td class=\"v\">–</td>\
                     <td class=\"w\" colspan=\"2\">{why}</td></tr>\n"
                ));
            }
        }
    }

    /// Label and words over the other columns; both plain text.
    pub fn words(&mut self, label: &str, words: &str) {
        let (label, words, over) = (html(label), html(words), self.columns.saturating_sub(1));
        self.html.push_str(&format!(
            "<tr><td class=\"l\">{label}</td><td class=\"w\" colspan=\"{over}\">{words}</td></tr>\n"
        ));
    }

    /// Ends the table.
    pub fn finish(mut self) -> String {
        self.html.push_str("</tbody></table>\n");
        self.html
    }
}

/// The usual head of [`Table::figure`] rows.
pub const FIGURE_HEADS: [(Column, &str); 4] = [
    (Column::Label, ""),
    (Column::Value, "value"),
    (Column::Note, "95 % interval"),
    (Column::Note, "n"),
];

/// Value and unit, escaped.
pub fn value(reading: &Reading) -> String {
    html(&reading.value_text())
}

/// Interval, escaped; a dash where the method gives none.
pub fn interval(reading: &Reading) -> String {
    let text = reading.interval_text();
    if text.is_empty() || reading.low == reading.high { "–".to_owned() } else { html(&text) }
}
