//! Circle through points: algebraic start, geometric finish, standard errors.
use crate::measure::distribution::t_quantile;
use crate::measure::{Estimate, Measured, Shortage};

/// A circle, in the unit of the points.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Circle {
    /// Centre.
    pub x: f64,
    /// Centre.
    pub y: f64,
    /// Radius.
    pub r: f64,
}

impl Circle {
    /// How far a point lies outside the circle; negative inside.
    pub fn departure(self, point: [f64; 2]) -> f64 {
        (point[0] - self.x).hypot(point[1] - self.y) - self.r
    }
}

/// A fitted circle with its uncertainty.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct CircleFit {
    /// The least-squares circle.
    pub circle: Circle,
    /// √(Σ e²/(n − 3)), e the radial departures; 0 for three points.
    pub residual_sd: f64,
    /// Standard errors of x, y and r for independent departures; NaN for three points.
    pub se: [f64; 3],
    /// Number of points.
    pub n: usize,
}

impl CircleFit {
    /// Centre x with its interval by t with n − 3 degrees of freedom.
    pub fn x(&self) -> Estimate {
        self.estimate(self.circle.x, self.se[0])
    }

    /// Centre y with its interval.
    pub fn y(&self) -> Estimate {
        self.estimate(self.circle.y, self.se[1])
    }

    /// Radius with its interval.
    pub fn r(&self) -> Estimate {
        self.estimate(self.circle.r, self.se[2])
    }

    fn estimate(&self, value: f64, se: f64) -> Estimate {
        let half =
            if self.n > 3 { t_quantile(0.975, (self.n - 3) as f64) * se } else { f64::INFINITY };
        Estimate { value, low: value - half, high: value + half, n: self.n }
    }
}

/// Circle by Taubin's algebraic fit: no start needed, little bias on arcs.
///
/// Formula: minimises Σ(|p − c|² − r²)²/Σ|p − c|² by Newton's method on the characteristic cubic.
/// Unit: that of the points, which must be finite. A [`Shortage`] for fewer than three points or
/// points on one line. Cost: two passes. Source: Taubin 1991; Chernov 2010, section 5.10.
pub fn algebraic(points: &[[f64; 2]]) -> Measured<Circle> {
    if points.len() < 3 {
        return Err(too_few(points.len()));
    }
    let n = points.len() as f64;
    let [sx, sy] = sums(points, |[x, y]| [x, y]);
    let (mx, my) = (sx / n, sy / n);
    let centred = sums(points, |[x, y]| {
        let (x, y) = (x - mx, y - my);
        let z = x * x + y * y;
        [x * x, y * y, x * y, x * z, y * z, z * z]
    });
    let [xx, yy, xy, xz, yz, zz] = centred.map(|s| s / n);
    let z = xx + yy;
    let det = xx * yy - xy * xy;
    if det.is_nan() || det <= 1e-14 * z * z {
        return Err(on_a_line(points.len()));
    }
    let spread = zz - z * z;
    let a3 = 4.0 * z;
    let a2 = -3.0 * z * z - zz;
    let a1 = spread * z + 4.0 * det * z - xz * xz - yz * yz;
    let a0 = xz * (xz * yy - yz * xy) + yz * (yz * xx - xz * xy) - spread * det;
    let (mut root, mut value) = (0.0, a0);
    for _ in 0..50 {
        let next = root - value / (a1 + root * (2.0 * a2 + root * 3.0 * a3));
        let next_value = a0 + next * (a1 + next * (a2 + next * a3));
        if !next.is_finite() || next == root || next_value.abs() >= value.abs() {
            break;
        }
        (root, value) = (next, next_value);
    }
    let scale = 2.0 * (root * root - root * z + det);
    let x = (xz * (yy - root) - yz * xy) / scale;
    let y = (yz * (xx - root) - xz * xy) / scale;
    let circle = Circle { x: x + mx, y: y + my, r: (x * x + y * y + z).sqrt() };
    if circle.r.is_finite() { Ok(circle) } else { Err(on_a_line(points.len())) }
}

/// Points from which on a start is sought on a part of them.
const MANY: usize = 1 << 16;

/// Size of that part.
const PART: usize = 1 << 14;

/// Least distance from the centre that a direction is taken over.
const TINY: f64 = f64::MIN_POSITIVE;

