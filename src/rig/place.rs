//! Where on the bench something stands: an axis, a stick, a half, a button, the stream, the supply.
use serde::{Deserialize, Serialize};

use super::{AxisId, Half};

/// The place of a finding, a figure, a refusal, a check or a verdict.
#[derive(
    Clone, Copy, Debug, Default, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize,
)]
#[serde(into = "String", try_from = "String")]
pub enum Place {
    /// The session as a whole.
    #[default]
    Session,
    /// The stream of frames.
    Stream,
    /// The supply of the board.
    Supply,
    /// One half against the other.
    Halves,
    /// Everything on one half.
    Half(Half),
    /// A stick.
    Stick(Half),
    /// An axis of a stick, or a trigger.
    Axis(AxisId),
    /// All buttons.
    Buttons,
    /// A button by its bit.
    Button(u8),
    /// A motor by its number in the rig.
    Motor(u8),
    /// A light by its number in the rig.
    Light(u8),
}

impl Place {
    /// The trigger of a half.
    pub const fn trigger(half: Half) -> Place {
        match half {
            Half::Left => Place::Axis(AxisId::Lt),
            Half::Right => Place::Axis(AxisId::Rt),
        }
    }

    /// Machine key: `lx`, `left`, `lt`, `b3`, `stream`. A stick and its half share theirs.
    pub fn key(self) -> String {
        match self {
            Place::Session => "session".to_owned(),
            Place::Stream => "stream".to_owned(),
            Place::Supply => "supply".to_owned(),
            Place::Halves => "halves".to_owned(),
            Place::Half(half) | Place::Stick(half) => half.key().to_owned(),
            Place::Axis(axis) => axis.key().to_owned(),
            Place::Buttons => "buttons".to_owned(),
            Place::Button(n) => format!("b{n}"),
            Place::Motor(n) => format!("motor{n}"),
            Place::Light(n) => format!("light{n}"),
        }
    }

    /// Words for a person: "left x", "left stick", "button b3".
    pub fn words(self) -> String {
        match self {
            Place::Half(half) => format!("{} half", half.key()),
            Place::Stick(half) => format!("{} stick", half.key()),
            Place::Axis(axis) => axis.words().to_owned(),
            Place::Button(n) => format!("button b{n}"),
            Place::Motor(n) => format!("motor {n}"),
            Place::Light(n) => format!("light {n}"),
            other => other.key(),
        }
    }

    /// The place of a machine key; `left` and `right` are halves, which hold their sticks.
    pub fn parse(key: &str) -> Option<Place> {
        if let Some(axis) = AxisId::ALL.into_iter().find(|axis| axis.key() == key) {
            return Some(Place::Axis(axis));
        }
        if let Some(half) = Half::ALL.into_iter().find(|half| half.key() == key) {
            return Some(Place::Half(half));
        }
        let whole = [Place::Session, Place::Stream, Place::Supply, Place::Halves, Place::Buttons];
        if let Some(place) = whole.into_iter().find(|place| place.key() == key) {
            return Some(place);
        }
        let number = |word: &str| {
            let digits = key.strip_prefix(word)?;
            digits.parse().ok().filter(|n: &u8| n.to_string() == digits)
        };
        number("motor")
            .map(Place::Motor)
            .or_else(|| number("light").map(Place::Light))
            .or_else(|| number("b").map(Place::Button))
    }

    /// True when `other` is this place or a part of it.
    pub fn contains(self, other: Place) -> bool {
        self == other
            || match self {
                Place::Session => true,
                Place::Halves => matches!(other, Place::Half(_)),
                Place::Half(half) => match other {
                    Place::Stick(of) => of == half,
                    Place::Axis(axis) => axis.half() == half,
                    _ => false,
                },
                Place::Stick(half) => {
                    matches!(other, Place::Axis(axis) if half.stick().contains(&axis))
                }
                Place::Buttons => matches!(other, Place::Button(_)),
                _ => false,
            }
    }

    /// True when one of the two holds the other, both share a key, or one is the stream and the other
    /// what it depends on as a whole.
    pub fn meets(self, other: Place) -> bool {
        let stream = |a: Place, b: Place| a == Place::Stream && b.is_of_board();
        let share = self.is_at(other) || stream(self, other) || stream(other, self);
        share || self.contains(other) || other.contains(self)
    }

    /// True for what stands with the stream: the board, its supply, its halves.
    pub fn is_of_board(self) -> bool {
        matches!(
            self,
            Place::Session | Place::Stream | Place::Supply | Place::Halves | Place::Half(_)
        )
    }

    /// True for one and the same key: a stick and its half are told by one.
    pub fn is_at(self, other: Place) -> bool {
        let plain = |place| match place {
            Place::Stick(half) => Place::Half(half),
            other => other,
        };
        plain(self) == plain(other)
    }
}

impl From<AxisId> for Place {
    fn from(axis: AxisId) -> Place {
        Place::Axis(axis)
    }
}

impl From<Place> for String {
    fn from(place: Place) -> String {
        place.key()
    }
}

impl TryFrom<String> for Place {
    type Error = String;

    fn try_from(key: String) -> Result<Place, String> {
        Place::parse(&key).ok_or_else(|| format!("\"{key}\" is no place of a controller"))
    }
}

impl std::fmt::Display for Place {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(&self.words())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn all() -> Vec<Place> {
        let mut all =
            vec![Place::Session, Place::Stream, Place::Supply, Place::Halves, Place::Buttons];
        all.extend(Half::ALL.map(Place::Half));
        all.extend(Half::ALL.map(Place::Stick));
        all.extend(AxisId::ALL.map(Place::Axis));
        all.extend([Place::Button(0), Place::Button(31), Place::Motor(1), Place::Light(2)]);
        all
    }

    #[test]
    fn keys_come_back_as_the_place_that_they_name() {
        for place in all() {
            let back = Place::parse(&place.key()).expect("a key");
            assert!(back.is_at(place), "{place:?} came back as {back:?}");
        }
        for wrong in ["", "b", "b256", "b03", "lz", "motor", "LX", "left stick"] {
            assert_eq!(Place::parse(wrong), None, "{wrong}");
        }
    }

    #[test]
    fn a_place_holds_itself_and_its_parts_alone() {
        for place in all() {
            assert!(place.contains(place) && Place::Session.contains(place));
            let inside = all().into_iter().filter(|other| place.contains(*other)).count();
            let want = match place {
                Place::Session => all().len(),
                Place::Halves => 3,
                Place::Half(_) => 5,
                Place::Stick(_) => 3,
                Place::Buttons => 3,
                _ => 1,
            };
            assert_eq!(inside, want, "{place:?}");
        }
        assert!(Place::Half(Half::Left).meets(Place::Stick(Half::Left)));
        assert!(Place::Axis(AxisId::Lx).meets(Place::Half(Half::Left)));
        assert!(!Place::Axis(AxisId::Lx).meets(Place::Axis(AxisId::Ly)));
        assert!(Place::Supply.meets(Place::Stream) && !Place::Stream.meets(Place::Button(0)));
    }

    #[test]
    fn words_are_for_a_person() {
        let words = [
            (Place::Axis(AxisId::Rt), "right trigger"),
            (Place::Stick(Half::Left), "left stick"),
            (Place::Button(3), "button b3"),
            (Place::Stream, "stream"),
        ];
        for (place, said) in words {
            assert_eq!(place.words(), said);
        }
    }
}
