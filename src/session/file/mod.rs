//! The session file: header, records, marks, checkpoints; and plain text logs.
mod writer;

use std::path::{Path, PathBuf};

use crate::rig::Rig;
use crate::wire::{Dialect, Unrecognised};
use crate::work::{Cancelled, Watch};

use super::Session;

pub use writer::Writer;

/// What a person lays over what the file says.
#[derive(Clone, Debug, Default)]
pub struct Overrides {
    /// Parts list to use.
    pub rig: Option<Rig>,
    /// Dialect to use.
    pub dialect: Option<Dialect>,
}

/// One kind of damage to a session file.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum DamageKind {
    /// The block's checksum does not agree: its lines are kept and not measured.
    Block,
    /// Lines behind the last checkpoint: measured, but nothing proves them.
    Unverified,
    /// A checkpoint's line number is not its own: lines are missing or too many.
    Lines,
    /// A line that is no record.
    Record,
    /// The header's checksum does not agree or is missing.
    Header,
}

/// One piece of damage and where it stands.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Damage {
    /// First line concerned, counted from 1.
    pub line: u64,
    /// Lines concerned.
    pub lines: u64,
    /// What it is.
    pub kind: DamageKind,
    /// In words, with what was done about it.
    pub words: String,
}

/// Why a file could not be opened.
#[derive(Debug, thiserror::Error)]
pub enum FileError {
    /// The operating system refused.
    #[error("{path}: {source}")]
    Io {
        /// The file.
        path: PathBuf,
        /// What the system said.
        source: std::io::Error,
    },
    /// Nothing in it.
    #[error("{path}: the file is empty; record something first")]
    Empty {
        /// The file.
        path: PathBuf,
    },
    /// The text is in no dialect.
    #[error("{path}: {reason}")]
    Unrecognised {
        /// The file.
        path: PathBuf,
        /// Why.
        reason: Unrecognised,
    },
    /// A session file whose header cannot be read.
    #[error("{path}, line {line}: {what}")]
    Header {
        /// The file.
        path: PathBuf,
        /// Where in the file.
        line: u64,
        /// What is wrong and what to do.
        what: String,
    },
    /// Stopped by its owner.
    #[error("stopped")]
    Cancelled,
}

impl From<Cancelled> for FileError {
    fn from(_: Cancelled) -> FileError {
        FileError::Cancelled
    }
}

/// A session and what was wrong with its file.
#[derive(Clone, Debug)]
pub struct Opened {
    /// The session.
    pub session: Session,
    /// Damage in the order of the file; empty for a sound file and for a plain log.
    pub damage: Vec<Damage>,
}

/// Opens a session file or a plain text log of a board's output.
///
/// `partial` is called now and then with what has been read so far, for a front that shows it.
///
/// # Errors
/// See [`FileError`].
pub fn open(
    path: &Path,
    overrides: &Overrides,
    watch: &Watch,
    partial: &mut dyn FnMut(&Session),
) -> Result<Opened, FileError> {
    let _ = (path, overrides, watch, partial);
    todo!()
}
