//! Commands to a board: one line of words and numbers, the same for both dialects.
//!
//! A line is a word and its numbers, `*HH` (XOR of the bytes before the star) may follow, a LF ends
//! it: `motor 0 128*4F`. Firmware answers with a line of its own that begins with `# `.
use std::fmt;

use super::checksum::{self, Checked};
use super::{ChecksumForm, checksum::xor};

/// Motors and lights that can be addressed.
const PLACES: u32 = 4;
/// Longest line that is a command, bytes.
pub const MAX_COMMAND_BYTES: usize = 40;

/// What a board can be told.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Command {
    /// Duty of a motor, 0–255. It stops by itself when no command comes for a second.
    Motor {
        /// Which, 0–3.
        motor: u8,
        /// 0 = off, 255 = full.
        duty: u8,
    },
    /// Strength of a motor, 0–255, through its constants: least and greatest duty, kick, time-out.
    Strength {
        /// Which, 0–3.
        motor: u8,
        /// 0 = off, 255 = full.
        strength: u8,
    },
    /// Level of a light, 0–255.
    Light {
        /// Which, 0–3.
        light: u8,
        /// 0 = off, 255 = full.
        level: u8,
    },
    /// Frames a second, 1–4000.
    Rate {
        /// Frames a second.
        hz: u16,
    },
    /// Packed frames (true) or lines of text.
    Packed(bool),
    /// Processed values behind the raw ones (true) or raw ones alone.
    Outputs(bool),
    /// A line for each change of a button, with its µs.
    Edges(bool),
    /// Who are you, and with which constants?
    Identity,
    /// Name the fields again.
    Heading,
}

/// Why a line is no command.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum NoCommand {
    /// The word is not known.
    #[error("not a command")]
    Word,
    /// Numbers are missing, too many or out of range.
    #[error("numbers out of range")]
    Numbers,
    /// The checksum does not agree.
    #[error("checksum does not agree")]
    Checksum,
}

impl fmt::Display for Command {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Command::Motor { motor, duty } => write!(f, "motor {motor} {duty}"),
            Command::Strength { motor, strength } => write!(f, "strength {motor} {strength}"),
            Command::Light { light, level } => write!(f, "light {light} {level}"),
            Command::Rate { hz } => write!(f, "rate {hz}"),
            Command::Packed(on) => write!(f, "packed {}", u8::from(*on)),
            Command::Outputs(on) => write!(f, "outputs {}", u8::from(*on)),
            Command::Edges(on) => write!(f, "edges {}", u8::from(*on)),
            Command::Identity => f.write_str("identity"),
            Command::Heading => f.write_str("heading"),
        }
    }
}

impl Command {
    /// The line with its checksum and LF.
    pub fn line(self) -> Vec<u8> {
        let text = self.to_string();
        format!("{text}*{:02X}\n", xor(text.as_bytes())).into_bytes()
    }

    /// Reads a line without its LF; a checksum is verified where there is one.
    ///
    /// # Errors
    /// See [`NoCommand`].
    pub fn read(line: &[u8]) -> Result<Command, NoCommand> {
        let text = match checksum::check(ChecksumForm::Xor, line.trim_ascii()) {
            Checked::Good(text) => text,
            Checked::Wrong(_) => return Err(NoCommand::Checksum),
            Checked::Missing => line.trim_ascii(),
        };
        let text = std::str::from_utf8(text).or(Err(NoCommand::Word))?;
        let mut words = text.split_ascii_whitespace();
        let word = words.next().unwrap_or("");
        let numbers: Option<Vec<u32>> = words.map(|w| w.parse().ok()).collect();
        let numbers = numbers.unwrap_or(vec![u32::MAX; 3]);
        let flag = |make: fn(bool) -> Command| match numbers[..] {
            [on @ 0..=1] => Ok(make(on == 1)),
            _ => Err(NoCommand::Numbers),
        };
        match (word, &numbers[..]) {
            ("motor", &[motor @ 0..PLACES, duty @ 0..=255]) => {
                Ok(Command::Motor { motor: motor as u8, duty: duty as u8 })
            }
            ("strength", &[motor @ 0..PLACES, strength @ 0..=255]) => {
                Ok(Command::Strength { motor: motor as u8, strength: strength as u8 })
            }
            ("light", &[light @ 0..PLACES, level @ 0..=255]) => {
                Ok(Command::Light { light: light as u8, level: level as u8 })
            }
            ("rate", &[hz @ 1..=4000]) => Ok(Command::Rate { hz: hz as u16 }),
            ("identity", []) => Ok(Command::Identity),
            ("heading", []) => Ok(Command::Heading),
            ("packed", _) => flag(Command::Packed),
            ("outputs", _) => flag(Command::Outputs),
            ("edges", _) => flag(Command::Edges),
            ("motor" | "strength" | "light" | "rate" | "identity" | "heading", _) => {
                Err(NoCommand::Numbers)
            }
            _ => Err(NoCommand::Word),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_command_comes_back() {
        for command in [
            Command::Motor { motor: 1, duty: 255 },
            Command::Strength { motor: 3, strength: 200 },
            Command::Light { light: 3, level: 0 },
            Command::Rate { hz: 1000 },
            Command::Packed(true),
            Command::Outputs(false),
            Command::Edges(true),
            Command::Identity,
            Command::Heading,
        ] {
            let line = command.line();
            assert!(line.len() <= MAX_COMMAND_BYTES);
            assert_eq!(Command::read(&line[..line.len() - 1]), Ok(command));
            assert_eq!(Command::read(command.to_string().as_bytes()), Ok(command));
        }
    }

    #[test]
    fn what_is_no_command_says_why() {
        assert_eq!(Command::read(b"motor 0 256"), Err(NoCommand::Numbers));
        assert_eq!(Command::read(b"motor 4 1"), Err(NoCommand::Numbers));
        assert_eq!(Command::read(b"motor 0"), Err(NoCommand::Numbers));
        assert_eq!(Command::read(b"rate -1"), Err(NoCommand::Numbers));
        assert_eq!(Command::read(b"packed 2"), Err(NoCommand::Numbers));
        assert_eq!(Command::read(b"motor 0 128*00"), Err(NoCommand::Checksum));
        assert_eq!(Command::read(b"dance"), Err(NoCommand::Word));
        assert_eq!(Command::read(b"\xFF\xFE"), Err(NoCommand::Word));
        assert_eq!(Command::read(b""), Err(NoCommand::Word));
    }
}
