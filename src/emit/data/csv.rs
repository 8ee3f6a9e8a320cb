//! Columns as comma-separated values (RFC 4180), streamed with bounded memory.
//!
//! One heading line with names and units, one line a frame, CRLF, UTF-8. Text is quoted where the
//! standard asks for it. Integers are written by hand because a long session has tens of millions.
use std::io::{self, Write};

/// Bytes gathered before they are handed on.
const CHUNK: usize = 1 << 16;

/// The cells of one column, one a frame. A column that is too short has empty cells at its end.
#[derive(Clone, Copy)]
pub enum Cells<'a> {
    /// Signed numbers: raw readings.
    Signed(&'a [i32]),
    /// Counters, ages, masks.
    Unsigned(&'a [u32]),
    /// Times.
    Long(&'a [u64]),
    /// A number at some rows, in row order, empty elsewhere.
    At(&'a [(usize, u64)]),
    /// Text at some rows, in row order, empty elsewhere.
    Text(&'a [(usize, &'a str)]),
}

/// One column of the file.
#[derive(Clone, Copy)]
pub struct CsvColumn<'a> {
    /// Heading, unit included; quoted where needed.
    pub name: &'a str,
    /// What stands below it.
    pub cells: Cells<'a>,
}

/// A heading from a field's name and a unit: `lx_counts`; text from a board may hold anything.
pub fn csv_name(name: &str, unit: &str) -> String {
    if unit.is_empty() { name.to_owned() } else { format!("{name}_{unit}") }
}

/// Writes heading and rows. Needs 64 KiB and the borrowed columns, whatever the number of rows.
///
/// # Errors
/// What the writer reports; a part of the file may have been written.
pub fn write_csv(out: &mut impl Write, rows: usize, columns: &[CsvColumn<'_>]) -> io::Result<()> {
    let mut buffer = Vec::with_capacity(CHUNK + 4096);
    let mut places = vec![0usize; columns.len()];
    for (i, column) in columns.iter().enumerate() {
        if i > 0 {
            buffer.push(b',');
        }
        push_text(&mut buffer, column.name);
    }
    buffer.extend_from_slice(b"\r\n");
    for row in 0..rows {
        for (i, (column, place)) in columns.iter().zip(&mut places).enumerate() {
            if i > 0 {
                buffer.push(b',');
            }
            push_cell(&mut buffer, column.cells, row, place);
        }
        buffer.extend_from_slice(b"\r\n");
        if buffer.len() >= CHUNK {
            out.write_all(&buffer)?;
            buffer.clear();
        }
    }
    out.write_all(&buffer)?;
    out.flush()
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
                push_number(buffer, u64::from(value));
            }
        }
        Cells::Long(column) => {
            if let Some(&value) = column.get(row) {
                push_number(buffer, value);
            }
        }
        Cells::At(column) => {
            if let Some(value) = due(column, row, place) {
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

fn due<T: Copy>(sparse: &[(usize, T)], row: usize, place: &mut usize) -> Option<T> {
    let mut found = None;
    while let Some(&(at, value)) = sparse.get(*place) {
        if at > row {
            break;
        }
        if at == row {
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

    fn written(rows: usize, columns: &[CsvColumn<'_>]) -> String {
        let mut out = Vec::new();
        write_csv(&mut out, rows, columns).expect("a vector takes all");
        String::from_utf8(out).expect("UTF-8")
    }

    #[test]
    fn rows_gaps_and_marks_stand_where_they_belong() {
        let text = written(
            3,
            &[
                CsvColumn { name: "board_time_us", cells: Cells::Long(&[0, 4000, u64::MAX]) },
                CsvColumn { name: "lost_before", cells: Cells::At(&[(1, 12)]) },
                CsvColumn { name: "lx_counts", cells: Cells::Signed(&[-5, i32::MIN, 1023]) },
                CsvColumn { name: "age_us", cells: Cells::Unsigned(&[7]) },
                CsvColumn { name: "mark", cells: Cells::Text(&[(0, "rest"), (2, "a, \"b\"")]) },
            ],
        );
        assert_eq!(
            text,
            "board_time_us,lost_before,lx_counts,age_us,mark\r\n\
             0,,-5,7,rest\r\n\
             4000,12,-2147483648,,\r\n\
             18446744073709551615,,1023,,\"a, \"\"b\"\"\"\r\n"
        );
    }

    #[test]
    fn hostile_headings_stay_one_cell_and_never_run() {
        let name = "=cmd|'/c x'!A1\r\n\"x\",\u{1b}[31m";
        let text = written(1, &[CsvColumn { name, cells: Cells::Signed(&[1]) }]);
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
        let columns = [CsvColumn { name: "lx", cells: Cells::Signed(&column) }];
        write_csv(&mut out, column.len(), &columns).expect("counts");
        assert_eq!(out.0, 4 + 200_000 * 5);
        assert!(out.1 < CHUNK + 64, "{}", out.1);
    }
}
