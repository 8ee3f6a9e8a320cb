//! Ellipse through points: direct algebraic start, geometric finish.
use super::circle::{self, Circle};
use super::dense::Normal;
use crate::measure::{Measured, Shortage};

/// An ellipse; lengths in the unit of the points.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Ellipse {
    /// Centre.
    pub x: f64,
    /// Centre.
    pub y: f64,
    /// Larger half-axis.
    pub a: f64,
    /// Smaller half-axis.
    pub b: f64,
    /// Direction of the larger half-axis, radians in (−π/2, π/2].
    pub angle: f64,
}

/// A fitted ellipse.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct EllipseFit {
    /// The ellipse.
    pub ellipse: Ellipse,
    /// Root of the sum of squared distances of the points from it.
    pub residual_norm: f64,
    /// Number of points.
    pub n: usize,
}

/// Ellipse by the direct algebraic fit: always an ellipse, smaller than the geometric one on arcs.
///
/// Formula: minimises Σ F(p)² with 4ac − b² = 1 for the conic F = ax² + bxy + cy² + dx + ey + f. Unit:
/// that of the points, which must be finite. A [`Shortage`] below five points or for points on one
/// line. Cost: one pass. Source: Fitzgibbon, Pilu & Fisher 1999 in the form of Halíř & Flusser 1998.
pub fn direct(points: &[[f64; 2]]) -> Measured<Ellipse> {
    let refused = || refused(points.len());
    if points.len() < 5 {
        return Err(refused());
    }
    let frame = Frame::of(points).ok_or_else(refused)?;
    let mut s1 = [[0.0; 3]; 3];
    let mut s2 = [[0.0; 3]; 3];
    let mut s3 = [[0.0; 3]; 3];
    for p in points {
        let [x, y] = frame.inward(*p);
        let (quadratic, linear) = ([x * x, x * y, y * y], [x, y, 1.0]);
        for i in 0..3 {
            for j in 0..3 {
                s1[i][j] += quadratic[i] * quadratic[j];
                s2[i][j] += quadratic[i] * linear[j];
                s3[i][j] += linear[i] * linear[j];
            }
        }
    }
    let s3_inverse = inverse3(s3).ok_or_else(refused)?;
    // T = −S3⁻¹ S2ᵀ gives the linear part of the conic from its quadratic part.
    let t = product(s3_inverse, transposed(s2)).map(|row| row.map(|v| -v));
    let reduced = sum(s1, product(s2, t));
    let m = [reduced[2].map(|v| 0.5 * v), reduced[1].map(|v| -v), reduced[0].map(|v| 0.5 * v)];
    let conic = eigenvectors(m)
        .into_iter()
        .find(|v| 4.0 * v[0] * v[2] - v[1] * v[1] > 0.0)
        .ok_or_else(refused)?;
    let linear = t.map(|row| row.iter().zip(conic).map(|(a, b)| a * b).sum::<f64>());
    let ellipse = from_conic(conic, linear).ok_or_else(refused)?;
    Ok(frame.outward(ellipse))
}

/// Least-squares ellipse: minimises the sum of squared distances from the points.
///
/// Formula: min Σ d², d the distance along the normal, by Levenberg–Marquardt from [`direct`] and from
/// the least-squares circle; the better is kept. Unit: that of the points, which must be finite. A
/// [`Shortage`] below six points or where no ellipse is best. Cost: some 50 steps of about 0.5 µs a
/// point: reduce a long record to sectors first.
/// Source: Gander, Golub & Strebel 1994; Ahn, Rauh & Warnecke 2001 for the derivatives.
pub fn geometric(points: &[[f64; 2]]) -> Measured<EllipseFit> {
    if points.len() < 6 {
        return Err(refused(points.len()));
    }
    let round = |c: Circle| Ellipse { x: c.x, y: c.y, a: 1.01 * c.r, b: 0.99 * c.r, angle: 0.1 };
    let starts = [direct(points), circle::geometric(points).map(|fit| round(fit.circle))];
    let fits = starts.into_iter().filter_map(|start| descend(points, start.ok()?));
    let best = fits.min_by(|a, b| a.1.total_cmp(&b.1));
    let (ellipse, cost) = best.ok_or_else(|| refused(points.len()))?;
    Ok(EllipseFit { ellipse: tidy(ellipse), residual_norm: cost.sqrt(), n: points.len() })
}

