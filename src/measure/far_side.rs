//! Where several tries agree at their far side: a slip or a half pull can only fall short.
use super::robust::quantile_in_place;

/// Tries that must agree: two may share a slip by chance, and a scatter of two says little.
pub const AGREE_MIN: usize = 3;

/// How far tries against the same stop may lie apart, share of the travel. Half of the 2 % that
/// common practice leaves at least before full output.
const BAND_SHARE: f64 = 0.01;

/// Beside it what rounding to whole codes puts between the nearest and the farthest, counts.
const BAND_ROUNDING: f64 = 1.0;

/// The tries at the far side.
#[derive(Clone, Debug, PartialEq)]
pub struct FarSide {
    /// Those that agree; below [`AGREE_MIN`] the end was not seen.
    pub kept: Vec<f64>,
    /// How many fell short of them.
    pub short: usize,
}

/// Width of agreement for a travel in counts: 1 % and a count.
pub fn band(travel: f64) -> f64 {
    BAND_SHARE * travel.abs() + BAND_ROUNDING
}

/// The tries that agree within `band` at the greatest values.
///
/// The three farthest that lie within the band, with all that lie within it below the first of them;
/// one alone may lie beyond (a damaged reading). Where no such three exist, what lies within the band
/// of the farthest: fewer than three. Not finite values are left out. Cost: n·log n.
pub fn far_side(values: &[f64], band: f64) -> FarSide {
    let mut sorted: Vec<f64> = values.iter().copied().filter(|v| v.is_finite()).collect();
    sorted.sort_unstable_by(|a, b| b.total_cmp(a));
    let agrees = |&k: &usize| {
        sorted.get(k + AGREE_MIN - 1).is_some_and(|nearest| sorted[k] - nearest <= band)
    };
    let first = (0..2).find(agrees).unwrap_or(0);
    let Some(&far) = sorted.get(first) else { return FarSide { kept: Vec::new(), short: 0 } };
    let near = sorted.partition_point(|v| *v >= far - band);
    FarSide { kept: sorted[first..near].to_vec(), short: sorted.len() - near }
}

impl FarSide {
    /// Median of those that agree when there are enough of them.
    pub fn level(&self) -> Option<f64> {
        (self.kept.len() >= AGREE_MIN).then(|| quantile_in_place(&mut self.kept.clone(), 0.5))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn slips_fall_short_and_move_nothing() {
        let far = far_side(&[400.0, 392.0, 401.0, 360.0, 399.5, 400.5], band(400.0));
        assert_eq!((far.kept, far.short), (vec![401.0, 400.5, 400.0, 399.5], 2));
    }

    #[test]
    fn one_beyond_is_left_out_and_two_leave_the_end_unseen() {
        assert_eq!(far_side(&[430.0, 400.0, 400.0, 399.0], 5.5).kept, [400.0, 400.0, 399.0]);
        let two = far_side(&[430.0, 429.0, 400.0, 400.0, 399.0], 5.5);
        assert_eq!((two.level(), two.kept.len()), (None, 2));
        assert_eq!(far_side(&[f64::NAN], 5.5).kept.len(), 0);
    }
}
