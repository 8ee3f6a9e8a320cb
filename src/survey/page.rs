//! Where on the bench a figure or a finding is shown.
use crate::rig::Place;

/// One page of the bench that shows figures or findings.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Page {
    /// Source and health of the stream.
    Link,
    /// What answers each control, and every finding.
    Wiring,
    /// Reach, rests and dead zone of the sticks.
    Sticks,
    /// Travel and thresholds of the triggers.
    Triggers,
    /// Contacts and their bounce.
    Buttons,
    /// What the constants cost and do.
    Trim,
}

impl Page {
    /// The station that shows the part at a place.
    pub fn of(place: Place) -> Page {
        match place {
            Place::Session | Place::Stream | Place::Supply | Place::Halves | Place::Half(_) => {
                Page::Link
            }
            Place::Stick(_) => Page::Sticks,
            Place::Axis(axis) if axis.is_trigger() => Page::Triggers,
            Place::Axis(_) => Page::Sticks,
            Place::Buttons | Place::Button(_) => Page::Buttons,
            // Their effect on the readings stands with the wires until they have a page.
            Place::Motor(_) | Place::Light(_) => Page::Wiring,
        }
    }
}
