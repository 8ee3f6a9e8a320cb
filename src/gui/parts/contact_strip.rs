//! One contact as a strip: its closures over the last seconds, its last press and release enlarged.
use egui::{Align2, Painter, Rect, Response, Role, Sense, Stroke, Ui, WidgetInfo, pos2, vec2};

use super::area::note;
use super::state_mark::State;
use crate::gui::look::{Palette, Type};

/// What a strip shows.
#[derive(Clone, Debug)]
pub struct ContactStrip<'a> {
    /// Position name or number: "south", "b3".
    pub name: &'a str,
    /// Its number, where the name is another: "b3".
    pub number: &'a str,
    /// Edges in time order: µs and whether the contact closed.
    pub edges: &'a [(u64, bool)],
    /// State before the first edge.
    pub closed_before: bool,
    /// Span of the long picture, µs.
    pub span_us: [u64; 2],
    /// Half width of the enlarged picture, µs.
    pub zoom_us: u64,
    /// Proposed debounce window, µs, shaded after the enlarged edge.
    pub window_us: Option<u64>,
    /// Second closures after one press, µs: each is marked where it stands.
    pub doubles: &'a [u64],
    /// It is the one whose figures are shown.
    pub chosen: bool,
    /// Words behind the pictures: presses, bounce.
    pub note: &'a str,
    /// Whether it stands out.
    pub state: State,
    /// Height, points; at least [`STRIP`].
    pub height: f32,
}

/// Least height of one strip.
pub const STRIP: f32 = 32.0;
/// Room for mark, name and number.
const NAMES: f32 = 184.0;

/// Draws the strip over the free width: mark, name, history, enlarged edge, words.
pub fn contact_strip_ui(ui: &mut Ui, strip: &ContactStrip<'_>) -> Response {
    let p = Palette::of(ui);
    let (rect, response) =
        ui.allocate_exact_size(vec2(ui.available_width(), strip.height), Sense::click());
    response.widget_info(|| {
        let closed = strip.edges.last().map_or(strip.closed_before, |e| e.1);
        let now = if closed { "closed" } else { "open" };
        let said = format!("{}, {now}, {}", strip.name, strip.note);
        WidgetInfo::labeled(Role::Button, true, strip.state.spoken(&said))
    });
    let painter = ui.painter();
    if strip.chosen || response.hovered() || response.has_focus() {
        painter.rect_filled(rect, 4.0, p.faint);
    }
    if response.has_focus() {
        let frame = Stroke::new(2.0, p.accent);
        painter.rect_stroke(rect, 4.0, frame, egui::StrokeKind::Inside);
    }
    if strip.chosen {
        let bar = Rect::from_min_size(rect.min, vec2(3.0, rect.height()));
        painter.rect_filled(bar, 0.0, p.accent);
    }
    name_ui(painter, p, rect, strip);
    let words = (rect.width() * 0.23).clamp(116.0, 212.0);
    let zoom = (rect.width() * 0.12).clamp(64.0, 132.0);
    let history = Rect::from_min_max(
        pos2(rect.left() + NAMES, rect.top() + 8.0),
        pos2(rect.right() - words - 2.0 * (zoom + 12.0) - 12.0, rect.bottom() - 8.0),
    );
    level(painter, p, history, strip, strip.span_us);
    for t in strip.doubles.iter().filter(|t| (strip.span_us[0]..=strip.span_us[1]).contains(t)) {
        let at = pos2(x_of(history, strip.span_us, *t), history.top() - 4.0);
        State::Warning.paint_small(painter, at, p);
    }
    let mut left = history.right() + 12.0;
    for at in last_bursts(strip.edges, strip.zoom_us) {
        let enlarged = Rect::from_min_max(
            pos2(left, rect.top() + 6.0),
            pos2(left + zoom, rect.bottom() - 6.0),
        );
        if let Some(at) = at {
            let span = [at.saturating_sub(strip.zoom_us / 4), at + strip.zoom_us];
            window(painter, p, enlarged, strip, at, span);
            level(painter, p, enlarged, strip, span);
        }
        left += zoom + 12.0;
    }
    // Words too long for a line take two.
    let words = strip.note.to_owned();
    let words = painter.layout(words, Type::Note.font(), p.soft, (rect.right() - left).max(40.0));
    painter.galley(pos2(left, rect.center().y - words.size().y / 2.0), words, p.soft);
    response
}