/// Least-squares circle: minimises the sum of squared radial departures (ISO 12181 LSCI).
///
/// Formula: min Σ(|p − c| − r)² by Levenberg–Marquardt from [`algebraic`]; standard errors from
/// s²(JᵀJ)⁻¹, s² = Σe²/(n − 3). Above 65 536 points the same fit of 16 384 of them, spread over the
/// whole, is the start. By hand: (4, 1), (1, 4), (−2, 1) lie on x = 1, y = 1, r = 3; with a fourth
/// point (1, −3), 1 outside, the best circle has y = 0.460, r = 3.274. Unit: that of the points, which
/// must be finite. A [`Shortage`] for fewer than three points, points on one line, or an arc so flat
/// that no circle is best. Cost: a pass of about 3 ns a point for each of some four steps.
/// Source: Gander, Golub & Strebel 1994; Chernov 2010.
///
/// ```
/// use trimbench::measure::fit::circle;
/// let points = [[1.0, 7.0], [2.0, 6.0], [5.0, 8.0], [7.0, 7.0], [9.0, 5.0], [3.0, 7.0]];
/// let fit = circle::geometric(&points).unwrap();
/// assert!((fit.circle.r - 4.7142).abs() < 5e-5);
/// ```
pub fn geometric(points: &[[f64; 2]]) -> Measured<CircleFit> {
    let from_part = (points.len() >= MANY).then(|| {
        let part = spread_part(points);
        algebraic(&part).ok().and_then(|start| settle(&part, start)).map(|found| found.circle)
    });
    let start = match from_part.flatten() {
        Some(start) => start,
        None => algebraic(points)?,
    };
    let found = settle(points, start).ok_or_else(|| on_a_line(points.len()))?;
    let spare = points.len() - 3;
    let residual_sd = if spare > 0 { (found.cost / spare as f64).sqrt() } else { 0.0 };
    let se = match inverse_diagonal(found.matrix()) {
        Some(d) if spare > 0 => d.map(|v| residual_sd * v.sqrt()),
        _ => [f64::NAN; 3],
    };
    Ok(CircleFit { circle: found.circle, residual_sd, se, n: points.len() })
}

/// Points at the multiples of the golden section: evenly spread, and never in step with the turns of
/// a stick as every k-th point could be.
fn spread_part(points: &[[f64; 2]]) -> Vec<[f64; 2]> {
    const GOLD: u64 = 0x9E37_79B9_7F4A_7C15;
    let place = |k: u64| {
        let share = u128::from(k.wrapping_mul(GOLD));
        (share * points.len() as u128) >> 64
    };
    (0..PART as u64).filter_map(|k| points.get(place(k) as usize).copied()).collect()
}

/// Levenberg–Marquardt from a start to the best circle; `None` where it does not settle.
///
/// The last step is taken without looking again: a step of 10⁻¹¹ of the radius, or of 10⁻⁹ where
/// there are so many points that each look costs milliseconds, leaves no more behind than rounding.
fn settle(points: &[[f64; 2]], start: Circle) -> Option<Normal> {
    let enough = if points.len() < MANY { 1e-11 } else { 1e-9 };
    let mut here = Normal::at(points, start);
    let mut damping = 1e-9;
    let mut settled = false;
    for _ in 0..200 {
        let Some(step) = here.step(damping) else { break };
        let next = Circle {
            x: here.circle.x + step[0],
            y: here.circle.y + step[1],
            r: here.circle.r + step[2],
        };
        let size = step.iter().fold(0.0_f64, |m, s| m.max(s.abs()));
        if size <= enough * next.r.abs() {
            here.circle = next;
            settled = true;
            break;
        }
        let there = Normal::at(points, next);
        if there.cost <= here.cost {
            here = there;
            damping = (damping * 0.1).max(1e-12);
        } else if size <= 1e-8 * next.r.abs() {
            settled = true;
            break;
        } else {
            damping = (damping * 10.0).max(1e-6);
        }
    }
    (settled && here.circle.r.is_finite() && here.circle.r > 0.0).then_some(here)
}

/// The normal equations at one circle: sums over the unit vectors (u, v) from its centre and the
/// departures e.
struct Normal {
    circle: Circle,
    n: f64,
    u: f64,
    v: f64,
    uu: f64,
    uv: f64,
    eu: f64,
    ev: f64,
    e: f64,
    cost: f64,
}

