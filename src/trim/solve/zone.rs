//! The dead-zone rule, for a pair of axes and for one: what the zone must hold, term by term.
//!
//! D = max(k₂·√λ, 1.25·max r) + distance to the fitted centre + 3.3·σ + drift, where r and λ are
//! taken about the whole-count centre that the firmware subtracts. k₂ is the two-sided normal
//! tolerance factor, 95 % sure, for 99 % of releases (a stick) or 99.5 % (an axis, so that the pair
//! keeps the promise). In the unit of the points handed in; the caller rounds up.
use super::factors::{COVERAGES, Factors};
use crate::measure::centre::{Covariance, Grouping, Rested, grouping, heavy_tail};
use crate::measure::{Estimate, Reading, Span};
use crate::trim::{DeadZone, Doubt, DriftKnown, LeakPoint, ZonePlace};
use crate::units::Unit;

/// Fewest releases that give a zone.
pub(super) const RELEASES_MIN: usize = 8;

/// Rests must span this much board time before their drift is carried to ten minutes, s.
const DRIFT_SPAN_S: f64 = 60.0;

/// What a zone is computed from, all in one unit.
pub(super) struct Rests {
    pub(super) place: ZonePlace,
    /// Rests about the whole-count centre; the second number is 0 for an axis.
    pub(super) points: Vec<[f64; 2]>,
    /// From the whole-count centre to the fitted one.
    pub(super) centre: f64,
    /// Noise RMS.
    pub(super) noise: f64,
    /// Drift allowance.
    pub(super) drift: f64,
    /// Whether that was measured.
    pub(super) drift_known: DriftKnown,
    /// Mean travel: what a share of the travel refers to.
    pub(super) travel: f64,
    /// Counts a unit, for display.
    pub(super) counts: f64,
    /// Why the promise is not given.
    pub(super) doubt: Option<Doubt>,
}

impl Rests {
    /// Share of future releases that the zone promises to hold.
    fn coverage(&self) -> f64 {
        match self.place {
            ZonePlace::Stick(_) => 0.99,
            ZonePlace::Axis(_) => 0.995,
        }
    }

    /// √λmax about the whole-count centre.
    fn scatter(&self) -> f64 {
        let n = self.points.len().max(2) as f64;
        let sum =
            |i: usize, j: usize| self.points.iter().map(|p| p[i] * p[j]).sum::<f64>() / (n - 1.0);
        Covariance { xx: sum(0, 0), xy: sum(0, 1), yy: sum(1, 1) }.principal().large.sqrt()
    }

    /// The sum of the terms, not rounded.
    pub(super) fn radius(&self, factors: &mut Factors) -> f64 {
        let k2 = factors.two(self.points.len(), self.coverage());
        (k2 * self.scatter()).max(1.25 * self.farthest()) + self.beside()
    }

    /// Distance of the farthest rest.
    pub(super) fn farthest(&self) -> f64 {
        self.points.iter().map(|p| p[0].hypot(p[1])).fold(0.0, f64::max)
    }

    /// The terms that do not depend on the coverage.
    fn beside(&self) -> f64 {
        self.centre + 3.3 * self.noise + self.drift
    }

    /// The zone for display; `radius` is what the constants hold, in the points' unit.
    pub(super) fn zone(&self, radius: f64, factors: &mut Factors) -> DeadZone {
        let n = self.points.len();
        let k2 = factors.two(n, self.coverage());
        let scatter = self.scatter();
        DeadZone {
            place: self.place,
            n,
            coverage: self.coverage(),
            k2,
            scatter: scatter * self.counts,
            spread_term: k2 * scatter * self.counts,
            farthest_term: 1.25 * self.farthest() * self.counts,
            noise_term: 3.3 * self.noise * self.counts,
            drift_term: self.drift * self.counts,
            drift: self.drift_known,
            centre_term: self.centre * self.counts,
            proposed_counts: radius * self.counts,
            radius_counts: radius * self.counts,
            radius_fraction: radius / self.travel,
            doubt: self.doubt,
            leak: self.leak_curve(factors),
        }
    }

    /// Radius by bound on the leak: the same rule with other coverages, the farthest rest weighing
    /// as it does at the promised one; never below the share of rests seen outside.
    fn leak_curve(&self, factors: &mut Factors) -> Vec<LeakPoint> {
        let n = self.points.len();
        let weighed = 1.25 * self.farthest() / factors.two(n, self.coverage());
        let scatter = self.scatter().max(weighed);
        COVERAGES
            .iter()
            .map(|&coverage| {
                let reach = factors.two(n, coverage) * scatter;
                let outside = self.points.iter().filter(|p| p[0].hypot(p[1]) > reach).count();
                let radius = reach + self.beside();
                LeakPoint {
                    radius_counts: radius * self.counts,
                    leak_upper: (1.0 - coverage).max(outside as f64 / n as f64),
                    lost_travel: (radius / self.travel).min(1.0),
                }
            })
            .collect()
    }
}

/// Drift in ten minutes, counts, from the rests of an axis; 0 and unmeasured when they span less
/// than a minute, 0 when the interval holds no drift.
pub(super) fn drift_of(drift_per_min: Option<&Reading>) -> (f64, DriftKnown) {
    match drift_per_min {
        Some(d) if d.span.seconds() >= DRIFT_SPAN_S => {
            let sure = d.low > 0.0 || d.high < 0.0;
            (if sure { 10.0 * d.value.abs() } else { 0.0 }, DriftKnown::Measured)
        }
        _ => (0.0, DriftKnown::Unmeasured),
    }
}

/// Why rests of this shape get no promise; two groups weigh more than a far rest.
pub(super) fn doubt(rests: &[Rested], centre: [f64; 2]) -> Option<Doubt> {
    if let Some(Grouping::Two { gap_sd, .. }) = grouping(rests, centre) {
        return Some(Doubt::TwoGroups { gap: gap_sd });
    }
    heavy_tail(rests, centre).map(|ratio| Doubt::FarRest { ratio })
}

/// A zone as a reading, counts: value = its sum before rounding up, low = the farthest rest seen,
/// high = value; n = releases.
pub(super) fn bound(exact: f64, zone: &Rests, span: Span) -> Reading {
    let value = exact * zone.counts;
    let low = (zone.farthest() * zone.counts).min(value);
    Estimate { value, low, high: value, n: zone.points.len() }.over(span, Unit::Counts)
}
