//! What leaves: C header, sheet, data. Pure functions to text.
pub mod data;
mod escape;
pub mod header;
mod meta;
mod summary;

pub use meta::{Report, SessionFacts};
pub use summary::summary;

#[cfg(test)]
mod built;
