//! What a virtual board's firmware makes of the commands sent to it.
use crate::wire::command::{Command, MAX_COMMAND_BYTES};

/// Motors and lights that can be driven.
pub(super) const PLACES: usize = 4;
/// Answers waiting to be printed; more commands at once than that go unanswered.
const MOST_ANSWERS: usize = 16;
/// A motor stops when no command has come for so long, µs.
const KEEP_ALIVE_US: f64 = 1e6;

/// Lines received, what is driven, and what is to be answered.
#[derive(Debug, Default)]
pub(super) struct Receiver {
    line: Vec<u8>,
    overlong: bool,
    duties: [u8; PLACES],
    levels: [u8; PLACES],
    heard_us: f64,
    rate_hz: Option<u16>,
    answers: Vec<String>,
    heading_due: bool,
}

impl Receiver {
    /// Takes bytes that came at `t_us`; `name` is what the board calls itself.
    pub fn take(&mut self, bytes: &[u8], t_us: f64, name: &str) {
        for &byte in bytes {
            if byte != b'\n' {
                self.overlong |= self.line.len() >= MAX_COMMAND_BYTES;
                if !self.overlong {
                    self.line.push(byte);
                }
                continue;
            }
            let line = std::mem::take(&mut self.line);
            if std::mem::take(&mut self.overlong) {
                self.answer("# refused: line too long".to_owned());
            } else if !line.trim_ascii().is_empty() {
                self.obey(&line, t_us, name);
            }
        }
    }

    fn obey(&mut self, line: &[u8], t_us: f64, name: &str) {
        let command = match Command::read(line) {
            Ok(command) => command,
            Err(why) => return self.answer(format!("# refused: {why}")),
        };
        self.heard_us = t_us;
        match command {
            Command::Motor { motor, duty } => self.duties[usize::from(motor)] = duty,
            Command::Light { light, level } => self.levels[usize::from(light)] = level,
            Command::Rate { hz } => self.rate_hz = Some(hz),
            Command::Heading => self.heading_due = true,
            Command::Identity => {
                let name: String =
                    name.chars().filter(|c| c.is_ascii_graphic() || *c == ' ').take(40).collect();
                return self.answer(format!("# identity {}, no constants", name.trim()));
            }
            Command::Packed(_)
            | Command::Outputs(_)
            | Command::Edges(_)
            | Command::Strength { .. } => {
                let text = format!("# refused: {command} is beyond the virtual board");
                return self.answer(text);
            }
        }
        self.answer(format!("# done {command}"));
    }

    fn answer(&mut self, text: String) {
        if self.answers.len() < MOST_ANSWERS {
            self.answers.push(text);
        }
    }

    /// Duty of a motor at `t_us`.
    pub fn duty(&self, motor: u8, t_us: f64) -> u8 {
        let alive = t_us - self.heard_us <= KEEP_ALIVE_US;
        self.duties.get(usize::from(motor)).copied().filter(|_| alive).unwrap_or(0)
    }

    /// A restart: nothing is driven any more, a line half received is gone.
    pub fn restart(&mut self) {
        self.line.clear();
        self.overlong = false;
        self.duties = [0; PLACES];
        self.levels = [0; PLACES];
    }

    /// All that is driven at `t_us`: motors, then lights.
    pub fn driven(&self, t_us: f64) -> [u8; 2 * PLACES] {
        std::array::from_fn(|k| match k.checked_sub(PLACES) {
            None => self.duty(k as u8, t_us),
            Some(light) => self.levels[light],
        })
    }

    /// Level of a light.
    pub fn level(&self, light: u8) -> u8 {
        self.levels.get(usize::from(light)).copied().unwrap_or(0)
    }

    /// A rate that was asked for since the last call.
    pub fn take_rate(&mut self) -> Option<u16> {
        self.rate_hz.take()
    }

    /// True once after the heading was asked for.
    pub fn take_heading(&mut self) -> bool {
        std::mem::take(&mut self.heading_due)
    }

    /// Answers that wait.
    pub fn take_answers(&mut self) -> Vec<String> {
        std::mem::take(&mut self.answers)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_motor_stops_when_nobody_asks_for_it_any_more() {
        let mut receiver = Receiver::default();
        receiver.take(b"motor 0 1", 5.0e6, "x");
        receiver.take(b"28\nlight 1 7\n", 5.0e6, "x");
        assert_eq!((receiver.duty(0, 5.9e6), receiver.duty(1, 5.9e6)), (128, 0));
        assert_eq!((receiver.duty(0, 6.1e6), receiver.level(1)), (0, 7));
        assert_eq!(receiver.take_answers(), ["# done motor 0 128", "# done light 1 7"]);
    }

    #[test]
    fn nonsense_is_refused_and_bounded() {
        let mut receiver = Receiver::default();
        receiver.take(&[b'x'; 100_000], 0.0, "x");
        assert!(receiver.line.len() <= MAX_COMMAND_BYTES);
        receiver.take(b"\ndance\npacked 1\n\n", 0.0, "x");
        let answers = receiver.take_answers();
        assert_eq!(answers.len(), 3, "{answers:?}");
        assert!(answers.iter().all(|a| a.starts_with("# refused: ")), "{answers:?}");
        (0..100).for_each(|_| receiver.take(b"dance\n", 0.0, "x"));
        assert_eq!(receiver.take_answers().len(), MOST_ANSWERS);
    }
}
