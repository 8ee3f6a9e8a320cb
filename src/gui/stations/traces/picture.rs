//! The picture of the traces: lanes, axis of time or rows, marks, cursors; what the pointer does stands beside it.
use std::ops::Range;

use egui::{
    Align2, Color32, Painter, Rangef, Rect, Role, Sense, Stroke, Ui, WidgetInfo, pos2, vec2,
};

use super::kept::Kept;
use super::lanes::LineKey;
use super::pointer::{self, Hold, Place, Touch};
use super::sampling::{self, Rows, column_rows};
use super::window::TimeWindow;
use crate::gui::look::{Palette, Type};
use crate::gui::parts::area::note;
use crate::gui::parts::ruler::Ruler;
use crate::gui::parts::{lane, numbers};

/// How a lane is drawn.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum LaneForm {
    /// A reading over time between these values.
    Level([f64; 2]),
    /// A contact: open or closed.
    Contact,
}

/// One line of a lane.
pub struct Layer<'a> {
    /// Which line it is.
    pub key: LineKey,
    /// Its name: "left x".
    pub name: &'a str,
    /// Colour of its data.
    pub colour: Color32,
    /// Right half: dashed where samples are drawn one by one.
    pub dashed: bool,
    /// The rows behind it.
    pub rows: Box<dyn Rows + 'a>,
}

/// One lane.
pub struct Lane<'a> {
    /// Its name in ink: "left x".
    pub name: &'a str,
    /// What is written under the name: unit, and whether the range is fixed.
    pub note: String,
    /// What stands behind the name instead, where there is no room for a note.
    pub short: &'static str,
    /// What a whole row number stands for in the numbers at its edges.
    pub scale: f64,
    /// The lane that keys act on.
    pub chosen: bool,
    /// Level or contact.
    pub form: LaneForm,
    /// Its lines, at least one.
    pub layers: Vec<Layer<'a>>,
}

/// What stands round the lanes.
pub struct Scene<'a> {
    /// The lanes from top to bottom.
    pub lanes: &'a [Lane<'a>],
    /// The reading of a stream that the rows are of.
    pub reading: u64,
    /// Time of the newest sample, µs.
    pub end_us: u64,
    /// Typical time between samples, µs.
    pub period_us: f64,
    /// Rows before which frames are missing, ascending.
    pub broken: &'a [usize],
    /// Colour of the lines behind contacts.
    pub rule: Color32,
    /// Marks: time and words.
    pub marks: &'a [(u64, &'a str)],
    /// How places and lengths are written.
    pub ruler: Ruler,
}

/// Two times that a person set to measure between them, µs.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Cursors {
    /// First.
    pub a: Option<u64>,
    /// Second.
    pub b: Option<u64>,
}

impl Cursors {
    /// Puts a cursor: the first, then the second, then whichever is nearer.
    pub fn put(&mut self, t_us: u64) {
        match (self.a, self.b) {
            (None, _) => self.a = Some(t_us),
            (Some(_), None) => self.b = Some(t_us),
            (Some(a), Some(b)) if a.abs_diff(t_us) <= b.abs_diff(t_us) => self.a = Some(t_us),
            _ => self.b = Some(t_us),
        }
    }
}

/// Left of the lanes: names and numbers.
pub(super) const GUTTER: f32 = 132.0;
/// Below the lanes: the axis.
const AXIS: f32 = 24.0;
/// Height of a contact's lane.
const CONTACT: f32 = 26.0;
/// A silence longer than this many periods is a gap.
const GAP_PERIODS: f64 = 1.8;

/// The pixel columns of the picture.
struct Columns {
    /// Rows behind each.
    rows: Vec<Range<usize>>,
    /// From the first to the last row.
    shown: Range<usize>,
    /// So few rows that each is drawn.
    sparse: bool,
    /// From the left edge of the first to the right edge of the last, points.
    across: Rangef,
}