impl Normal {
    fn at(points: &[[f64; 2]], circle: Circle) -> Normal {
        const LANES: usize = 4;
        let mut total = [0.0; 8];
        for block in points.chunks(1024) {
            let mut lanes = [[0.0; LANES]; 8];
            let (fours, rest) = block.as_chunks::<LANES>();
            for four in fours {
                // One array a quantity, so that the processor takes several points at a time.
                let dx = four.map(|point| point[0] - circle.x);
                let dy = four.map(|point| point[1] - circle.y);
                let square: [f64; LANES] = std::array::from_fn(|l| dx[l] * dx[l] + dy[l] * dy[l]);
                let d = square.map(f64::sqrt);
                // A point on the centre has no direction; the floor keeps it harmless.
                let inverse = d.map(|d| 1.0 / if d > TINY { d } else { TINY });
                let u: [f64; LANES] = std::array::from_fn(|l| dx[l] * inverse[l]);
                let v: [f64; LANES] = std::array::from_fn(|l| dy[l] * inverse[l]);
                let e = d.map(|d| d - circle.r);
                for l in 0..LANES {
                    lanes[0][l] += u[l];
                    lanes[1][l] += v[l];
                    lanes[2][l] += u[l] * u[l];
                    lanes[3][l] += u[l] * v[l];
                    lanes[4][l] += e[l] * u[l];
                    lanes[5][l] += e[l] * v[l];
                    lanes[6][l] += e[l];
                    lanes[7][l] += e[l] * e[l];
                }
            }
            for point in rest {
                let (u, v, e) = seen_from(circle, *point);
                let terms = [u, v, u * u, u * v, e * u, e * v, e, e * e];
                lanes.iter_mut().zip(terms).for_each(|(lane, term)| lane[0] += term);
            }
            for (sum, lane) in total.iter_mut().zip(lanes) {
                *sum += lane.iter().sum::<f64>();
            }
        }
        let [u, v, uu, uv, eu, ev, e, cost] = total;
        Normal { circle, n: points.len() as f64, u, v, uu, uv, eu, ev, e, cost }
    }

    fn matrix(&self) -> [[f64; 3]; 3] {
        let vv = self.n - self.uu;
        [[self.uu, self.uv, self.u], [self.uv, vv, self.v], [self.u, self.v, self.n]]
    }

    fn step(&self, damping: f64) -> Option<[f64; 3]> {
        let mut m = self.matrix();
        for (i, row) in m.iter_mut().enumerate() {
            row[i] *= 1.0 + damping;
        }
        solve3(m, [self.eu, self.ev, self.e])
    }
}

/// Unit vector from the centre to a point, and how far it lies outside the circle.
fn seen_from(circle: Circle, [x, y]: [f64; 2]) -> (f64, f64, f64) {
    let (dx, dy) = (x - circle.x, y - circle.y);
    let d = (dx * dx + dy * dy).sqrt();
    // A point on the centre has no direction; the floor keeps it harmless.
    let inverse = 1.0 / if d > TINY { d } else { TINY };
    (dx * inverse, dy * inverse, d - circle.r)
}

/// Sums of several terms over the points, in lanes of four and blocks, so that rounding stays
/// small and the processor works on several points at once.
fn sums<const K: usize>(points: &[[f64; 2]], terms: impl Fn([f64; 2]) -> [f64; K]) -> [f64; K] {
    const LANES: usize = 4;
    let mut total = [0.0; K];
    for block in points.chunks(1024) {
        let mut lanes = [[0.0; LANES]; K];
        let (fours, rest) = block.as_chunks::<LANES>();
        for four in fours {
            let values: [[f64; K]; LANES] = std::array::from_fn(|l| terms(four[l]));
            for k in 0..K {
                for l in 0..LANES {
                    lanes[k][l] += values[l][k];
                }
            }
        }
        for point in rest {
            for (lane, value) in lanes.iter_mut().zip(terms(*point)) {
                lane[0] += value;
            }
        }
        for (sum, lane) in total.iter_mut().zip(lanes) {
            *sum += lane.iter().sum::<f64>();
        }
    }
    total
}

fn determinant3(m: [[f64; 3]; 3]) -> f64 {
    let [[a, b, c], [d, e, f], [g, h, i]] = m;
    a * (e * i - f * h) - b * (d * i - f * g) + c * (d * h - e * g)
}

