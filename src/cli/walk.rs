//! The guided run in the terminal, flat out, on the virtual board; its files in a temp folder.
use super::voice::error;
use super::{Failure, Outcome, Voice, printable, width};
use crate::desk::{verdicts, walk};
use crate::emit;

pub(super) fn run(why: &str, voice: Voice) -> Result<Outcome, Failure> {
    voice.summary(&format!(
        "No window ({}): the guided run is played here, on the virtual board, flat out.\n\n",
        printable(why.rsplit(": ").next().unwrap_or(why).trim_end_matches('.'))
    ))?;
    let folder = tempfile::Builder::new()
        .prefix("trimbench-")
        .tempdir()
        .map_err(|e| Failure::Refused(format!("no folder below the temp folder: {e}")))?
        .keep();
    let mut told = Ok(());
    let walked = walk::walk(&folder, &mut |line| {
        if told.is_ok() {
            told = voice.summary(&format!("{line}\n"));
        }
    })?;
    told?;
    voice.summary("\nReview\n")?;
    for verdict in verdicts(&walked.results) {
        voice.summary(&format!("  {}: {}\n", verdict.part, printable(&verdict.sentence)))?;
    }
    voice.summary(&format!("\n{}\n", emit::summary(&walked.results.report(), width())))?;
    voice.summary(&format!("{:.0} s of board time; files:\n", walked.board_s))?;
    for file in &walked.files {
        voice.summary(&format!("  {}\n", file.display()))?;
    }
    for file in &walked.refused {
        error(&format!("{}: not written: {}", file.path.display(), file.why));
    }
    let short = walked.results.has_fault() || !walked.refused.is_empty();
    Ok(if short { Outcome::Short } else { Outcome::Clean })
}
