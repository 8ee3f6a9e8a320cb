//! Keeps commanded motors running while somebody wants them to, and stops them at the end.
use std::time::{Duration, Instant};

use crate::wire::command::Command;

/// How often a running motor is commanded again: well within the second after which it stops.
const AGAIN: Duration = Duration::from_millis(300);
/// Motors that can be addressed.
const MOTORS: usize = 4;

/// What the motors have last been told.
#[derive(Debug)]
pub(super) struct KeepAlive {
    duties: [u8; MOTORS],
    told: Instant,
}

impl KeepAlive {
    /// All motors off.
    pub(super) fn new() -> KeepAlive {
        KeepAlive { duties: [0; MOTORS], told: Instant::now() }
    }

    /// Looks at what is being sent: a command to a motor is remembered.
    pub(super) fn sent(&mut self, bytes: &[u8]) {
        for line in bytes.split(|b| *b == b'\n') {
            if let Ok(Command::Motor { motor, duty }) = Command::read(line)
                && let Some(place) = self.duties.get_mut(usize::from(motor))
            {
                *place = duty;
                self.told = Instant::now();
            }
        }
    }

    /// What has to be sent now so that no motor stops; nothing while all are off.
    pub(super) fn due(&mut self) -> Vec<u8> {
        if self.told.elapsed() < AGAIN {
            return Vec::new();
        }
        self.told = Instant::now();
        self.lines(|duty| duty)
    }

    /// What stops every motor that runs.
    pub(super) fn stop(&mut self) -> Vec<u8> {
        let lines = self.lines(|_| 0);
        self.duties = [0; MOTORS];
        lines
    }

    fn lines(&self, duty_of: impl Fn(u8) -> u8) -> Vec<u8> {
        let running = (0_u8..).zip(self.duties).filter(|(_, duty)| *duty > 0);
        running
            .flat_map(|(motor, duty)| Command::Motor { motor, duty: duty_of(duty) }.line())
            .collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_running_motor_is_told_again_and_stopped_at_the_end() {
        let mut keep = KeepAlive::new();
        keep.told -= AGAIN;
        assert_eq!(keep.due(), b"");
        keep.sent(b"motor 1 90\nlight 0 5\n");
        assert_eq!(keep.due(), b"", "it has just been told");
        keep.told -= AGAIN;
        assert_eq!(keep.due(), Command::Motor { motor: 1, duty: 90 }.line());
        assert_eq!(keep.stop(), Command::Motor { motor: 1, duty: 0 }.line());
        assert_eq!(keep.stop(), b"");
    }
}
