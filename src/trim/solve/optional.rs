//! Optional constants that the rig asks for: reach by direction, curves, smoothing, guards, motors.
use crate::survey::Code;
use std::f64::consts::{PI, TAU};

use super::Solving;
use super::pair::Sector;
use super::range::noise_met;
use crate::rig::{AxisId, Half, MotorPart, Place};
use crate::trim::apply::{node_angle, shift_for};
use crate::trim::{
    CurveOf, CurveTrim, FULL_OUTPUT, GuardTrim, MotorTrim, REACH_NODES, Refusal, SmoothTrim,
    curve_points,
};

/// Share of the travel by which pushes may pass the mean reach (common practice for loose gates).
const PAST_SHARE: f64 = 0.03;

impl Solving<'_> {
    /// Everything that the rig asks for beyond the plain constants, for the parts that were solved.
    pub(super) fn optional(&mut self) {
        let rate_hz = self.rig.deployed_rate_hz.or_else(|| {
            let rate = self.survey.stream.rate_hz.as_ref();
            rate.ok().map(|r| r.value)
        });
        for half in Half::ALL {
            self.curves(half);
            let stick = self.part(half).smoothing_ms;
            let trigger = self.rig.triggers.iter().find(|t| t.half == half);
            let trigger = trigger.and_then(|t| t.smoothing_ms);
            let [x, y] = half.stick();
            for (axis, ms) in [(x, stick), (y, stick), (half.trigger(), trigger)] {
                if let Some(ms) = ms.filter(|_| self.out.trim.travel(axis).is_some()) {
                    self.smoothing(axis, ms, rate_hz);
                }
            }
        }
        if self.rig.guard_ms > 0 {
            let guards: Vec<_> =
                AxisId::ALL.into_iter().filter_map(|axis| self.guard(axis)).collect();
            let options = &mut self.out.trim.options;
            options.guard_ms = if guards.is_empty() { 0 } else { self.rig.guard_ms };
            options.guards = guards;
        }
        let motors = self.rig.motors.iter().enumerate();
        self.out.trim.options.motors = motors.map(|(n, m)| motor(n, m)).collect();
    }

    fn curves(&mut self, half: Half) {
        let points = usize::from(self.rig.curve_points);
        let trigger = self.rig.triggers.iter().find(|t| t.half == half);
        let trigger = trigger.and_then(|t| t.curve_at_half);
        let there = (self.out.trim.stick(half).is_some(), self.out.trim.trigger(half).is_some());
        for (of, at_half, there) in [
            (CurveOf::Stick(half), self.part(half).curve_at_half, there.0),
            (CurveOf::Trigger(half), trigger, there.1),
        ] {
            let Some(at_half) = at_half.filter(|_| there) else { continue };
            match curve_points(at_half, points) {
                Ok(points) => self.out.trim.options.curves.push(CurveTrim { of, points }),
                Err(why) => self.unmet(Place::Half(half), "curve", why.to_string()),
            }
        }
    }

    fn smoothing(&mut self, axis: AxisId, ms: f64, rate_hz: Option<f64>) {
        let Some(rate) = rate_hz.filter(|r| *r >= 1.0 && *r <= 65_535.0) else {
            self.unmet(axis, "smoothing", "the rate of the scans is not known".to_owned());
            return;
        };
        match shift_for(ms / 1000.0, rate) {
            Some(shift @ 1..) => {
                let time_constant_us = (1000.0 * ms).round() as u32;
                let options = &mut self.out.trim.options;
                options.scan_rate_hz = rate.round() as u16;
                options.smoothing.push(SmoothTrim { axis, shift, time_constant_us });
            }
            Some(_) => {
                let why = format!("{ms} ms is less than a scan at {rate:.0} Hz can smooth");
                self.unmet(axis, "smoothing", why);
            }
            None => {
                let why = format!("{ms} ms at {rate:.0} Hz needs a shift above 8");
                self.unmet(axis, "smoothing", why);
            }
        }
    }

    /// Plausible codes: half-way from the farthest push to the rail, where that leaves room for
    /// noise; a side without room is left open.
    fn guard(&self, axis: AxisId) -> Option<GuardTrim> {
        let (_, low, high) = self.out.trim.travel(axis)?;
        let full = self.full_scale;
        let noise = self.survey.axis(axis).and_then(noise_met)?;
        let room = (6.0 * noise).max(f64::from(full) / 256.0);
        let past = PAST_SHARE * f64::from(high - low);
        // Half of the clearance that the farthest push leaves to a rail.
        let half = |clearance: u16| {
            let half = (0.5 * (f64::from(clearance) - past)).floor();
            if half >= room { half as u16 } else { 0 }
        };
        let (least, most) = (half(low), full - half(full - high));
        (least > 0 || most < full).then_some(GuardTrim { axis, least, most })
    }

    fn unmet(&mut self, place: impl Into<Place>, constant: &str, why: String) {
        let advice = format!("change the {constant} in the rig, or its deployed_rate_hz");
        let refusal = Refusal::of(place, Code::Rig, why, &advice).only(constant);
        self.out.trim.refusals.push(refusal);
    }
}

/// The reach table of a gate: at each node the least lower limit between its neighbours, so that
/// the straight lines between nodes never ask for more than the gate gives.
pub(super) fn radii(sectors: &[Sector]) -> Vec<u16> {
    let step = |a: f64, b: f64| (a - b + PI).rem_euclid(TAU) - PI;
    let least = sectors.iter().map(|s| s.low).fold(f64::MAX, f64::min);
    let node = |n: usize| {
        let at = node_angle(n);
        let before = step(node_angle((n + REACH_NODES - 1) % REACH_NODES), at);
        let after = step(node_angle((n + 1) % REACH_NODES), at);
        let near = sectors.iter().filter(|s| (before..=after).contains(&step(s.angle, at)));
        // Where the gate was not seen, no more is asked than every direction gives.
        let low = near.map(|s| s.low).reduce(f64::min).unwrap_or(least);
        // On the axes the ends that every push passes give full output, as without a table.
        let most =
            if n.is_multiple_of(REACH_NODES / 4) { f64::from(FULL_OUTPUT) } else { 60_000.0 };
        low.clamp(0.0, most).floor() as u16
    };
    (0..REACH_NODES).map(node).collect()
}

fn motor(n: usize, m: &MotorPart) -> MotorTrim {
    MotorTrim {
        index: n as u8,
        start: m.start,
        stop: m.stop.unwrap_or(m.start),
        most: m.most,
        kick_ms: m.kick_ms,
        off_ms: m.off_ms,
    }
}
