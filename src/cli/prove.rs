//! `prove`: does a fresh session of the flashed board meet the limits?
use super::args::ProveWords;
use super::progress::watched;
use super::{Failure, Outcome, Voice, files, width};
use crate::desk::proving;
use crate::emit::{proof_json, proof_text};
use crate::limits::Decision;

pub(super) fn run(words: ProveWords, voice: Voice) -> Result<Outcome, Failure> {
    let rig = files::rig(words.rig.as_deref())?;
    let dialect = files::dialect(words.dialect.as_deref())?;
    let input = files::input(&words.file)?;
    let (file, against) = (input.path().to_owned(), words.against);
    let proved = watched(voice, "prove", move |watch| {
        proving::prove_file(&file, &against, rig, dialect, watch)
    })??;
    let json_to_stdout = words.json.as_deref().is_some_and(|p| p.as_os_str() == "-");
    if let Some(path) = words.json.filter(|_| !json_to_stdout) {
        proving::write_json(&proved, &path)?;
    }
    if json_to_stdout {
        voice.result(&proof_json(&proved.proof, &proved.facts))?;
    } else {
        voice.summary(&proof_text(&proved.proof, &proved.facts, width()))?;
    }
    let met = proved.proof.decision() == Decision::Pass;
    Ok(if met { Outcome::Clean } else { Outcome::Short })
}
