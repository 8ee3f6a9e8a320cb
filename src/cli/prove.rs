//! `prove`: does a fresh session of the flashed board meet the limits?
use super::args::ProveWords;
use super::names::Names;
use super::progress::watched;
use super::{Failure, Outcome, Voice, damage, files, width};
use crate::desk::proving;
use crate::emit::proof_text;
use crate::limits::Decision;

pub(super) fn run(words: ProveWords, voice: Voice) -> Result<Outcome, Failure> {
    let names = Names::default()
        .reads("the file", Some(&words.file))
        .reads("--against", Some(&words.against))
        .reads("--rig", words.rig.as_deref())
        .reads("--dialect", words.dialect.as_deref())
        .writes("--json", words.json.as_deref());
    let silent = names.check()?;
    let rig = files::rig(words.rig.as_deref())?;
    let dialect = files::dialect(words.dialect.as_deref())?;
    let input = files::input(&words.file)?;
    let (file, against) = (input.path().to_owned(), words.against);
    let proved = watched(voice, "prove", move |watch| {
        proving::prove_file(&file, &against, rig, dialect, watch)
    })??;
    if let Some(path) = words.json {
        proving::write_json(&proved, &path)?;
    }
    if !silent {
        voice.summary(&proof_text(&proved.proof, &proved.facts, width()))?;
    }
    let damaged = damage::told(&proved.facts.origin, words.damage);
    let met = proved.proof.decision() == Decision::Pass;
    Ok(if met && !damaged { Outcome::Clean } else { Outcome::Short })
}
