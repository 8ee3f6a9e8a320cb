//! The controller's parts list and board facts: sticks, triggers, buttons, motors, lights, ADC, signs.
//!
//! A rig is a RON file that a person may write; unknown keys are refused by name and line.
mod axis;
mod control;
mod mark;
mod optional;
mod place;
mod read;
mod task;

pub use axis::{AxisId, Half};
pub use control::{Control, POSITIONS};
pub use mark::{HostUs, Mark, Word};
pub use optional::AT_HALF;
pub use place::Place;
pub use read::{ReadError, from_ron};
pub use task::Task;

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use crate::limits;

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
    /// What counts as full output: one radius, or the gate's own reach in each direction.
    #[serde(default)]
    pub reach: Reach,
    /// Output at half of the push, share of full (0.24–0.76; 0.5 = straight); `None` = no curve.
    #[serde(default)]
    pub curve_at_half: Option<f64>,
    /// Time constant of smoothing, ms; `None` = none.
    #[serde(default)]
    pub smoothing_ms: Option<f64>,
}

impl StickPart {
    /// A stick of a half with nothing inverted and nothing optional.
    pub fn plain(half: Half) -> StickPart {
        StickPart {
            half,
            x_inverted: false,
            y_inverted: false,
            zone: ZoneForm::default(),
            reach: Reach::default(),
            curve_at_half: None,
            smoothing_ms: None,
        }
    }
}

/// What counts as full output of a stick in radial form.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub enum Reach {
    /// The radius that every direction reaches.
    #[default]
    OneRadius,
    /// The gate's reach in each direction.
    ByDirection,
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
    /// Output at half of the pull, share of full (0.24–0.76; 0.5 = straight); `None` = no curve.
    #[serde(default)]
    pub curve_at_half: Option<f64>,
    /// Time constant of smoothing, ms; `None` = none.
    #[serde(default)]
    pub smoothing_ms: Option<f64>,
}

impl TriggerPart {
    /// A trigger of a half with nothing declared.
    pub fn plain(half: Half) -> TriggerPart {
        TriggerPart { half, rests_high: None, curve_at_half: None, smoothing_ms: None }
    }
}

/// One motor, as its data sheet and a trial have it. Duties are of 255.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct MotorPart {
    /// Least duty that starts it from rest.
    pub start: u8,
    /// Least duty that keeps it turning; `None` = that which starts it.
    #[serde(default)]
    pub stop: Option<u8>,
    /// Greatest duty that its voltage allows.
    #[serde(default = "all")]
    pub most: u8,
    /// Greatest duty is given for this long when it starts, ms; 0 = no kick.
    #[serde(default)]
    pub kick_ms: u8,
    /// It is switched off when nothing was asked of it for this long, ms (common practice: 5 s).
    #[serde(default = "five_seconds")]
    pub off_ms: u16,
}

fn all() -> u8 {
    u8::MAX
}

fn five_seconds() -> u16 {
    5000
}

fn tenth_of_a_second() -> u16 {
    100
}

fn points() -> u8 {
    33
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
    #[serde(default, deserialize_with = "read::name")]
    pub name: String,
    /// Which board of that kind: serial number or label.
    #[serde(default, deserialize_with = "read::name")]
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
    #[serde(default, deserialize_with = "read::names")]
    pub buttons: Vec<String>,
    /// What the board's own labels mean, where nothing here knows them: `{"knob_a": axis(lx)}`. Case does not
    /// count.
    #[serde(default, skip_serializing_if = "BTreeMap::is_empty")]
    pub labels: BTreeMap<String, Control>,
    /// True when a pressed button reads 0; `None` = what idles high is active-low.
    #[serde(default)]
    pub buttons_active_low: Option<bool>,
    /// Sign of vertical outputs in the destination.
    #[serde(default)]
    pub vertical: Vertical,
    /// Rate at which the deployed firmware will scan, Hz; `None` = the rate of the session.
    #[serde(default)]
    pub deployed_rate_hz: Option<f64>,
    /// Motors, in the order of their numbers.
    #[serde(default)]
    pub motors: Vec<MotorPart>,
    /// Strings of lights that the firmware can be told to set.
    #[serde(default)]
    pub lights: u8,
    /// Columns of the matrix that the buttons stand in, row by row in the order of their bits; `None` =
    /// each has a pin of its own.
    #[serde(default)]
    pub button_columns: Option<u8>,
    /// A code outside the plausible ones must last this long to count as a fault, ms; 0 = the
    /// firmware does not look.
    #[serde(default = "tenth_of_a_second")]
    pub guard_ms: u16,
    /// Points of response curves: 33 or 65.
    #[serde(default = "points")]
    pub curve_points: u8,
    /// Acceptance bands in place of the defaults, by their names in [`limits::Limits`].
    #[serde(default, skip_serializing_if = "limits::Wishes::is_empty")]
    pub limits: limits::Wishes,
}

impl Rig {
    /// What a person calls a button: its name in the list; without a list, its usual position.
    pub fn button_name(&self, button: u8) -> String {
        let n = usize::from(button);
        let usual = if self.buttons.is_empty() { POSITIONS.get(n).copied() } else { None };
        let name = self.buttons.get(n).map(String::as_str).filter(|name| !name.is_empty());
        name.or(usual).map_or_else(|| format!("b{button}"), str::to_owned)
    }

    /// What a person calls a control: "left stick right", "south".
    pub fn control_words(&self, control: Control) -> String {
        match control {
            Control::Axis(_) => control.words(),
            Control::Button(n) => self.button_name(n),
        }
    }

    /// The controls that it lists, in the order of a roll-call: sticks, triggers, buttons.
    pub fn controls(&self) -> Vec<Control> {
        let sticks = Half::ALL.into_iter().filter(|h| self.sticks.iter().any(|s| s.half == *h));
        let triggers = Half::ALL.into_iter().filter(|h| self.triggers.iter().any(|t| t.half == *h));
        let buttons = 0..self.buttons.len().min(32) as u8;
        let sticks = sticks.flat_map(Half::stick);
        let axes = sticks.chain(triggers.map(Half::trigger)).map(Control::Axis);
        axes.chain(buttons.map(Control::Button)).collect()
    }
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
            labels: BTreeMap::new(),
            deployed_rate_hz: None,
            motors: Vec::new(),
            lights: 0,
            button_columns: None,
            guard_ms: tenth_of_a_second(),
            curve_points: points(),
            limits: limits::Wishes::default(),
        }
    }
}
