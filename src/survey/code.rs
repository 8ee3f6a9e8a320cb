//! The codes of findings and refusals: each written once, with its words, its station and its stage.
use serde::{Deserialize, Serialize};

use super::Page;

/// Stages of the work: a fault of an earlier one must be gone before a later one makes sense.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Stage {
    /// The lines arrive whole and in time.
    Link,
    /// The board and its halves keep running.
    Supply,
    /// Every input is the one that it is taken for.
    Roles,
    /// Every wire leads where it should.
    Wires,
    /// The readings are quiet.
    Noise,
    /// The parts themselves.
    Parts,
    /// What has not been measured yet.
    Data,
}

/// Writes the list once: variant, key, words, station, stage.
macro_rules! codes {
    ($($(#[$doc:meta])* $name:ident = $key:literal, $title:literal, $page:ident, $stage:ident;)*) => {
        /// What a finding or a refusal is about.
        #[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
        #[serde(into = "&'static str", try_from = "String")]
        pub enum Code {
            $($(#[$doc])* $name,)*
        }

        impl Code {
            /// All of them, in the order of the path.
            pub const ALL: &[Code] = &[$(Code::$name,)*];

            /// Its key, stable for machines.
            pub const fn key(self) -> &'static str {
                match self {
                    $(Code::$name => $key,)*
                }
            }

            /// Words for a person.
            pub const fn title(self) -> &'static str {
                match self {
                    $(Code::$name => $title,)*
                }
            }

            /// The station that it belongs to.
            pub const fn page(self) -> Page {
                match self {
                    $(Code::$name => Page::$page,)*
                }
            }

            /// The stage of the work that it stands in the way of.
            pub const fn stage(self) -> Stage {
                match self {
                    $(Code::$name => Stage::$stage,)*
                }
            }
        }
    };
}

codes! {
    /// The port's symbol rate is not the board's, or its level is inverted.
    BaudMismatch = "baud-mismatch", "Another symbol rate than the board's", Link, Link;
    /// Frames that should have come and did not, or lines damaged on the way.
    LinkLoss = "link-loss", "Frames lost on the way", Link, Link;
    /// The supply collapses under a motor or light.
    BrownOut = "brown-out", "The supply collapses under load", Link, Supply;
    /// The counter and the clock of the board started again.
    BoardReset = "board-reset", "The board restarted", Link, Supply;
    /// One half stops answering for a while, and the loop waits for it.
    HalfHang = "half-hang", "A half stops answering", Link, Supply;
    /// One half repeats its readings because it is polled more often than it measures.
    StaleHalf = "stale-half", "A half sends old readings", Link, Supply;
    /// Frames come slowly, or some take much longer than the rest.
    SlowLoop = "slow-loop", "The loop is slow or uneven", Link, Link;
    /// An input that sits at one end of the converter and never moves, or a contact always closed.
    StuckRail = "stuck-rail", "Stuck at one end", Wiring, Wires;
    /// A pin with nothing on it.
    FloatingInput = "floating-input", "An input that is not connected", Wiring, Wires;
    /// A source too weak to charge the converter's capacitor in time.
    MuxCrosstalk = "mux-crosstalk", "An input follows its neighbour in the scan", Wiring, Wires;
    /// The left half answers for the right one and the other way round.
    HalvesExchanged = "halves-exchanged", "Halves exchanged", Wiring, Roles;
    /// x and y of a stick answer for each other.
    SwappedAxes = "swapped-axes", "Axes swapped", Wiring, Roles;
    /// A half on the other half's circuit board: its x runs backward and its buttons count backward.
    MirroredHalf = "mirrored-half", "A half built mirrored", Wiring, Roles;
    /// An axis runs the other way than the rig says.
    InvertedAxis = "inverted-axis", "An axis runs backward", Wiring, Roles;
    /// Sensors on another supply than the converter's reference.
    ReferenceMismatch = "reference-mismatch", "Sensors and converter on different supplies", Wiring, Wires;
    /// Readings of a half that swell and shrink together.
    ReferenceNoise = "reference-noise", "A noisy reference", Wiring, Noise;
    /// Drop-outs locked to a place of the travel.
    WornTrack = "worn-track", "A worn spot on the track", Sticks, Parts;
    /// Codes that are too wide on all channels of a converter.
    ConverterSteps = "converter-steps", "Steps of the converter", Wiring, Noise;
    /// Codes that a converter of the stated width cannot give.
    AboveWidth = "above-width", "Codes above the stated width", Wiring, Wires;
    /// Noise above the bands, or a line in it that no mains explains.
    NoisyInput = "noisy-input", "A noisy input", Wiring, Noise;
    /// A line at a mains frequency.
    MainsHum = "mains-hum", "Hum from the mains", Wiring, Noise;
    /// The rest level moves while nobody touches it.
    WarmUpDrift = "warm-up-drift", "The rest level is still moving", Sticks, Noise;
    /// The stick or trigger does not come back to one place.
    StickyReturn = "sticky-return", "It does not return to one place", Sticks, Parts;
    /// The stick swings through when it is let go: a flick to the other side.
    ReleaseOvershoot = "release-overshoot", "It swings through when let go", Sticks, Parts;
    /// The reading moves when the stick is pressed down for its switch.
    PressShift = "press-shift", "A click moves the reading", Sticks, Parts;
    /// A reading grows noisy while a motor or light is driven.
    PwmCoupling = "pwm-coupling", "A motor or light in the readings", Wiring, Noise;
    /// All channels of a half shift by the same counts while a motor or light is driven.
    GroundStep = "ground-step", "A current in the sensors' ground", Wiring, Noise;
    /// Flat tops of the roll, or ends of travel too near to the converter's rails.
    Saturated = "saturated", "Clipped before the end of travel", Sticks, Parts;
    /// Too little travel for a fine output.
    ShortTravel = "short-travel", "Short travel", Sticks, Parts;
    /// One side of an axis goes farther than the other.
    UnevenTravel = "uneven-travel", "Uneven travel", Sticks, Parts;
    /// The rim departs from its form, all round or over a few sectors.
    GateDefect = "gate-defect", "The gate departs from its form", Sticks, Parts;
    /// The axes do not stand at right angles, taken from a roll on a round gate.
    SkewedAxes = "skewed-axes", "Axes off the right angle", Sticks, Parts;
    /// Pushes come out turned by the same angle in every direction.
    RotatedStick = "rotated-stick", "A stick turned in its seat", Sticks, Parts;
    /// The reading turns back during a one-way pull: one code stands for two places.
    NonMonotonic = "non-monotonic", "The reading turns back", Triggers, Parts;
    /// The reading stands at its end while the lever still moves.
    TriggerPlateau = "trigger-plateau", "The reading stops before the lever", Triggers, Parts;
    /// Two lines that close and open in the same frame every time.
    BridgedButtons = "bridged-buttons", "Two lines are joined", Buttons, Wires;
    /// A fourth button that closes only while three others do.
    MatrixGhost = "matrix-ghost", "A phantom in the button matrix", Buttons, Wires;
    /// Contacts that bounce long.
    Chatter = "chatter", "Contacts bounce long", Buttons, Parts;
    /// One press that closes twice.
    DoubleFire = "double-fire", "Presses that fire twice", Buttons, Parts;
    /// A button line that flickers while nobody touches it.
    MissingPullUp = "missing-pull-up", "A button line flickers at rest", Buttons, Wires;
    /// Lines among the frames that look like frames of another form.
    ForeignLines = "foreign-lines", "Lines of another form", Link, Link;
    /// A column that moves and is not used.
    UnusedColumn = "unused-column", "A column that is not used", Link, Roles;
    /// Figures that could not be given.
    NotEnoughData = "not-enough-data", "Not enough data", Link, Data;
    /// A wish of the rig that the data or the firmware's integers do not allow; of refusals alone.
    Rig = "rig", "A wish of the rig that cannot be met", Trim, Data;
}

impl Code {
    /// True for what would be otherwise if the columns had other roles.
    pub fn rests_on_roles(self) -> bool {
        matches!(
            self,
            Code::SwappedAxes
                | Code::InvertedAxis
                | Code::HalvesExchanged
                | Code::MirroredHalf
                | Code::RotatedStick
        )
    }

    /// The code of a key.
    pub fn parse(key: &str) -> Option<Code> {
        Code::ALL.iter().copied().find(|code| code.key() == key)
    }
}

impl std::fmt::Display for Code {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(self.key())
    }
}

impl From<Code> for &'static str {
    fn from(code: Code) -> Self {
        code.key()
    }
}

impl TryFrom<String> for Code {
    type Error = String;

    fn try_from(key: String) -> Result<Code, String> {
        Code::parse(&key).ok_or_else(|| format!("\"{key}\" is no code of a finding"))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn keys_and_words_stand_for_one_code_each() {
        for (k, &code) in Code::ALL.iter().enumerate() {
            assert_eq!(Code::parse(code.key()), Some(code));
            let others = Code::ALL.iter().filter(|c| c.title() == code.title());
            assert_eq!((others.count(), code as usize), (1, k), "{code}");
        }
        assert_eq!(Code::parse("no-such-code"), None);
    }
}
