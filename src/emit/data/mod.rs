//! Machine-readable outputs: the JSON of a solved session, the CSV of its columns.
mod csv;
mod json;

pub use csv::{Cells, CsvColumn, csv_name, write_csv};
pub use json::solve_json;
