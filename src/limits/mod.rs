//! Acceptance bands and the decision rule.
//!
//! Each quantity has three nested ranges: good, marginal, reject. A limit counts as missed only
//! when the whole interval of a reading lies outside it (guard-banded decision: pass, fail, cannot
//! tell). The defaults are common practice for a 10-bit converter;
//! [`Limits::for_bits`] scales those given in counts to another raw width, and a rig may ask for
//! its own ([`Limits::with`]).
mod list;
mod wish;

pub use list::{BandOf, Limits, NAMED, Named, Wishes};
pub use wish::Wish;

use serde::{Deserialize, Serialize};

use crate::units::Unit;

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

    /// In words: "≤ 1.25 %", "≥ 300 counts", "0.85 to 1.18"; empty without ends.
    pub fn words(&self, unit: Unit) -> String {
        let show = |value: f64| {
            // Two decimals, without the zeros at their end.
            let text = format!("{:.2}", value * unit.shown_factor());
            let text = text.trim_end_matches('0').trim_end_matches('.');
            if text == "-0" { "0".to_owned() } else { text.replace('-', "\u{2212}") }
        };
        let after = match unit {
            Unit::Degrees => "°".to_owned(),
            Unit::Number => String::new(),
            other => format!("\u{a0}{}", other.symbol()),
        };
        match (self.low, self.high) {
            (None, None) => String::new(),
            (None, Some(high)) => format!("≤ {}{after}", show(high)),
            (Some(low), None) => format!("≥ {}{after}", show(low)),
            (Some(low), Some(high)) => format!("{} to {}{after}", show(low), show(high)),
        }
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