impl Columns {
    fn of(scene: &Scene<'_>, window: &TimeWindow, body: Rect) -> Columns {
        let count = body.width().max(1.0) as usize;
        let grid = window.columns(count, scene.end_us);
        // Every line has the same rows at the same times.
        let first = scene.lanes.first().and_then(|lane| lane.layers.first());
        let exact = first.map_or(Vec::new(), |l| column_rows(l.rows.as_ref(), &grid.times));
        let pitch = body.width() / count as f32;
        let left = body.left() - grid.begun * pitch;
        Columns {
            sparse: sampling::is_sparse(&exact) && !window.sweeps(),
            shown: span_of(&exact),
            rows: sampling::on_entries(&exact),
            across: Rangef::new(left, left + pitch * grid.times.len() as f32),
        }
    }
}

/// What stays of the picture from frame to frame.
#[derive(Default)]
pub struct Held {
    /// Times to measure between.
    pub cursors: Cursors,
    /// What the pointer is doing.
    pub hold: Hold,
    /// Columns that were drawn before.
    kept: Kept,
}

/// What the picture shows and what was done to it.
pub struct Shown {
    /// Rows on screen.
    pub rows: Range<usize>,
    /// What the pointer did to a lane.
    pub touch: Option<(usize, Touch)>,
}

/// Draws the scene over the free space and follows the pointer.
pub fn picture_ui(
    ui: &mut Ui,
    scene: &Scene<'_>,
    window: &mut TimeWindow,
    held: &mut Held,
) -> Shown {
    let Held { cursors, hold, kept } = held;
    let p = Palette::of(ui);
    let size = ui.available_size();
    let (rect, response) = ui.allocate_exact_size(size, Sense::click_and_drag());
    let body = Rect::from_min_max(rect.min + vec2(GUTTER, 16.0), rect.max - vec2(8.0, AXIS));
    let places = lane_rects(body, scene.lanes);
    let place = Place { body, lanes: &places, end_us: scene.end_us };
    let touch = pointer::follow(ui, &response, &place, window, cursors, hold);
    let painter = ui.painter_at(rect);
    let columns = Columns::of(scene, window, body);
    axis_ui(&painter, p, rect.left(), body, window, scene);
    kept.keep_only(|key| scene.lanes.iter().flat_map(|l| &l.layers).any(|l| l.key == *key));
    for (lane, place) in scene.lanes.iter().zip(&places) {
        lane_frame(&painter, p, rect.left(), *place, lane);
        for layer in &lane.layers {
            lane_data(&painter, *place, (lane, layer), &columns, kept, scene, window);
        }
    }
    marks_ui(&painter, p, body, scene, window);
    cursors_ui(&painter, p, body, scene, window, *cursors);
    if let Some([from, to]) = hold.stretch() {
        let stretch = Rect::from_x_y_ranges(from..=to, body.y_range()).intersect(body);
        painter.rect_filled(stretch, 0.0, p.accent.gamma_multiply(0.12));
        painter.rect_stroke(stretch, 0.0, Stroke::new(1.0, p.accent), egui::StrokeKind::Inside);
    }
    if response.has_focus() {
        painter.rect_stroke(rect, 4.0, Stroke::new(2.0, p.accent), egui::StrokeKind::Inside);
    }
    response.widget_info(|| {
        let names: Vec<String> = scene.lanes.iter().map(spoken).collect();
        let span = scene.ruler.exactly(window.span_us);
        WidgetInfo::labeled(
            Role::Image,
            true,
            format!("Traces of {} over {span}", names.join(", ")),
        )
    });
    Shown { rows: columns.shown, touch }
}

/// A lane's name, and its unit where it is not the usual one.
fn spoken(lane: &Lane<'_>) -> String {
    match lane.note.as_str() {
        "" => lane.name.to_owned(),
        note => format!("{} ({note})", lane.name),
    }
}

