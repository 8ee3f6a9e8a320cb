//! Acceptance bands and the decision rule.
//!
//! Each quantity has three nested ranges: good, marginal, reject. A limit counts as missed only
//! when the whole interval of a reading lies outside it (guard-banded decision: pass, fail, cannot
//! tell). The defaults are common practice for a 10-bit converter and may be edited by a person;
//! [`Limits::for_bits`] scales those given in counts to another raw width.
use serde::{Deserialize, Serialize};

/// What may be said of one limit.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Decision {
    /// The whole interval is inside.
    Pass,
    /// The whole interval is outside.
    Fail,
    /// The interval straddles the limit: measure longer, or more often.
    CannotTell,
}

/// A closed range; an absent end is open.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Range {
    /// Lowest value still inside.
    pub low: Option<f64>,
    /// Highest value still inside.
    pub high: Option<f64>,
}

impl Range {
    /// Everything up to `high`.
    pub const fn at_most(high: f64) -> Range {
        Range { low: None, high: Some(high) }
    }

    /// Everything from `low`.
    pub const fn at_least(low: f64) -> Range {
        Range { low: Some(low), high: None }
    }

    /// Everything from `low` to `high`.
    pub const fn between(low: f64, high: f64) -> Range {
        Range { low: Some(low), high: Some(high) }
    }

    /// Decides for the interval `low..=high`; not-a-number ends cannot tell.
    pub fn decide(&self, low: f64, high: f64) -> Decision {
        if low.is_nan() || high.is_nan() {
            return Decision::CannotTell;
        }
        let below = self.low.is_some_and(|edge| high < edge);
        let above = self.high.is_some_and(|edge| low > edge);
        if below || above {
            return Decision::Fail;
        }
        let inside =
            self.low.is_none_or(|edge| low >= edge) && self.high.is_none_or(|edge| high <= edge);
        if inside { Decision::Pass } else { Decision::CannotTell }
    }

    fn scaled(self, factor: f64) -> Range {
        Range { low: self.low.map(|v| v * factor), high: self.high.map(|v| v * factor) }
    }
}

/// Where a reading stands in the three ranges.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Grade {
    /// Surely good.
    Good,
    /// The interval straddles the edge of good: cannot tell.
    CannotTell,
    /// Surely not good, not surely beyond marginal.
    Marginal,
    /// Surely beyond marginal, not surely beyond reject.
    Poor,
    /// Surely beyond the reject limit.
    Reject,
}

/// Three nested ranges for one quantity.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Band {
    /// Nothing to say inside.
    pub good: Range,
    /// Usable, worth knowing.
    pub marginal: Range,
    /// Outside this the part is rejected.
    pub reject: Range,
}

impl Band {
    /// Small values are good.
    pub const fn at_most(good: f64, marginal: f64, reject: f64) -> Band {
        Band {
            good: Range::at_most(good),
            marginal: Range::at_most(marginal),
            reject: Range::at_most(reject),
        }
    }

    /// Large values are good.
    pub const fn at_least(good: f64, marginal: f64, reject: f64) -> Band {
        Band {
            good: Range::at_least(good),
            marginal: Range::at_least(marginal),
            reject: Range::at_least(reject),
        }
    }

    /// Grades the interval `low..=high`.
    pub fn grade(&self, low: f64, high: f64) -> Grade {
        let [good, marginal, reject] =
            [self.good, self.marginal, self.reject].map(|range| range.decide(low, high));
        match (good, marginal, reject) {
            (_, _, Decision::Fail) => Grade::Reject,
            (_, Decision::Fail, _) => Grade::Poor,
            (Decision::Fail, ..) => Grade::Marginal,
            (Decision::Pass, ..) => Grade::Good,
            (Decision::CannotTell, ..) => Grade::CannotTell,
        }
    }

    fn scaled(self, factor: f64) -> Band {
        Band {
            good: self.good.scaled(factor),
            marginal: self.marginal.scaled(factor),
            reject: self.reject.scaled(factor),
        }
    }
}