fn solve3(m: [[f64; 3]; 3], y: [f64; 3]) -> Option<[f64; 3]> {
    let det = determinant3(m);
    let solution = std::array::from_fn(|column| {
        let mut swapped = m;
        for (row, value) in swapped.iter_mut().zip(y) {
            row[column] = value;
        }
        determinant3(swapped) / det
    });
    solution.iter().all(|v: &f64| v.is_finite()).then_some(solution)
}

fn inverse_diagonal(m: [[f64; 3]; 3]) -> Option<[f64; 3]> {
    let mut diagonal = [0.0; 3];
    for (i, d) in diagonal.iter_mut().enumerate() {
        let mut unit = [0.0; 3];
        unit[i] = 1.0;
        *d = solve3(m, unit)?[i];
    }
    Some(diagonal)
}

fn too_few(have: usize) -> Shortage {
    Shortage {
        what: "points for a circle".to_owned(),
        have,
        need: 3,
        advice: "turn the stick once round its gate".to_owned(),
    }
}

fn on_a_line(n: usize) -> Shortage {
    Shortage {
        what: "points off one straight line".to_owned(),
        have: n.min(2),
        need: 3,
        advice: "turn the stick through more directions".to_owned(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn three_points_lie_on_their_circle() {
        let fit = geometric(&[[4.0, 1.0], [1.0, 4.0], [-2.0, 1.0]]).unwrap();
        assert!((fit.circle.x - 1.0).abs() < 1e-9 && (fit.circle.y - 1.0).abs() < 1e-9);
        assert!((fit.circle.r - 3.0).abs() < 1e-9);
        assert_eq!(fit.r().high, f64::INFINITY);
    }

    #[test]
    fn ring_with_alternating_departures_has_known_errors() {
        // n points evenly round a circle of radius 100, departures ±1: s² = n/(n − 3), and with
        // JᵀJ = diag(n/2, n/2, n): se = s√(2/n), s√(2/n), s/√n.
        let n = 360_usize;
        let points: Vec<[f64; 2]> = (0..n)
            .map(|i| {
                let a = std::f64::consts::TAU * i as f64 / n as f64;
                let r = if i % 2 == 0 { 101.0 } else { 99.0 };
                [500.0 + r * a.cos(), 512.0 + r * a.sin()]
            })
            .collect();
        let fit = geometric(&points).unwrap();
        let s = (n as f64 / (n as f64 - 3.0)).sqrt();
        assert!((fit.circle.r - 100.0).abs() < 1e-9, "{fit:?}");
        assert!((fit.residual_sd - s).abs() < 1e-9);
        assert!((fit.se[0] - s * (2.0 / n as f64).sqrt()).abs() < 1e-9);
        assert!((fit.se[2] - s / (n as f64).sqrt()).abs() < 1e-9);
    }

    #[test]
    fn a_million_points_give_the_circle_that_every_third_of_them_shares() {
        // Three copies of one ring: the part that the start is sought on is not the whole.
        let n = 33_000_u32;
        let ring: Vec<[f64; 2]> = (0..n)
            .map(|i| {
                let a = f64::from(i) * 0.0025;
                let r = 400.0 + f64::from(i * 7919 % 101) / 50.0;
                [500.0 + r * a.cos(), 520.0 + r * a.sin()]
            })
            .collect();
        let once = geometric(&ring).unwrap();
        let thrice = geometric(&ring.repeat(3)).unwrap();
        assert!((once.circle.x - thrice.circle.x).abs() < 1e-7, "{once:?} {thrice:?}");
        assert!((once.circle.r - thrice.circle.r).abs() < 1e-7);
        assert!((once.residual_sd - thrice.residual_sd).abs() < 1e-4);
        let mut bad = ring.repeat(3);
        bad[12_345][0] = f64::NAN;
        assert!(geometric(&bad).is_err());
    }

    #[test]
    fn lines_spots_and_pairs_are_refused() {
        assert_eq!(geometric(&[[0.0, 0.0], [1.0, 1.0]]).unwrap_err().need, 3);
        assert!(geometric(&[[0.0, 0.0], [1.0, 1.0], [2.0, 2.0], [5.0, 5.0]]).is_err());
        assert!(geometric(&[[3.0, 3.0]; 10]).is_err());
        assert!(geometric(&[[0.0, 0.0], [f64::NAN, 1.0], [2.0, 2.0]]).is_err());
    }
}
