//! Painter for the window: a chart as a plot that is read by hovering, zoomed, dragged and reset.
mod items;

use egui::{Align2, Id, Pos2, Response, Role, Sense, Stroke, Ui, Vec2, pos2, vec2};
use egui_plot::{AxisHints, GridInput, GridMark, Plot, PlotMemory, PlotPoint, PlotTransform};

use self::items::{add, colour};
use super::area::note;
use super::state_mark::dot;
use crate::emit::chart::{Axis, Chart, Item, On, Scale};
use crate::gui::look::{Palette, Type};

/// A point is meant from so far away, points.
const NEAR: f32 = 12.0;
/// Length of the tails of points.
const TAIL: f32 = 8.0;

/// What the pointer does in a plot beside reading, zooming by Ctrl and wheel or by a box.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Hand {
    /// Dragging moves the picture.
    Moves,
    /// The same; it takes the focus as well, and clicks and its name are the caller's.
    Clicks,
    /// It takes the focus; dragging, clicks and its name are the caller's.
    Drags,
}

/// A chart that was drawn.
pub struct Drawn {
    /// The picture without its numbers; only with [`Hand::Moves`] it has its accessible name already.
    pub response: Response,
    transform: PlotTransform,
    place: [Scale; 2],
}

impl Drawn {
    /// Where values lie on screen.
    pub fn at(&self, chart: &Chart, [x, y]: [f64; 2]) -> Pos2 {
        debug_assert_eq!(self.place, [chart.x.scale, chart.y.scale]);
        self.transform.position_from_point(&PlotPoint::new(chart.x.place(x), chart.y.place(y)))
    }

    /// The values at a place on screen.
    pub fn values(&self, chart: &Chart, at: Pos2) -> [f64; 2] {
        let point = self.transform.value_from_position(at);
        [chart.x.value(point.x), chart.y.value(point.y)]
    }

    /// Says in a lower corner what is so now; a curve that rises leaves the right one free.
    pub fn say(&self, ui: &Ui, words: &str, rises: bool) {
        let p = Palette::of(ui);
        let rect = self.response.rect.shrink2(vec2(6.0, 4.0));
        let (at, align) = match rises {
            true => (rect.right_bottom(), Align2::RIGHT_BOTTOM),
            false => (rect.left_bottom(), Align2::LEFT_BOTTOM),
        };
        note(ui.painter(), at, align, words, p.ink);
    }

    /// A frame in the accent while it has the focus.
    pub fn focus(&self, ui: &Ui) {
        if self.response.has_focus() {
            let stroke = Stroke::new(2.0, Palette::of(ui).accent);
            let rect = self.response.rect.expand(2.0);
            ui.painter().rect_stroke(rect, 4.0, stroke, egui::StrokeKind::Inside);
        }
    }

    /// Marks what is so now: a dot that follows the board.
    pub fn now(&self, ui: &Ui, chart: &Chart, at: [f64; 2]) {
        let at = self.at(chart, at);
        if at.x.is_finite() && at.y.is_finite() && self.response.rect.contains(at) {
            let p = Palette::of(ui);
            dot(&ui.painter_at(self.response.rect), at, 5.0, p.accent, p.card);
        }
    }
}

/// Draws a chart in a size, its caption included where one fits.
///
/// Hovering says what stands there with its units, Ctrl and wheel (the wheel alone where no page
/// scrolls), or a box drawn with the right button, zoom; a double click shows the whole again. What is
/// not finite is left out. Cost: O(items) a frame, some 0.1 ms for a thousand points.
pub fn chart_ui(ui: &mut Ui, chart: &Chart, size: Vec2, hand: Hand) -> Drawn {
    ui.vertical(|ui| captioned_ui(ui, chart, size, hand)).inner
}

fn captioned_ui(ui: &mut Ui, chart: &Chart, size: Vec2, hand: Hand) -> Drawn {
    let caption = chart.caption();
    let caption = Type::Note.fitting(ui, size.x, &[&caption, &chart.y.label, &chart.x.label]);
    ui.label(Type::Note.soft(ui, caption));
    // The line of the caption and the gap below it.
    let size = vec2(size.x.max(40.0), (size.y - 24.0).max(40.0));
    let p = Palette::of(ui);
    let id = ui.make_persistent_id(("chart", &chart.title));
    let wheel = scrolls_nowhere(ui).then(|| wheel(ui)).flatten();
    let shown = plot(chart, p, id, size, hand).show(ui, |plot| {
        if PlotMemory::load(plot.ctx(), id).is_none() {
            // Until it is zoomed or moved, the view follows the axes of the chart.
            plot.set_auto_bounds(true);
        }
        if let Some(factor) = wheel.filter(|_| plot.response().contains_pointer()) {
            plot.zoom_bounds_around_hovered(Vec2::splat(factor));
        }
        for (k, item) in chart.items.iter().enumerate() {
            add(plot, chart, item, k, p);
        }
    });
    let response = shown.response.clone();
    if hand == Hand::Moves {
        response.widget_info(|| egui::WidgetInfo::labeled(Role::Image, true, &chart.words));
    }
    let place = [chart.x.scale, chart.y.scale];
    let drawn = Drawn { response, transform: shown.transform, place };
    above(ui, chart, &drawn, p);
    if let Some(at) = drawn.response.hover_pos().filter(|_| !drawn.response.dragged()) {
        read_ui(ui, chart, &drawn, at, p);
    }
    drawn
}

