//! From a fresh session and a record to a proof: what `prove` does.
use std::path::{Path, PathBuf};

use crate::emit::{ProofFacts, proof_json};
use crate::limits::Limits;
use crate::proof::{self, KnownBy, NotFresh, Proof};
use crate::rig::Rig;
use crate::segment;
use crate::session::Session;
use crate::session::file::{self, Damage, FileError, Opened, Overrides};
use crate::trim::{Trim, TrimError};
use crate::wire::Dialect;
use crate::work::{Cancelled, Watch};

use super::origin::origin;
use super::output::{self, OutputError};
use super::small::small_text;

/// Why nothing was proved.
#[derive(Debug, thiserror::Error)]
pub enum ProveError {
    /// The session or log cannot be opened.
    #[error(transparent)]
    File(#[from] FileError),
    /// The record cannot be read.
    #[error("{}: {why}; name a file that solve wrote with --trim", path.display())]
    Unreadable {
        /// The file.
        path: PathBuf,
        /// Why, in words.
        why: String,
    },
    /// The record contradicts itself or is of another form.
    #[error("{}: {cause}", path.display())]
    Record {
        /// The file.
        path: PathBuf,
        /// What is wrong with it.
        cause: TrimError,
    },
    /// The readings are those that the constants were fitted to.
    #[error("{}: {cause}", path.display())]
    NotFresh {
        /// The session.
        path: PathBuf,
        /// How it was known.
        cause: NotFresh,
    },
    /// The proof cannot be written.
    #[error(transparent)]
    Output(#[from] OutputError),
}

/// A proof and what stands beside it.
#[derive(Clone, Debug)]
pub struct Proved {
    /// The checks.
    pub proof: Proof,
    /// Names and dates.
    pub facts: ProofFacts,
}

/// Reads a record of constants.
///
/// # Errors
/// It cannot be read, or its constants contradict each other.
pub fn read_record(path: &Path) -> Result<Trim, ProveError> {
    let unreadable = |why: String| ProveError::Unreadable { path: path.to_owned(), why };
    let text = small_text(path).map_err(unreadable)?;
    Trim::from_ron(&text).map_err(|cause| ProveError::Record { path: path.to_owned(), cause })
}

/// Opens a session or a plain log of the flashed board and judges it against a record.
///
/// # Errors
/// A file cannot be opened, or the session is the one that the constants were fitted to.
pub fn prove_file(
    path: &Path,
    record: &Path,
    rig: Option<Rig>,
    dialect: Option<Dialect>,
    watch: &Watch,
) -> Result<Proved, ProveError> {
    let trim = read_record(record)?;
    let overrides = Overrides { rig: rig.clone(), dialect };
    let Opened { session, damage, .. } = file::open(path, &overrides, watch, &mut |_| ())?;
    let rig = rig.or_else(|| session.about.rig.clone()).unwrap_or_default();
    let proof = prove_session(&session, &rig, &trim, watch)
        .map_err(|Cancelled| FileError::Cancelled)?
        .map_err(|cause| ProveError::NotFresh { path: path.to_owned(), cause })?;
    let name = |path: &Path| path.file_name().unwrap_or_default().to_string_lossy().into_owned();
    let facts = facts(&name(path), &session, &rig, &damage, &name(record), &trim);
    Ok(Proved { proof, facts })
}

/// Judges a session against a record's constants by the limits that the rig asks for.
///
/// # Errors
/// [`Cancelled`] when the watch asks for it; within, that the session is the one that the
/// constants were fitted to.
pub fn prove_session(
    session: &Session,
    rig: &Rig,
    trim: &Trim,
    watch: &Watch,
) -> Result<Result<Proof, NotFresh>, Cancelled> {
    watch.step(0, 3)?;
    let rig = Rig { raw_bits: rig.raw_bits.or(Some(trim.raw_bits)), ..rig.clone() };
    let tracks = session.tracks(&rig);
    watch.step(1, 3)?;
    let segments = match proof::stand_in(session, &tracks) {
        Some(of_outputs) => segment::find(&of_outputs),
        None => segment::find(&tracks),
    };
    watch.step(2, 3)?;
    let limits = Limits::for_bits(trim.raw_bits).with(&rig.limits);
    let proof = proof::prove(session, &tracks, &segments, trim, &rig.board_id, &limits);
    watch.step(3, 3)?;
    Ok(proof)
}

/// What stands beside a proof.
pub(super) fn facts(
    source: &str,
    session: &Session,
    rig: &Rig,
    damage: &[Damage],
    record: &str,
    trim: &Trim,
) -> ProofFacts {
    ProofFacts {
        origin: origin(session, rig, source, damage),
        created: session.about.created.clone(),
        record: record.to_owned(),
        board_id: trim.board_id.clone(),
        fitted_on: trim.session_date.clone(),
        crc: trim.crc().ok(),
        known_by: KnownBy::of(trim),
    }
}

/// Writes a proof for machines.
///
/// # Errors
/// The file cannot be written.
pub fn write_json(proved: &Proved, path: &Path) -> Result<(), ProveError> {
    Ok(output::write_whole(path, proof_json(&proved.proof, &proved.facts).as_bytes())?)
}
