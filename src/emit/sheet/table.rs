//! Rows of figures in HTML: label, value, 95 % interval, n, and the reason where there is none.
use crate::emit::markup::{Html, tag};
use crate::measure::{DASH, Measured, Reading};

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

    /// One row of any number of cells.
    pub fn cells(&mut self, cells: Vec<Cell>) {
        let cells = cells.into_iter().map(|cell| tag("td").class(cell.class).with(cell.content));
        self.rows.push(tag("tr").line(cells.collect::<Html>()));
    }

    /// A figure that is missing: a dash, and why over the other columns; all of it on a pointer's rest.
    pub fn reason(&mut self, label: Cell, all: String, why: String) {
        let over = self.columns.saturating_sub(2).to_string();
        let cells = tag("td")
            .class(label.class)
            .with(label.content)
            .then(tag("td").class("v").with(DASH))
            .then(tag("td").class("w").attr("colspan", over).with(why));
        self.rows.push(tag("tr").attr("title", all).line(cells));
    }

    /// A row that names the part that follows.
    pub fn part(&mut self, name: &str) {
        let cell = tag("td").attr("colspan", self.columns.to_string()).with(name);
        self.rows.push(tag("tr").class("part").line(cell));
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

/// The 95 % interval; a dash where the method gives none.
pub fn interval(reading: &Reading) -> String {
    let text = reading.interval_text();
    if text.is_empty() || reading.low == reading.high { DASH.to_owned() } else { text }
}

/// A value as `shown`; a dash that says why on a pointer's rest.
pub fn or_why<T>(figure: &Measured<T>, shown: impl FnOnce(&T) -> String) -> Html {
    match figure {
        Ok(value) => shown(value).into(),
        Err(short) => tag("span").attr("title", short.to_string()).with(DASH),
    }
}
