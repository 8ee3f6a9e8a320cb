//! Columns by field with roles as a map on top, marks, gaps, envelope, and the session file.
mod tracks;

pub use tracks::{Mark, StreamLedger, TimeSource, Tracks};
