//! `virtual`: the virtual board into a session file or on a pseudo-terminal.
use super::args::VirtualWords;
use super::names::Names;
use super::progress::watched;
use super::signals::stop_on_interrupt;
use super::{Failure, Outcome, Voice, files};
use crate::desk::output::numbered;
use crate::desk::play::{self, PlayOrder};

pub(super) fn run(words: VirtualWords, voice: Voice) -> Result<Outcome, Failure> {
    if let Some(created) = &words.created {
        humantime::parse_rfc3339_weak(created).map_err(|e| {
            Failure::Word(format!("--created {created}: {e}; write it as 2026-11-25T09:00:00Z"))
        })?;
    }
    if let Some(seconds) = words.seconds
        && !(seconds > 0.0 && seconds <= 1e6)
    {
        let text = format!("--seconds {seconds}: say how long to play, 0 to 1000000");
        return Err(Failure::Word(text));
    }
    let order = PlayOrder {
        scenario: words.scenario,
        rig: files::rig(words.rig.as_deref())?,
        dialect: files::dialect(words.dialect.as_deref())?,
        rate_hz: words.rate,
        raw_bits: words.bits,
        seed: words.seed,
        seconds: words.seconds,
    };
    match words.out {
        Some(out) => {
            let names = Names::default()
                .reads("--rig", words.rig.as_deref())
                .reads("--dialect", words.dialect.as_deref())
                .writes("--out", Some(&out));
            let silent = names.check_apart()?;
            let out = if words.number { numbered(&out) } else { out.clone() };
            let told = format!("of {}", order.scenario);
            let (created, to) = (words.created, out.clone());
            let end_us = watched(voice, "virtual", move |_| {
                play::to_file(&order, created.as_deref(), &to)
            })??;
            let seconds = end_us as f64 * 1e-6;
            if !silent {
                voice.summary(&format!("{}: {seconds:.1} s {told}\n", out.display()))?;
            }
        }
        None => on_pty(&order, words.pty.filter(|p| !p.as_os_str().is_empty()), voice)?,
    }
    Ok(Outcome::Clean)
}

#[cfg(unix)]
fn on_pty(
    order: &PlayOrder,
    link: Option<std::path::PathBuf>,
    voice: Voice,
) -> Result<(), Failure> {
    let stop = stop_on_interrupt()?;
    let mut told = Ok(());
    play::on_pty(order, link, &stop, &mut |path| {
        told = voice.result(&format!("{}\n", path.display()));
    })?;
    told
}

#[cfg(not(unix))]
fn on_pty(_: &PlayOrder, _: Option<std::path::PathBuf>, _: Voice) -> Result<(), Failure> {
    Err(Failure::Word("--pty: this system has no pseudo-terminals; use --out FILE".to_owned()))
}
