//! `Trim`: the integers that the firmware uses, each beside the reading it came from.
//!
//! Kept as RON (`*.trim.ron`), format 2; unknown keys are refused by name. Format 1 is read: it knows
//! its session by the date alone.
use crate::survey::Code;
use serde::{Deserialize, Serialize};

use super::{Fitted, Options, Origin};
use crate::measure::Reading;
use crate::rig::{AxisId, Half, Place, ZoneForm};

/// Greatest output magnitude of an axis, stick component or trigger; −32768 never leaves.
pub const FULL_OUTPUT: u16 = 32767;

/// Version of the trim file as it is written; those before it are read.
pub const FORMAT: u32 = 2;

/// The constants of one controller.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Trim {
    /// Version of this layout: 1 or [`FORMAT`].
    pub format: u32,
    /// Which board: serial number or label, as the rig has it.
    pub board_id: String,
    /// What the builder calls the controller.
    pub rig_name: String,
    /// When the session was recorded, as handed in.
    pub session_date: String,
    /// Width of the raw readings, bits (8–16).
    pub raw_bits: u8,
    /// True when the width was guessed from the samples.
    #[serde(default)]
    pub raw_bits_guessed: bool,
    /// Fraction bits of every gain: `raw_bits − 2`.
    pub frac_bits: u8,
    /// Axes of the sticks that could be solved, in the order of [`AxisId::ALL`].
    pub axes: Vec<AxisTrim>,
    /// Sticks that could be solved; both of their axes stand in `axes`.
    pub sticks: Vec<StickTrim>,
    /// Triggers that could be solved.
    pub triggers: Vec<TriggerTrim>,
    /// Buttons that could be solved.
    pub buttons: Vec<ButtonTrim>,
    /// Curves, reach by direction, smoothing, plausible codes, motors.
    #[serde(default)]
    pub options: Options,
    /// Which readings the constants were fitted to, so that the proof is not held on the same ones.
    #[serde(default)]
    pub fitted_to: Fitted,
    /// The recording that they came from; records of format 1 do not say it.
    #[serde(default)]
    pub origin: Option<Origin>,
    /// Fields whose role was guessed from the order of the columns, and what each was taken for.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub guessed: Vec<String>,
    /// Parts that could not be solved, and why.
    #[serde(default)]
    pub refusals: Vec<Refusal>,
}

/// Constants of one stick axis. Codes and counts are raw converter counts.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct AxisTrim {
    /// Which.
    pub axis: AxisId,
    /// Whole-count centre.
    pub centre: u16,
    /// Lowest code that every push to that side passes: output is full there.
    pub low: u16,
    /// Highest code that every push to that side passes: output is full there.
    pub high: u16,
    /// +1 when a rising code gives a rising output, −1 when it gives a falling one.
    pub sign: i8,
    /// Gain below the centre for the radial form, ⌈32767·2^frac / (centre − low)⌉.
    pub gain_neg: u16,
    /// Gain above the centre for the radial form, ⌈32767·2^frac / (high − centre)⌉.
    pub gain_pos: u16,
    /// Axial dead zone: half-width, counts; output leaves 0 at `dead + 1`.
    pub dead: u16,
    /// Gain below the centre for the axial form, over `centre − low − dead`.
    pub axial_gain_neg: u16,
    /// Gain above the centre for the axial form, over `high − centre − dead`.
    pub axial_gain_pos: u16,
    /// Readings behind these integers.
    #[serde(default)]
    pub from: AxisSource,
}

/// The readings that an axis's constants came from.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct AxisSource {
    /// Centre from the releases, counts.
    #[serde(default)]
    pub centre: Option<Reading>,
    /// Per-turn lower reach, counts.
    #[serde(default)]
    pub low: Option<Reading>,
    /// Per-turn upper reach, counts.
    #[serde(default)]
    pub high: Option<Reading>,
    /// RMS noise at rest, counts.
    #[serde(default)]
    pub noise_rms: Option<Reading>,
    /// Axial dead zone before rounding up, counts; n = releases.
    #[serde(default)]
    pub dead: Option<Reading>,
}

/// A 2×2 correction of skew and rotation, rows first, 14 fraction bits; applied after the gains.
///
/// The magnitudes of each row sum to less than 2 (32768), so that 32 signed bits hold every
/// product of a magnitude up to 65535.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Matrix2(pub [[i16; 2]; 2]);

/// Constants of one stick: its zone. Zones are in output units (32767 = full).
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct StickTrim {
    /// Which.
    pub half: Half,
    /// The form of zone that the firmware uses; the constants of the other are kept too.
    pub form: ZoneForm,
    /// Radial dead zone: radius after the gains, output units; output is 0 up to it.
    pub inner: u16,
    /// Radius after the gains that every direction reaches: output is full there, output units.
    pub outer: u16,
    /// Correction of skew and rotation, where a person accepted it.
    #[serde(default)]
    pub matrix: Option<Matrix2>,
    /// Readings behind these integers.
    #[serde(default)]
    pub from: StickSource,
}

