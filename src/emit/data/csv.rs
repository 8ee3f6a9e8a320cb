//! Columns as comma-separated values (RFC 4180), streamed with bounded memory.
//!
//! One heading line with names and units, one line a frame, CRLF, UTF-8. Text is quoted where the
//! standard asks for it. Integers are written by hand because a long session has tens of millions.
use std::io::{self, Write};

/// Bytes gathered before they are handed on.
const CHUNK: usize = 1 << 16;

/// The cells of one column over the rows that are written. A column that is too short has empty
/// cells at its end.
#[derive(Clone, Copy)]
pub enum Cells<'a> {
    /// Signed numbers: raw readings.
    Signed(&'a [i32]),
    /// The same 32 bits read as unsigned: counters, clocks, ages, masks.
    Unsigned(&'a [i32]),
    /// Times.
    Long(&'a [u64]),
    /// A number at some rows (counted from the first row written), in order; empty elsewhere.
    At(&'a [(usize, u64)]),
    /// Text at some rows, in order; empty elsewhere.
    Text(&'a [(usize, String)]),
}

/// Writes rows through 64 KiB of buffer, whatever their number.
pub struct CsvWriter<W: Write> {
    out: W,
    buffer: Vec<u8>,
}

impl<W: Write> CsvWriter<W> {
    /// Starts with the heading line.
    ///
    /// # Errors
    /// What the writer reports.
    pub fn new(out: W, names: &[String]) -> io::Result<CsvWriter<W>> {
        let mut writer = CsvWriter { out, buffer: Vec::with_capacity(CHUNK + 4096) };
        for (i, name) in names.iter().enumerate() {
            if i > 0 {
                writer.buffer.push(b',');
            }
            push_text(&mut writer.buffer, name);
        }
        writer.end_line()?;
        Ok(writer)
    }

    /// Appends `rows` rows, one cell of each column a row.
    ///
    /// # Errors
    /// What the writer reports; a part of the rows may have been written.
    pub fn rows(&mut self, rows: usize, columns: &[Cells<'_>]) -> io::Result<()> {
        let mut places = vec![0usize; columns.len()];
        for row in 0..rows {
            for (i, (cells, place)) in columns.iter().zip(&mut places).enumerate() {
                if i > 0 {
                    self.buffer.push(b',');
                }
                push_cell(&mut self.buffer, *cells, row, place);
            }
            self.end_line()?;
        }
        Ok(())
    }

    /// Hands on what is left.
    ///
    /// # Errors
    /// What the writer reports.
    pub fn finish(mut self) -> io::Result<()> {
        self.out.write_all(&self.buffer)?;
        self.out.flush()
    }

    fn end_line(&mut self) -> io::Result<()> {
        self.buffer.extend_from_slice(b"\r\n");
        if self.buffer.len() >= CHUNK {
            self.out.write_all(&self.buffer)?;
            self.buffer.clear();
        }
        Ok(())
    }
}

/// `place` is the next entry of a sparse column; entries out of order or doubled are skipped.
fn push_cell(buffer: &mut Vec<u8>, cells: Cells<'_>, row: usize, place: &mut usize) {
    match cells {
        Cells::Signed(column) => {
            if let Some(&value) = column.get(row) {
                if value < 0 {
                    buffer.push(b'-');
                }
                push_number(buffer, u64::from(value.unsigned_abs()));
            }
        }
        Cells::Unsigned(column) => {
            if let Some(&value) = column.get(row) {
                push_number(buffer, u64::from(value as u32));
            }
        }
        Cells::Long(column) => {
            if let Some(&value) = column.get(row) {
                push_number(buffer, value);
            }
        }
        Cells::At(column) => {
            if let Some(&value) = due(column, row, place) {
                push_number(buffer, value);
            }
        }
        Cells::Text(column) => {
            if let Some(text) = due(column, row, place) {
                push_text(buffer, text);
            }
        }
    }
}

fn due<'a, T>(sparse: &'a [(usize, T)], row: usize, place: &mut usize) -> Option<&'a T> {
    let mut found = None;
    while let Some((at, value)) = sparse.get(*place) {
        if *at > row {
            break;
        }
        if *at == row {
            found = Some(value);
        }
        *place += 1;
    }
    found
}

fn push_number(buffer: &mut Vec<u8>, mut value: u64) {
    let mut digits = [0u8; 20];
    let mut at = digits.len();
    loop {
        at -= 1;
        digits[at] = b'0' + (value % 10) as u8;
        value /= 10;
        if value == 0 {
            break;
        }
    }
    buffer.extend_from_slice(&digits[at..]);
}

/// Quoted when it holds a comma, a quote, a line end or a blank at either end. A text that a
/// spreadsheet would run as a formula gets an apostrophe before it; control characters a blank.
fn push_text(buffer: &mut Vec<u8>, text: &str) {
    let formula = text.starts_with(['=', '+', '-', '@', '\t', '\r']);
    let quoted = text.contains([',', '"', '\n', '\r']) || text.trim() != text;
    if quoted {
        buffer.push(b'"');
    }
    if formula {
        buffer.push(b'\'');
    }
    for c in text.chars() {
        match c {
            '"' => buffer.extend_from_slice(b"\"\""),
            '\n' => buffer.push(b'\n'),
            c if c.is_control() => buffer.push(b' '),
            c => buffer.extend_from_slice(c.encode_utf8(&mut [0; 4]).as_bytes()),
        }
    }
    if quoted {
        buffer.push(b'"');
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn written(rows: usize, columns: &[(&str, Cells<'_>)]) -> String {
        let mut out = Vec::new();
        let names: Vec<String> = columns.iter().map(|c| c.0.to_owned()).collect();
        let cells: Vec<Cells<'_>> = columns.iter().map(|c| c.1).collect();
        let mut writer = CsvWriter::new(&mut out, &names).expect("a vector takes all");
        writer.rows(rows, &cells).expect("a vector takes all");
        writer.finish().expect("a vector takes all");
        String::from_utf8(out).expect("UTF-8")
    }

    #[test]
    fn rows_gaps_and_marks_stand_where_they_belong() {
        let marks = [(0, "rest".to_owned()), (2, "a, \"b\"".to_owned())];
        let text = written(
            3,
            &[
                ("board_time_us", Cells::Long(&[0, 4000, u64::MAX])),
                ("lost_before", Cells::At(&[(1, 12)])),
                ("lx_counts", Cells::Signed(&[-5, i32::MIN, 1023])),
                ("age_us", Cells::Unsigned(&[-1])),
                ("mark", Cells::Text(&marks)),
            ],
        );
        assert_eq!(
            text,
            "board_time_us,lost_before,lx_counts,age_us,mark\r\n\
             0,,-5,4294967295,rest\r\n\
             4000,12,-2147483648,,\r\n\
             18446744073709551615,,1023,,\"a, \"\"b\"\"\"\r\n"
        );
    }

    #[test]
    fn hostile_headings_stay_one_cell_and_never_run() {
        let name = "=cmd|'/c x'!A1\r\n\"x\",\u{1b}[31m";
        let text = written(1, &[(name, Cells::Signed(&[1]))]);
        assert_eq!(text, "\"'=cmd|'/c x'!A1 \n\"\"x\"\", [31m\"\r\n1\r\n");
    }

    #[test]
    fn long_columns_leave_in_chunks() {
        struct Counted(usize, usize);
        impl Write for Counted {
            fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
                self.0 += bytes.len();
                self.1 = self.1.max(bytes.len());
                Ok(bytes.len())
            }
            fn flush(&mut self) -> io::Result<()> {
                Ok(())
            }
        }
        let column: Vec<i32> = vec![512; 200_000];
        let mut out = Counted(0, 0);
        let mut writer = CsvWriter::new(&mut out, &["lx".to_owned()]).expect("counts");
        writer.rows(column.len(), &[Cells::Signed(&column)]).expect("counts");
        writer.finish().expect("counts");
        assert_eq!(out.0, 4 + 200_000 * 5);
        assert!(out.1 < CHUNK + 64, "{}", out.1);
    }
}
