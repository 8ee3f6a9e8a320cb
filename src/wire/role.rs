//! What a field of the stream means.
use serde::{Deserialize, Serialize};

use crate::rig::{AxisId, Half};

/// The meaning of one field.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Role {
    /// Frame counter, wrapping at 8, 16 or 32 bits.
    Seq,
    /// Board clock, wrapping at 32 bits.
    Clock,
    /// Raw reading of an analog input.
    Axis(AxisId),
    /// One button as a 0/1 field.
    Button(u8),
    /// All buttons as one mask, bit 0 = `b0`.
    Buttons,
    /// A further mask of buttons, bit 0 = the button of that number.
    MoreButtons(u8),
    /// Supply estimate, millivolts.
    Vcc,
    /// Board temperature, converter counts or tenths of a degree.
    Temperature,
    /// Counter of the second half.
    RemoteSeq(Half),
    /// Age of the second half's data, in the clock's unit.
    RemoteAge(Half),
    /// Reset cause as the firmware reports it.
    ResetCause,
    /// Duty of motor n.
    Duty(u8),
    /// Level of light n.
    Light(u8),
    /// Processed axis as the flashed firmware gives it.
    OutAxis(AxisId),
    /// Debounced buttons as the flashed firmware gives them.
    OutButtons,
    /// Identity or header CRC that the firmware reports.
    Identity,
    /// Checksum carried as a field of its own.
    Checksum,
    /// Read, kept and not used.
    Ignore,
}

impl Role {
    /// As a dialect file has it: `axis(lx)`, `buttons`.
    pub fn key(self) -> String {
        // What serde derives is always written.
        ron::to_string(&self).unwrap_or_default()
    }

    /// What it is called: "left x", "all buttons, one mask".
    pub fn words(self) -> String {
        let side = |half: Half| half.key();
        match self {
            Role::Seq => "frame counter".to_owned(),
            Role::Clock => "board clock".to_owned(),
            Role::Axis(axis) => axis.words().to_owned(),
            Role::Button(k) => format!("button b{k}"),
            Role::Buttons => "all buttons, one mask".to_owned(),
            Role::MoreButtons(k) => format!("buttons from b{k} on, one mask"),
            Role::Vcc => "supply, mV".to_owned(),
            Role::Temperature => "temperature".to_owned(),
            Role::RemoteSeq(half) => format!("counter of {} half", side(half)),
            Role::RemoteAge(half) => format!("age of {} half", side(half)),
            Role::ResetCause => "reset cause".to_owned(),
            Role::Duty(k) => format!("motor {k} duty"),
            Role::Light(k) => format!("light {k} level"),
            Role::OutAxis(axis) => format!("output, {}", axis.words()),
            Role::OutButtons => "output, buttons".to_owned(),
            Role::Identity => "identity".to_owned(),
            Role::Checksum => "checksum".to_owned(),
            Role::Ignore => "not used".to_owned(),
        }
    }
}