/// The readings that a stick's constants came from.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct StickSource {
    /// Radial dead zone before rounding up, counts; n = releases.
    #[serde(default)]
    pub inner: Option<Reading>,
    /// Smallest reach of the directions after the gains, share of full; n = turns.
    #[serde(default)]
    pub outer: Option<Reading>,
    /// Departure of the axes from 90°, degrees.
    #[serde(default)]
    pub orthogonality_deg: Option<Reading>,
    /// Rotation, degrees.
    #[serde(default)]
    pub rotation_deg: Option<Reading>,
}

/// Constants of one trigger. Codes and counts are raw converter counts.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct TriggerTrim {
    /// Which.
    pub half: Half,
    /// Released level.
    pub rest: u16,
    /// Level that every full pull passes: output is full there.
    pub full: u16,
    /// +1 when a pull raises the code, −1 when it lowers it.
    pub sign: i8,
    /// Travel from `rest` that is still output 0, counts.
    pub dead: u16,
    /// Gain over `|full − rest| − dead`, rounded up.
    pub gain: u16,
    /// Code at which the trigger counts as pressed.
    pub on: u16,
    /// Code at which it counts as released again; nearer to `rest` than `on`.
    pub off: u16,
    /// Readings behind these integers.
    #[serde(default)]
    pub from: TriggerSource,
}

/// The readings that a trigger's constants came from.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct TriggerSource {
    /// Released level, counts.
    #[serde(default)]
    pub rest: Option<Reading>,
    /// Standard deviation of the released levels, counts.
    #[serde(default)]
    pub rest_scatter: Option<Reading>,
    /// Fully pulled level, counts.
    #[serde(default)]
    pub full: Option<Reading>,
    /// RMS noise at rest, counts.
    #[serde(default)]
    pub noise_rms: Option<Reading>,
}

/// Constants of one button.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ButtonTrim {
    /// Bit number in the mask, and number in the header.
    pub index: u8,
    /// Position name from the rig; empty when it has none.
    #[serde(default)]
    pub name: String,
    /// After a press is reported, what the contact does is ignored for this long, ms.
    pub press_lockout_ms: u8,
    /// A release is reported once the contact has been open for this long, ms.
    pub release_ms: u8,
    /// True when a pressed button reads 0.
    pub active_low: bool,
    /// Readings behind these integers.
    #[serde(default)]
    pub from: ButtonSource,
}

/// The readings that a button's constants came from.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ButtonSource {
    /// Press bounce at most, ms.
    #[serde(default)]
    pub bounce_press_max_ms: Option<Reading>,
    /// Release bounce at most, ms.
    #[serde(default)]
    pub bounce_release_max_ms: Option<Reading>,
}

/// A part that could not be solved.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Refusal {
    /// Where; records of earlier versions do not say it.
    #[serde(default)]
    pub place: Place,
    /// The same in words, with the constant when it is one alone: "left stick", "left x smoothing".
    pub what: String,
    /// Why, in words with numbers.
    pub why: String,
    /// Code of the finding that it belongs to.
    pub code: Code,
    /// What to do next, one sentence without a full stop.
    pub advice: String,
}

impl Refusal {
    /// A part that has no constants at all.
    pub fn of(place: impl Into<Place>, code: Code, why: String, advice: &str) -> Refusal {
        let place = place.into();
        Refusal { place, what: place.words(), why, code, advice: advice.to_owned() }
    }

    /// The same of one constant alone: "smoothing".
    pub(crate) fn only(self, constant: &str) -> Refusal {
        Refusal { what: format!("{} {constant}", self.place.words()), ..self }
    }
}

impl AxisTrim {
    /// Travel below the centre, counts.
    pub fn span_neg(&self) -> u16 {
        self.centre.saturating_sub(self.low)
    }

    /// Travel above the centre, counts.
    pub fn span_pos(&self) -> u16 {
        self.high.saturating_sub(self.centre)
    }
}

impl TriggerTrim {
    /// Travel from released to full, counts.
    pub fn span(&self) -> u16 {
        self.full.abs_diff(self.rest)
    }
}

impl Trim {
    /// Constants of an axis.
    pub fn axis(&self, axis: AxisId) -> Option<&AxisTrim> {
        self.axes.iter().find(|a| a.axis == axis)
    }

    /// Constants of a stick.
    pub fn stick(&self, half: Half) -> Option<&StickTrim> {
        self.sticks.iter().find(|s| s.half == half)
    }

    /// Constants of a trigger.
    pub fn trigger(&self, half: Half) -> Option<&TriggerTrim> {
        self.triggers.iter().find(|t| t.half == half)
    }

    /// Greatest raw code, 2^bits − 1.
    pub fn full_scale(&self) -> u16 {
        u16::MAX >> (16 - self.raw_bits.clamp(1, 16))
    }

    /// True when nothing at all could be solved.
    pub fn is_empty(&self) -> bool {
        self.axes.is_empty()
            && self.sticks.is_empty()
            && self.triggers.is_empty()
            && self.buttons.is_empty()
    }
}