fn descend(points: &[[f64; 2]], start: Ellipse) -> Option<(Ellipse, f64)> {
    let mut here = start;
    let (mut normal, mut cost) = equations(points, here);
    let mut damping = 1e-3;
    for _ in 0..300 {
        let step = normal.damped(damping).solve();
        let next = Ellipse {
            x: here.x + step[0],
            y: here.y + step[1],
            a: here.a + step[2],
            b: here.b + step[3],
            angle: here.angle + step[4],
        };
        let size = step[..4].iter().fold(0.0_f64, |m, s| m.max(s.abs()));
        let scale = here.a.max(here.b);
        if size.is_nan() || scale > 1e9 {
            return None;
        }
        if next.a > 1e-9 * scale && next.b > 1e-9 * scale {
            let (next_normal, next_cost) = equations(points, next);
            if next_cost <= cost {
                (here, normal, cost) = (next, next_normal, next_cost);
                damping = (damping * 0.2).max(1e-14);
                if size <= 1e-12 * scale {
                    break;
                }
                continue;
            }
        }
        damping *= 5.0;
        if damping > 1e12 || size <= 1e-13 * scale {
            break;
        }
    }
    cost.is_finite().then_some((here, cost))
}

/// Normal equations of the distances at one ellipse, and their sum of squares.
fn equations(points: &[[f64; 2]], e: Ellipse) -> (Normal, f64) {
    let (sin, cos) = e.angle.sin_cos();
    let mut normal = Normal::new(5);
    let mut cost = 0.0;
    for p in points {
        let (dx, dy) = (p[0] - e.x, p[1] - e.y);
        let local = [cos * dx + sin * dy, cos * dy - sin * dx];
        let foot = foot_point(e.a, e.b, local);
        let slope = [foot[0] / (e.a * e.a), foot[1] / (e.b * e.b)];
        let length = slope[0].hypot(slope[1]);
        let n = [slope[0] / length, slope[1] / length];
        let distance = (local[0] - foot[0]) * n[0] + (local[1] - foot[1]) * n[1];
        // Moving the ellipse by a parameter moves its foot point; the distance falls by the part
        // of that along the normal.
        let row = [
            cos * n[0] - sin * n[1],
            sin * n[0] + cos * n[1],
            n[0] * foot[0] / e.a,
            n[1] * foot[1] / e.b,
            n[1] * foot[0] - n[0] * foot[1],
        ];
        normal.add(&row, distance);
        cost += distance * distance;
    }
    (normal, cost)
}

/// Nearest point of the ellipse with half-axes `a` along x and `b` along y.
///
/// In the first quadrant, with a ≥ b, the foot is (a²u/(t + a² − b²), b²v/t) with t the largest root
/// of (au/(t + a² − b²))² + (bv/t)² = 1, found by bisection. Source: Eberly 2013.
fn foot_point(a: f64, b: f64, [u, v]: [f64; 2]) -> [f64; 2] {
    if a < b {
        let [v, u] = foot_point(b, a, [v, u]);
        return [u, v];
    }
    let (x, y) = (u.abs().max(1e-12 * a), v.abs().max(1e-12 * b));
    let (aa, bb) = (a * a, b * b);
    let over = |t: f64| (a * x / (t + aa - bb)).powi(2) + (b * y / t).powi(2) - 1.0;
    let mut low = (b * y).max(a * x - aa + bb);
    let mut high = (a * x).hypot(b * y) + bb;
    for _ in 0..120 {
        let middle = 0.5 * (low + high);
        if middle <= low || middle >= high {
            break;
        }
        if over(middle) > 0.0 { low = middle } else { high = middle }
    }
    let t = 0.5 * (low + high);
    [(aa * x / (t + aa - bb)).copysign(u), (bb * y / t).copysign(v)]
}

/// Larger half-axis first, angle in (−π/2, π/2].
fn tidy(e: Ellipse) -> Ellipse {
    let (a, b, angle) = if e.a >= e.b {
        (e.a, e.b, e.angle)
    } else {
        (e.b, e.a, e.angle + 0.5 * std::f64::consts::PI)
    };
    let turns = (angle / std::f64::consts::PI - 0.5).ceil();
    Ellipse { a, b, angle: angle - turns * std::f64::consts::PI, ..e }
}

