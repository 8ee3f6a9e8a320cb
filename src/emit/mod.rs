//! What leaves: C header, sheet, data. Pure functions to text.
mod meta;

pub use meta::SessionFacts;
