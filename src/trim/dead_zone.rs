//! What a dead zone is made of, what it promises and what it costs.
use serde::{Deserialize, Serialize};

use crate::rig::{AxisId, Half};

/// Where a zone applies.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum ZonePlace {
    /// The radial zone of a stick.
    Stick(Half),
    /// The axial zone of one axis.
    Axis(AxisId),
}

/// Why the usual promise is not given.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Doubt {
    /// The farthest rest lies farther out than in 99 of 100 normal sets: ask for eight more releases; a
    /// warning once there are 24 or more.
    FarRest {
        /// Farthest over RMS distance.
        ratio: f64,
    },
    /// The rests fall into two groups: the centre between them is a place where it never rests.
    TwoGroups {
        /// Distance of the groups over their pooled standard deviation.
        gap: f64,
    },
}

/// Slow change of the rest level, as far as the session shows it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum DriftKnown {
    /// Taken from a long rest: counts in ten minutes.
    Measured,
    /// The rest is too short to tell: the allowance is 0 and says so.
    Unmeasured,
}

/// One point of the trade-off between leaking and lost travel.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LeakPoint {
    /// Radius (or half-width), counts.
    pub radius_counts: f64,
    /// Upper bound, 95 % sure, of the share of releases that leak; 0…1.
    pub leak_upper: f64,
    /// Share of the travel inside the zone; 0…1.
    pub lost_travel: f64,
}

/// A dead zone with its terms. All lengths in raw counts along the mean travel.
#[derive(Clone, Debug, PartialEq)]
pub struct DeadZone {
    /// Where it applies.
    pub place: ZonePlace,
    /// Releases behind it.
    pub n: usize,
    /// Coverage promised: 0.99 for a stick, 0.995 for an axis.
    pub coverage: f64,
    /// Spread over scatter: the tolerance factor of this scatter's form, 95 % sure.
    pub factor: f64,
    /// Standard deviation of the rests along their longer axis (a stick) or of an axis, less what the
    /// side of the push surely does, counts.
    pub scatter: f64,
    /// Radius about the rests' own mean that holds the coverage, counts.
    pub spread_term: f64,
    /// The farthest rest, carried on to the coverage, counts.
    pub farthest_term: f64,
    /// What endless releases with this scatter would ask for in place of the two, counts.
    pub endless_term: f64,
    /// 3.3 · noise, counts.
    pub noise_term: f64,
    /// Drift allowance, counts.
    pub drift_term: f64,
    /// Whether drift was measured.
    pub drift: DriftKnown,
    /// What the spread costs more about the whole-count centre than about the rests' mean, counts.
    pub centre_term: f64,
    /// The larger of spread and farthest, the centre's rounding with the former, and what is added,
    /// rounded up: what the data call for, counts.
    pub proposed_counts: f64,
    /// The zone that the constants hold, counts: the proposed one, or one that a person chose.
    pub radius_counts: f64,
    /// The same as a share of the mean travel; 0…1.
    pub radius_fraction: f64,
    /// Why the promise is not given; `None` = it is.
    pub doubt: Option<Doubt>,
    /// Leak bound and lost travel over a range of radii, ascending.
    pub leak: Vec<LeakPoint>,
}

/// Releases from which a far rest is no longer answered with more releases.
const MANY: usize = 24;

impl DeadZone {
    /// The zone that endless releases with the same scatter would ask for, as a share of the mean travel.
    /// A zone that a person chose stays.
    pub fn least_fraction(&self) -> f64 {
        if self.is_chosen() || self.radius_counts <= 0.0 {
            return self.radius_fraction;
        }
        let least = self.radius_counts - self.scatter_counts() + self.endless_term;
        self.radius_fraction * (least / self.radius_counts).clamp(0.0, 1.0)
    }

    /// The larger of spread, with the centre's rounding, and farthest, counts.
    fn scatter_counts(&self) -> f64 {
        (self.spread_term + self.centre_term).max(self.farthest_term)
    }

    /// True where the spread decides and not the farthest rest.
    pub fn by_spread(&self) -> bool {
        self.spread_term + self.centre_term >= self.farthest_term
    }

    /// What the zone promises, or why it does not, in one sentence without a full stop.
    pub fn promise(&self) -> String {
        let n = self.n;
        match self.doubt {
            None if self.is_chosen() => {
                let bound = self.cost_of(self.radius_counts).leak_upper;
                let most = match bound {
                    b if b >= 1.0 => "any share".to_owned(),
                    b => format!("at most {:.1} %", 100.0 * b),
                };
                format!(
                    "chosen by hand: {most} of releases like those captured leak, 95 % sure, \
                     n = {n}; {:.1} counts are proposed",
                    self.proposed_counts
                )
            }
            None => {
                let one_in = (1.0 / (1.0 - self.coverage)).round();
                format!(
                    "fewer than 1 in {one_in} releases like those captured leak, 95 % sure, n = {n}, as \
                     long as they scatter normally"
                )
            }
            Some(Doubt::FarRest { ratio }) if n < MANY => format!(
                "one of {n} rests lies {ratio:.1} times the rms distance off; let go eight more \
                 times before this zone is relied on"
            ),
            Some(Doubt::FarRest { ratio }) => format!(
                "one of {n} rests lies {ratio:.1} times the rms distance off; no share of leaks is \
                 promised, look for what holds the stick"
            ),
            Some(Doubt::TwoGroups { gap }) => format!(
                "the {n} rests fall into two groups {gap:.1} standard deviations apart; no share of \
                 leaks is promised, look for friction or a burr"
            ),
        }
    }

    /// True when a person chose another radius than the proposed one.
    pub fn is_chosen(&self) -> bool {
        (self.radius_counts - self.proposed_counts).abs() > 1e-9
    }

    /// What a radius would cost: the leak bound of the next smaller radius of the curve (1 below
    /// all of them), and the share of the mean travel that is lost.
    pub fn cost_of(&self, radius_counts: f64) -> LeakPoint {
        let held = self.leak.iter().rev().find(|l| l.radius_counts <= radius_counts + 1e-9);
        let travel = self.radius_counts / self.radius_fraction;
        let lost = if travel > 0.0 { (radius_counts / travel).min(1.0) } else { 1.0 };
        LeakPoint {
            radius_counts,
            leak_upper: held.map_or(1.0, |l| l.leak_upper),
            lost_travel: lost,
        }
    }

    /// What is known of slow drift, in one sentence without a full stop.
    pub fn drift_words(&self) -> String {
        match self.drift {
            DriftKnown::Measured => {
                format!("{:.1} counts are allowed for ten minutes of drift", self.drift_term)
            }
            DriftKnown::Unmeasured => {
                "drift is not measured: the rests span less than a minute".to_owned()
            }
        }
    }
}