/// Centre, half-axes and direction of ax² + bxy + cy² + dx + ey + f = 0.
fn from_conic([a, b, c]: [f64; 3], [d, e, f]: [f64; 3]) -> Option<Ellipse> {
    let det = 4.0 * a * c - b * b;
    let x = (b * e - 2.0 * c * d) / det;
    let y = (b * d - 2.0 * a * e) / det;
    let level = -(f + 0.5 * (d * x + e * y));
    let angle = 0.5 * b.atan2(a - c);
    let (sin, cos) = angle.sin_cos();
    let along = a * cos * cos + b * cos * sin + c * sin * sin;
    let across = a * sin * sin - b * cos * sin + c * cos * cos;
    let ellipse = Ellipse { x, y, a: (level / along).sqrt(), b: (level / across).sqrt(), angle };
    (ellipse.a.is_finite() && ellipse.b.is_finite()).then(|| tidy(ellipse))
}

/// Points moved and scaled to the size of one, so that fourth powers keep their digits.
struct Frame {
    origin: [f64; 2],
    scale: f64,
}

impl Frame {
    fn of(points: &[[f64; 2]]) -> Option<Frame> {
        let n = points.len() as f64;
        let sum = points.iter().fold([0.0; 2], |s, p| [s[0] + p[0], s[1] + p[1]]);
        let origin = [sum[0] / n, sum[1] / n];
        let far = |p: &[f64; 2]| (p[0] - origin[0]).hypot(p[1] - origin[1]);
        let scale = points.iter().map(far).fold(0.0, f64::max);
        (scale.is_finite() && scale > 0.0).then_some(Frame { origin, scale })
    }

    fn inward(&self, p: [f64; 2]) -> [f64; 2] {
        [(p[0] - self.origin[0]) / self.scale, (p[1] - self.origin[1]) / self.scale]
    }

    fn outward(&self, e: Ellipse) -> Ellipse {
        Ellipse {
            x: e.x * self.scale + self.origin[0],
            y: e.y * self.scale + self.origin[1],
            a: e.a * self.scale,
            b: e.b * self.scale,
            angle: e.angle,
        }
    }
}

type Matrix = [[f64; 3]; 3];

fn transposed(m: Matrix) -> Matrix {
    std::array::from_fn(|i| std::array::from_fn(|j| m[j][i]))
}

fn product(a: Matrix, b: Matrix) -> Matrix {
    std::array::from_fn(|i| std::array::from_fn(|j| (0..3).map(|k| a[i][k] * b[k][j]).sum()))
}

fn sum(a: Matrix, b: Matrix) -> Matrix {
    std::array::from_fn(|i| std::array::from_fn(|j| a[i][j] + b[i][j]))
}

fn cross(a: [f64; 3], b: [f64; 3]) -> [f64; 3] {
    [a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]]
}

fn inverse3(m: Matrix) -> Option<Matrix> {
    let columns = [cross(m[1], m[2]), cross(m[2], m[0]), cross(m[0], m[1])];
    let det: f64 = m[0].iter().zip(columns[0]).map(|(a, b)| a * b).sum();
    let inverse = transposed(columns).map(|row| row.map(|v| v / det));
    inverse.iter().flatten().all(|v| v.is_finite()).then_some(inverse)
}

/// Eigenvectors of the real eigenvalues, by the characteristic cubic and cross products of rows.
fn eigenvectors(m: Matrix) -> Vec<[f64; 3]> {
    let trace = m[0][0] + m[1][1] + m[2][2];
    let columns = [cross(m[1], m[2]), cross(m[2], m[0]), cross(m[0], m[1])];
    let minors = columns[0][0] + columns[1][1] + columns[2][2];
    let det: f64 = m[0].iter().zip(columns[0]).map(|(a, b)| a * b).sum();
    let vector = |root: f64| {
        let mut shifted = m;
        for (i, row) in shifted.iter_mut().enumerate() {
            row[i] -= root;
        }
        let [a, b, c] = shifted;
        let normals = [cross(a, b), cross(b, c), cross(c, a)];
        let size = |v: &[f64; 3]| v.iter().map(|x| x * x).sum::<f64>();
        let best = normals.into_iter().max_by(|a, b| size(a).total_cmp(&size(b)));
        let best = best.unwrap_or([0.0; 3]);
        let length = size(&best).sqrt();
        best.map(|x| x / length)
    };
    cubic_roots(-trace, minors, -det).into_iter().map(vector).collect()
}

