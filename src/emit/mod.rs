//! What leaves: C header, sheet, data. Pure functions to text.
pub mod costs;
pub mod data;
mod escape;
mod figures;
pub mod header;
mod meta;
mod places;
mod sheet;
mod summary;

pub use meta::{Report, SessionFacts};
pub use sheet::sheet;
pub use summary::summary;

#[cfg(test)]
mod built;
