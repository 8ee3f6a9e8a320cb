//! Intervals for the plain figures: mean, standard deviation, median, share.
use super::distribution::{chi2_quantile, f_quantile, t_quantile};
use super::moments::{Moments, moments};
use super::robust;
use super::{Estimate, Measured, Shortage};

/// Mean of independent values with its interval by Student's t: m ± t₀.₉₇₅,ₙ₋₁·s/√n.
///
/// Unit of the values, which must be finite. A [`Shortage`] below two. Source: NIST/SEMATECH
/// e-Handbook 1.3.5.2.
pub fn mean(values: &[f64]) -> Measured<Estimate> {
    let m = at_least(values, 2)?;
    let half = t_quantile(0.975, (m.n - 1) as f64) * m.standard_error();
    Ok(Estimate { value: m.mean, low: m.mean - half, high: m.mean + half, n: m.n })
}

/// Standard deviation of normal values with its interval by χ²: s√((n − 1)/χ²).
///
/// Unit of the values. A [`Shortage`] below two. Source: NIST/SEMATECH e-Handbook 1.3.5.8 and
/// 7.2.3.1.
pub fn sd(values: &[f64]) -> Measured<Estimate> {
    let m = at_least(values, 2)?;
    Ok(sd_of(m.sd(), (m.n - 1) as f64, m.n))
}

/// Interval of a standard deviation known with `freedom` degrees of freedom from `n` samples.
pub fn sd_of(sd: f64, freedom: f64, n: usize) -> Estimate {
    let bound = |p: f64| sd * (freedom / chi2_quantile(p, freedom)).sqrt();
    Estimate { value: sd, low: bound(0.975), high: bound(0.025), n }
}

/// One-sample t statistic (m − m₀)/(s/√n) with n − 1 degrees of freedom.
/// Source: NIST/SEMATECH e-Handbook 7.2.2.
pub fn t_against(values: &[f64], expected: f64) -> Measured<f64> {
    let m = at_least(values, 2)?;
    Ok((m.mean - expected) / m.standard_error())
}

/// Median with a distribution-free interval between two order statistics.
///
/// The ranks are the innermost ones whose binomial coverage is at least 95 %; below six values no
/// ranks suffice and the interval is (−∞, ∞). A [`Shortage`] without values. Cost: one sort.
/// Source: Conover 1999, section 3.2.
pub fn median(values: &[f64]) -> Measured<Estimate> {
    at_least(values, 1)?;
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    let n = sorted.len();
    let value = robust::quantile_sorted(&sorted, 0.5);
    let (low, high) = match outer_rank(n) {
        Some(rank) => (sorted[rank], sorted[n - 1 - rank]),
        None => (f64::NEG_INFINITY, f64::INFINITY),
    };
    Ok(Estimate { value, low, high, n })
}

/// Largest rank k (from 0) with P(fewer than k + 1 of n coin throws are heads) ≤ 2.5 %.
fn outer_rank(n: usize) -> Option<usize> {
    let mut chance = -(n as f64) * std::f64::consts::LN_2;
    let mut below = 0.0;
    let mut rank = None;
    for k in 0..n / 2 {
        below += chance.exp();
        if below > 0.025 {
            break;
        }
        rank = Some(k);
        chance += ((n - k) as f64 / (k + 1) as f64).ln();
    }
    rank
}

/// Share of `hits` in `trials` with the exact (Clopper–Pearson) interval; one-sided ends at 0 and 1.
///
/// Formula: limits are Beta quantiles, here by F. A [`Shortage`] without trials or with more hits
/// than trials. Source: Clopper & Pearson 1934.
pub fn share(hits: usize, trials: usize) -> Measured<Estimate> {
    if trials == 0 || hits > trials {
        return Err(values_needed(0, 1));
    }
    let (x, n) = (hits as f64, trials as f64);
    let low = if hits == 0 {
        0.0
    } else {
        x / (x + (n - x + 1.0) * f_quantile(0.975, 2.0 * (n - x + 1.0), 2.0 * x))
    };
    let high = if hits == trials {
        1.0
    } else {
        let f = f_quantile(0.975, 2.0 * (x + 1.0), 2.0 * (n - x));
        (x + 1.0) * f / (n - x + (x + 1.0) * f)
    };
    Ok(Estimate { value: x / n, low, high, n: trials })
}

pub(super) fn at_least(values: &[f64], need: usize) -> Measured<Moments> {
    moments(values).filter(|m| m.n >= need).ok_or_else(|| values_needed(values.len(), need))
}

fn values_needed(have: usize, need: usize) -> Shortage {
    Shortage {
        what: "independent values".to_owned(),
        have,
        need,
        advice: "repeat the measurement".to_owned(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn mean_and_sd_by_hand() {
        // 2 4 6 8: mean 5, s = √(20/3), t₀.₉₇₅,₃ = 3.182446, χ²₀.₉₇₅,₃ = 9.348404.
        let values = [2.0, 4.0, 6.0, 8.0];
        let m = mean(&values).unwrap();
        assert!((m.high - (5.0 + 3.182_446 * (20.0 / 12.0_f64).sqrt())).abs() < 1e-5);
        let s = sd(&values).unwrap();
        assert!((s.low - (20.0 / 9.348_404_f64).sqrt()).abs() < 1e-6, "{s:?}");
        assert!(mean(&[1.0]).is_err());
    }

    #[test]
    fn ranks_of_the_median() {
        // Published ranks (from 1) for 95 %: n = 6: 1, 10: 2, 15: 4, 20: 6, 25: 8 (from memory).
        for (n, rank) in [(6, 1), (10, 2), (15, 4), (20, 6), (25, 8)] {
            assert_eq!(outer_rank(n), Some(rank - 1), "n {n}");
        }
        assert_eq!(outer_rank(5), None);
        let m = median(&[5.0, 1.0, 3.0]).unwrap();
        assert_eq!((m.value, m.low), (3.0, f64::NEG_INFINITY));
    }

    #[test]
    fn shares_at_the_ends_follow_the_rule_of_three() {
        // 0 of 60: upper limit 1 − 0.025^(1/60).
        let none = share(0, 60).unwrap();
        assert_eq!(none.low, 0.0);
        assert!((none.high - (1.0 - 0.025_f64.powf(1.0 / 60.0))).abs() < 1e-10);
        let all = share(60, 60).unwrap();
        assert!((all.low - 0.025_f64.powf(1.0 / 60.0)).abs() < 1e-10);
        // 5 of 10, published 0.1871 to 0.8129.
        let half = share(5, 10).unwrap();
        assert!((half.low - 0.1871).abs() < 5e-5 && (half.high - 0.8129).abs() < 5e-5);
        assert!(share(1, 0).is_err() && share(3, 2).is_err());
    }
}
