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
    orders: [Option<Command>; MOTORS],
    told: Instant,
}

impl KeepAlive {
    /// All motors off.
    pub(super) fn new() -> KeepAlive {
        KeepAlive { orders: [None; MOTORS], told: Instant::now() }
    }

    /// Looks at what is being sent: a command to a motor is remembered.
    pub(super) fn sent(&mut self, bytes: &[u8]) {
        for line in bytes.split(|b| *b == b'\n') {
            let Ok(order) = Command::read(line) else { continue };
            let (Command::Motor { motor, duty: share }
            | Command::Strength { motor, strength: share }) = order
            else {
                continue;
            };
            if let Some(place) = self.orders.get_mut(usize::from(motor)) {
                *place = (share > 0).then_some(order);
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
        self.orders.iter().flatten().flat_map(|order| order.line()).collect()
    }

    /// What stops every motor that runs.
    pub(super) fn stop(&mut self) -> Vec<u8> {
        let orders = std::mem::take(&mut self.orders);
        let running = (0_u8..).zip(orders).filter(|(_, order)| order.is_some());
        running.flat_map(|(motor, _)| Command::Motor { motor, duty: 0 }.line()).collect()
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
        keep.sent(b"strength 0 200\n");
        keep.told -= AGAIN;
        assert_eq!(keep.due(), Command::Strength { motor: 0, strength: 200 }.line());
        assert_eq!(keep.stop(), Command::Motor { motor: 0, duty: 0 }.line());
    }
}
