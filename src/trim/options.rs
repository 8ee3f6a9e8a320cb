//! What a firmware may use beyond the plain constants: curves, reach by direction, smoothing, limits
//! of plausible codes, motors.
use serde::{Deserialize, Serialize};

use super::Trim;
use crate::rig::{AxisId, Half};

/// Directions of a reach table, once round.
pub const REACH_NODES: usize = 32;

/// Everything optional; empty = the plain constants alone.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Options {
    /// Rate at which the firmware scans, Hz; 0 = not stated. Smoothing holds for this rate only.
    pub scan_rate_hz: u16,
    /// Response curves.
    pub curves: Vec<CurveTrim>,
    /// Reach by direction, of sticks in radial form.
    pub reaches: Vec<ReachTrim>,
    /// Smoothing of raw codes.
    pub smoothing: Vec<SmoothTrim>,
    /// Plausible codes.
    pub guards: Vec<GuardTrim>,
    /// A code must be implausible for this long to count as a fault, ms.
    pub guard_ms: u16,
    /// Motors.
    pub motors: Vec<MotorTrim>,
}

/// What a curve bends.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum CurveOf {
    /// The radius of a stick in radial form, each axis of one in axial form.
    Stick(Half),
    /// The travel of a trigger.
    Trigger(Half),
}

/// A response curve, applied after the zone.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct CurveTrim {
    /// What it bends.
    pub of: CurveOf,
    /// 33 or 65 outputs, evenly spaced over the travel: rising strictly from 0 to 32767.
    pub points: Vec<u16>,
}

/// How far each direction goes, after the gains, output units.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ReachTrim {
    /// Which stick.
    pub half: Half,
    /// [`REACH_NODES`] radii. Node 0 is x above its centre (raw codes), 8 is y above, 16 x below,
    /// 24 y below; between an axis and its diagonal the sine to that axis grows by √½ / 4 a node.
    pub radii: Vec<u16>,
}

/// Smoothing of one input: sum += code − (sum >> shift), smoothed code = sum >> shift.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct SmoothTrim {
    /// Which input.
    pub axis: AxisId,
    /// k, 1 to 8: each scan takes 1/2^k of the difference.
    pub shift: u8,
    /// Time constant that was asked for, µs.
    pub time_constant_us: u32,
}

/// Codes outside `least..=most` cannot come from a sound sensor and its wiring.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct GuardTrim {
    /// Which input.
    pub axis: AxisId,
    /// Least plausible code; 0 = that side cannot be told.
    pub least: u16,
    /// Greatest plausible code; full scale = that side cannot be told.
    pub most: u16,
}

/// One motor. Duties are of 255.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct MotorTrim {
    /// Number in the header.
    pub index: u8,
    /// Least duty that starts it from rest.
    pub start: u8,
    /// Least duty that keeps it turning.
    pub stop: u8,
    /// Greatest duty that its voltage allows.
    pub most: u8,
    /// Greatest duty is given for this long when it starts, ms; 0 = no kick.
    pub kick_ms: u8,
    /// It is switched off when nothing was asked of it for this long, ms, at most 60 000.
    pub off_ms: u16,
}

impl Options {
    /// True when nothing optional is used.
    pub fn is_empty(&self) -> bool {
        *self == Options::default()
    }

    /// The curve of a part.
    pub fn curve(&self, of: CurveOf) -> Option<&CurveTrim> {
        self.curves.iter().find(|c| c.of == of)
    }

    /// The reach by direction of a stick.
    pub fn reach(&self, half: Half) -> Option<&ReachTrim> {
        self.reaches.iter().find(|r| r.half == half)
    }
}

impl Trim {
    /// The curve that an axis follows, if any: its stick's or its trigger's.
    pub fn curve_of(&self, axis: AxisId) -> Option<&CurveTrim> {
        let half = axis.half();
        let of = if axis.is_trigger() { CurveOf::Trigger(half) } else { CurveOf::Stick(half) };
        self.options.curve(of)
    }
}
