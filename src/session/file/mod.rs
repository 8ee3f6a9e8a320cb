//! The session file: header, records, marks, checkpoints; and plain text logs.
//!
//! ASCII, LF, append-only:
//!
//! | line | is |
//! |---|---|
//! | `trimbench-session 2` | the first line: what it is, version of the layout |
//! | RON | created, notes, rig, dialect; `clockless: true` where the times of the records mean nothing |
//! | `---` | end of the head; a checkpoint follows |
//! | `µs bytes` | a record: host time and the bytes up to the LF, which is implied |
//! | `µs bytes\` | bytes without a delimiter (none came within 50 ms or 4 096 bytes) |
//! | `µs =hex` | a packed record: every byte in hexadecimal, its delimiter included |
//! | `> µs bytes` | sent to the board |
//! | `@ µs word text` | a mark |
//! | `@ µs rig RON`, `@ µs dialect RON` | in force for the whole session; the last one wins |
//! | `@ µs undo N` | withdraws the `@` line whose running number is N |
//! | `# N CRC` | checkpoint: N is its own line number, CRC-32/ISO-HDLC (eight hexadecimal digits) is over the lines since the last checkpoint with their LF |
//! | `# N CRC end` | the last checkpoint of a recording that was ended; version 1 does not say it |
//!
//! In bytes and texts `\` is `\\`, bytes outside 0x20–0x7E are `\xNN`, and so is a leading `=`.
//! A record's time is that of the read that completed it.
//!
//! Reading: `index` looks through the whole file once, `plan` says which blocks are read in which order
//! and what the damage costs, `reader` and `pieces` follow the plan.
mod checkpoint;
mod damage;
mod header;
mod index;
mod mend;
mod pieces;
mod plan;
mod reader;
mod record;
mod sample;
mod scan;
mod second;
mod stretch;
mod text_log;
mod wide;
mod writer;

use std::fs::File;
use std::io::{self, Read};
use std::path::{Path, PathBuf};

use crate::rig::Rig;
use crate::wire::{Account, Dialect, SecondForm, Unrecognised};
use crate::work::{Cancelled, Watch};

use super::{CHUNK_LINES, Chunk, Session};

pub use damage::{Damage, DamageKind};
pub use pieces::{Piece, Pieces};
pub use stretch::write_last;
pub use writer::Writer;

/// True when a file begins as a session of any version does, also behind a byte order mark, or holds a
/// block of one that its checkpoint proves.
///
/// # Errors
/// It cannot be opened or read.
pub fn is_recording(path: &Path) -> io::Result<bool> {
    let mut head = Vec::new();
    File::open(path)?.take(scan::PROOF_BYTES).read_to_end(&mut head)?;
    Ok(scan::is_session(&head))
}

/// What a person lays over what the file says.
#[derive(Clone, Debug, Default)]
pub struct Overrides {
    /// Parts list to use.
    pub rig: Option<Rig>,
    /// Dialect to use.
    pub dialect: Option<Dialect>,
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
        source: io::Error,
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
    /// Not one line fits the dialect in force.
    #[error(
        "{path}: no frame in it, {lines} lines refused; check the dialect, or leave it out to have it recognised"
    )]
    NoFrames {
        /// The file.
        path: PathBuf,
        /// Lines that gave no frame.
        lines: u64,
        /// The first of them, and why.
        account: Box<Account>,
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

impl FileError {
    /// The lines that were refused, where lines are the reason.
    pub fn account(&self) -> Option<&Account> {
        match self {
            FileError::Unrecognised { reason, .. } => reason.account(),
            FileError::NoFrames { account, .. } => Some(account),
            _ => None,
        }
    }
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
    /// The chunks with the last lines as they came, oldest first: at least [`CHUNK_LINES`] lines,
    /// or all there are within the last megabyte or two of the file.
    pub last: Vec<Chunk>,
    /// The second form of lines that was read besides that of the session.
    pub second: Option<SecondForm>,
}

/// Lines are kept as they came from here on: so many bytes before the end of the file.
const LAST_BYTES: u64 = 1 << 20;

/// Adds a chunk to the session; its lines stay with the last ones, no more than are needed.
fn append(session: &mut Session, last: &mut Vec<Chunk>, mut chunk: Chunk) {
    session.append(&chunk);
    if chunk.lines.is_empty() {
        return;
    }
    // Whoever shows the lines has to know how they were framed.
    chunk.dialect = session.dialect().cloned();
    last.push(chunk);
    while last[1..].iter().map(|c| c.lines.len()).sum::<usize>() >= CHUNK_LINES {
        last.remove(0);
    }
}

/// What the readers need while they read.
struct Opening<'a> {
    path: &'a Path,
    file: File,
    bytes: u64,
    overrides: &'a Overrides,
    watch: &'a Watch,
    partial: &'a mut dyn FnMut(&Session),
}

impl Opening<'_> {
    fn io(&self, source: io::Error) -> FileError {
        FileError::Io { path: self.path.to_owned(), source }
    }

    fn unrecognised(&self, reason: Unrecognised) -> FileError {
        FileError::Unrecognised { path: self.path.to_owned(), reason }
    }
}

/// Opens a session file or a plain text log of a board's output.
///
/// `partial` is called now and then with what has been read so far, for a front that shows it.
/// Memory: the columns, and at most a few MB of text at a time.
///
/// # Errors
/// See [`FileError`].
pub fn open(
    path: &Path,
    overrides: &Overrides,
    watch: &Watch,
    partial: &mut dyn FnMut(&Session),
) -> Result<Opened, FileError> {
    let (file, bytes) = regular(path)?;
    let mut opening = Opening { path, file, bytes, overrides, watch, partial };
    let opened = match scan::head(&mut opening)? {
        scan::Head::Session => reader::read(&mut opening),
        scan::Head::Text => text_log::read(&mut opening),
    }?;
    if opened.session.rows() == 0 {
        let (refusals, dialect) = (opened.session.refusals(), opened.session.dialect());
        let lines = refusals.total();
        let account = dialect.and_then(|d| refusals.account(d)).unwrap_or_default();
        let account = Box::new(account);
        return Err(FileError::NoFrames { path: path.to_owned(), lines, account });
    }
    Ok(opened)
}

/// A regular file that is not empty, and its length.
fn regular(path: &Path) -> Result<(File, u64), FileError> {
    let refuse = |source| FileError::Io { path: path.to_owned(), source };
    let file = File::open(path).map_err(refuse)?;
    let about = file.metadata().map_err(refuse)?;
    if about.is_dir() {
        return Err(refuse(io::Error::new(
            io::ErrorKind::IsADirectory,
            "is a folder; give a file",
        )));
    }
    if !about.is_file() {
        let what = "is no regular file; save the output to a file first";
        return Err(refuse(io::Error::new(io::ErrorKind::InvalidInput, what)));
    }
    if about.len() == 0 {
        return Err(FileError::Empty { path: path.to_owned() });
    }
    Ok((file, about.len()))
}