/// Mark, name and number at the left.
fn name_ui(painter: &Painter, p: &Palette, rect: Rect, strip: &ContactStrip<'_>) {
    let y = rect.center().y;
    strip.state.paint(painter, pos2(rect.left() + 14.0, y), p);
    let closed_now = strip.edges.last().map_or(strip.closed_before, |e| e.1);
    let font = if closed_now { Type::Chosen } else { Type::Label };
    let at = pos2(rect.left() + 30.0, y);
    let name = painter.text(at, Align2::LEFT_CENTER, strip.name, font.font(), p.ink);
    if strip.number != strip.name {
        let at = pos2((name.right() + 8.0).max(rect.left() + 144.0), y);
        note(painter, at, Align2::LEFT_CENTER, strip.number, p.soft);
    }
}

/// First edge of the last press and of the last release: edges closer than `within_us` belong
/// together, and a burst is what its last edge leaves behind.
fn last_bursts(edges: &[(u64, bool)], within_us: u64) -> [Option<u64>; 2] {
    let mut found = [None; 2];
    let mut end = edges.len();
    while end > 0 && found.iter().any(Option::is_none) {
        let (last_us, closed) = edges[end - 1];
        let mut first = end - 1;
        while first > 0 && last_us.saturating_sub(edges[first - 1].0) <= within_us {
            first -= 1;
        }
        found[usize::from(!closed)].get_or_insert(edges[first].0);
        end = first;
    }
    found
}

fn x_of(rect: Rect, span: [u64; 2], t: u64) -> f32 {
    let share = (t as f64 - span[0] as f64) / (span[1] as f64 - span[0] as f64).max(1.0);
    rect.left() + share.clamp(0.0, 1.0) as f32 * rect.width()
}

fn window(
    painter: &Painter,
    p: &Palette,
    rect: Rect,
    strip: &ContactStrip<'_>,
    at: u64,
    span: [u64; 2],
) {
    let Some(window_us) = strip.window_us else { return };
    let shade = Rect::from_min_max(
        pos2(x_of(rect, span, at), rect.top() - 2.0),
        pos2(x_of(rect, span, at + window_us), rect.bottom() + 2.0),
    );
    painter.rect_filled(shade, 0.0, p.accent.gamma_multiply(0.12));
}

/// The two levels over a span: a thin line where open, a filled block where closed.
fn level(painter: &Painter, p: &Palette, rect: Rect, strip: &ContactStrip<'_>, span: [u64; 2]) {
    painter.hline(rect.x_range(), rect.bottom(), Stroke::new(1.0, p.soft));
    let first = strip.edges.partition_point(|e| e.0 < span[0]);
    let mut closed = match first {
        0 => strip.closed_before,
        k => strip.edges[k - 1].1,
    };
    let mut from = span[0];
    let block = |from: u64, to: u64| {
        let (a, b) = (x_of(rect, span, from), x_of(rect, span, to));
        let block = Rect::from_min_max(pos2(a, rect.top()), pos2(b.max(a + 1.0), rect.bottom()));
        painter.rect_filled(block, 0.0, p.ink);
    };
    for (t, now) in strip.edges[first..].iter().take_while(|e| e.0 <= span[1]) {
        if closed {
            block(from, *t);
        }
        (closed, from) = (*now, *t);
    }
    if closed {
        block(from, span[1]);
    }
}

#[cfg(test)]
mod tests {
    use super::last_bursts;

    #[test]
    fn the_last_press_and_the_last_release_start_at_their_first_edges() {
        let edges = [
            (0, true),
            (50_000, false),
            (60_000, true),
            (100_000, false),
            (101_000, true),
            (102_500, false),
        ];
        assert_eq!(last_bursts(&edges, 8_000), [Some(60_000), Some(100_000)]);
        assert_eq!(last_bursts(&edges[..1], 8_000), [Some(0), None], "still held");
        assert_eq!(last_bursts(&[], 8_000), [None, None]);
    }
}
