//! One lane of a trace: pixel columns with the extremes of their samples, or a line when few.
//!
//! A lane costs the pixels on screen: its columns come from the envelope, never from all samples.
use std::cell::RefCell;
use std::sync::Arc;

use egui::{Color32, Mesh, Painter, Pos2, Rangef, Rect, Shape, Stroke, pos2};

/// What one pixel column shows: least and greatest value within; `None` = no sample there.
pub type Extent = Option<[f32; 2]>;

/// Columns of extremes of a lane, and the picture that was last made of them.
#[derive(Clone, Debug, Default)]
pub struct Band {
    /// Extremes by pixel column.
    pub extents: Vec<Extent>,
    drawn: RefCell<Option<(Place, Arc<Mesh>)>>,
}

/// Where and how columns are drawn.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Place {
    /// Where all columns stand.
    rect: Rect,
    /// What is seen of that.
    seen: Rangef,
    /// Values at the lower and the upper edge.
    range: [f32; 2],
    colour: Color32,
}

impl From<Vec<Extent>> for Band {
    fn from(extents: Vec<Extent>) -> Band {
        Band { extents, drawn: RefCell::default() }
    }
}

impl Band {
    /// Draws the columns over `rect`, joined to their neighbours, never across a gap.
    ///
    /// `range` are the values at the lower and the upper edge. The mesh is made once and used again
    /// until it stands elsewhere.
    pub fn paint(&self, painter: &Painter, rect: Rect, range: [f32; 2], colour: Color32) {
        self.paint_within(painter, rect, rect.x_range(), range, colour);
    }

    /// The same, of columns that reach beyond what is `seen` of them.
    pub fn paint_within(
        &self,
        painter: &Painter,
        rect: Rect,
        seen: Rangef,
        range: [f32; 2],
        colour: Color32,
    ) {
        let mut drawn = self.drawn.borrow_mut();
        let wanted = Place { rect, seen, range, colour };
        if drawn.as_ref().is_some_and(|(place, _)| *place != wanted) {
            *drawn = None;
        }
        let (_, mesh) = drawn.get_or_insert_with(|| {
            let mesh = ribbon(&wanted, &self.extents);
            (wanted, Arc::new(mesh))
        });
        painter.add(Shape::Mesh(Arc::clone(mesh)));
    }
}

/// One mesh, two vertices at the middle of a column; columns between two that look like them need
/// none. Empty without columns or without a range.
fn ribbon(place: &Place, extents: &[Extent]) -> Mesh {
    let Place { rect, seen, range, colour } = *place;
    let span = range[1] - range[0];
    if extents.is_empty() || !(span.is_finite() && span > 0.0) {
        return Mesh::default();
    }
    let width = rect.width() / extents.len() as f32;
    let (scale, margin) = (rect.height() / span, rect.height() * 0.02);
    let y = |v: f32| {
        (rect.bottom() - (v - range[0]) * scale).clamp(rect.top() - margin, rect.bottom() + margin)
    };
    let mut strip = Strip::new(extents.len(), colour, seen);
    let mut before: Extent = None;
    for (k, extent) in extents.iter().enumerate() {
        let x = rect.left() + k as f32 * width;
        match *extent {
            Some([low, high]) => {
                let (low_joined, high_joined) = match before {
                    Some([l, h]) => (low.min(h), high.max(l)),
                    None => (low, high),
                };
                let mut ends = [y(high_joined), y(low_joined)];
                if ends[1] - ends[0] < LEAST {
                    let middle = f32::midpoint(ends[0], ends[1]);
                    ends = [middle - LEAST / 2.0, middle + LEAST / 2.0];
                }
                if before.is_none() {
                    strip.begin(x, ends);
                }
                strip.go_on(x + width / 2.0, ends);
            }
            None => strip.end(x),
        }
        before = *extent;
    }
    strip.end(rect.right());
    strip.mesh
}

/// A ribbon between an upper and a lower line, with one vertex on each at every bend.
struct Strip {
    mesh: Mesh,
    colour: Color32,
    seen: Rangef,
    /// Upper and lower end at the last place, and that place while no vertex stands there.
    last: Option<([f32; 2], Option<f32>)>,
}

impl Strip {
    fn new(columns: usize, colour: Color32, seen: Rangef) -> Strip {
        let mut mesh = Mesh::default();
        mesh.reserve_triangles(2 * columns);
        mesh.reserve_vertices(2 * columns + 4);
        Strip { mesh, colour, seen, last: None }
    }

    fn begin(&mut self, x: f32, ends: [f32; 2]) {
        self.put(x, ends);
        self.last = Some((ends, None));
    }

    fn go_on(&mut self, x: f32, ends: [f32; 2]) {
        let Some((was, waiting)) = self.last else { return };
        if was == ends {
            self.last = Some((ends, Some(x)));
            return;
        }
        if let Some(x) = waiting {
            self.join(x, was);
        }
        self.join(x, ends);
        self.last = Some((ends, None));
    }

    /// Ends the ribbon at `x`, as high as it was last; without one it does nothing.
    fn end(&mut self, x: f32) {
        if let Some((ends, _)) = self.last.take() {
            self.join(x, ends);
        }
    }

    fn put(&mut self, x: f32, [top, bottom]: [f32; 2]) {
        let x = self.seen.clamp(x);
        self.mesh.colored_vertex(pos2(x, top), self.colour);
        self.mesh.colored_vertex(pos2(x, bottom), self.colour);
    }

    fn join(&mut self, x: f32, ends: [f32; 2]) {
        let k = self.mesh.vertices.len() as u32;
        self.put(x, ends);
        self.mesh.add_triangle(k - 2, k - 1, k);
        self.mesh.add_triangle(k - 1, k, k + 1);
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
/// A column holds [share of samples low > 0, share high > 0] as extremes 0 and 1. The columns may
/// reach beyond what is `seen` of them.
pub fn event_lane(
    painter: &Painter,
    rect: Rect,
    seen: Rangef,
    extents: &[Extent],
    [ink, rule]: [Color32; 2],
) {
    let width = rect.width() / extents.len().max(1) as f32;
    painter.hline(seen, rect.bottom() - 0.5, Stroke::new(1.0, rule));
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
            let (left, right) = (seen.clamp(left), seen.clamp(right));
            let held = Rect::from_min_max(pos2(left, top), pos2(right, rect.bottom()));
            mesh.add_colored_rect(held, ink);
        }
    }
    painter.add(Shape::mesh(mesh));
}
