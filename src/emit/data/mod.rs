//! Machine-readable outputs: the JSON of a solved session, the CSV of its columns.
mod columns;
mod csv;
mod figures_csv;
mod json;
mod mapping;
mod parts;

pub use columns::write_columns;
pub use figures_csv::figures_csv;
pub use json::solve_json;