fn plot<'a>(chart: &'a Chart, p: &Palette, id: Id, size: Vec2, hand: Hand) -> Plot<'a> {
    let sense = match hand {
        // Nothing is done by keys: no place for the focus.
        Hand::Moves => Sense::CLICK | Sense::DRAG,
        _ => Sense::click_and_drag(),
    };
    let ([left, right], [bottom, top]) = (chart.x.ends(), chart.y.ends());
    let plot = Plot::new(("chart", &chart.title))
        .id(id)
        .width(size.x)
        .height(size.y)
        .sense(sense)
        .default_x_bounds(left, right)
        .default_y_bounds(bottom, top)
        .allow_drag(hand != Hand::Drags)
        .allow_scroll(false)
        .allow_axis_zoom_drag(false)
        .show_background(false)
        .show_crosshair(false)
        .grid_color(p.rule)
        .grid_fade(0.0)
        .show_axes([!chart.x.label.is_empty(), !chart.y.label.is_empty()])
        .show_grid([!chart.x.label.is_empty(), !chart.y.label.is_empty()])
        .x_grid_spacer(|input| spaced(&chart.x, &input, 72.0))
        .y_grid_spacer(|input| spaced(&chart.y, &input, 32.0))
        .custom_x_axes(x_axes(chart, p))
        .custom_y_axes(vec![numbers(&chart.y, AxisHints::new_y(), p)]);
    if chart.square { plot.data_aspect(1.0) } else { plot }
}

/// The numbers below the picture; a second line of them in the second unit.
fn x_axes<'a>(chart: &'a Chart, p: &Palette) -> Vec<AxisHints<'a>> {
    let first = numbers(&chart.x, AxisHints::new_x(), p);
    let Some(also) = chart.x.also else { return vec![first] };
    let percent = if also.unit.starts_with('%') { "\u{a0}%" } else { "" };
    let second =
        numbers(&chart.x, AxisHints::new_x(), p).formatter(move |mark, _| match mark.value {
            0.0 => String::new(),
            value => crate::measure::number(value * also.factor, 1) + percent,
        });
    vec![first, second]
}

fn numbers<'a>(axis: &'a Axis, hints: AxisHints<'a>, p: &Palette) -> AxisHints<'a> {
    hints
        .tick_label_font(Type::Note.font())
        .tick_label_color(p.soft)
        .label_spacing(egui::Rangef::new(1.0, 2.0))
        .formatter(|mark, _| axis.tick_text(axis.value(mark.value), mark.step_size))
}

/// The ticks of an axis as marks of the grid, about every so many points.
fn spaced(axis: &Axis, input: &GridInput, every: f64) -> Vec<GridMark> {
    let (low, high) = input.bounds;
    // The base step is eight points long.
    let most = ((high - low) / input.base_step_size * 8.0 / every).clamp(2.0, 12.0);
    let ticks = axis.ticks([axis.value(low), axis.value(high)], most as usize);
    let places: Vec<f64> = ticks.iter().map(|t| axis.place(t.value)).collect();
    let gap = |k: usize| Some((places.get(k + 1)? - places.get(k)?).abs()).filter(|gap| *gap > 0.0);
    let beside = |k: usize| [k.checked_sub(1).and_then(gap), gap(k)].into_iter().flatten();
    let step = |k: usize| beside(k).fold(high - low, f64::min);
    let mark = |(k, value): (usize, &f64)| GridMark { value: *value, step_size: step(k) };
    places.iter().enumerate().map(mark).collect()
}

/// The wheel on a page that does not scroll itself, as a factor.
fn wheel(ui: &Ui) -> Option<f32> {
    let turned = ui.input(|i| if i.modifiers.command { 0.0 } else { i.smooth_scroll_delta().y });
    (turned != 0.0).then(|| (turned / 240.0).exp2())
}

fn scrolls_nowhere(ui: &Ui) -> bool {
    !ui.stack().iter().any(|above| above.kind() == Some(egui::UiKind::ScrollArea))
}

