//! One stick axis: magnitude from the centre, and the axial zone.
use super::{Curve, scaled, signed};
use crate::rig::AxisId;
use crate::trim::{AxisTrim, Trim};

/// An axis ready to run.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Axis {
    centre: u16,
    dead: u16,
    gain: [u16; 2],
    axial_gain: [u16; 2],
    frac: u8,
    flip: bool,
    curve: Option<Curve>,
}

impl Axis {
    /// The axis with the fraction bits of its trim, straight.
    pub fn new(axis: &AxisTrim, frac_bits: u8) -> Axis {
        Axis {
            centre: axis.centre,
            dead: axis.dead,
            gain: [axis.gain_neg, axis.gain_pos],
            axial_gain: [axis.axial_gain_neg, axis.axial_gain_pos],
            frac: frac_bits,
            flip: axis.sign < 0,
            curve: None,
        }
    }

    /// The axis of that name with its curve; `None` when it was refused.
    pub fn of(trim: &Trim, axis: AxisId) -> Option<Axis> {
        let plain = trim.axis(axis).map(|a| Axis::new(a, trim.frac_bits))?;
        Some(Axis { curve: trim.curve_of(axis).and_then(Curve::new), ..plain })
    }

    /// Distance from the centre in counts, and whether it lies below.
    fn offset(&self, raw: u16) -> (u16, bool) {
        (raw.abs_diff(self.centre), raw < self.centre)
    }

    /// The axial form: raw code in, −32767…32767 out; 0 within `dead` counts of the centre.
    ///
    /// Any 16-bit code is allowed; codes past the ends give full output.
    pub fn axial(&self, raw: u16) -> i16 {
        let (offset, below) = self.offset(raw);
        let past = offset.saturating_sub(self.dead);
        let magnitude = scaled(past, self.axial_gain[usize::from(!below)], self.frac);
        let magnitude = self.curve.map_or(magnitude, |curve| curve.bent(magnitude));
        signed(magnitude, below != self.flip)
    }

    /// Before the radial zone: magnitude in output units (not clamped to 32767, saturated at
    /// 65535) and whether the raw code lies below the centre.
    pub fn magnitude(&self, raw: u16) -> (u16, bool) {
        let (offset, below) = self.offset(raw);
        (scaled(offset, self.gain[usize::from(!below)], self.frac), below)
    }

    /// True when the output's sign is against the raw code's.
    pub fn flipped(&self) -> bool {
        self.flip
    }
}
