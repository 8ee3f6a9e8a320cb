//! Machine-readable outputs: the JSON of a solved session, the CSV of its columns.
mod columns;
mod csv;
mod json;
mod mapping;
mod parts;

pub use columns::write_columns;
pub use json::solve_json;
