//! A table in plain text, its columns as wide as their widest cell.
/// A table in plain text: the first column on the left edge, the others on the right.
pub struct Table {
    rows: Vec<Vec<String>>,
}

impl Table {
    /// Starts with the heads.
    pub fn of(heads: Vec<String>) -> Table {
        Table { rows: vec![heads] }
    }

    /// One row of as many cells as there are heads.
    pub fn row_of(&mut self, cells: Vec<String>) {
        self.rows.push(cells);
    }

    /// A blank line and the table; nothing when there is only the head.
    pub fn write(&self, out: &mut String) {
        if self.rows.len() < 2 {
            return;
        }
        out.push('\n');
        let columns = self.rows.iter().map(Vec::len).max().unwrap_or(0);
        let width = |c: usize| {
            self.rows.iter().filter_map(|r| r.get(c)).map(|t| t.chars().count()).max().unwrap_or(0)
        };
        let widths: Vec<usize> = (0..columns).map(width).collect();
        for row in &self.rows {
            let mut text = String::new();
            for (c, (cell, &width)) in row.iter().zip(&widths).enumerate() {
                if c == 0 {
                    text.push_str(&format!("{cell:<width$}"));
                } else {
                    text.push_str(&format!("  {cell:>width$}"));
                }
            }
            out.push_str(text.trim_end());
            out.push('\n');
        }
    }
}
