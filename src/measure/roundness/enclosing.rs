//! The smallest circle that encloses a set of points.
use crate::measure::fit::circle::Circle;

/// Smallest enclosing circle; `None` without points or with a point that is not finite.
///
/// Method: the circle of a support of at most three points grows by the point farthest outside it
/// until none is outside; each step enlarges the radius, so it ends. Exact to rounding (1e-12 of
/// the radius). Cost: one pass a step, rarely more than ten steps.
pub fn enclosing_circle(points: &[[f64; 2]]) -> Option<Circle> {
    if points.iter().flatten().any(|v| !v.is_finite()) {
        return None;
    }
    let mut support = vec![*points.first()?];
    let mut circle = Circle { x: support[0][0], y: support[0][1], r: 0.0 };
    for _ in 0..points.len() + 10 {
        let (far, departure) = farthest(points, circle)?;
        if departure <= 1e-12 * (circle.r + far[0].abs() + far[1].abs()) {
            break;
        }
        support.push(far);
        (circle, support) = smallest_of_few(&support);
    }
    Some(circle)
}

fn farthest(points: &[[f64; 2]], circle: Circle) -> Option<([f64; 2], f64)> {
    points.iter().map(|p| (*p, circle.departure(*p))).max_by(|a, b| a.1.total_cmp(&b.1))
}

/// Smallest enclosing circle of up to four points, with the two or three that carry it: tried
/// through every pair and triple.
fn smallest_of_few(points: &[[f64; 2]]) -> (Circle, Vec<[f64; 2]>) {
    let mut best: Option<(Circle, Vec<[f64; 2]>)> = None;
    let mut consider = |circle: Circle, support: &[[f64; 2]]| {
        let slack = 1e-10 * (circle.r + circle.x.abs() + circle.y.abs());
        let holds = points.iter().all(|p| circle.departure(*p) <= slack);
        if holds && best.as_ref().is_none_or(|(b, _)| circle.r < b.r) {
            best = Some((circle, support.to_vec()));
        }
    };
    for (i, a) in points.iter().enumerate() {
        for (j, b) in points.iter().enumerate().skip(i + 1) {
            consider(across(*a, *b), &[*a, *b]);
            for c in &points[j + 1..] {
                if let Some(circle) = circumcircle(*a, *b, *c) {
                    consider(circle, &[*a, *b, *c]);
                }
            }
        }
    }
    best.unwrap_or_else(|| (across(points[0], points[points.len() - 1]), points.to_vec()))
}

/// Circle with the two points at the ends of a diameter.
fn across(a: [f64; 2], b: [f64; 2]) -> Circle {
    Circle {
        x: 0.5 * (a[0] + b[0]),
        y: 0.5 * (a[1] + b[1]),
        r: 0.5 * (a[0] - b[0]).hypot(a[1] - b[1]),
    }
}

/// Circle through three points; `None` on one line.
pub(super) fn circumcircle(a: [f64; 2], b: [f64; 2], c: [f64; 2]) -> Option<Circle> {
    let (bx, by) = (b[0] - a[0], b[1] - a[1]);
    let (cx, cy) = (c[0] - a[0], c[1] - a[1]);
    let twice_area = bx * cy - by * cx;
    let (bb, cc) = (bx * bx + by * by, cx * cx + cy * cy);
    let x = (cy * bb - by * cc) / (2.0 * twice_area);
    let y = (bx * cc - cx * bb) / (2.0 * twice_area);
    let r = x.hypot(y);
    (r.is_finite() && twice_area.abs() > 1e-14 * (bb + cc)).then_some(Circle {
        x: a[0] + x,
        y: a[1] + y,
        r,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn inner_points_do_not_matter() {
        let mut points = vec![[0.0, 0.0], [6.0, 0.0], [3.0, 3.0]];
        let before = enclosing_circle(&points).unwrap();
        points.extend((0..500).map(|i| [3.0 + 0.004 * f64::from(i), 0.1]));
        assert_eq!(enclosing_circle(&points), Some(before));
        assert!((before.r - 3.0).abs() < 1e-12);
    }

    #[test]
    fn order_does_not_matter_on_a_grid_of_codes() {
        let mut points: Vec<[f64; 2]> =
            (0..400_u32).map(|i| [f64::from(i * i * 7 % 101), f64::from(i * 13 % 97)]).collect();
        let forward = enclosing_circle(&points).unwrap();
        points.reverse();
        let backward = enclosing_circle(&points).unwrap();
        assert!((forward.r - backward.r).abs() < 1e-9);
        assert!(points.iter().all(|p| forward.departure(*p) < 1e-9));
    }

    #[test]
    fn nothing_and_nonsense() {
        assert_eq!(enclosing_circle(&[]), None);
        assert_eq!(enclosing_circle(&[[f64::NAN, 0.0]]), None);
        assert_eq!(enclosing_circle(&[[2.0, 1.0]]).unwrap().r, 0.0);
    }
}
