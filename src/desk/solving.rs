//! From a file to constants: what `solve` and `export` do, and what a window saves.
use std::path::{Path, PathBuf};

use crate::emit::{data, header, sheet};
use crate::rig::Rig;
use crate::session::file::{self, FileError, Opened, Overrides};
use crate::wire::Dialect;
use crate::work::Watch;

use super::analysis::{Results, analyse};
use super::output::{self, OutputError};

/// Why a file was not solved or an output not written.
#[derive(Debug, thiserror::Error)]
pub enum SolveError {
    /// The session or log cannot be opened.
    #[error(transparent)]
    File(#[from] FileError),
    /// An output cannot be written.
    #[error(transparent)]
    Output(#[from] OutputError),
    /// Stopped by its owner.
    #[error("stopped")]
    Stopped,
}

/// An output that the data do not support; it is not written.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct NotWritten {
    /// The file asked for.
    pub path: PathBuf,
    /// Why, and what to do, in one line.
    pub why: String,
}

/// Which files are wanted of a solved session.
#[derive(Clone, Debug, Default)]
pub struct Wanted {
    /// C header.
    pub header: Option<PathBuf>,
    /// C header with the constants as macros alone.
    pub constants: Option<PathBuf>,
    /// Sheet.
    pub sheet: Option<PathBuf>,
    /// JSON.
    pub json: Option<PathBuf>,
    /// Constants with their readings.
    pub trim: Option<PathBuf>,
}

/// Opens a session or a plain log and works through it.
///
/// # Errors
/// The file cannot be opened, or the watch stopped the work.
pub fn solve_file(
    path: &Path,
    rig: Option<Rig>,
    dialect: Option<Dialect>,
    watch: &Watch,
) -> Result<Results, SolveError> {
    let overrides = Overrides { rig: rig.clone(), dialect };
    let Opened { session, damage } = file::open(path, &overrides, watch, &mut |_| ())?;
    let rig = rig.or_else(|| session.about.rig.clone()).unwrap_or_default();
    let source = path.file_name().unwrap_or(path.as_os_str()).to_string_lossy();
    analyse(&session, &rig, &source, &damage, watch).map_err(|_stopped| SolveError::Stopped)
}

/// The C header of a solved session, or why there is none.
///
/// # Errors
/// Nothing could be solved, or constants contradict each other; with what to do.
pub fn header_text(results: &Results) -> Result<String, String> {
    let trim = &results.solution.trim;
    if trim.is_empty() {
        let why = trim.refusals.first().map_or_else(
            || "no part of the controller could be solved; record the guided run".to_owned(),
            |r| format!("no part could be solved; {}: {}; {}", r.what, r.why, r.advice),
        );
        return Err(why);
    }
    header::header(trim).map_err(|e| e.to_string())
}

/// Writes the wanted files, each whole or not at all; gives those that the data do not support.
///
/// # Errors
/// A file cannot be written.
pub fn write_wanted(results: &Results, wanted: &Wanted) -> Result<Vec<NotWritten>, SolveError> {
    let report = results.report();
    let mut refused = Vec::new();
    let mut ready: Vec<(&Path, String)> = Vec::new();
    if let Some(path) = &wanted.header {
        match header_text(results) {
            Ok(text) => ready.push((path, text)),
            Err(why) => refused.push(NotWritten { path: path.clone(), why }),
        }
    }
    if let Some(path) = &wanted.constants {
        let text = header_text(results)
            .and_then(|_| header::constants(&results.solution.trim).map_err(|e| e.to_string()));
        match text {
            Ok(text) => ready.push((path, text)),
            Err(why) => refused.push(NotWritten { path: path.clone(), why }),
        }
    }
    if let Some(path) = &wanted.trim {
        match header_text(results) {
            Ok(_) => ready.push((path, results.solution.trim.to_ron())),
            Err(why) => refused.push(NotWritten { path: path.clone(), why }),
        }
    }
    if let Some(path) = &wanted.sheet {
        ready.push((path, sheet(&report)));
    }
    if let Some(path) = &wanted.json {
        ready.push((path, data::solve_json(&report)));
    }
    for (path, text) in ready {
        output::write_whole(path, text.as_bytes())?;
    }
    Ok(refused)
}

/// Writes the columns of a session or a plain log as comma-separated values.
///
/// # Errors
/// The file cannot be opened, or the output cannot be written.
pub fn export_csv(path: &Path, dialect: Option<Dialect>, out: &Path) -> Result<u64, SolveError> {
    let overrides = Overrides { rig: None, dialect };
    let opened = file::open(path, &overrides, &Watch::unwatched(), &mut |_| ())?;
    let rig = opened.session.about.rig.clone().unwrap_or_default();
    let tracks = opened.session.tracks(&rig);
    output::write_with(out, |file| {
        data::write_columns(file, &opened.session, &tracks, &mut |_rows| true).map(drop)
    })?;
    Ok(tracks.rows() as u64)
}
