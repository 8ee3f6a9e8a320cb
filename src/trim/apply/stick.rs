//! One stick: both axes, the optional 2×2, the zone of the form that the firmware uses.
use super::radial::{NoZone, Radial};
use super::{Axis, Curve, Shape, signed};
use crate::rig::{Half, ZoneForm};
use crate::trim::{CurveOf, Matrix2, StickTrim, Trim};

/// A stick ready to run.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Stick {
    axes: [Axis; 2],
    matrix: Option<Matrix2>,
    zone: Radial,
    shape: Option<Shape>,
    form: ZoneForm,
}

impl Stick {
    /// A stick of its axes and its zone, without a curve or a reach table. Errors: [`NoZone`] for radii too near to each other.
    pub fn new(axes: [Axis; 2], stick: &StickTrim) -> Result<Stick, NoZone> {
        let zone = Radial::new(stick.inner, stick.outer)?;
        Ok(Stick { axes, matrix: stick.matrix, zone, shape: None, form: stick.form })
    }

    /// The stick of that half; `None` when it or one of its axes was refused.
    pub fn of(trim: &Trim, half: Half) -> Option<Stick> {
        let [x, y] = half.stick();
        let axes = [Axis::of(trim, x)?, Axis::of(trim, y)?];
        let stick = Stick::new(axes, trim.stick(half)?).ok()?;
        Some(Stick { shape: Stick::shape(trim, half).ok()?, ..stick })
    }

    /// The shaped zone of a stick in radial form; `None` when its zone is plain.
    ///
    /// Errors: [`NoZone`] for a reach or a curve that does not fit.
    pub fn shape(trim: &Trim, half: Half) -> Result<Option<Shape>, NoZone> {
        let Some(stick) = trim.stick(half).filter(|s| s.form == ZoneForm::Radial) else {
            return Ok(None);
        };
        let curve = trim.options.curve(CurveOf::Stick(half));
        let radii = trim.options.reach(half).map(|r| r.radii.as_slice());
        if curve.is_none() && radii.is_none() {
            return Ok(None);
        }
        let bad = NoZone { inner: stick.inner, outer: stick.outer };
        let curve = curve.map(|c| Curve::new(c).ok_or(bad)).transpose()?;
        Shape::new(stick.inner, stick.outer, radii, curve.as_ref()).map(Some)
    }

    /// Raw codes in, −32767…32767 out, by the form that the firmware uses.
    pub fn run(&self, raw_x: u16, raw_y: u16) -> (i16, i16) {
        match self.form {
            ZoneForm::Radial => self.radial(raw_x, raw_y),
            ZoneForm::Axial => (self.axes[0].axial(raw_x), self.axes[1].axial(raw_y)),
        }
    }

    /// The radial form, whatever form is chosen.
    pub fn radial(&self, raw_x: u16, raw_y: u16) -> (i16, i16) {
        let [x, y] = self.placed(raw_x, raw_y);
        let (out_x, out_y) = match &self.shape {
            None => self.zone.rescaled(x.0, y.0),
            Some(shape) => shape.rescaled(x, y),
        };
        (signed(out_x, x.1 != self.axes[0].flipped()), signed(out_y, y.1 != self.axes[1].flipped()))
    }

    /// Where the pair stands before the zone: magnitudes in output units and raw signs.
    pub fn placed(&self, raw_x: u16, raw_y: u16) -> [(u16, bool); 2] {
        let pair = [self.axes[0].magnitude(raw_x), self.axes[1].magnitude(raw_y)];
        match self.matrix {
            None => pair,
            Some(Matrix2(rows)) => rows.map(|row| corrected(row, pair)),
        }
    }
}

/// One row of the 2×2: signed 32 bits; magnitude shifted down by 14, saturated at 65535.
fn corrected(row: [i16; 2], pair: [(u16, bool); 2]) -> (u16, bool) {
    let term = |factor: i16, (magnitude, negative): (u16, bool)| {
        let value = i32::from(magnitude);
        i32::from(factor).wrapping_mul(if negative { -value } else { value })
    };
    let sum = term(row[0], pair[0]).wrapping_add(term(row[1], pair[1]));
    let magnitude = u16::try_from(sum.unsigned_abs() >> 14).unwrap_or(u16::MAX);
    (magnitude, sum < 0)
}
