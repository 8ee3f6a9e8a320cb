//! The timeline of the session: an overview with marks and the play head; drag to scrub.
use egui::{Align2, Rect, Response, Role, Sense, Stroke, Ui, WidgetInfo, pos2, vec2};

use super::area::note;
use super::lane::Band;
use super::ruler::Ruler;
use super::state_mark::State;
use crate::gui::look::{Palette, Type, size};

/// One lane of the overview.
#[derive(Clone, Copy, Debug)]
pub struct OverviewLane<'a> {
    /// Name at its left: "x".
    pub name: &'a str,
    /// Extremes by pixel column over the whole session.
    pub band: &'a Band,
    /// Values at its edges.
    pub range: [f32; 2],
    /// Its colour.
    pub colour: egui::Color32,
}

/// What the timeline shows.
#[derive(Clone, Copy, Debug)]
pub struct Timeline<'a> {
    /// "live", "playing", "paused".
    pub state: &'a str,
    /// First and last time of the session, µs.
    pub span_us: [u64; 2],
    /// Where the head stands, µs.
    pub head_us: u64,
    /// The same from the session's beginning as it is read, µs: it may lag a moment behind.
    pub read_us: u64,
    /// Lanes, at most three.
    pub lanes: &'a [OverviewLane<'a>],
    /// Marks: time and words.
    pub marks: &'a [(u64, &'a str)],
    /// Findings: time and mark.
    pub findings: &'a [(u64, State)],
    /// The span that a station looks at, if it is not the whole.
    pub window_us: Option<[u64; 2]>,
    /// How places are written.
    pub ruler: Ruler,
    /// The line below the buttons is free for the place.
    pub spare_line: bool,
}

/// Where the overview stands inside the timeline's rectangle.
pub fn overview_rect(rect: Rect) -> Rect {
    let right = rect.right() - JUMPS - 24.0;
    Rect::from_min_max(rect.min + vec2(size::RAIL + 24.0, 6.0), pos2(right, rect.bottom() - 8.0))
}

/// Room right of the overview for what jumps along the session.
pub const JUMPS: f32 = 196.0;

/// Where that stands inside the timeline's rectangle.
pub fn jumps_rect(rect: Rect) -> Rect {
    let min = pos2(rect.right() - JUMPS - 12.0, rect.top() + 8.0);
    Rect::from_min_max(min, rect.max - vec2(12.0, 4.0))
}

