//! The controller's parts list and board facts: sticks, triggers, buttons, motors, lights, ADC, signs.
//!
//! A rig is a RON file that a person may write; unknown keys are refused by name and line.
mod axis;
mod read;
mod task;

pub use axis::{AxisId, Half};
pub use read::{ReadError, from_ron};
pub use task::Task;

use serde::{Deserialize, Serialize};

/// Which form of dead zone the firmware applies.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub enum ZoneForm {
    /// One round zone for the pair of a stick's axes, output rescaled from its rim.
    #[default]
    Radial,
    /// One zone for each axis by itself, output rescaled from its edge.
    Axial,
}

/// One thumbstick.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct StickPart {
    /// Which half of the controller carries it.
    pub half: Half,
    /// True when a push to the right lowers the raw reading.
    #[serde(default)]
    pub x_inverted: bool,
    /// True when a push away from the person lowers the raw reading.
    #[serde(default)]
    pub y_inverted: bool,
    /// The dead zone that the firmware uses for it.
    #[serde(default)]
    pub zone: ZoneForm,
}

/// One analog trigger.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct TriggerPart {
    /// Which half of the controller carries it.
    pub half: Half,
    /// True when the released trigger reads high; `None` = found from the data.
    #[serde(default)]
    pub rests_high: Option<bool>,
}

/// Where the firmware sends the sticks' vertical axes.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub enum Vertical {
    /// A push away from the person gives negative output (USB HID usage tables, kernel gamepads).
    #[default]
    AwayNegative,
    /// A push away from the person gives positive output.
    AwayPositive,
}

/// The whole parts list.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Rig {
    /// Version of this layout: 1.
    pub format: u32,
    /// What the builder calls the controller.
    #[serde(default)]
    pub name: String,
    /// Which board of that kind: serial number or label.
    #[serde(default)]
    pub board_id: String,
    /// Width of the raw readings in bits (8–16); `None` = the smallest of 8, 10, 12, 14, 16 that
    /// holds every sample, noted as a guess.
    #[serde(default)]
    pub raw_bits: Option<u8>,
    /// Thumbsticks, none to two.
    #[serde(default)]
    pub sticks: Vec<StickPart>,
    /// Analog triggers, none to two.
    #[serde(default)]
    pub triggers: Vec<TriggerPart>,
    /// Position names of the buttons in bit order (`south`, `east`, …); empty = `b0`, `b1`, ….
    #[serde(default)]
    pub buttons: Vec<String>,
    /// True when a pressed button reads 0; `None` = what idles high is active-low.
    #[serde(default)]
    pub buttons_active_low: Option<bool>,
    /// Sign of vertical outputs in the destination.
    #[serde(default)]
    pub vertical: Vertical,
    /// Rate at which the deployed firmware will scan, Hz; `None` = the rate of the session.
    #[serde(default)]
    pub deployed_rate_hz: Option<f64>,
}

impl Default for Rig {
    /// No parts declared: they are taken from the roles present in the stream.
    fn default() -> Self {
        Rig {
            format: 1,
            name: String::new(),
            board_id: String::new(),
            raw_bits: None,
            sticks: Vec::new(),
            triggers: Vec::new(),
            buttons: Vec::new(),
            buttons_active_low: None,
            vertical: Vertical::default(),
            deployed_rate_hz: None,
        }
    }
}
