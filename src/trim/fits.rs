//! What optional constants must keep to, beside the plain ones.
use super::apply::{Curve, Stick};
use super::file::{TrimError, ensure, once};
use super::{CurveOf, GuardTrim, MotorTrim, SmoothTrim, Trim};
use crate::rig::{AxisId, Half, ZoneForm};

impl Trim {
    /// The rules of every optional part. Errors: [`TrimError`], with the part.
    pub(super) fn options_fit(&self) -> Result<(), TrimError> {
        let o = &self.options;
        let place = |of: CurveOf| match of {
            CurveOf::Stick(half) => half as usize,
            CurveOf::Trigger(half) => 2 + half as usize,
        };
        ensure(once(o.curves.iter().map(|c| place(c.of))), "curves", "each part may have one")?;
        for curve in &o.curves {
            let there = match curve.of {
                CurveOf::Stick(half) => self.stick(half).is_some(),
                CurveOf::Trigger(half) => self.trigger(half).is_some(),
            };
            ensure(there, "curves", "a curve needs the constants of its part")?;
            let rises = Curve::new(curve).is_some();
            ensure(rises, "curves", "33 or 65 points must rise strictly from 0 to 32767")?;
        }
        ensure(once(o.reaches.iter().map(|r| r.half as usize)), "reaches", "one a stick")?;
        for reach in &o.reaches {
            let radial = self.stick(reach.half).is_some_and(|s| s.form == ZoneForm::Radial);
            ensure(radial, "reaches", "reach by direction needs a stick in radial form")?;
        }
        for half in Half::ALL {
            let why = "reach must leave half of the travel past the dead zone in 32 directions, \
                       and a curve of a radial stick must not lose gain towards the end";
            ensure(Stick::shape(self, half).is_ok(), half.key(), why)?;
        }
        ensure(once(o.smoothing.iter().map(|s| s.axis.index())), "smoothing", "one an input")?;
        o.smoothing.iter().try_for_each(|s| self.smooth_fits(s))?;
        ensure(once(o.guards.iter().map(|g| g.axis.index())), "guards", "one an input")?;
        o.guards.iter().try_for_each(|g| self.guard_fits(g))?;
        let few = o.motors.iter().all(|m| m.index < 32);
        let motors = few && once(o.motors.iter().map(|m| usize::from(m.index)));
        ensure(motors, "motors", "each number from 0 to 31 may stand once")?;
        o.motors.iter().try_for_each(motor_fits)
    }

    /// Code at rest and the ends of travel, in rising order, of any input.
    pub(crate) fn travel(&self, axis: AxisId) -> Option<(u16, u16, u16)> {
        if axis.is_trigger() {
            let t = self.trigger(axis.half())?;
            return Some((t.rest, t.rest.min(t.full), t.rest.max(t.full)));
        }
        self.axis(axis).map(|a| (a.centre, a.low, a.high))
    }

    fn smooth_fits(&self, s: &SmoothTrim) -> Result<(), TrimError> {
        let part = s.axis.key();
        ensure(self.travel(s.axis).is_some(), part, "smoothing needs the input's constants")?;
        ensure((1..=8).contains(&s.shift), part, "the shift of smoothing must be 1 to 8")?;
        ensure(self.options.scan_rate_hz > 0, part, "smoothing needs the rate of the scans")
    }

    fn guard_fits(&self, g: &GuardTrim) -> Result<(), TrimError> {
        let part = g.axis.key();
        let travel = self.travel(g.axis);
        let holds = travel.is_some_and(|(_, low, high)| g.least <= low && high <= g.most);
        ensure(holds && g.most <= self.full_scale(), part, "plausible codes must hold the travel")
    }
}

fn motor_fits(m: &MotorTrim) -> Result<(), TrimError> {
    let rise = m.stop > 0 && m.stop <= m.start && m.start <= m.most;
    ensure(rise, "motors", "duties must rise from stop over start to most, stop above 0")?;
    ensure((1..=60_000).contains(&m.off_ms), "motors", "off_ms must be 1 to 60000")
}

#[cfg(test)]
mod tests {
    use crate::trim::Trim;
    use crate::trim::file::PLAIN;

    /// The small trim with options that fit it.
    fn with_options() -> String {
        PLAIN.replace(
            "buttons: [],",
            "buttons: [],
    options: (scan_rate_hz: 1000, smoothing: [(axis: lx, shift: 3, time_constant_us: 7500)],
        guards: [(axis: lx, least: 50, most: 970)], guard_ms: 100,
        motors: [(index: 0, start: 70, stop: 50, most: 180, kick_ms: 40, off_ms: 5000)]),",
        )
    }

    #[test]
    fn options_that_contradict_the_constants_are_refused_by_part() {
        let plain = with_options();
        Trim::from_ron(&plain).expect("consistent");
        for (from, to, part) in [
            ("shift: 3", "shift: 9", "lx: the shift"),
            ("scan_rate_hz: 1000, ", "", "lx: smoothing needs the rate"),
            ("[(axis: lx, shift", "[(axis: ly, shift", "ly: smoothing"),
            ("least: 50", "least: 113", "lx: plausible"),
            ("most: 970", "most: 1024", "lx: plausible"),
            ("stop: 50", "stop: 71", "motors: duties"),
            ("off_ms: 5000", "off_ms: 60001", "motors: off_ms"),
            ("guard_ms: 100,", "guard_ms: 100, reaches: [(half: left, radii: [])],", "reaches"),
            (
                "guard_ms: 100,",
                "guard_ms: 100, curves: [(of: stick(left), points: [])],",
                "curves: a curve needs",
            ),
        ] {
            assert!(plain.contains(from), "{from}");
            let said = Trim::from_ron(&plain.replace(from, to)).expect_err("refused").to_string();
            assert!(said.starts_with(part), "{said}");
        }
    }
}
