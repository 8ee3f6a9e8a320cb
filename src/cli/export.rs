//! `export`: the columns of a session or a plain log.
use super::args::ExportWords;
use super::names::Names;
use super::progress::watched;
use super::{Failure, Outcome, Voice, damage, files};
use crate::desk::solving;

pub(super) fn run(words: ExportWords, voice: Voice) -> Result<Outcome, Failure> {
    let names = Names::default()
        .reads("the file", Some(&words.file))
        .reads("--dialect", words.dialect.as_deref())
        .writes("--csv", Some(&words.csv));
    let silent = names.check()?;
    let dialect = files::dialect(words.dialect.as_deref())?;
    let input = files::input(&words.file)?;
    let (file, csv) = (input.path().to_owned(), words.csv.clone());
    let (rows, origin) =
        watched(voice, "export", move |_| solving::export_csv(&file, dialect, &csv))??;
    if !silent {
        voice.summary(&format!("{}: {rows} frames\n", words.csv.display()))?;
    }
    let damaged = damage::told(&origin, words.damage);
    Ok(if damaged { Outcome::Short } else { Outcome::Clean })
}