/// All acceptance bands. Shares are of one; counts are for the raw width that they were scaled to.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Limits {
    /// Lost or malformed frames, share of those that should have come.
    pub loss_share: Band,
    /// 99th percentile of the interval between frames over its median.
    pub interval_ratio: Band,
    /// Frames a second.
    pub rate_hz: Band,
    /// Share of repeated tuples of a half.
    pub stale_share: Band,
    /// Oldest data of a half just before they are renewed, ms.
    pub remote_age_ms: Band,
    /// RMS noise at rest, counts.
    pub noise_rms_counts: Band,
    /// Amplitude of any line in the noise, counts.
    pub line_counts: Band,
    /// Difference of rests after opposite pushes, share of travel.
    pub hysteresis_share: Band,
    /// Inner dead zone, share of travel.
    pub dead_zone_share: Band,
    /// Travel from the centre to one side, counts.
    pub travel_counts: Band,
    /// Travel of one side over that of the other.
    pub asymmetry: Band,
    /// Distance from the end of travel to the converter's rail, counts.
    pub clearance_counts: Band,
    /// Share of roll samples at the extreme code.
    pub clipped_share: Band,
    /// Roundness deviation over mean radius after scaling, for a circular gate.
    pub roundness: Band,
    /// Departure of the axes from a right angle, degrees either way.
    pub orthogonality_deg: Band,
    /// Scatter of a trigger's rest, share of span.
    pub trigger_scatter_share: Band,
    /// Up against down of a trigger, share of span.
    pub trigger_hysteresis_share: Band,
    /// Largest reversal during a one-way pull, counts.
    pub trigger_reversal_counts: Band,
    /// Travel of a trigger, share of the converter's full scale.
    pub trigger_span_share: Band,
    /// Contact bounce, ms.
    pub bounce_ms: Band,
    /// Double presses, share of presses.
    pub double_share: Band,
    /// Restarts of the board during a run.
    pub resets: Band,
    /// Rest level carried off in ten minutes, share of travel.
    pub drift_share: Band,
    /// After the flash: rows at rest with an output, share of them.
    pub proof_leak_share: Band,
    /// After the flash: least output at an end of an axis or trigger, share of full.
    pub proof_end_share: Band,
    /// After the flash: least output magnitude of 16 directions, share of full; components are
    /// rounded down, so 32 750 of 32 767 is full.
    pub proof_reach_share: Band,
    /// After the flash: output turning back along an axis, in steps of one count.
    pub proof_reversal_steps: Band,
}

impl Default for Limits {
    /// Common practice for a 10-bit converter and a circular gate.
    fn default() -> Self {
        Limits {
            loss_share: Band::at_most(0.0, 0.001, 0.001),
            interval_ratio: Band::at_most(1.25, 2.0, 2.0),
            rate_hz: Band::at_least(200.0, 100.0, 50.0),
            stale_share: Band::at_most(0.05, 0.2, 1.0),
            remote_age_ms: Band::at_most(10.0, 10.0, 10.0),
            noise_rms_counts: Band::at_most(1.0, 2.0, 3.0),
            line_counts: Band::at_most(1.0, 3.0, 6.0),
            hysteresis_share: Band::at_most(0.02, 0.04, 0.06),
            dead_zone_share: Band::at_most(0.05, 0.12, 0.15),
            travel_counts: Band::at_least(300.0, 200.0, 150.0),
            asymmetry: Band {
                good: Range::between(0.85, 1.18),
                marginal: Range::between(0.7, 1.4),
                reject: Range::between(0.7, 1.4),
            },
            clearance_counts: Band::at_least(20.0, 5.0, 0.0),
            clipped_share: Band::at_most(0.02, 0.02, 0.02),
            roundness: Band::at_most(0.05, 0.08, 0.12),
            orthogonality_deg: Band {
                good: Range::between(-3.0, 3.0),
                marginal: Range::between(-6.0, 6.0),
                reject: Range::between(-10.0, 10.0),
            },
            trigger_scatter_share: Band::at_most(0.01, 0.02, 0.02),
            trigger_hysteresis_share: Band::at_most(0.03, 0.06, 0.06),
            trigger_reversal_counts: Band::at_most(2.0, 4.0, 4.0),
            trigger_span_share: Band::at_least(0.4, 0.25, 0.125),
            bounce_ms: Band::at_most(5.0, 10.0, 15.0),
            double_share: Band::at_most(0.0, 1.0 / 59.0, 1.0 / 59.0),
            resets: Band::at_most(0.0, 0.0, 0.0),
            drift_share: Band::at_most(0.0125, 0.025, 0.05),
            proof_leak_share: Band::at_most(0.0, 0.0, 0.0),
            proof_end_share: Band::at_least(1.0, 1.0, 1.0),
            proof_reach_share: Band::at_least(32_750.0 / 32_767.0, 0.99, 0.97),
            proof_reversal_steps: Band::at_most(1.0, 1.0, 1.0),
        }
    }
}

