//! Tones of the guided run, for somebody who does not look at the screen; off unless asked for.
//!
//! The tones are made here and played by the system's own player, as a sound library would need the
//! system's headers to build.
use std::f64::consts::{PI, TAU};
use std::io;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};

use crate::guide::Prompt;

/// Samples a second.
const RATE_HZ: u32 = 22_050;
/// Part of full scale.
const LOUDNESS: f64 = 0.25;
/// Rise and fall of a tone, s: without them it clicks.
const RAMP_S: f64 = 0.01;
/// Time that a word takes to say, s: 150 words a minute (common practice).
const WORD_S: f64 = 0.4;

/// Players that are looked for, with what stands before the file's path.
const PLAYERS: [(&str, &[&str]); 5] = [
    ("pw-play", &[]),
    ("paplay", &[]),
    ("aplay", &["-q"]),
    ("afplay", &[]),
    (
        "powershell.exe",
        &["-NoProfile", "-Command", "& {(New-Object Media.SoundPlayer $args[0]).PlaySync()}"],
    ),
];

/// What a tone says.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Tone {
    /// Something is asked for; as long as these many words take to say.
    Ask(usize),
    /// Data were refused: low.
    Refused,
    /// The run is through: high.
    Through,
}

impl Tone {
    /// Pitch, Hz.
    fn pitch_hz(self) -> f64 {
        match self {
            Tone::Ask(_) => 660.0,
            Tone::Refused => 330.0,
            Tone::Through => 990.0,
        }
    }

    /// Length, s.
    fn length_s(self) -> f64 {
        match self {
            Tone::Ask(words) => words.clamp(1, 12) as f64 * WORD_S,
            Tone::Refused => 0.5,
            Tone::Through => 0.8,
        }
    }

    /// Samples of −1 to 1: a sine with a raised cosine at either end.
    fn samples(self) -> impl Iterator<Item = f64> {
        let count = (self.length_s() * f64::from(RATE_HZ)) as u32;
        (0..count).map(move |k| {
            let t_s = f64::from(k) / f64::from(RATE_HZ);
            let edge_s = t_s.min(self.length_s() - t_s).clamp(0.0, RAMP_S);
            let ramp = 0.5 - 0.5 * (PI * edge_s / RAMP_S).cos();
            LOUDNESS * ramp * (TAU * self.pitch_hz() * t_s).sin()
        })
    }
}

/// What was sounded last, so that nothing is said twice.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
struct Said {
    title: String,
    refused: bool,
    running: bool,
}

/// Plays tones one at a time: a new one cuts the old one short.
#[derive(Debug, Default)]
pub struct Tones {
    player: Option<(PathBuf, &'static [&'static str])>,
    folder: Option<tempfile::TempDir>,
    playing: Option<Child>,
    said: Said,
}

impl Tones {
    /// With the first player that stands in one of the folders of `path` (as `PATH` is written).
    pub fn found_in(path: &std::ffi::OsStr) -> Tones {
        let folders: Vec<PathBuf> = std::env::split_paths(path).collect();
        let stands = |name: &str| folders.iter().map(|f| f.join(name)).find(|p| p.is_file());
        let player = PLAYERS.into_iter().find_map(|(name, words)| Some((stands(name)?, words)));
        let mut tones = Tones::default();
        tones.player = player;
        tones
    }

    /// Why there can be no tones here; `Ok` when there can.
    pub fn can(&self) -> Result<(), &'static str> {
        match self.player {
            Some(_) => Ok(()),
            None => Err("No sound player is installed here (pw-play, paplay or aplay on Linux)"),
        }
    }

    /// Sounds what changed of the run's prompt (`None` = no run, or its review); `on` = tones are
    /// wanted. Gives a sentence when the player cannot be started, and tries no more.
    pub fn follow(&mut self, prompt: Option<&Prompt>, on: bool) -> Option<String> {
        let now = Said {
            title: prompt.map_or(String::new(), |p| p.title.clone()),
            refused: prompt.is_some_and(|p| p.refusal.is_some()),
            running: prompt.is_some(),
        };
        let tone = due(&self.said, &now);
        self.said = now;
        let tone = tone.filter(|_| on)?;
        let (player, _) = self.player.clone()?;
        self.play(tone).err().map(|e| {
            self.player = None;
            format!("{}: no tone can be played ({e}); the run goes on without", player.display())
        })
    }

    fn play(&mut self, tone: Tone) -> io::Result<()> {
        self.hush();
        let Some((player, words)) = &self.player else { return Ok(()) };
        let folder = match &mut self.folder {
            Some(folder) => folder,
            none => none.insert(tempfile::tempdir()?),
        };
        let file = folder.path().join("tone.wav");
        write(tone, &file)?;
        let mut command = Command::new(player);
        command.args(*words).arg(&file);
        command.stdin(Stdio::null()).stdout(Stdio::null()).stderr(Stdio::null());
        self.playing = Some(command.spawn()?);
        Ok(())
    }

    /// Ends the tone that sounds.
    fn hush(&mut self) {
        if let Some(mut playing) = self.playing.take() {
            // It may have ended by itself: then there is nothing to end.
            let _ = playing.kill();
            let _ = playing.wait();
        }
    }
}

impl Drop for Tones {
    fn drop(&mut self) {
        self.hush();
    }
}

