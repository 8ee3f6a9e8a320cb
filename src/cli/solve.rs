//! `solve`: measure a file, find faults, compute constants.
use super::args::SolveWords;
use super::{Failure, Outcome, files, printable, say};
use crate::desk::solving::{self, Wanted};
use crate::emit;
use crate::work::Watch;

pub(super) fn run(words: SolveWords) -> Result<Outcome, Failure> {
    let rig = files::rig(words.rig.as_deref())?;
    let dialect = files::dialect(words.dialect.as_deref())?;
    let results = solving::solve_file(&words.file, rig, dialect, &Watch::unwatched())?;
    let json_to_stdout = words.json.as_deref().is_some_and(|p| p.as_os_str() == "-");
    let wanted = Wanted {
        header: words.header,
        constants: words.constants,
        sheet: words.sheet,
        json: words.json.filter(|_| !json_to_stdout),
        trim: words.trim,
    };
    let refused = solving::write_wanted(&results, &wanted)?;
    let report = results.report();
    if json_to_stdout {
        say(&emit::data::solve_json(&report))?;
    } else {
        say(&emit::summary(&report))?;
    }
    for file in &refused {
        eprintln!("{}", printable(&format!("{}: not written: {}", file.path.display(), file.why)));
    }
    let short = results.has_fault() || !refused.is_empty();
    Ok(if short { Outcome::Short } else { Outcome::Clean })
}
