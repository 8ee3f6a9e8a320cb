//! `prove`: does a fresh session of the flashed board meet the limits?
use super::args::ProveWords;
use super::{Failure, Outcome, files, say};
use crate::desk::proving;
use crate::emit::{proof_json, proof_text};
use crate::limits::Decision;
use crate::work::Watch;

pub(super) fn run(words: ProveWords) -> Result<Outcome, Failure> {
    let rig = files::rig(words.rig.as_deref())?;
    let dialect = files::dialect(words.dialect.as_deref())?;
    let watch = Watch::unwatched();
    let proved = proving::prove_file(&words.file, &words.against, rig, dialect, &watch)?;
    let json_to_stdout = words.json.as_deref().is_some_and(|p| p.as_os_str() == "-");
    if let Some(path) = words.json.filter(|_| !json_to_stdout) {
        proving::write_json(&proved, &path)?;
    }
    let text = if json_to_stdout { proof_json } else { proof_text };
    say(&text(&proved.proof, &proved.facts))?;
    let met = proved.proof.decision() == Decision::Pass;
    Ok(if met { Outcome::Clean } else { Outcome::Short })
}
