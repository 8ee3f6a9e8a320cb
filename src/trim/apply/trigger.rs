//! One trigger: travel past the rest, and the switch made of its two thresholds.
use super::{scaled, signed};
use crate::rig::Half;
use crate::trim::{TriggerTrim, Trim};

/// A trigger ready to run.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Trigger {
    rest: u16,
    dead: u16,
    gain: u16,
    on: u16,
    off: u16,
    frac: u8,
    falls: bool,
}

impl Trigger {
    /// The trigger with the fraction bits of its trim.
    pub fn new(trigger: &TriggerTrim, frac_bits: u8) -> Trigger {
        Trigger {
            rest: trigger.rest,
            dead: trigger.dead,
            gain: trigger.gain,
            on: trigger.on,
            off: trigger.off,
            frac: frac_bits,
            falls: trigger.sign < 0,
        }
    }

    /// The trigger of that half; `None` when it was refused.
    pub fn of(trim: &Trim, half: Half) -> Option<Trigger> {
        trim.trigger(half).map(|t| Trigger::new(t, trim.frac_bits))
    }

    /// Raw code in, 0…32767 out.
    pub fn run(&self, raw: u16) -> i16 {
        let (low, high) = if self.falls { (raw, self.rest) } else { (self.rest, raw) };
        let past = high.saturating_sub(low).saturating_sub(self.dead);
        signed(scaled(past, self.gain, self.frac), false)
    }

    /// Whether it counts as pressed now, given whether it did before.
    pub fn pressed(&self, raw: u16, before: bool) -> bool {
        let (on, off) = if self.falls {
            (raw <= self.on, raw >= self.off)
        } else {
            (raw >= self.on, raw <= self.off)
        };
        on || (before && !off)
    }
}
