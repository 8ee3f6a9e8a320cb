//! Are two or more sets alike: means by Welch, spreads by Brown and Forsythe, one value by Grubbs.
use super::distribution::{chi2_quantile, f_quantile, f_tail, t_quantile, t_two_sided};
use super::interval::at_least;
use super::moments::{Moments, moments};
use super::robust;
use super::{Estimate, Measured, Shortage};

/// Difference of two means with unequal variances.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Welch {
    /// Mean of the first less mean of the second, with its 95 % interval. n = values of both.
    pub difference: Estimate,
    /// t statistic.
    pub t: f64,
    /// Satterthwaite's degrees of freedom.
    pub freedom: f64,
    /// Two-sided probability of a t as large if the means are equal.
    pub p: f64,
}

/// Welch's interval and test for the difference of two means.
///
/// Formula: t = (m₁ − m₂)/√(v₁ + v₂), v = s²/n, ν = (v₁ + v₂)²/(v₁²/(n₁ − 1) + v₂²/(n₂ − 1)).
/// Values finite, in one unit. A [`Shortage`] below two values in either set. Two sets without any
/// scatter give ν and p as NaN. Source: Welch 1947; NIST/SEMATECH e-Handbook 7.3.1.
pub fn welch(first: &[f64], second: &[f64]) -> Measured<Welch> {
    let (a, b) = (at_least(first, 2)?, at_least(second, 2)?);
    let (va, vb) = (a.variance / a.n as f64, b.variance / b.n as f64);
    let error = (va + vb).sqrt();
    let freedom = (va + vb).powi(2) / (va * va / (a.n - 1) as f64 + vb * vb / (b.n - 1) as f64);
    let value = a.mean - b.mean;
    let half = if error > 0.0 { t_quantile(0.975, freedom) * error } else { 0.0 };
    let difference = Estimate { value, low: value - half, high: value + half, n: a.n + b.n };
    let t = value / error;
    Ok(Welch { difference, t, freedom, p: t_two_sided(t, freedom) })
}

/// Ratio of two standard deviations with its interval by F: (s₁/s₂)/√F.
///
/// For normal values. A [`Shortage`] below two values in either set. n = values of both.
/// Source: NIST/SEMATECH e-Handbook 1.3.5.9.
pub fn sd_ratio(first: &[f64], second: &[f64]) -> Measured<Estimate> {
    let (a, b) = (at_least(first, 2)?, at_least(second, 2)?);
    let value = a.sd() / b.sd();
    let (na, nb) = ((a.n - 1) as f64, (b.n - 1) as f64);
    let bound = |p: f64| value / f_quantile(p, na, nb).sqrt();
    Ok(Estimate { value, low: bound(0.975), high: bound(0.025), n: a.n + b.n })
}

/// An F test between groups.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct GroupTest {
    /// The statistic.
    pub f: f64,
    /// Degrees of freedom between and within the groups.
    pub freedom: [f64; 2],
    /// Probability of one as large if the groups are alike.
    pub p: f64,
}

/// One-way analysis of variance: do groups share a mean?
///
/// Formula: F = [Σ nᵢ(mᵢ − m)²/(k − 1)]/[Σ(x − mᵢ)²/(N − k)]. A [`Shortage`] below two groups or with
/// an empty one or N ≤ k. Source: NIST/SEMATECH e-Handbook 7.4.3.3.
pub fn anova(groups: &[&[f64]]) -> Measured<GroupTest> {
    let parts: Vec<Moments> = groups.iter().filter_map(|g| moments(g)).collect();
    let n: usize = parts.iter().map(|m| m.n).sum();
    if parts.len() < 2 || parts.len() < groups.len() || n <= parts.len() {
        return Err(Shortage {
            what: "values in two or more groups".to_owned(),
            have: n,
            need: (groups.len() + 1).max(3),
            advice: "repeat the measurement in every group".to_owned(),
        });
    }
    let grand = parts.iter().map(|m| m.n as f64 * m.mean).sum::<f64>() / n as f64;
    let between: f64 = parts.iter().map(|m| m.n as f64 * (m.mean - grand).powi(2)).sum();
    let within: f64 = parts.iter().filter(|m| m.n > 1).map(|m| (m.n - 1) as f64 * m.variance).sum();
    let freedom = [(parts.len() - 1) as f64, (n - parts.len()) as f64];
    let f = (between / freedom[0]) / (within / freedom[1]);
    Ok(GroupTest { f, freedom, p: f_tail(f, freedom[0], freedom[1]) })
}

/// What distances are taken from in [`levene`].
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Middle {
    /// The group mean: Levene's test.
    Mean,
    /// The group median: the test of Brown and Forsythe, right for skew data too.
    Median,
}

/// Do groups share a spread? Analysis of variance of the distances from each group's middle.
///
/// A [`Shortage`] as for [`anova`]. Source: Levene 1960; Brown & Forsythe 1974; NIST/SEMATECH
/// e-Handbook 1.3.5.10.
pub fn levene(groups: &[&[f64]], middle: Middle) -> Measured<GroupTest> {
    let distances = |group: &&[f64]| -> Vec<f64> {
        let centre = match middle {
            Middle::Mean => super::moments::mean(group),
            Middle::Median => robust::median(group),
        };
        group.iter().map(|x| (x - centre).abs()).collect()
    };
    let distances: Vec<Vec<f64>> = groups.iter().map(distances).collect();
    let views: Vec<&[f64]> = distances.iter().map(Vec::as_slice).collect();
    anova(&views)
}

