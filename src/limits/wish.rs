//! A band as a person writes it in a rig: good, marginal, reject in one line.
use serde::{Deserialize, Serialize};

use super::{Band, Range};

/// A band in short: each form names good, marginal and reject, in this order.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub enum Wish {
    /// Small values are good.
    AtMost(f64, f64, f64),
    /// Large values are good.
    AtLeast(f64, f64, f64),
    /// Values between two ends are good.
    Between((f64, f64), (f64, f64), (f64, f64)),
}

impl Wish {
    /// The band that it says.
    pub fn band(self) -> Band {
        match self {
            Wish::AtMost(good, marginal, reject) => Band::at_most(good, marginal, reject),
            Wish::AtLeast(good, marginal, reject) => Band::at_least(good, marginal, reject),
            Wish::Between(good, marginal, reject) => {
                let [good, marginal, reject] =
                    [good, marginal, reject].map(|(low, high)| Range::between(low, high));
                Band { good, marginal, reject }
            }
        }
    }

    /// Why it is no band: a value that is no number, or ranges that do not hold one another.
    pub(super) fn unfit(&self) -> Option<String> {
        let (lows, highs) = match *self {
            Wish::AtMost(a, b, c) => (vec![], vec![a, b, c]),
            Wish::AtLeast(a, b, c) => (vec![a, b, c], vec![]),
            Wish::Between(a, b, c) => (vec![a.0, b.0, c.0], vec![a.1, b.1, c.1]),
        };
        if lows.iter().chain(&highs).any(|v| !v.is_finite()) {
            return Some("has a value that is no number".to_owned());
        }
        let ordered = lows.is_sorted_by(|a, b| a >= b) && highs.is_sorted_by(|a, b| a <= b);
        let open = lows.iter().zip(&highs).all(|(low, high)| low <= high);
        (!(ordered && open)).then(|| {
            "must widen from good over marginal to reject, each from its lower to its upper end"
                .to_owned()
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::limits::{Limits, Wishes};

    #[test]
    fn a_wish_replaces_its_band_and_no_other() {
        let wishes =
            Wishes { noise_rms_counts: Some(Wish::AtMost(1.5, 3.0, 4.5)), ..Wishes::default() };
        let limits = Limits::for_bits(12).with(&wishes);
        assert_eq!(limits.noise_rms_counts, Band::at_most(1.5, 3.0, 4.5), "not scaled again");
        assert_eq!(limits.travel_counts, Limits::for_bits(12).travel_counts);
        assert!(!wishes.is_empty() && Wishes::default().is_empty());
    }

    #[test]
    fn ranges_must_hold_one_another() {
        assert_eq!(Wish::AtMost(1.0, 1.0, 2.0).unfit(), None);
        assert_eq!(Wish::Between((0.9, 1.1), (0.8, 1.2), (0.8, 1.3)).unfit(), None);
        for wrong in [
            Wish::AtMost(2.0, 1.0, 3.0),
            Wish::AtLeast(1.0, 2.0, 0.0),
            Wish::AtLeast(f64::NAN, 0.0, 0.0),
            Wish::Between((1.1, 0.9), (0.8, 1.2), (0.7, 1.3)),
        ] {
            assert!(wrong.unfit().is_some(), "{wrong:?}");
        }
    }
}
