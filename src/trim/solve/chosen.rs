//! Dead zones that a person chose in place of the proposed ones.
use super::{Solution, Solving};
use crate::rig::{AxisId, Half, Place};
use crate::survey::Code;
use crate::trim::apply::{Radial, Stick, gain};
use crate::trim::{Refusal, ZonePlace};

impl Solving<'_> {
    /// Puts the chosen zones in force; one that leaves too little travel is refused with advice, and
    /// the proposed one stays.
    pub(super) fn choose(&mut self, zones: &[(ZonePlace, f64)]) {
        for (place, counts) in zones {
            if let Err(refusal) = self.out.choose_zone(*place, *counts) {
                self.out.trim.refusals.push(refusal);
            }
        }
    }
}

impl Solution {
    /// Puts a dead zone of `counts` in force at a place, in the constants and among the zones.
    ///
    /// The radius is rounded up to the firmware's unit: output units of a stick, counts of an axis.
    ///
    /// # Errors
    /// There is no zone at that place, or it would leave less travel than the arithmetic needs;
    /// nothing has changed then.
    pub fn choose_zone(&mut self, place: ZonePlace, counts: f64) -> Result<(), Refusal> {
        let held = match place {
            ZonePlace::Stick(half) => self.choose_radial(half, counts),
            ZonePlace::Axis(axis) => self.choose_axial(axis, counts),
        };
        let held = held.ok_or_else(|| refusal(place, counts))?;
        if let Some(zone) = self.zones.iter_mut().find(|z| z.place == place) {
            let travel = zone.radius_counts / zone.radius_fraction;
            zone.radius_counts = held;
            zone.radius_fraction = held / travel;
        }
        Ok(())
    }

    /// The radius in force afterwards, counts; `None` when it does not fit.
    fn choose_radial(&mut self, half: Half, counts: f64) -> Option<f64> {
        let zone = self.zones.iter().find(|z| z.place == ZonePlace::Stick(half))?;
        let stick = self.trim.sticks.iter_mut().find(|s| s.half == half)?;
        let before = stick.inner;
        let unit = zone.radius_counts / f64::from(before.max(1));
        // A radius that is a whole number of units already must not be rounded up by one more.
        let inner = (counts / unit - 1e-6).ceil();
        if !(1.0..=f64::from(u16::MAX)).contains(&inner) {
            return None;
        }
        Radial::new(inner as u16, stick.outer).ok()?;
        stick.inner = inner as u16;
        if Stick::shape(&self.trim, half).is_err() {
            self.trim.sticks.iter_mut().filter(|s| s.half == half).for_each(|s| s.inner = before);
            return None;
        }
        Some(inner * unit)
    }

    /// The half-width in force afterwards, counts; `None` when it does not fit.
    fn choose_axial(&mut self, axis: AxisId, counts: f64) -> Option<f64> {
        self.zones.iter().find(|z| z.place == ZonePlace::Axis(axis))?;
        let frac = self.trim.frac_bits;
        let axis = self.trim.axes.iter_mut().find(|a| a.axis == axis)?;
        let dead = (counts - 1e-6).ceil();
        let room = f64::from(axis.span_neg().min(axis.span_pos()));
        if !(0.0..room).contains(&dead) {
            return None;
        }
        let past = |span: u16| gain(span - dead as u16, frac);
        let (neg, pos) = (past(axis.span_neg())?, past(axis.span_pos())?);
        (axis.dead, axis.axial_gain_neg, axis.axial_gain_pos) = (dead as u16, neg, pos);
        Some(dead)
    }
}

fn refusal(place: ZonePlace, counts: f64) -> Refusal {
    let place = match place {
        ZonePlace::Stick(half) => Place::Stick(half),
        ZonePlace::Axis(axis) => Place::Axis(axis),
    };
    let why =
        format!("{counts:.1} counts chosen by hand leave too little travel, or none is solved");
    let advice = "choose a smaller one, or go back to the proposed one";
    Refusal::of(place, Code::ShortTravel, why, advice).only("dead zone")
}
