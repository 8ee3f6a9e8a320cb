//! From a file to constants: what `solve` and `export` do, and what a window saves.
use std::path::{Path, PathBuf};

use crate::emit::{data, header, sheet};
use crate::rig::{HostUs, Mark, Rig, Word};
use crate::session::file::{self, Damage, FileError, Opened, Overrides};
use crate::session::{Identity, NotJoined, Session};
use crate::trim::Origin;
use crate::wire::Dialect;
use crate::work::Watch;

use super::analysis::{Given, Results, analyse_by};
use super::feed::file_name;
use super::keeping::{self, edits_beside};
use super::naming::{Naming, name_session};
use super::origin::{harm, origin_by};
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
    /// Names of a roll-call are asked for, and none was called.
    #[error("{0}: no roll-call in it; record one with `trimbench capture --roll-call`")]
    NotCalled(PathBuf),
    /// Changes by hand are asked for, and none are kept.
    #[error("{0}: no changes made by hand are kept beside it; solve it without --edited")]
    NotEdited(PathBuf),
    /// The changes by hand cannot be read.
    #[error("{0}: the changes made by hand cannot be read ({1}); solve without --edited")]
    Edits(PathBuf, String),
    /// A further file is no part of the same session.
    #[error("{0}: not measured together with the first file: {1}")]
    NotJoined(PathBuf, NotJoined),
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
    /// Every figure, one a row.
    pub csv: Option<PathBuf>,
    /// Constants with their readings.
    pub trim: Option<PathBuf>,
}

/// What is to be solved, and how it is read.
#[derive(Clone, Debug)]
pub struct SolveOrder<'a> {
    /// Session or plain log.
    pub path: &'a Path,
    /// Further recordings of the same board, in order.
    pub more: &'a [PathBuf],
    /// Parts list instead of the session's.
    pub rig: Option<Rig>,
    /// Frames a second of a log without a clock; beats the rig's.
    pub rate_hz: Option<f64>,
    /// Dialect instead of the session's.
    pub dialect: Option<Dialect>,
    /// Take roles, signs and button order as the roll-call found them.
    pub as_called: bool,
    /// Take the changes that were made by hand in the window and are kept beside the file.
    pub edited: bool,
}

/// Opens a session or a plain log and works through it; gives the names taken, if they were asked
/// for.
///
/// # Errors
/// The file cannot be opened, it holds no roll-call where its names are asked for, or the watch
/// stopped the work.
pub fn solve(
    order: SolveOrder<'_>,
    watch: &Watch,
) -> Result<(Results, Option<Naming>), SolveError> {
    let SolveOrder { path, more, rig, rate_hz, dialect, as_called, edited } = order;
    let overrides = Overrides { rig: rig.clone(), dialect };
    let Opened { mut session, mut damage, .. } = file::open(path, &overrides, watch, &mut |_| ())?;
    let ordered = rig.clone();
    let mut rig = rig.or_else(|| session.about.rig.clone()).unwrap_or_default();
    let given = if edited { take_edits(path, &mut session, &mut rig)? } else { Given::default() };
    for path in more {
        damage.extend(join(&mut session, path, &overrides, watch)?);
    }
    // A parts list named in the order is meant for it.
    rig = ordered.unwrap_or(rig);
    if !session.tells_time() {
        rig.deployed_rate_hz = rate_hz.or(rig.deployed_rate_hz);
    }
    let mut named = None;
    if as_called {
        let found = name_session(&session, &session.tracks(&rig), &rig);
        let naming = found.ok_or_else(|| SolveError::NotCalled(path.to_owned()))?;
        naming.put_into(&mut session);
        rig.clone_from(&naming.rig);
        named = Some(naming);
    }
    if !more.is_empty() {
        let all: Vec<&Path> = [path].into_iter().chain(more.iter().map(PathBuf::as_path)).collect();
        let sum = Identity::of_files(&all);
        session
            .set_identity(sum.map_err(|source| FileError::Io { path: path.to_owned(), source })?);
    }
    let names = [path].into_iter().chain(more.iter().map(PathBuf::as_path)).map(file_name);
    let source = names.collect::<Vec<_>>().join(" + ");
    let results = analyse_by(&session, &rig, &source, &damage, &given, watch);
    Ok((results.map_err(|_stopped| SolveError::Stopped)?, named))
}

/// Puts a further recording behind a session; gives its damage, each place with the file's name.
fn join(
    session: &mut Session,
    path: &Path,
    overrides: &Overrides,
    watch: &Watch,
) -> Result<Vec<Damage>, SolveError> {
    let later = file::open(path, overrides, watch, &mut |_| ())?;
    let name = file_name(path);
    let joined = session.join(&later.session, &name);
    joined.map_err(|why| SolveError::NotJoined(path.to_owned(), why))?;
    let named = |damage: Damage| Damage { words: format!("{name}: {}", damage.words), ..damage };
    Ok(later.damage.into_iter().map(named).collect())
}

/// Puts the changes kept beside a file in force.
fn take_edits(path: &Path, session: &mut Session, rig: &mut Rig) -> Result<Given, SolveError> {
    let beside = edits_beside(path).ok_or_else(|| SolveError::NotEdited(path.to_owned()))?;
    match keeping::read(&beside) {
        Ok(kept) => Ok(kept.put_into(session, rig)),
        Err(why) => Err(SolveError::Edits(beside, why)),
    }
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
    solve(
        SolveOrder {
            path,
            more: &[],
            rig,
            rate_hz: None,
            dialect,
            as_called: false,
            edited: false,
        },
        watch,
    )
    .map(|(results, _)| results)
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
    if let Some(path) = &wanted.csv {
        ready.push((path, data::figures_csv(&report)));
    }
    for (path, text) in ready {
        output::write_whole(path, text.as_bytes())?;
    }
    Ok(refused)
}

/// Writes the columns of a session or a plain log as comma-separated values; gives the rows and where
/// they came from. Damage stands as a mark before the row at its place.
///
/// # Errors
/// The file cannot be opened, or the output cannot be written.
pub fn export_csv(
    path: &Path,
    dialect: Option<Dialect>,
    out: &Path,
) -> Result<(u64, Origin), SolveError> {
    let overrides = Overrides { rig: None, dialect };
    let Opened { mut session, damage, .. } =
        file::open(path, &overrides, &Watch::unwatched(), &mut |_| ())?;
    let rig = session.about.rig.clone().unwrap_or_default();
    let tracks = session.tracks(&rig);
    // Where rows are lost a mark stands already.
    for other in damage.iter().filter(|damage| damage.rows == 0) {
        let at = HostUs(other.at_us.unwrap_or(0));
        session.mark(Mark::new(Word::Damaged, harm(other).to_string()).set_at(at));
    }
    output::write_with(out, |file| {
        data::write_columns(file, &session, &tracks, &mut |_rows| true).map(drop)
    })?;
    let source = file_name(path);
    let origin = origin_by(&session, &tracks.columns, tracks.time_source, &source, &damage);
    Ok((tracks.rows() as u64, origin))
}
