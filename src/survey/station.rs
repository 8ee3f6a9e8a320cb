//! The stations of the bench in the order of the work: where figures and findings are shown.
use serde::{Deserialize, Serialize};

use crate::rig::Place;

/// One page of the bench.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub enum Station {
    /// Source, recognition, lines, fields, health of the stream.
    #[default]
    Link,
    /// What answers each control, and every finding.
    Wiring,
    /// Any channels over time.
    Traces,
    /// Reach, rests and dead zone of the sticks.
    Sticks,
    /// Travel and thresholds of the triggers.
    Triggers,
    /// Contacts and their bounce.
    Buttons,
    /// What the constants cost and do; the header.
    Trim,
    /// The flashed board against the record of its constants.
    Proof,
    /// The whole record, ready to be saved.
    Sheet,
}

impl Station {
    /// All of them, as in the rail.
    pub const ALL: &[Station] = &[
        Station::Link,
        Station::Wiring,
        Station::Traces,
        Station::Sticks,
        Station::Triggers,
        Station::Buttons,
        Station::Trim,
        Station::Proof,
        Station::Sheet,
    ];

    /// Its place in the rail.
    pub fn index(self) -> usize {
        self as usize
    }

    /// The station that shows the part at a place.
    pub fn of(place: Place) -> Station {
        match place {
            Place::Session | Place::Stream | Place::Supply | Place::Halves | Place::Half(_) => {
                Station::Link
            }
            Place::Stick(_) => Station::Sticks,
            Place::Axis(axis) if axis.is_trigger() => Station::Triggers,
            Place::Axis(_) => Station::Sticks,
            Place::Buttons | Place::Button(_) => Station::Buttons,
            // Their effect on the readings stands with the wires until they have a page.
            Place::Motor(_) | Place::Light(_) => Station::Wiring,
        }
    }
}