/// What keeps its size when the plot is zoomed: tails and names of points, names of marks and lines.
fn above(ui: &Ui, chart: &Chart, drawn: &Drawn, p: &Palette) {
    let frame = drawn.response.rect;
    let painter = ui.painter_at(frame);
    let mut right = frame.right() - 4.0;
    for item in &chart.items {
        match item {
            Item::Points(points) => {
                for (k, &point) in points.at.iter().enumerate() {
                    let at = drawn.at(chart, point);
                    if let Some(deg) = points.tails_deg.get(k) {
                        let (sin, cos) = (deg.to_radians() as f32).sin_cos();
                        let ends = [at, at + vec2(cos, -sin) * TAIL];
                        if ends.iter().all(|end| end.x.is_finite() && end.y.is_finite()) {
                            painter.line_segment(ends, Stroke::new(1.0, p.soft));
                        }
                    }
                    if let Some(name) = points.names.get(k) {
                        note(&painter, at + vec2(6.0, -4.0), Align2::LEFT_BOTTOM, name, p.soft);
                    }
                }
            }
            Item::Mark(mark) if !mark.label.is_empty() => {
                let at = drawn.at(chart, [mark.at, mark.at]);
                let (at, align) = match mark.on {
                    On::X if at.x > frame.center().x => {
                        (pos2(at.x - 5.0, frame.top() + 2.0), Align2::RIGHT_TOP)
                    }
                    On::X => (pos2(at.x + 5.0, frame.top() + 2.0), Align2::LEFT_TOP),
                    On::Y if at.y - frame.top() < 18.0 => {
                        (pos2(frame.right() - 2.0, at.y + 2.0), Align2::RIGHT_TOP)
                    }
                    On::Y => (pos2(frame.right() - 2.0, at.y - 2.0), Align2::RIGHT_BOTTOM),
                };
                // Paper behind the name: no line runs through it.
                let galley = painter.layout_no_wrap(mark.label.clone(), Type::Note.font(), p.soft);
                let room = align.anchor_size(at, galley.size());
                painter.rect_filled(room, 0.0, p.card);
                painter.galley(room.min, galley, p.soft);
            }
            Item::Line(line) if !line.name.is_empty() => {
                let at = pos2(right, frame.top() + 2.0);
                let room = note(&painter, at, Align2::RIGHT_TOP, &line.name, colour(line.ink, p));
                right = room.left() - 10.0;
            }
            _ => {}
        }
    }
    if let Some(words) = chart.missing {
        note(&painter, frame.center(), Align2::CENTER_CENTER, words, p.soft);
    }
}

/// Says what stands under the pointer and rings what is meant.
fn read_ui(ui: &Ui, chart: &Chart, drawn: &Drawn, at: Pos2, p: &Palette) {
    let a_point = drawn.transform.dvalue_dpos().map(|v| v.abs() * f64::from(NEAR));
    let Some(read) = chart.read(drawn.values(chart, at), a_point) else { return };
    let painter = ui.painter_at(drawn.response.rect);
    for value in read.at.iter().take(8) {
        let at = drawn.at(chart, *value);
        if at.x.is_finite() && at.y.is_finite() {
            painter.circle_stroke(at, 5.0, Stroke::new(1.5, p.accent));
        }
    }
    drawn.response.show_tooltip_text(read.words);
}

#[cfg(test)]
mod tests {
    use egui::{Context, RawInput, Shape};

    use super::*;
    use crate::emit::chart::tests::every_kind;

    /// Everything that is painted of a chart.
    fn painted(chart: &Chart) -> Vec<Shape> {
        let ctx = Context::default();
        crate::gui::look::install(&ctx);
        let mut shapes = Vec::new();
        // The axes know their width in the second frame.
        for _ in 0..2 {
            let mut output = ctx.run_ui(RawInput::default(), |ui| {
                drop(chart_ui(ui, chart, vec2(400.0, 400.0), Hand::Moves));
            });
            output.textures_delta.clear();
            shapes = output.shapes.into_iter().map(|clipped| clipped.shape).collect();
        }
        shapes
    }

    #[test]
    fn every_kind_of_item_is_painted_and_nothing_that_is_not_finite() {
        let whole = every_kind();
        let without = painted(&Chart { items: Vec::new(), ..whole.clone() }).len();
        for item in &whole.items {
            let one = painted(&Chart { items: vec![item.clone()], ..whole.clone() });
            let gap = matches!(item, Item::Circle(circle) if !circle.radius.is_finite());
            assert_eq!(one.len() > without, !gap, "{item:?}");
        }
        for shape in painted(&whole) {
            let room = shape.visual_bounding_rect();
            assert!(room.is_finite() || !room.is_positive(), "{shape:?}");
        }
    }

    #[test]
    fn values_and_places_on_screen_are_inverse_on_every_scale() {
        let x = Axis { scale: Scale::Root, ..Axis::new("x", "ms", [0.0, 100.0]) };
        let chart = Chart::new("Scales", x, Axis::log("y", "%", [0.01, 100.0]));
        let ctx = Context::default();
        crate::gui::look::install(&ctx);
        let mut output = ctx.run_ui(RawInput::default(), |ui| {
            let drawn = chart_ui(ui, &chart, vec2(600.0, 400.0), Hand::Moves);
            let [x, y] = drawn.values(&chart, drawn.at(&chart, [25.0, 1.0]));
            assert!((x - 25.0).abs() < 0.1 && (y - 1.0).abs() < 0.01, "{x} {y}");
            let rect = drawn.response.rect;
            assert!((drawn.at(&chart, [25.0, 1.0]) - rect.center()).length() < 1.0);
        });
        output.textures_delta.clear();
    }
}