/// Draws state and overview; gives the response and the time under the pointer while dragging.
pub fn timeline_ui(ui: &mut Ui, timeline: &Timeline<'_>) -> (Response, Option<u64>) {
    let p = Palette::of(ui);
    let rect = ui.available_rect_before_wrap();
    let painter = ui.painter_at(rect);
    let head = timeline.head_us.saturating_sub(timeline.span_us[0]);
    state_ui(ui, rect, timeline);
    let over = overview_rect(rect);
    let response = ui.allocate_rect(over, Sense::click_and_drag());
    response.widget_info(|| {
        let length = timeline.span_us[1].saturating_sub(timeline.span_us[0]);
        let place = timeline.ruler.place_of(head, length);
        let said = format!("Timeline, {} at {place}", timeline.state);
        WidgetInfo::labeled(Role::Slider, true, said)
    });
    let x_of = |t: u64| {
        let length = timeline.span_us[1].saturating_sub(timeline.span_us[0]).max(1);
        let share = t.saturating_sub(timeline.span_us[0]) as f32 / length as f32;
        over.left() + share.min(1.0) * over.width()
    };
    if let Some([from, to]) = timeline.window_us {
        let window =
            Rect::from_x_y_ranges(x_of(from)..=x_of(to).max(x_of(from) + 2.0), over.y_range());
        painter.rect_filled(window, 0.0, p.faint);
    }
    lanes_ui(&painter, p, over, timeline.lanes);
    if response.has_focus() {
        painter.rect_stroke(
            over.expand(3.0),
            4.0,
            Stroke::new(2.0, p.accent),
            egui::StrokeKind::Inside,
        );
    }
    let mut free_from = over.left();
    for (t, words) in timeline.marks {
        let x = x_of(*t).round();
        let named = x + 6.0 >= free_from;
        // A mark without room for its words keeps clear of its neighbour's.
        let top = if named { over.top() } else { over.top() + 14.0 };
        painter.vline(x, top..=over.bottom(), Stroke::new(1.0, p.rule));
        if named {
            let wide = painter.layout_no_wrap((*words).to_owned(), Type::Note.font(), p.soft);
            if x + 6.0 + wide.size().x < over.right() {
                let at = pos2(x + 6.0, over.top() - 2.0);
                free_from = note(&painter, at, Align2::LEFT_TOP, words, p.soft).right() + 8.0;
            }
        }
    }
    for (t, state) in timeline.findings {
        // Below the lanes, where no words stand; small, as there may be many.
        state.paint_small(&painter, pos2(x_of(*t), over.bottom() + 1.0), p);
    }
    let x = x_of(timeline.head_us).clamp(over.left(), over.right());
    painter.vline(x, over.expand(4.0).y_range(), Stroke::new(3.0, p.accent));
    let scrub = (response.dragged() || response.clicked())
        .then(|| response.interact_pointer_pos())
        .flatten()
        .map(|pos| time_at(timeline.span_us, over, pos.x));
    (response, scrub)
}

/// What goes on and the place of the head, in one line; the place in a shorter wording where the line
/// would not hold it, or in the spare line below.
fn state_ui(ui: &Ui, rect: Rect, timeline: &Timeline<'_>) {
    let p = Palette::of(ui);
    let y = rect.top() + 18.0;
    let at = pos2(rect.left() + 20.0, y);
    let state = timeline.state;
    let state = ui.painter().text(at, Align2::LEFT_CENTER, state, Type::Title.font(), p.ink);
    let right = rect.left() + size::RAIL - 8.0;
    let length = timeline.span_us[1].saturating_sub(timeline.span_us[0]);
    let wordings = timeline.ruler.wordings(timeline.read_us, length);
    let wordings: Vec<&str> = wordings.iter().map(String::as_str).collect();
    if timeline.spare_line && !timeline.ruler.is_time() {
        let place = Type::Note.fitting(ui, right - at.x, &wordings);
        note(ui.painter(), pos2(at.x, rect.top() + 73.0), Align2::LEFT_CENTER, place, p.soft);
        return;
    }
    let place = Type::Note.fitting(ui, right - state.right() - 8.0, &wordings);
    note(ui.painter(), pos2(right, y), Align2::RIGHT_CENTER, place, p.soft);
}

fn lanes_ui(painter: &egui::Painter, p: &Palette, over: Rect, lanes: &[OverviewLane<'_>]) {
    let body = Rect::from_min_max(over.min + vec2(0.0, 14.0), over.max);
    let pitch = body.height() / lanes.len().max(1) as f32;
    for (k, lane) in lanes.iter().enumerate() {
        let top = body.top() + k as f32 * pitch;
        let rect =
            Rect::from_min_max(pos2(body.left(), top + 2.0), pos2(body.right(), top + pitch - 2.0));
        note(
            painter,
            pos2(over.left() - 8.0, rect.center().y),
            Align2::RIGHT_CENTER,
            lane.name,
            p.soft,
        );
        lane.band.paint(painter, rect, lane.range, lane.colour);
    }
}

/// Time under a horizontal pixel of the overview.
fn time_at(span_us: [u64; 2], over: Rect, x: f32) -> u64 {
    let share = ((x - over.left()) / over.width()).clamp(0.0, 1.0);
    span_us[0] + (f64::from(share) * span_us[1].saturating_sub(span_us[0]) as f64) as u64
}