/// Bartlett's test that normal groups share a variance.
///
/// Returns (statistic, probability of one as large). Sensitive to departures from normality; use
/// [`levene`] for real data. A [`Shortage`] with a group below two values.
/// Source: NIST/SEMATECH e-Handbook 1.3.5.7.
pub fn bartlett(groups: &[&[f64]]) -> Measured<(f64, f64)> {
    let parts: Vec<Moments> =
        groups.iter().map(|g| at_least(g, 2)).collect::<Measured<Vec<Moments>>>()?;
    let k = parts.len() as f64;
    let freedom: f64 = parts.iter().map(|m| (m.n - 1) as f64).sum();
    let pooled: f64 = parts.iter().map(|m| (m.n - 1) as f64 * m.variance).sum::<f64>() / freedom;
    let logs: f64 = parts.iter().map(|m| (m.n - 1) as f64 * m.variance.ln()).sum();
    let inverses: f64 = parts.iter().map(|m| 1.0 / (m.n - 1) as f64).sum();
    let correction = 1.0 + (inverses - 1.0 / freedom) / (3.0 * (k - 1.0));
    let t = (freedom * pooled.ln() - logs) / correction;
    Ok((t, super::distribution::chi2_tail(t, k - 1.0)))
}

/// The most distant value of a normal set, judged.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Grubbs {
    /// Index of the value farthest from the mean.
    pub index: usize,
    /// Its distance over the standard deviation.
    pub g: f64,
    /// Two-sided 5 % critical value for this n.
    pub critical: f64,
}

impl Grubbs {
    /// Whether the value is an outlier at the 5 % level.
    pub fn is_outlier(self) -> bool {
        self.g > self.critical
    }
}

/// Grubbs' test for one outlier: G = max|x − m|/s.
///
/// Values finite. A [`Shortage`] below three values; a set without scatter gives G = NaN, no
/// outlier. Source: Grubbs 1969; NIST/SEMATECH e-Handbook 1.3.5.17.1.
pub fn grubbs(values: &[f64]) -> Measured<Grubbs> {
    let m = at_least(values, 3)?;
    let far = values.iter().map(|x| (x - m.mean).abs()).enumerate();
    let (index, away) = far.max_by(|a, b| a.1.total_cmp(&b.1)).unwrap_or((0, 0.0));
    Ok(Grubbs { index, g: away / m.sd(), critical: grubbs_critical(m.n, 0.05, Sides::Two) })
}

/// On how many sides an outlier is looked for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Sides {
    /// Only the largest, or only the smallest.
    One,
    /// Both.
    Two,
}

/// Critical value of Grubbs' G for `n` values at level `alpha`; NaN below three values.
///
/// Formula: (n − 1)/√n · √(t²/(n − 2 + t²)), t the upper α/n (one-sided) or α/2n quantile with
/// n − 2 degrees of freedom. `grubbs_critical(8, 0.05, Sides::One)` = 2.032.
pub fn grubbs_critical(n: usize, alpha: f64, sides: Sides) -> f64 {
    if n < 3 {
        return f64::NAN;
    }
    let size = n as f64;
    let tail = alpha / size / if sides == Sides::Two { 2.0 } else { 1.0 };
    let t = t_quantile(1.0 - tail, size - 2.0);
    (size - 1.0) / size.sqrt() * (t * t / (size - 2.0 + t * t)).sqrt()
}

/// One-sided upper 95 % limit of a standard deviation: s√((n − 1)/χ²₀.₀₅,ₙ₋₁); ∞ below two values.
///
/// "With 95 % confidence the scatter is no larger than this." Source: NIST/SEMATECH e-Handbook
/// 7.2.3.1.
pub fn sd_upper_limit(sd: f64, n: usize) -> f64 {
    if n < 2 {
        return f64::INFINITY;
    }
    let nu = (n - 1) as f64;
    sd * (nu / chi2_quantile(0.05, nu)).sqrt()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn two_pairs_by_hand() {
        // Means 1 and 4, variances 2 and 2, v = 1 + 1, ν = 2: t = −3/√2, t₀.₉₇₅,₂ = 4.302653.
        let w = welch(&[0.0, 2.0], &[3.0, 5.0]).unwrap();
        assert!((w.t + 3.0 / 2f64.sqrt()).abs() < 1e-12);
        assert!((w.freedom - 2.0).abs() < 1e-12);
        assert!((w.difference.high - (-3.0 + 4.302_653 * 2f64.sqrt())).abs() < 1e-5);
        assert!((sd_ratio(&[0.0, 4.0], &[0.0, 2.0]).unwrap().value - 2.0).abs() < 1e-12);
    }

    #[test]
    fn swapping_the_sets_turns_the_sign_only() {
        let (a, b) = ([1.0, 2.0, 4.0, 4.5], [2.0, 3.5, 8.0]);
        let (x, y) = (welch(&a, &b).unwrap(), welch(&b, &a).unwrap());
        assert!((x.difference.value + y.difference.value).abs() < 1e-12);
        assert!((x.p - y.p).abs() < 1e-12);
    }

    #[test]
    fn too_little_or_no_scatter() {
        assert!(welch(&[1.0], &[1.0, 2.0]).is_err());
        assert!(welch(&[1.0, 1.0], &[1.0, 1.0]).unwrap().p.is_nan());
        assert!(anova(&[&[1.0, 2.0]]).is_err());
        assert!(anova(&[&[1.0], &[]]).is_err());
        assert!(grubbs(&[1.0, 2.0]).is_err());
        assert!(!grubbs(&[3.0, 3.0, 3.0]).unwrap().is_outlier());
        assert_eq!(sd_upper_limit(1.0, 1), f64::INFINITY);
        assert!((sd_upper_limit(1.0, 11) - (10.0 / 3.940_299_f64).sqrt()).abs() < 1e-5);
    }
}
