//! What leaves: C header, sheet, data. Pure functions to text.
pub mod chart;
pub mod costs;
pub mod data;
mod escape;
mod figures;
mod forms;
pub mod header;
mod markup;
mod meta;
mod origin;
mod places;
mod proof;
mod sheet;
mod summary;
mod text_table;

pub use meta::{Report, SessionFacts, tool_words};
pub use proof::{ProofFacts, proof_json, proof_text};
pub use sheet::sheet;
pub use summary::summary;
pub use text_table::{Page, Width};

#[cfg(test)]
mod built;
