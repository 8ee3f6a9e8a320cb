//! The virtual board: truth to physics to bytes, and the scripted hand.
//!
//! A board is drawn from a seed ([`Options`]) and built from causes, not from symptoms: sticks with
//! spring, friction and gate, sensors with gain and skew, contacts that bounce in continuous time,
//! a converter with reference, source resistance and a capacitor that remembers the channel before,
//! a second half asked over a bus, a firmware loop with its own clock, a link that loses lines. A
//! [`Scenario`] changes those causes. [`Truth`] says what a measurement should find.
//!
//! Read in this order: `causes` (what a board is made of, how a healthy one is drawn), `faults`
//! (what a scenario changes), `gate`, `stick`, `trigger`, `contact` (the parts), `strokes`,
//! `player`, `hand` (who moves them), `sensor`, `converter`, `loads`, `readout`, `remote` (what is read),
//! `firmware`, `receiver`, `losses` (what is printed, obeyed, and what arrives), `board` (all together), `reach` (the
//! truth of it).
mod dice;
mod options;
mod causes;
mod scenario;
mod faults;
mod gate;
mod stick;
mod trigger;
mod contact;
mod strokes;
mod player;
mod hand;
mod body;
mod sensor;
mod converter;
mod readout;
mod remote;
mod firmware;
mod losses;
mod receiver;
mod loads;
mod board;
mod truth;
mod reach;
mod flat_out;
pub mod script;

pub use board::VirtualBoard;
pub use flat_out::FlatOut;
pub use hand::Hand;
pub use options::{BoardError, Options, bench_dialect, bench_rig, with_outputs};
pub use scenario::{Fault, Scenario, ScenarioError};
pub use truth::{
    AxisTruth, ButtonTruth, EdgeTruth, RestTruth, StickTruth, StreamTruth, TriggerTruth, Truth,
};
