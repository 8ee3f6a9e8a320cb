//! One control of the controller: what the roll-call asks for by name.
use serde::{Deserialize, Serialize};

use super::AxisId;

/// Buttons by their positions, in the order in which an unnamed controller is asked for them.
pub const POSITIONS: [&str; 15] = [
    "south",
    "east",
    "west",
    "north",
    "left shoulder",
    "left stick",
    "up",
    "down",
    "left",
    "right",
    "right shoulder",
    "right stick",
    "select",
    "start",
    "mode",
];

/// A control, moved in its positive sense: right, away from the person, pulled, pressed.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Control {
    /// A stick pushed to the right (x) or away from the person (y), or a trigger pulled.
    Axis(AxisId),
    /// A button pressed.
    Button(u8),
}

impl Control {
    /// The word that stands for it in marks: `lx`, `rt`, `b3`.
    pub fn word(self) -> String {
        match self {
            Control::Axis(axis) => axis.key().to_owned(),
            Control::Button(n) => format!("b{n}"),
        }
    }

    /// The control that a word stands for.
    pub fn from_word(word: &str) -> Option<Control> {
        if let Some(axis) = AxisId::ALL.into_iter().find(|a| a.key() == word) {
            return Some(Control::Axis(axis));
        }
        let number = word.strip_prefix('b')?.parse().ok()?;
        (number < 32).then_some(Control::Button(number))
    }

    /// Words for a person: "left stick right", "right trigger", "b3".
    pub fn words(self) -> String {
        match self {
            Control::Axis(AxisId::Lx) => "left stick right".to_owned(),
            Control::Axis(AxisId::Ly) => "left stick up".to_owned(),
            Control::Axis(AxisId::Rx) => "right stick right".to_owned(),
            Control::Axis(AxisId::Ry) => "right stick up".to_owned(),
            Control::Axis(axis) => axis.words().to_owned(),
            Control::Button(n) => format!("b{n}"),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_are_read_back() {
        let all = AxisId::ALL.map(Control::Axis).into_iter().chain((0..32).map(Control::Button));
        for control in all {
            assert_eq!(Control::from_word(&control.word()), Some(control));
        }
        assert!(["b32", "b", "lz", "", "b-1"].iter().all(|w| Control::from_word(w).is_none()));
    }
}
