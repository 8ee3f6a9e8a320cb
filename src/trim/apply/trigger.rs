//! One trigger: travel past the rest, and the switch made of its two thresholds.
use super::{Curve, scaled, signed};
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
    curve: Option<Curve>,
}

impl Trigger {
    /// The trigger with the fraction bits of its trim, straight.
    pub fn new(trigger: &TriggerTrim, frac_bits: u8) -> Trigger {
        Trigger {
            rest: trigger.rest,
            dead: trigger.dead,
            gain: trigger.gain,
            on: trigger.on,
            off: trigger.off,
            frac: frac_bits,
            falls: trigger.sign < 0,
            curve: None,
        }
    }

    /// The trigger of that half with its curve; `None` when it was refused.
    pub fn of(trim: &Trim, half: Half) -> Option<Trigger> {
        let plain = trim.trigger(half).map(|t| Trigger::new(t, trim.frac_bits))?;
        Some(Trigger { curve: trim.curve_of(half.trigger()).and_then(Curve::new), ..plain })
    }

    /// Raw code in, 0…32767 out.
    pub fn run(&self, raw: u16) -> i16 {
        let (low, high) = if self.falls { (raw, self.rest) } else { (self.rest, raw) };
        let past = high.saturating_sub(low).saturating_sub(self.dead);
        let output = scaled(past, self.gain, self.frac);
        signed(self.curve.map_or(output, |curve| curve.bent(output)), false)
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
