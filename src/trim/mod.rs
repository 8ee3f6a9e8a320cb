//! The integers the firmware uses: solve, apply (the firmware's arithmetic, bit for bit), check.
pub mod apply;
mod constants;
mod dead_zone;
mod file;
mod image;

pub use constants::{
    AxisSource, AxisTrim, ButtonSource, ButtonTrim, FORMAT, FULL_OUTPUT, Matrix2, Refusal,
    StickSource, StickTrim, TriggerSource, TriggerTrim, Trim,
};
pub use dead_zone::{DeadZone, Doubt, DriftKnown, LeakPoint, ZonePlace};
pub use file::TrimError;
pub use image::{LAYOUT, crc16};

/// What the survey gives: the constants, and the figures behind the dead zones for display.
#[derive(Clone, Debug)]
pub struct Solution {
    /// The constants; refused parts are listed in [`Trim::refusals`].
    pub trim: Trim,
    /// Dead zones of sticks (radial) and axes (axial), with their terms.
    pub zones: Vec<DeadZone>,
    /// Corrections of skew or rotation that a person may accept.
    pub offers: Vec<MatrixOffer>,
}

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
