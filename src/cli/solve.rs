//! `solve`: measure a file, find faults, compute constants.
use super::args::SolveWords;
use super::files::Input;
use super::names::Names;
use super::progress::watched;
use super::voice::error;
use super::{Failure, Outcome, Voice, damage, files, printable, width};
use crate::desk::solving::{self, SolveOrder, Wanted};
use crate::desk::{Naming, edits_beside, naming};
use crate::emit::{self, Page};

pub(super) fn run(words: SolveWords, voice: Voice) -> Result<Outcome, Failure> {
    let silent = named_files(&words).check()?;
    let rig = files::rig(words.rig.as_deref())?;
    let dialect = files::dialect(words.dialect.as_deref())?;
    let (as_called, edited) = (words.as_called, words.edited);
    let inputs: Vec<Input> =
        words.files.iter().map(|file| files::input(file)).collect::<Result<_, _>>()?;
    let mut paths = inputs.iter().map(|input| input.path().to_owned());
    let (file, rate_hz) = (paths.next().unwrap_or_default(), words.rate);
    let more: Vec<_> = paths.collect();
    let (results, named) = watched(voice, "solve", move |watch| {
        let (path, more) = (&file, &more[..]);
        solving::solve(SolveOrder { path, more, rig, rate_hz, dialect, as_called, edited }, watch)
    })??;
    let beside = words.files.first().and_then(|file| edits_beside(file));
    if let (false, Some(beside)) = (edited, beside) {
        let text = "changes made by hand in the window are not used; --edited takes them";
        voice.note(&format!("{}: {text}", beside.display()));
    }
    let wanted = Wanted {
        header: words.header,
        constants: words.constants,
        sheet: words.sheet,
        json: words.json,
        csv: words.csv,
        trim: words.trim,
    };
    let refused = solving::write_wanted(&results, &wanted)?;
    if let Some(named) = &named {
        naming::write(named, words.dialect_out.as_deref(), words.rig_out.as_deref())?;
    }
    let report = results.report();
    if !silent {
        voice.summary(&emit::summary(&report, width()))?;
        voice.summary(&called_words(named.as_ref(), results.naming.as_ref()))?;
    }
    for file in &refused {
        error(&format!("{}: not written: {}", file.path.display(), file.why));
    }
    let damaged = damage::told(&results.facts.origin, words.damage);
    let short = damaged || results.has_fault() || !refused.is_empty();
    Ok(if short { Outcome::Short } else { Outcome::Clean })
}

/// Every file that the line names.
fn named_files(words: &SolveWords) -> Names<'_> {
    let files = words.files.iter();
    files
        .fold(Names::default(), |names, file| names.reads("the file", Some(file)))
        .reads("--rig", words.rig.as_deref())
        .reads("--dialect", words.dialect.as_deref())
        .writes("--header", words.header.as_deref())
        .writes("--constants", words.constants.as_deref())
        .writes("--sheet", words.sheet.as_deref())
        .writes("--json", words.json.as_deref())
        .writes("--csv", words.csv.as_deref())
        .writes("--trim", words.trim.as_deref())
        .writes("--dialect-out", words.dialect_out.as_deref())
        .writes("--rig-out", words.rig_out.as_deref())
}

/// What the roll-call has to say: the names taken, or those that could be.
fn called_words(taken: Option<&Naming>, found: Option<&Naming>) -> String {
    let (naming, how) = match (taken, found.filter(|found| !found.changes.is_empty())) {
        (Some(naming), _) => (naming, "taken"),
        (None, Some(naming)) => (naming, "not taken; --as-called takes them"),
        (None, None) => return String::new(),
    };
    let mut page = Page::new(width());
    page.gap();
    page.line(&format!("Roll-call: {}; names {how}", printable(&naming.summary())));
    for change in &naming.changes {
        page.wrapped("  ", &printable(change));
    }
    page.into_text()
}