impl Limits {
    /// The defaults with every band in counts scaled from 10 bits to `raw_bits`.
    pub fn for_bits(raw_bits: u8) -> Limits {
        Limits::default().scaled(2f64.powi(i32::from(raw_bits) - 10))
    }

    fn scaled(self, factor: f64) -> Limits {
        Limits {
            noise_rms_counts: self.noise_rms_counts.scaled(factor),
            line_counts: self.line_counts.scaled(factor),
            travel_counts: self.travel_counts.scaled(factor),
            clearance_counts: self.clearance_counts.scaled(factor),
            trigger_reversal_counts: self.trigger_reversal_counts.scaled(factor),
            ..self
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_limit_is_missed_only_with_the_whole_interval() {
        let limit = Range::at_most(3.0);
        assert_eq!(limit.decide(2.0, 2.9), Decision::Pass);
        assert_eq!(limit.decide(2.8, 3.2), Decision::CannotTell);
        assert_eq!(limit.decide(3.1, 3.3), Decision::Fail);
        assert_eq!(limit.decide(f64::NEG_INFINITY, f64::INFINITY), Decision::CannotTell);
        assert_eq!(limit.decide(f64::NAN, 1.0), Decision::CannotTell);
        assert_eq!(Range::between(0.85, 1.18).decide(0.5, 0.8), Decision::Fail);
        assert_eq!(Range::between(0.85, 1.18).decide(0.9, 1.1), Decision::Pass);
    }

    #[test]
    fn grades_walk_through_the_bands() {
        let noise = Limits::default().noise_rms_counts;
        let grades = [(0.6, 0.8), (0.9, 1.1), (1.2, 1.4), (2.1, 2.5), (2.5, 3.5), (3.1, 3.4)]
            .map(|(low, high)| noise.grade(low, high));
        assert_eq!(
            grades,
            [
                Grade::Good,
                Grade::CannotTell,
                Grade::Marginal,
                Grade::Poor,
                Grade::Poor,
                Grade::Reject
            ]
        );
    }

    #[test]
    fn counts_scale_with_the_raw_width_and_shares_do_not() {
        let wide = Limits::for_bits(12);
        assert_eq!(wide.noise_rms_counts.reject, Range::at_most(12.0));
        assert_eq!(wide.travel_counts.good, Range::at_least(1200.0));
        assert_eq!(wide.roundness, Limits::default().roundness);
        assert_eq!(Limits::for_bits(10), Limits::default());
    }

    #[test]
    fn limits_survive_a_round_trip_and_refuse_unknown_keys() {
        let text = ron::to_string(&Limits::for_bits(12)).expect("serializes");
        assert_eq!(ron::from_str::<Limits>(&text).expect("reads back"), Limits::for_bits(12));
        assert!(ron::from_str::<Limits>("(noise: 3)").is_err());
        assert_eq!(ron::from_str::<Limits>("()").expect("empty"), Limits::default());
    }
}
