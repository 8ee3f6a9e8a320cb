//! Rules for the optional wishes of a rig: curves, smoothing, motors.
use super::{Rig, ZoneForm};

/// Output at half of the push that a curve may have: its slope then stays within 0.3…3.
pub const AT_HALF: std::ops::RangeInclusive<f64> = 0.24..=0.76;

impl Rig {
    /// The first optional wish that cannot be met: the key that it stands under, and why.
    pub(super) fn unfit_option(&self) -> Option<(&'static str, String)> {
        let halves = self.sticks.iter().map(|s| s.curve_at_half);
        let mut halves = halves.chain(self.triggers.iter().map(|t| t.curve_at_half)).flatten();
        if let Some(at) = halves.find(|at| !AT_HALF.contains(at)) {
            return Some((
                "curve_at_half",
                format!("curve_at_half is {at}; it must be 0.24 to 0.76, 0.5 is straight"),
            ));
        }
        let radial = |s: &&super::StickPart| s.zone == ZoneForm::Radial;
        let mut round = self.sticks.iter().filter(radial).filter_map(|s| s.curve_at_half);
        if let Some(at) = round.find(|at| *at > 0.5) {
            return Some((
                "curve_at_half",
                format!(
                    "curve_at_half is {at} on a radial zone, where more than 0.5 could turn an \
                     axis back; choose 0.5 or less, or zone: Axial"
                ),
            ));
        }
        let smooth = self.sticks.iter().map(|s| s.smoothing_ms);
        let mut smooth = smooth.chain(self.triggers.iter().map(|t| t.smoothing_ms)).flatten();
        if let Some(ms) = smooth.find(|ms| !(*ms > 0.0 && *ms <= 1000.0)) {
            return Some((
                "smoothing_ms",
                format!("smoothing_ms is {ms}; it must be above 0 and at most 1000"),
            ));
        }
        if ![33, 65].contains(&self.curve_points) {
            return Some(("curve_points", "curve_points must be 33 or 65".to_owned()));
        }
        if self.motors.len() > 32 {
            return Some(("motors", format!("{} motors; at most 32", self.motors.len())));
        }
        self.motors.iter().enumerate().find_map(|(n, m)| {
            let stop = m.stop.unwrap_or(m.start);
            let rise = stop > 0 && stop <= m.start && m.start <= m.most;
            let off = (1..=60_000).contains(&m.off_ms);
            (!(rise && off)).then(|| {
                let rule = "duties must rise from stop over start to most, stop above 0; off_ms \
                            is 1 to 60000";
                ("motors", format!("motor {n}: {rule}"))
            })
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn wishes_that_cannot_be_met_are_refused_with_their_line() {
        for (text, key) in [
            ("(\n format: 1, sticks: [(half: left,\n curve_at_half: 0.9)])", "curve_at_half"),
            ("(\n format: 1, sticks: [(half: left,\n curve_at_half: 0.6)])", "zone: Axial"),
            ("(\n format: 1, triggers: [(half: left,\n smoothing_ms: 0.0)])", "smoothing_ms"),
            ("(\n format: 1,\n curve_points: 34)", "33 or 65"),
            ("(\n format: 1,\n motors: [(start: 0)])", "motor 0"),
            ("(\n format: 1,\n motors: [(start: 90, stop: 91)])", "motor 0"),
        ] {
            let error = Rig::from_ron(text, "t").expect_err(text);
            assert!(error.line == 3 && error.what.contains(key), "{error}");
        }
        let fine = "(format: 1, sticks: [(half: left, zone: Axial, curve_at_half: 0.6)],
            triggers: [(half: right, smoothing_ms: 4.0)], motors: [(start: 60, kick_ms: 40)])";
        let rig = Rig::from_ron(fine, "t").expect("a rig");
        assert_eq!((rig.motors[0].most, rig.motors[0].off_ms, rig.guard_ms), (255, 5000, 100));
    }
}
