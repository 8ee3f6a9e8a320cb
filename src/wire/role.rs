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
