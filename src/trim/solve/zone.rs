//! The dead-zone rule, for a pair of axes and for one: what the zone must hold, term by term.
//!
//! D = max(spread + rounding, carried) + 3.3·σ + drift, in the unit of the points handed in; the caller
//! rounds up. `spread` is the radius about the rests' own mean that holds 99 % of the releases to come
//! (a stick) or 99.5 % (an axis, so that the pair keeps the promise), 95 % sure, for a normal scatter;
//! `rounding` is what the same costs more about the whole-count centre that the firmware subtracts;
//! `carried` is the farthest rest, carried on to that share. Formulas and sources: `scatter`.
use super::factors::COVERAGES;
use super::scatter::Scatter;
use crate::measure::centre::{Grouping, Rested, grouping, heavy_tail};
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
    /// Unit vectors of the pushes before them; the second number is 0 for an axis.
    pub(super) pushes: Vec<[f64; 2]>,
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

    fn scatter(&self) -> Scatter {
        Scatter::of(&self.points, &self.pushes)
    }

    /// The sum of the terms, not rounded.
    pub(super) fn radius(&self) -> f64 {
        self.radius_for(&self.scatter(), self.coverage())
    }

    /// The same rule for any share of the releases to come.
    fn radius_for(&self, scatter: &Scatter, coverage: f64) -> f64 {
        let (spread, rounding) = scatter.spread(coverage);
        (spread + rounding).max(scatter.carried(coverage)) + self.added()
    }

    /// Distance of the farthest rest.
    pub(super) fn farthest(&self) -> f64 {
        self.points.iter().map(|p| p[0].hypot(p[1])).fold(0.0, f64::max)
    }

    /// The terms that do not depend on the coverage.
    fn added(&self) -> f64 {
        3.3 * self.noise + self.drift
    }

    /// The zone for display; `radius` is what the constants hold, in the points' unit.
    pub(super) fn zone(&self, radius: f64) -> DeadZone {
        let scatter = self.scatter();
        let coverage = self.coverage();
        let (spread, rounding) = scatter.spread(coverage);
        DeadZone {
            place: self.place,
            n: self.points.len(),
            coverage,
            factor: if scatter.sd() > 0.0 { spread / scatter.sd() } else { 0.0 },
            scatter: scatter.sd() * self.counts,
            spread_term: spread * self.counts,
            farthest_term: scatter.carried(coverage) * self.counts,
            endless_term: scatter.endless(coverage) * self.counts,
            noise_term: 3.3 * self.noise * self.counts,
            drift_term: self.drift * self.counts,
            drift: self.drift_known,
            centre_term: rounding * self.counts,
            proposed_counts: radius * self.counts,
            radius_counts: radius * self.counts,
            radius_fraction: radius / self.travel,
            doubt: self.doubt,
            leak: self.leak_curve(&scatter),
        }
    }

    /// Radius by bound on the leak: the same rule with other coverages; never below the share of rests
    /// seen outside.
    fn leak_curve(&self, scatter: &Scatter) -> Vec<LeakPoint> {
        let n = self.points.len();
        COVERAGES
            .iter()
            .map(|&coverage| {
                let radius = self.radius_for(scatter, coverage);
                let reach = radius - self.added();
                let outside = self.points.iter().filter(|p| p[0].hypot(p[1]) > reach).count();
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
