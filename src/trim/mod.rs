//! The integers the firmware uses: solve, apply (the firmware's arithmetic, bit for bit), check.
pub mod apply;
pub mod check;
mod constants;
mod dead_zone;
mod file;
mod fitted;
mod fits;
mod image;
mod options;
mod origin;
mod response;
mod solve;
mod solved;

pub use constants::{
    AxisSource, AxisTrim, ButtonSource, ButtonTrim, FORMAT, FULL_OUTPUT, Matrix2, Refusal,
    StickSource, StickTrim, TriggerSource, TriggerTrim, Trim,
};
pub use dead_zone::{DeadZone, Doubt, DriftKnown, LeakPoint, ZonePlace};
pub use file::TrimError;
pub use fitted::Fitted;
pub use image::crc16;
pub use options::{
    CurveOf, CurveTrim, GuardTrim, MotorTrim, Options, REACH_NODES, ReachTrim, SmoothTrim,
};
pub use origin::{HARMS_MOST, Harm, Origin, damaged_places};
pub use response::{AtHalf, curve_points};
pub use solve::{Choices, Solution, solve, solve_with};

/// A 2×2 correction that the data support; used only when a person accepts it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct MatrixOffer {
    /// Which stick.
    pub half: crate::rig::Half,
    /// Departure from 90° that it removes, degrees.
    pub skew_deg: f64,
    /// Rotation that it removes, degrees.
    pub rotation_deg: f64,
    /// The correction.
    pub matrix: Matrix2,
}