/// The tone for what changed, the gravest first.
fn due(before: &Said, now: &Said) -> Option<Tone> {
    match (before.running, now.running) {
        (true, false) => Some(Tone::Through),
        (_, true) if now.refused && !before.refused => Some(Tone::Refused),
        (_, true) if now.title != before.title => {
            Some(Tone::Ask(now.title.split_whitespace().count()))
        }
        _ => None,
    }
}

/// Writes a tone: one channel, 16 bits, PCM.
fn write(tone: Tone, path: &Path) -> io::Result<()> {
    let form = hound::WavSpec {
        channels: 1,
        sample_rate: RATE_HZ,
        bits_per_sample: 16,
        sample_format: hound::SampleFormat::Int,
    };
    let mut file = hound::WavWriter::create(path, form).map_err(io::Error::other)?;
    for sample in tone.samples() {
        file.write_sample((sample * f64::from(i16::MAX)) as i16).map_err(io::Error::other)?;
    }
    file.finalize().map_err(io::Error::other)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn asked(title: &str, refusal: Option<&str>) -> Prompt {
        let refusal = refusal.map(str::to_owned);
        Prompt { title: title.to_owned(), refusal, ..Prompt::default() }
    }

    #[test]
    fn a_tone_has_its_pitch_its_length_and_no_click() {
        for tone in [Tone::Ask(3), Tone::Refused, Tone::Through] {
            let samples: Vec<f64> = tone.samples().collect();
            let rate = f64::from(RATE_HZ);
            assert!((samples.len() as f64 / rate - tone.length_s()).abs() < 1e-3);
            let rises = samples.windows(2).filter(|w| w[0] < 0.0 && w[1] >= 0.0).count();
            let pitch_hz = rises as f64 / tone.length_s();
            assert!((pitch_hz - tone.pitch_hz()).abs() < 4.0, "{tone:?}: {pitch_hz}");
            let loudest = samples.iter().fold(0.0_f64, |most, s| most.max(s.abs()));
            assert!((0.24..=0.25).contains(&loudest), "{tone:?}: {loudest}");
            let ends = [samples[0], samples[samples.len() - 1]];
            assert!(ends.iter().all(|s| s.abs() < 0.01), "{tone:?}: {ends:?}");
        }
    }

    #[test]
    fn each_change_sounds_once_and_nothing_sounds_unless_wanted() {
        let said = |prompt: Option<Prompt>| Said {
            title: prompt.as_ref().map_or(String::new(), |p| p.title.clone()),
            refused: prompt.as_ref().is_some_and(|p| p.refusal.is_some()),
            running: prompt.is_some(),
        };
        let none = said(None);
        let rest = said(Some(asked("Hands off", None)));
        let moved = said(Some(asked("Hands off", Some("left x moved"))));
        let roll = said(Some(asked("Roll both sticks round, slowly", None)));
        assert_eq!(due(&none, &rest), Some(Tone::Ask(2)));
        assert_eq!(due(&rest, &rest), None);
        assert_eq!(due(&rest, &moved), Some(Tone::Refused));
        assert_eq!(due(&moved, &rest), None);
        assert_eq!(due(&moved, &roll), Some(Tone::Ask(5)));
        assert_eq!(due(&roll, &none), Some(Tone::Through));
        assert_eq!(due(&none, &none), None);
    }

    /// A player that keeps what it was given: the file must be a tone that another reader reads.
    #[cfg(unix)]
    #[test]
    fn the_player_gets_a_file_with_the_tone() {
        use std::os::unix::fs::PermissionsExt;
        let folder = tempfile::tempdir().expect("a folder");
        let player = folder.path().join("aplay");
        let kept = folder.path().join("kept.wav");
        let script =
            format!("#!/bin/sh\n/bin/cp \"$2\" {}.part\n/bin/mv {0}.part {0}\n", kept.display());
        std::fs::write(&player, script).expect("written");
        let run = std::fs::Permissions::from_mode(0o755);
        std::fs::set_permissions(&player, run).expect("set");
        let mut tones = Tones::found_in(folder.path().as_os_str());
        assert_eq!(tones.can(), Ok(()));
        assert_eq!(tones.follow(Some(&asked("Hands off", None)), false), None);
        assert!(tones.playing.is_none(), "not wanted");
        assert_eq!(tones.follow(Some(&asked("Push up, let go", None)), true), None);
        let status = tones.playing.as_mut().expect("it plays").wait().expect("it ends");
        assert!(status.success());
        let samples = hound::WavReader::open(&kept).expect("a tone").duration();
        assert_eq!(samples, 4 * RATE_HZ * 4 / 10);
    }

    #[test]
    fn without_a_player_it_is_said_and_a_broken_one_is_not_asked_again() {
        assert!(Tones::found_in("".as_ref()).can().is_err());
        let folder = tempfile::tempdir().expect("a folder");
        let player = folder.path().join("pw-play");
        std::fs::write(&player, "").expect("written");
        let mut tones = Tones::found_in(folder.path().as_os_str());
        let said = tones.follow(Some(&asked("Hands off", None)), true);
        assert!(said.is_some_and(|s| s.contains("no tone can be played")));
        assert_eq!(tones.follow(Some(&asked("Roll", None)), true), None);
    }
}
