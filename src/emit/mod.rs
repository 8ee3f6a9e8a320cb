//! What leaves: C header, sheet, data. Pure functions to text.
pub mod header;
mod meta;

pub use meta::SessionFacts;
