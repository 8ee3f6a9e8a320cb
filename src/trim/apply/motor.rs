//! A motor: strength to duty with a kick to start it, and off when nobody asks any more.
use crate::trim::MotorTrim;

/// A motor and its state. Times are the firmware's milliseconds, 16 bits, wrapping.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Motor {
    floor: u8,
    most: u8,
    kick_ms: u8,
    off_ms: u16,
    strength: u16,
    asked_at: u16,
    begun_at: u16,
    running: bool,
    kicking: bool,
}

impl Motor {
    /// A motor at rest. Without a kick its least duty is the one that starts it; with one, the one
    /// that keeps it turning.
    pub fn new(motor: &MotorTrim) -> Motor {
        Motor {
            floor: if motor.kick_ms == 0 { motor.start } else { motor.stop },
            most: motor.most,
            kick_ms: motor.kick_ms,
            off_ms: motor.off_ms,
            strength: 0,
            asked_at: 0,
            begun_at: 0,
            running: false,
            kicking: false,
        }
    }

    /// A strength is asked for: 0 = off, 65535 = all.
    pub fn ask(&mut self, strength: u16, now_ms: u16) {
        self.strength = strength;
        self.asked_at = now_ms;
    }

    /// The duty to set now, of 255. To be called at least every 5 s while it runs.
    pub fn duty(&mut self, now_ms: u16) -> u8 {
        if self.strength != 0 && now_ms.wrapping_sub(self.asked_at) >= self.off_ms {
            self.strength = 0;
        }
        if self.strength == 0 {
            self.running = false;
            return 0;
        }
        if !self.running {
            self.running = true;
            self.kicking = self.kick_ms != 0;
            self.begun_at = now_ms;
        }
        if self.kicking {
            if now_ms.wrapping_sub(self.begun_at) < u16::from(self.kick_ms) {
                return self.most;
            }
            self.kicking = false;
        }
        let steps = u32::from(self.most - self.floor) + 1;
        self.floor + ((u32::from(self.strength) * steps) >> 16) as u8
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const PLAIN: MotorTrim =
        MotorTrim { index: 0, start: 70, stop: 50, most: 180, kick_ms: 40, off_ms: 5000 };

    #[test]
    fn it_is_kicked_then_follows_the_strength_and_stops_when_nobody_asks() {
        let mut motor = Motor::new(&PLAIN);
        assert_eq!(motor.duty(65_500), 0);
        motor.ask(1, 65_500);
        assert_eq!((motor.duty(65_500), motor.duty(3)), (180, 180));
        assert_eq!(motor.duty(4), 50, "40 ms later");
        motor.ask(65_535, 100);
        assert_eq!(motor.duty(100), 180);
        motor.ask(32_768, 101);
        assert_eq!(motor.duty(101), 115);
        assert_eq!((motor.duty(5100), motor.duty(5101)), (115, 0));
        motor.ask(9, 5200);
        assert_eq!(motor.duty(5200), 180, "kicked anew");
    }

    #[test]
    fn without_a_kick_it_never_goes_below_the_duty_that_starts_it() {
        let mut motor = Motor::new(&MotorTrim { kick_ms: 0, ..PLAIN });
        motor.ask(1, 0);
        assert_eq!(motor.duty(0), 70);
    }
}
