//! `dialect`: the form of a log's lines as a file to edit, or what a dialect makes of ten of them.
use super::args::DialectWords;
use super::progress::watched;
use super::{Failure, Outcome, Voice, damage, files, printable, width};
use crate::desk::draft::draft;
use crate::desk::solving::SolveError;
use crate::desk::trial::{Trial, trial};
use crate::emit::Page;

/// What a dialect file can say, an example a form.
const PAGE: &str = include_str!("../../assets/dialects.md");
/// A dialect file with a comment to every key.
const EXAMPLE: &str = include_str!("../../assets/dialect-example.ron");

pub(super) fn run(words: DialectWords, voice: Voice) -> Result<Outcome, Failure> {
    let Some(file) = &words.file else {
        voice.result(&format!("{PAGE}\nEvery key, with its comment:\n\n{EXAMPLE}"))?;
        return Ok(Outcome::Clean);
    };
    let dialect = files::dialect(words.dialect.as_deref())?;
    let trying = dialect.is_some();
    let input = files::input(file)?;
    let path = input.path().to_owned();
    let tried = watched(voice, "dialect", move |watch| trial(&path, dialect, watch))?;
    let tried = match tried {
        Ok(tried) => tried,
        Err(why) => {
            // Beside the reason stands a file to begin with.
            if let (false, SolveError::File(why)) = (trying, &why)
                && let Some(draft) = draft(input.path(), why)
            {
                voice.result(&draft)?;
            }
            return Err(why.into());
        }
    };
    let source = input.path().file_name().unwrap_or_default().to_string_lossy();
    match trying {
        true => voice.result(&shown(&tried))?,
        false => voice.result(&tried.to_ron(&source))?,
    }
    let damaged = damage::told(&tried.origin, words.damage);
    Ok(if damaged { Outcome::Short } else { Outcome::Clean })
}

/// Ten lines, each with what it gives beneath it.
fn shown(tried: &Trial) -> String {
    let mut page = Page::new(width());
    page.line(&format!(
        "{}: {} lines are frames, {} refused",
        tried.dialect.words(),
        tried.frames,
        tried.refused
    ));
    for line in &tried.lines {
        page.gap();
        page.line(&format!("line {}: {}", line.number, printable(&line.text)));
        page.wrapped("  ", &printable(&line.gives.join(" · ")));
    }
    if let Some(account) = &tried.account {
        page.gap();
        account.lines().iter().for_each(|line| page.line(line));
    }
    page.into_text()
}