/// Lanes from top to bottom: contacts get a fixed height, levels share what is left.
fn lane_rects(body: Rect, lanes: &[Lane<'_>]) -> Vec<Rect> {
    let contacts = lanes.iter().filter(|l| l.form == LaneForm::Contact).count();
    let levels = lanes.len() - contacts;
    let contact = CONTACT.min(body.height() / lanes.len().max(1) as f32);
    let level = (body.height() - contact * contacts as f32) / levels.max(1) as f32;
    let mut top = body.top();
    lanes
        .iter()
        .map(|lane| {
            let height = if lane.form == LaneForm::Contact { contact } else { level };
            let rect = Rect::from_min_max(pos2(body.left(), top), pos2(body.right(), top + height));
            top += height;
            rect.shrink2(vec2(0.0, 4.0))
        })
        .collect()
}

fn lane_frame(painter: &Painter, p: &Palette, left: f32, rect: Rect, lane: &Lane<'_>) {
    let y = rect.center().y;
    // A contact's lane has its own line.
    if lane.form != LaneForm::Contact {
        painter.hline(rect.x_range(), rect.bottom() + 4.0, Stroke::new(1.0, p.rule));
    }
    let noted = !lane.note.is_empty() && rect.height() > 34.0;
    let name_y = if noted { y - 7.0 } else { y };
    for (k, layer) in lane.layers.iter().enumerate() {
        let y = name_y + (k as f32 - (lane.layers.len() as f32 - 1.0) / 2.0) * 8.0;
        let swatch = [pos2(left + 4.0, y), pos2(left + 16.0, y)];
        let stroke = Stroke::new(3.0, layer.colour);
        if layer.dashed {
            painter.extend(egui::Shape::dashed_line(&swatch, stroke, 4.0, 3.0));
        } else {
            painter.line_segment(swatch, stroke);
        }
    }
    let font = if lane.chosen { Type::ChosenNote } else { Type::Note };
    let at = pos2(left + 22.0, name_y);
    // A low lane has no room for its unit below the name.
    let behind = if noted { "" } else { lane.short };
    let name = format!("{}{behind}", lane.name);
    let name = painter.text(at, Align2::LEFT_CENTER, name, font.font(), p.ink);
    if lane.chosen {
        let line = Stroke::new(2.0, p.accent);
        painter.hline(name.x_range(), name.bottom() + 1.0, line);
    }
    if noted {
        note(painter, pos2(left + 22.0, y + 9.0), Align2::LEFT_CENTER, &lane.note, p.soft);
    }
    if let LaneForm::Level([low, high]) = lane.form
        && rect.height() > 30.0
    {
        let right = rect.left() - 6.0;
        let [low, high] = [low * lane.scale, high * lane.scale].map(short);
        note(painter, pos2(right, rect.top()), Align2::RIGHT_TOP, &high, p.soft);
        note(painter, pos2(right, rect.bottom()), Align2::RIGHT_BOTTOM, &low, p.soft);
    }
}

fn short(value: f64) -> String {
    numbers::number(value, if value.fract() == 0.0 { 0 } else { 2 })
}

fn lane_data(
    painter: &Painter,
    rect: Rect,
    (lane, layer): (&Lane<'_>, &Layer<'_>),
    columns: &Columns,
    kept: &mut Kept,
    scene: &Scene<'_>,
    window: &TimeWindow,
) {
    let across = Rect::from_x_y_ranges(columns.across, rect.y_range());
    let seen = rect.x_range();
    let rows = layer.rows.as_ref();
    let of = (scene.reading, rows.state());
    match lane.form {
        LaneForm::Contact => {
            let colours = [layer.colour, scene.rule];
            let look = |new: &[Range<usize>]| sampling::held_extents(rows, new);
            let band = kept.band(layer.key, of, &columns.rows, look);
            lane::event_lane(painter, across, seen, &band.extents, colours);
        }
        LaneForm::Level([low, high]) if columns.sparse => {
            let shown = columns.shown.clone();
            let place = |t: u64, v: i32| {
                let [left, right] = window.edges(scene.end_us).map(|t| t as f64);
                let x = (t as f64 - left) / (right - left);
                sampling::point(rect, x, ((f64::from(v) - low) / (high - low)) as f32)
            };
            let gap_us = scene.period_us * GAP_PERIODS;
            let runs = sampling::runs(rows, shown, gap_us, scene.broken, place);
            let clipped = painter.with_clip_rect(rect.expand2(vec2(0.0, 3.0)));
            let pitch = scene.period_us / window.span_us.max(1) as f64 * f64::from(rect.width());
            // Dashes finer than the samples' own steps would only hide the curve.
            let dashed = layer.dashed && pitch > 6.0;
            lane::runs(&clipped, &runs, Stroke::new(1.75, layer.colour), dashed);
            if pitch > 8.0 {
                for at in runs.iter().flatten() {
                    clipped.circle_filled(*at, 2.5, layer.colour);
                }
            }
        }
        LaneForm::Level([low, high]) => {
            let range = [low as f32, high as f32];
            let look = |new: &[Range<usize>]| sampling::extents(rows, new);
            let band = kept.band(layer.key, of, &columns.rows, look);
            band.paint_within(painter, across, seen, range, layer.colour);
        }
    }
}

/// From the first row shown to behind the last; in a sweep the oldest stand on the right.
fn span_of(columns: &[Range<usize>]) -> Range<usize> {
    let filled = || columns.iter().filter(|c| !c.is_empty());
    let (first, last) = (filled().map(|c| c.start).min(), filled().map(|c| c.end).max());
    first.unwrap_or(0)..last.unwrap_or(0)
}

fn axis_ui(
    painter: &Painter,
    p: &Palette,
    left: f32,
    body: Rect,
    window: &TimeWindow,
    scene: &Scene<'_>,
) {
    let edges = window.edges(scene.end_us);
    let most = f64::from((body.width() / 110.0).max(1.0));
    let y = body.bottom() + 6.0;
    note(painter, pos2(left + 22.0, y), Align2::LEFT_TOP, scene.ruler.axis_name(), p.soft);
    for (t_us, text) in scene.ruler.ticks(edges, most) {
        let share = (t_us as f64 - edges[0] as f64) / (edges[1] - edges[0]).max(1) as f64;
        let x = sampling::x_of(body, share).round();
        painter.vline(x, body.y_range(), Stroke::new(1.0, p.rule));
        // A number that would be cut at the edge is left out; its line stands.
        if x + 4.0 * text.len() as f32 <= painter.clip_rect().right() {
            note(painter, pos2(x, y), Align2::CENTER_TOP, &text, p.soft);
        }
    }
}

fn marks_ui(painter: &Painter, p: &Palette, body: Rect, scene: &Scene<'_>, window: &TimeWindow) {
    let mut free_from = body.left();
    for (t, words) in scene.marks {
        let Some(share) = window.share(*t, scene.end_us) else { continue };
        let x = sampling::x_of(body, share).round();
        let ends = [pos2(x, body.top() - 12.0), pos2(x, body.bottom())];
        painter.extend(egui::Shape::dashed_line(&ends, Stroke::new(1.0, p.soft), 2.0, 3.0));
        if x >= free_from {
            let text = painter.layout_no_wrap((*words).to_owned(), Type::Note.font(), p.soft);
            let room = x + 4.0 + text.size().x <= painter.clip_rect().right();
            let (by, align) =
                if room { (4.0, Align2::LEFT_TOP) } else { (-4.0, Align2::RIGHT_TOP) };
            let at = pos2(x + by, body.top() - 16.0);
            free_from = note(painter, at, align, words, p.soft).right() + 8.0;
        }
    }
}

fn cursors_ui(
    painter: &Painter,
    p: &Palette,
    body: Rect,
    scene: &Scene<'_>,
    window: &TimeWindow,
    cursors: Cursors,
) {
    for (name, at) in [("A", cursors.a), ("B", cursors.b)] {
        let Some(share) = at.and_then(|t| window.share(t, scene.end_us)) else { continue };
        let x = sampling::x_of(body, share).round();
        painter.vline(x, body.y_range(), Stroke::new(1.5, p.accent));
        let tab = Rect::from_center_size(pos2(x, body.top() - 8.0), vec2(18.0, 16.0));
        painter.rect_filled(tab, 3.0, p.accent);
        painter.text(tab.center(), Align2::CENTER_CENTER, name, Type::Note.font(), p.card);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_third_click_moves_the_nearer_cursor() {
        let mut cursors = Cursors::default();
        for t in [100, 900, 300] {
            cursors.put(t);
        }
        assert_eq!(cursors, Cursors { a: Some(300), b: Some(900) });
    }
}
