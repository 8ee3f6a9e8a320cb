//! Columns by field with roles as a map on top, marks, gaps, envelope, and the session file.
//!
//! Bytes go into an [`Intake`], which gives [`Chunk`]s; a [`Session`] appends them; [`Tracks`] are
//! its columns by role and in time, which everything after this layer reads.
mod refusals;
mod identity;
mod chunk;
mod intake;
mod join;
mod extremes;
mod block;
mod shelf;
mod store;
mod envelope;
mod sums;
mod ledger;
mod clock_ratio;
mod edges;
mod tracks;
mod gather;
mod inputs;
mod as_read;
pub mod file;

pub use as_read::{ColumnRead, Fate};
pub use block::{BLOCK_ROWS, Block};
pub use chunk::{CHUNK_LINES, Chunk, LineKind, RawLine};
pub use edges::{EdgeLog, LoggedChange};
pub use gather::ASSUMED_PERIOD_US;
pub use identity::{Identity, Of};
pub use inputs::{InputColumn, Inputs, is_input};
pub use intake::Intake;
pub use join::NotJoined;
pub use refusals::{FORM_LEAST, LineCounts, OtherForm, Refusal, Refusals};
pub use shelf::SPAN_ROWS;
pub use store::{About, Sent, Session, Stamp};
pub use sums::Sums;
pub use tracks::{Codes, Drive, DriveTrack, StreamLedger, TimeSource, TrackUs, Tracks, Unreadable};
