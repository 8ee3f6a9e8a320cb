//! The catalogue of figures: each reading written once with key, label, unit, band and explanation.
//!
//! A row stands beside its field in [`super::figures`]; JSON, CSV, summary, sheet, stations, the list
//! of what is still to do and the judgement of limits read it from here. A new reading is its field
//! with its row, and its estimator.
mod entry;
mod judge;
mod rows;

pub(crate) use entry::parts;
pub use entry::{Entry, Part, entries_of, undecided};
pub use judge::{Judge, Judged, Judgement, Scaled};
pub(crate) use rows::figures;
pub use rows::{Elements, Figure, Figures, Info, Row, Shown};
