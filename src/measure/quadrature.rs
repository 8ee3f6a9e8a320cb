//! Gauss–Legendre sums and a bracketed root search, the two tools behind the distribution tables.

/// Points of one panel; exact for polynomials of degree 31.
const POINTS: usize = 16;

/// Integral of `f` from `low` to `high` by `panels` Gauss–Legendre panels of 16 points.
///
/// Error falls as (panel width)³² for a smooth integrand. Cost: 16·`panels` calls of `f`.
/// Source: Abramowitz & Stegun 25.4.29.
pub(super) fn integrate(low: f64, high: f64, panels: usize, mut f: impl FnMut(f64) -> f64) -> f64 {
    let rule = legendre_rule();
    let half = 0.5 * (high - low) / panels as f64;
    let mut total = 0.0;
    for panel in 0..panels {
        let middle = low + half * (2 * panel + 1) as f64;
        for (node, weight) in rule {
            total += weight * f(middle + half * node);
        }
    }
    total * half
}

/// Nodes and weights on [−1, 1], by Newton's method on the Legendre polynomial.
fn legendre_rule() -> [(f64, f64); POINTS] {
    let n = POINTS as f64;
    std::array::from_fn(|i| {
        let mut x = (std::f64::consts::PI * (i as f64 + 0.75) / (n + 0.5)).cos();
        let mut slope = 1.0;
        for _ in 0..8 {
            let (mut p, mut before) = (x, 1.0);
            for k in 2..=POINTS {
                let k = k as f64;
                (p, before) = (((2.0 * k - 1.0) * x * p - (k - 1.0) * before) / k, p);
            }
            slope = n * (x * p - before) / (x * x - 1.0);
            x -= p / slope;
        }
        (x, 2.0 / ((1.0 - x * x) * slope * slope))
    })
}

/// Root of `f` between `low` and `high`, whose values there differ in sign; NaN if they do not.
///
/// Brent's method (1973): inverse quadratic steps inside a shrinking bracket, to the last few
/// digits of a double. Cost: about ten calls of `f`, at most 200.
pub(super) fn root(low: f64, high: f64, mut f: impl FnMut(f64) -> f64) -> f64 {
    let (mut a, mut b) = (low, high);
    let (mut fa, mut fb) = (f(a), f(b));
    if fa == 0.0 {
        return a;
    }
    if fb == 0.0 {
        return b;
    }
    if fa.is_nan() || fb.is_nan() || fa.signum() == fb.signum() {
        return f64::NAN;
    }
    let (mut c, mut fc) = (a, fa);
    let mut step = b - a;
    let mut before = step;
    for _ in 0..200 {
        if fb.signum() == fc.signum() {
            (c, fc) = (a, fa);
            step = b - a;
            before = step;
        }
        if fc.abs() < fb.abs() {
            (a, b, c) = (b, c, b);
            (fa, fb, fc) = (fb, fc, fb);
        }
        let tolerance = 2.0 * f64::EPSILON * b.abs() + f64::MIN_POSITIVE;
        let middle = 0.5 * (c - b);
        if middle.abs() <= tolerance || fb == 0.0 {
            return b;
        }
        match interpolated(a, fa, b, fb, c, fc) {
            Some(try_step)
                if before.abs() >= tolerance
                    && fa.abs() > fb.abs()
                    && 2.0 * try_step.abs()
                        < (3.0 * middle.abs() - tolerance).min(before.abs()) =>
            {
                before = step;
                step = try_step;
            }
            _ => {
                step = middle;
                before = middle;
            }
        }
        (a, fa) = (b, fb);
        b += if step.abs() > tolerance { step } else { tolerance.copysign(middle) };
        fb = f(b);
    }
    b
}

/// Brent's trial step from b: secant with two points, inverse quadratic with three; only if it
/// leads towards c.
fn interpolated(a: f64, fa: f64, b: f64, fb: f64, c: f64, fc: f64) -> Option<f64> {
    let s = fb / fa;
    let (p, q) = if a == c {
        ((c - b) * s, 1.0 - s)
    } else {
        let (q, r) = (fa / fc, fb / fc);
        (s * ((c - b) * q * (q - r) - (b - a) * (r - 1.0)), (q - 1.0) * (r - 1.0) * (s - 1.0))
    };
    let step = if p > 0.0 { p / -q } else { -p / q };
    (step.is_finite() && step.signum() == (c - b).signum()).then_some(step)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sums_a_polynomial_exactly() {
        let area = integrate(0.0, 2.0, 1, |x| x.powi(9));
        assert!((area - 102.4).abs() < 1e-12, "{area}");
        let bell = integrate(-9.0, 9.0, 20, |x| (-0.5 * x * x).exp());
        assert!((bell - (2.0 * std::f64::consts::PI).sqrt()).abs() < 1e-13, "{bell}");
    }

    #[test]
    fn finds_roots_steep_and_flat() {
        assert!((root(0.0, 2.0, |x| x * x - 2.0) - 2f64.sqrt()).abs() < 1e-15);
        assert!((root(0.0, 10.0, |x| x.exp() - 20_000.0) - 20_000f64.ln()).abs() < 1e-13);
        assert!((root(-3.0, 4.0, |x| (x - 1.0).powi(3)) - 1.0).abs() < 1e-5);
        assert!(root(1.0, 2.0, |x| x).is_nan());
    }
}
