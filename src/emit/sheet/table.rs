//! Rows of figures in HTML: label, value, 95 % interval, n, and the reason where there is none.
use crate::emit::markup::{Html, tag};
use crate::measure::{Measured, Reading};

/// One table with a head.
pub struct Table {
    start: Html,
    rows: Html,
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
    /// A cell that stands so; text is escaped.
    pub fn of(self, content: impl Into<Html>) -> Cell {
        Cell { class: self.class(), content: content.into() }
    }

    /// A name that a rig gave: kept on one line unless it is long.
    pub fn given(name: &str) -> Cell {
        /// Characters that stand on one line beside the other columns of half a page.
        const SHORT: usize = 20;
        let column = if name.chars().count() > SHORT { Column::Label } else { Column::Name };
        column.of(name)
    }

    fn class(self) -> &'static str {
        match self {
            Column::Label => "",
            Column::Name => "l",
            Column::Value => "v",
            Column::Note => "n",
            Column::Words => "w",
        }
    }
}

/// One cell of a row.
pub struct Cell {
    class: &'static str,
    content: Html,
}

impl Table {
    /// Starts a table.
    pub fn new(caption: &str, heads: &[(Column, &str)]) -> Table {
        let mut start = Html::markup("\n");
        if !caption.is_empty() {
            start.push(tag("caption").line(caption));
        }
        let head = |(column, head): &(Column, &str)| {
            let class = if matches!(column, Column::Words) { "" } else { column.class() };
            tag("th").attr("scope", "col").class(class).with(*head)
        };
        let heads_row = tag("tr").with(heads.iter().map(head).collect::<Html>());
        start.push(tag("thead").line(heads_row));
        Table { start, rows: Html::markup("\n"), columns: heads.len() }
    }

    /// One row.
    pub fn row<const N: usize>(&mut self, cells: [Cell; N]) {
        let cells = cells.map(|cell| tag("td").class(cell.class).with(cell.content));
        self.rows.push(tag("tr").line(cells.into_iter().collect::<Html>()));
    }

    /// A row that names the part that follows.
    pub fn part(&mut self, name: &str) {
        let cell = tag("td").attr("colspan", self.columns.to_string()).with(name);
        self.rows.push(tag("tr").class("part").line(cell));
    }

    /// Label, value, interval, n; a figure that is missing says why in their place.
    pub fn figure(&mut self, label: &str, figure: &Measured) {
        match figure {
            Ok(reading) => self.row([
                Column::Name.of(label),
                Column::Value.of(reading.value_text()),
                Column::Note.of(interval(reading)),
                Column::Note.of(reading.n.to_string()),
            ]),
            Err(short) => {
                let why = format!("{} {}, {} needed", short.have, short.what, short.need);
                let cells = tag("td")
                    .class("l")
                    .with(label)
                    .then(tag("td").class("v").with("–"))
                    .then(tag("td").class("w").attr("colspan", "2").with(why));
                self.rows.push(tag("tr").attr("title", short.to_string()).line(cells));
            }
        }
    }

    /// Label and words over the other columns.
    pub fn words(&mut self, label: &str, words: &str) {
        let over = self.columns.saturating_sub(1).to_string();
        let words = tag("td").class("w").attr("colspan", over).with(words);
        self.rows.push(tag("tr").line(tag("td").class("l").with(label).then(words)));
    }

    /// Ends the table.
    pub fn finish(self) -> Html {
        tag("table").line(self.start.then(tag("tbody").with(self.rows)))
    }
}

/// The usual head of [`Table::figure`] rows.
pub const FIGURE_HEADS: [(Column, &str); 4] = [
    (Column::Label, ""),
    (Column::Value, "value"),
    (Column::Note, "95 % interval"),
    (Column::Note, "n"),
];

/// The 95 % interval; a dash where the method gives none.
pub fn interval(reading: &Reading) -> String {
    let text = reading.interval_text();
    if text.is_empty() || reading.low == reading.high { "–".to_owned() } else { text }
}

/// The 95 % interval, or a dash.
pub fn interval_or_dash(figure: &Measured) -> String {
    figure.as_ref().map_or("–".to_owned(), interval)
}

/// A value as `shown`; a dash that says why on a pointer's rest.
pub fn or_why<T>(figure: &Measured<T>, shown: impl FnOnce(&T) -> String) -> Html {
    match figure {
        Ok(value) => shown(value).into(),
        Err(short) => tag("span").attr("title", short.to_string()).with("–"),
    }
}