/// Real roots of x³ + a x² + b x + c, by Viète or Cardano, polished by Newton.
fn cubic_roots(a: f64, b: f64, c: f64) -> Vec<f64> {
    let q = (a * a - 3.0 * b) / 9.0;
    let r = (2.0 * a.powi(3) - 9.0 * a * b + 27.0 * c) / 54.0;
    let mut roots = if r * r <= q.powi(3) {
        let angle = (r / q.powi(3).sqrt()).clamp(-1.0, 1.0).acos();
        let angle = if angle.is_nan() { 0.0 } else { angle };
        let turn = std::f64::consts::TAU;
        let root = |k: f64| -2.0 * q.max(0.0).sqrt() * ((angle + k * turn) / 3.0).cos() - a / 3.0;
        vec![root(0.0), root(1.0), root(-1.0)]
    } else {
        let size = -(r.abs() + (r * r - q.powi(3)).sqrt()).cbrt() * r.signum();
        vec![size + if size == 0.0 { 0.0 } else { q / size } - a / 3.0]
    };
    for x in &mut roots {
        for _ in 0..3 {
            let step = (((*x + a) * *x + b) * *x + c) / ((3.0 * *x + 2.0 * a) * *x + b);
            if step.is_finite() {
                *x -= step;
            }
        }
    }
    roots
}

fn refused(have: usize) -> Shortage {
    Shortage {
        what: "points round an ellipse".to_owned(),
        have: have.min(5),
        need: 6,
        advice: "turn the stick once round its gate".to_owned(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn on(e: Ellipse, n: usize) -> Vec<[f64; 2]> {
        let (sin, cos) = e.angle.sin_cos();
        (0..n)
            .map(|k| {
                let (s, c) = (std::f64::consts::TAU * k as f64 / n as f64).sin_cos();
                let (u, v) = (e.a * c, e.b * s);
                [e.x + cos * u - sin * v, e.y + sin * u + cos * v]
            })
            .collect()
    }

    #[test]
    fn points_on_an_ellipse_give_it_back() {
        let truth = Ellipse { x: 510.0, y: 490.0, a: 420.0, b: 380.0, angle: -0.7 };
        for fit in [direct(&on(truth, 72)).unwrap(), geometric(&on(truth, 72)).unwrap().ellipse] {
            for (got, want) in
                [(fit.x, 510.0), (fit.y, 490.0), (fit.a, 420.0), (fit.b, 380.0), (fit.angle, -0.7)]
            {
                assert!((got - want).abs() < 1e-7, "{fit:?}");
            }
        }
    }

    #[test]
    fn feet_of_points_known_on_paper() {
        let near = |got: [f64; 2], want: [f64; 2]| {
            assert!((got[0] - want[0]).hypot(got[1] - want[1]) < 1e-9, "{got:?} {want:?}");
        };
        near(foot_point(2.0, 1.0, [5.0, 0.0]), [2.0, 0.0]);
        near(foot_point(2.0, 1.0, [0.0, -3.0]), [0.0, -1.0]);
        // From the centre the nearest points are the ends of the short axis.
        assert!((foot_point(2.0, 1.0, [0.0, 0.0])[1].abs() - 1.0).abs() < 1e-9);
    }

    #[test]
    fn lines_and_few_points_are_refused() {
        let line: Vec<[f64; 2]> = (0..10).map(|i| [f64::from(i), 2.0 * f64::from(i)]).collect();
        assert!(direct(&line).is_err());
        assert!(geometric(&[[0.0, 0.0]; 8]).is_err());
        assert!(geometric(&[[0.0, 0.0], [1.0, 0.0], [0.0, 1.0], [1.0, 1.0], [0.5, 2.0]]).is_err());
    }
}
