//! Plain text for a terminal of some width: lines, wrapped text, tables that are never cut.

/// Columns of characters that text may take.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Width(usize);

impl Width {
    /// As wide as the text is.
    pub const FULL: Width = Width(usize::MAX);

    /// So many columns; at least 20, which every label needs.
    pub fn columns(columns: usize) -> Width {
        Width(columns.max(20))
    }
}

/// Widest line that running text is wrapped to, characters.
const COMFORTABLE: usize = 96;

/// Plain text that keeps to a width.
pub struct Page {
    text: String,
    width: Width,
}

impl Page {
    /// Nothing yet.
    pub fn new(width: Width) -> Page {
        Page { text: String::new(), width }
    }

    /// The text; every line ends in a line feed.
    pub fn into_text(self) -> String {
        self.text
    }

    /// An empty line.
    pub fn gap(&mut self) {
        self.text.push('\n');
    }

    /// One line; more only where the page is too narrow for it.
    pub fn line(&mut self, text: &str) {
        self.broken("", text, self.width.0);
    }

    /// Running text behind an indent, further lines two columns further in.
    pub fn wrapped(&mut self, indent: &str, text: &str) {
        self.broken(indent, text, self.width.0.min(COMFORTABLE));
    }

    /// What stands in front, and behind it the rest, below it where they do not fit on one line.
    pub fn beside(&mut self, front: &str, rest: &str) {
        if front.chars().count() + 2 + rest.chars().count() <= self.width.0 {
            self.line(&format!("{front}  {rest}"));
        } else {
            if !front.trim_end().is_empty() {
                self.line(front.trim_end());
            }
            self.wrapped("    ", rest);
        }
    }

    /// Breaks at blanks so that no line is longer than `most` unless one word is.
    fn broken(&mut self, indent: &str, text: &str, most: usize) {
        if indent.len() + text.chars().count() <= most {
            self.text.push_str(&format!("{indent}{text}\n"));
            return;
        }
        let mut column = 0;
        for word in text.split(' ') {
            let width = word.chars().count();
            if column == 0 {
                self.text.push_str(indent);
                column = indent.len();
            } else if column + 1 + width > most {
                self.text.push_str(&format!("\n{indent}  "));
                column = indent.len() + 2;
            } else {
                self.text.push(' ');
                column += 1;
            }
            self.text.push_str(word);
            column += width;
        }
        self.text.push('\n');
    }
}

/// A table in plain text: the first column on the left edge, the others on the right.
pub struct Table {
    rows: Vec<Vec<String>>,
}

impl Table {
    /// Starts with the heads.
    pub fn of(heads: Vec<String>) -> Table {
        Table { rows: vec![heads.into_iter().map(cut).collect()] }
    }

    /// One row of as many cells as there are heads.
    pub fn row_of(&mut self, cells: Vec<String>) {
        self.rows.push(cells.into_iter().map(cut).collect());
    }

    /// A blank line and the table; nothing when there is only the head. A table that is wider than
    /// the page stands in parts one below the other, each beginning with the first column.
    pub fn write(&self, page: &mut Page) {
        if self.rows.len() < 2 {
            return;
        }
        let columns = self.rows.iter().map(Vec::len).max().unwrap_or(0);
        let width = |c: usize| {
            self.rows.iter().filter_map(|r| r.get(c)).map(|t| t.chars().count()).max().unwrap_or(0)
        };
        let widths: Vec<usize> = (0..columns).map(width).collect();
        for part in parts(&widths, page.width.0) {
            page.gap();
            for row in &self.rows {
                let first = row.first().map_or("", String::as_str);
                let wide = widths.first().copied().unwrap_or(0);
                let mut text = format!("{first:<wide$}");
                for (cell, &width) in row.iter().zip(&widths).take(part.end).skip(part.start) {
                    text.push_str(&format!("  {cell:>width$}"));
                }
                page.text.push_str(text.trim_end());
                page.gap();
            }
        }
    }
}

/// Characters of a cell: a name may be as long as a line.
const CELL_MOST: usize = 120;

fn cut(cell: String) -> String {
    if cell.len() <= CELL_MOST || cell.chars().count() <= CELL_MOST {
        return cell;
    }
    cell.chars().take(CELL_MOST - 1).chain(['…']).collect()
}

/// The columns behind the first, in as few runs as fit beside it; a run has one column at least.
fn parts(widths: &[usize], most: usize) -> Vec<std::ops::Range<usize>> {
    let first = widths.first().copied().unwrap_or(0);
    let mut parts = Vec::new();
    let (mut start, mut taken) = (1, first);
    for (c, width) in widths.iter().enumerate().skip(1) {
        if taken + 2 + width > most && c > start {
            parts.push(start..c);
            (start, taken) = (c, first);
        }
        taken += 2 + width;
    }
    parts.push(start..widths.len().max(1));
    parts
}

#[cfg(test)]
mod tests {
    use super::*;

    fn table() -> Table {
        let cells = |cells: [&str; 4]| cells.map(str::to_owned).to_vec();
        let mut table = Table::of(cells(["axis", "rest", "noise", "drift"]));
        table.row_of(cells(["lx", "512 ± 1", "0.7", "–"]));
        table.row_of(cells(["ly", "498 ± 1", "0.70 ± 0.02", "0.1"]));
        table
    }

    fn at(width: Width) -> String {
        let mut page = Page::new(width);
        table().write(&mut page);
        page.into_text()
    }

    #[test]
    fn a_table_that_is_too_wide_is_stacked_and_loses_nothing() {
        let whole = "\naxis     rest        noise  drift\nlx    512 ± 1          0.7      –\n\
                     ly    498 ± 1  0.70 ± 0.02    0.1\n";
        assert_eq!(at(Width::FULL), whole);
        assert_eq!(at(Width::columns(33)), whole);
        let stacked = "\naxis     rest        noise\nlx    512 ± 1          0.7\n\
                       ly    498 ± 1  0.70 ± 0.02\n\naxis  drift\nlx        –\nly      0.1\n";
        assert_eq!(at(Width::columns(32)), stacked);
        assert_eq!(at(Width::columns(1)).matches("axis").count(), 3, "one column a part");
    }

    #[test]
    fn lines_break_at_blanks_only_where_they_must() {
        let mut page = Page::new(Width::columns(20));
        page.line("a line of some words that is long");
        page.line("a short one");
        page.beside("front", "beside it");
        page.beside("front", "too long to stand beside");
        let wanted = "a line of some words\n  that is long\na short one\nfront  beside it\n\
                      front\n    too long to\n      stand beside\n";
        assert!(page.text.lines().all(|line| line.chars().count() <= 20), "{}", page.text);
        assert_eq!(page.into_text(), wanted);
        let mut page = Page::new(Width::FULL);
        page.line(&"word ".repeat(60));
        assert_eq!(page.into_text().lines().count(), 1);
    }
}
