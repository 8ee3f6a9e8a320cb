//! `export`: the columns of a session or a plain log.
use super::args::ExportWords;
use super::{Failure, Outcome, files, say};
use crate::desk::solving;

pub(super) fn run(words: ExportWords) -> Result<Outcome, Failure> {
    let dialect = files::dialect(words.dialect.as_deref())?;
    let rows = solving::export_csv(&words.file, dialect, &words.csv)?;
    say(&format!("{}: {rows} frames\n", words.csv.display()))?;
    Ok(Outcome::Clean)
}
