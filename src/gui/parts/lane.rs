//! One lane of a trace: pixel columns with the extremes of their samples, or a line when few.
//!
//! A lane costs the pixels on screen: its columns come from the envelope, never from all samples.
use egui::{Color32, Mesh, Painter, Pos2, Rect, Shape, Stroke, pos2};

/// What one pixel column shows: least and greatest value within; `None` = no sample there.
pub type Extent = Option<[f32; 2]>;

/// Draws columns of extremes over `rect`, joined to their neighbours, never across a gap.
///
/// `range` are the values at the lower and the upper edge. One mesh, four vertices a column.
pub fn band(painter: &Painter, rect: Rect, extents: &[Extent], range: [f32; 2], colour: Color32) {
    let span = range[1] - range[0];
    if extents.is_empty() || !(span.is_finite() && span > 0.0) {
        return;
    }
    let width = rect.width() / extents.len() as f32;
    let y = |v: f32| rect.bottom() - ((v - range[0]) / span).clamp(-0.02, 1.02) * rect.height();
    let mut mesh = Mesh::default();
    mesh.reserve_triangles(2 * extents.len());
    mesh.reserve_vertices(4 * extents.len());
    let mut before: Extent = None;
    // Neighbours that look alike are one rectangle: [left, right, top, bottom].
    let mut open: Option<[f32; 4]> = None;
    for (k, extent) in extents.iter().enumerate() {
        if let Some([low, high]) = *extent {
            let (low_joined, high_joined) = match before {
                Some([l, h]) => (low.min(h), high.max(l)),
                None => (low, high),
            };
            let (mut top, mut bottom) = (y(high_joined), y(low_joined));
            if bottom - top < LEAST {
                let middle = (top + bottom) / 2.0;
                (top, bottom) = (middle - LEAST / 2.0, middle + LEAST / 2.0);
            }
            let left = rect.left() + k as f32 * width;
            match &mut open {
                Some([_, right, t, b]) if before.is_some() && [*t, *b] == [top, bottom] => {
                    *right = left + width;
                }
                _ => {
                    close(&mut mesh, open.replace([left, left + width, top, bottom]), colour);
                }
            }
        }
        before = *extent;
    }
    close(&mut mesh, open, colour);
    painter.add(Shape::mesh(mesh));
}

/// Adds a rectangle that grows no more.
fn close(mesh: &mut Mesh, open: Option<[f32; 4]>, colour: Color32) {
    if let Some([left, right, top, bottom]) = open {
        let column = Rect::from_min_max(pos2(left, top), pos2(right, bottom));
        mesh.add_colored_rect(column, colour);
    }
}

/// Least thickness of a band in points.
const LEAST: f32 = 1.5;

/// Draws runs of samples as lines, each run by itself: what stands between two runs is a gap.
pub fn runs(painter: &Painter, runs: &[Vec<Pos2>], stroke: Stroke, dashed: bool) {
    for run in runs {
        match run.as_slice() {
            [] => {}
            [only] => {
                painter.circle_filled(*only, stroke.width, stroke.color);
            }
            _ if dashed => {
                painter.extend(Shape::dashed_line(run, stroke, 6.0, 4.0));
            }
            _ => {
                painter.add(Shape::line(run.clone(), stroke));
            }
        }
    }
}

/// Draws a two-level signal (a contact) from its pixel columns: low, high, or both within a column.
///
/// A column holds [share of samples low > 0, share high > 0] as extremes 0 and 1.
pub fn event_lane(painter: &Painter, rect: Rect, extents: &[Extent], ink: Color32, rule: Color32) {
    let width = rect.width() / extents.len().max(1) as f32;
    painter.hline(rect.x_range(), rect.bottom() - 0.5, Stroke::new(1.0, rule));
    let mut mesh = Mesh::default();
    // Both levels within one column: half height, so that a bounce does not look like a press.
    let top = |extent: &Extent| match *extent {
        Some([low, high]) if high > 0.0 => {
            Some(if low <= 0.0 { rect.center().y } else { rect.top() })
        }
        _ => None,
    };
    let mut k = 0;
    // A press held is one rectangle, however many columns it takes.
    for alike in extents.chunk_by(|a, b| top(a) == top(b)) {
        let left = rect.left() + k as f32 * width;
        k += alike.len();
        if let Some(top) = top(&alike[0]) {
            let right = rect.left() + k as f32 * width;
            let held = Rect::from_min_max(pos2(left, top), pos2(right, rect.bottom()));
            mesh.add_colored_rect(held, ink);
        }
    }
    painter.add(Shape::mesh(mesh));
}
