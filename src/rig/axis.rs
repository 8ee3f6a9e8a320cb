//! The names of the analog inputs: two halves, six axes.
use serde::{Deserialize, Serialize};

/// A half of the controller.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Half {
    /// The half under the left hand.
    Left,
    /// The half under the right hand.
    Right,
}

impl Half {
    /// Both, left first.
    pub const ALL: [Half; 2] = [Half::Left, Half::Right];

    /// Machine key: `left`, `right`.
    pub fn key(self) -> &'static str {
        match self {
            Half::Left => "left",
            Half::Right => "right",
        }
    }

    /// The stick's two axes, x then y.
    pub fn stick(self) -> [AxisId; 2] {
        match self {
            Half::Left => [AxisId::Lx, AxisId::Ly],
            Half::Right => [AxisId::Rx, AxisId::Ry],
        }
    }

    /// The half's analog trigger.
    pub fn trigger(self) -> AxisId {
        match self {
            Half::Left => AxisId::Lt,
            Half::Right => AxisId::Rt,
        }
    }
}

/// One analog input.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum AxisId {
    /// Left stick, horizontal.
    Lx,
    /// Left stick, vertical.
    Ly,
    /// Right stick, horizontal.
    Rx,
    /// Right stick, vertical.
    Ry,
    /// Left trigger.
    Lt,
    /// Right trigger.
    Rt,
}

impl AxisId {
    /// All six in the default order of a debug line.
    pub const ALL: [AxisId; 6] =
        [AxisId::Lx, AxisId::Ly, AxisId::Rx, AxisId::Ry, AxisId::Lt, AxisId::Rt];

    /// Place in [`AxisId::ALL`] and in every six-element table.
    pub fn index(self) -> usize {
        self as usize
    }

    /// Machine key: `lx ly rx ry lt rt`.
    pub fn key(self) -> &'static str {
        ["lx", "ly", "rx", "ry", "lt", "rt"][self.index()]
    }

    /// Words for a person: "left x", "left trigger".
    pub fn words(self) -> &'static str {
        ["left x", "left y", "right x", "right y", "left trigger", "right trigger"][self.index()]
    }

    /// The half that carries it.
    pub fn half(self) -> Half {
        match self {
            AxisId::Lx | AxisId::Ly | AxisId::Lt => Half::Left,
            AxisId::Rx | AxisId::Ry | AxisId::Rt => Half::Right,
        }
    }

    /// True for the two triggers.
    pub fn is_trigger(self) -> bool {
        matches!(self, AxisId::Lt | AxisId::Rt)
    }
}
