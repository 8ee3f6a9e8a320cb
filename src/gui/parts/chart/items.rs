//! Items of a chart as items of a plot: in pieces, so that nothing that is not finite gets in.
use egui::{Color32, Stroke};
use egui_plot::{
    Bar, BarChart, FilledArea, HLine, Line, LineStyle, PlotPoints, PlotUi, Points, Polygon, VLine,
};

use crate::emit::chart::{self as described, Chart, Dash, Ink, Item, Mark, On};
use crate::gui::look::Palette;

/// Corners of a circle.
const CORNERS: usize = 72;

/// Adds the `k`-th item of a chart to its plot.
pub(super) fn add(plot: &mut PlotUi<'_>, chart: &Chart, item: &Item, k: usize, p: &Palette) {
    match item {
        Item::Line(line) => add_line(plot, chart, line, k, p),
        Item::Band(band) => add_band(plot, chart, band, k, p),
        Item::Points(points) => {
            let at: Vec<[f64; 2]> =
                points.at.iter().map(|at| place(chart, *at)).filter(finite).collect();
            let radius = if points.large { 6.0 } else { 3.0 };
            let drawn = Points::new("", PlotPoints::from(at)).id(("points", k)).radius(radius);
            plot.points(drawn.color(colour(points.ink, p)).allow_hover(false));
        }
        Item::Mark(mark) => add_mark(plot, chart, mark, k, p),
        Item::Bars(bars) => add_bars(plot, chart, bars, k, p),
        Item::Circle(circle) => add_circle(plot, chart, circle, k, p),
    }
}

fn place(chart: &Chart, [x, y]: [f64; 2]) -> [f64; 2] {
    [chart.x.place(x), chart.y.place(y)]
}

fn finite(point: &[f64; 2]) -> bool {
    point.iter().all(|v| v.is_finite())
}

fn add_line(plot: &mut PlotUi<'_>, chart: &Chart, line: &described::Line, k: usize, p: &Palette) {
    let half = if line.treads { &[-0.5, 0.5][..] } else { &[0.0][..] };
    let points = line.points.iter().flat_map(|&[x, y]| half.iter().map(move |h| [x + h, y]));
    let points: Vec<[f64; 2]> = points.map(|point| place(chart, point)).collect();
    let width = if line.ink == Ink::Main { 2.0 } else { 1.5 };
    let stroke = Stroke::new(width, colour(line.ink, p));
    for (run, points) in points.split(|point| !finite(point)).enumerate() {
        if !points.is_empty() {
            let drawn = Line::new(line.name.as_str(), PlotPoints::from(points.to_vec()));
            let drawn = drawn.id(("line", k, run)).stroke(stroke).style(style(line.dash));
            // Treads stand at the same x twice: no column of pixels may be put together.
            plot.line(drawn.allow_band(!line.treads).allow_hover(false));
        }
    }
}

fn add_band(plot: &mut PlotUi<'_>, chart: &Chart, band: &described::Band, k: usize, p: &Palette) {
    let [x, y] = [&chart.x, &chart.y];
    let placed = |&[at, low, high]: &[f64; 3]| [x.place(at), y.place(low), y.place(high)];
    let places: Vec<[f64; 3]> = band.places.iter().map(placed).collect();
    let gap = |place: &[f64; 3]| place.iter().any(|v| !v.is_finite());
    for (run, places) in places.split(gap).enumerate() {
        let [x, low, high] = [0, 1, 2].map(|j| places.iter().map(|q| q[j]).collect::<Vec<_>>());
        let area = FilledArea::new("", &x, &low, &high).id(("band", k, run));
        plot.add(area.fill_color(colour(band.ink, p)).allow_hover(false));
    }
}

fn add_bars(plot: &mut PlotUi<'_>, chart: &Chart, bars: &described::Bars, k: usize, p: &Palette) {
    let fill = colour(bars.ink, p);
    // Bars that stand side by side are kept apart.
    let broad = if bars.bars.iter().all(|bar| bar.y[0] == 0.0) { 0.9 } else { 1.0 };
    let bar = |bar: &described::Bar| {
        let [left, low] = place(chart, [bar.x[0], bar.y[0]]);
        let [right, high] = place(chart, [bar.x[1], bar.y[1]]);
        let drawn = Bar::new((left + right) / 2.0, high - low).width((right - left) * broad);
        let drawn = drawn.base_offset(low).fill(fill).stroke(Stroke::NONE);
        (finite(&[left, low]) && finite(&[right, high])).then_some(drawn)
    };
    let all = bars.bars.iter().filter_map(bar).collect();
    plot.bar_chart(BarChart::new("", all).id(("bars", k)).allow_hover(false));
}

fn add_circle(
    plot: &mut PlotUi<'_>,
    chart: &Chart,
    circle: &described::Circle,
    k: usize,
    p: &Palette,
) {
    let corner = |c: usize| {
        let (sin, cos) = (c as f64 / CORNERS as f64 * std::f64::consts::TAU).sin_cos();
        let [x, y] = circle.centre;
        place(chart, [x + circle.radius * cos, y + circle.radius * sin])
    };
    let corners: Vec<[f64; 2]> = (0..CORNERS).map(corner).collect();
    if corners.iter().all(finite) {
        let ink = colour(circle.ink, p);
        let wash = if circle.filled { ink.gamma_multiply(0.10) } else { Color32::TRANSPARENT };
        let width = if circle.filled { 1.75 } else { 1.0 };
        let drawn = Polygon::new("", PlotPoints::from(corners)).id(("circle", k));
        let drawn = drawn.stroke(Stroke::new(width, ink)).fill_color(wash);
        plot.polygon(drawn.style(style(circle.dash)).allow_hover(false));
    }
}

fn add_mark(plot: &mut PlotUi<'_>, chart: &Chart, mark: &Mark, k: usize, p: &Palette) {
    let width = if mark.ink == Ink::Accent && mark.dash == Dash::Whole { 2.0 } else { 1.0 };
    let stroke = Stroke::new(width, colour(mark.ink, p));
    let (id, style) = (("mark", k), style(mark.dash));
    match mark.on {
        On::X => {
            let at = chart.x.place(mark.at);
            if at.is_finite() {
                plot.vline(
                    VLine::new("", at).id(id).stroke(stroke).style(style).allow_hover(false),
                );
            }
        }
        On::Y => {
            let at = chart.y.place(mark.at);
            if at.is_finite() {
                plot.hline(
                    HLine::new("", at).id(id).stroke(stroke).style(style).allow_hover(false),
                );
            }
        }
    }
}

pub(super) fn colour(ink: Ink, p: &Palette) -> Color32 {
    match ink {
        Ink::Main | Ink::Limit => p.ink,
        Ink::Soft => p.soft,
        Ink::Faint => p.faint,
        Ink::Accent => p.accent,
        Ink::X => p.axis_x,
        Ink::Y => p.axis_y,
        Ink::Trigger => p.trigger,
    }
}

fn style(dash: Dash) -> LineStyle {
    match dash {
        Dash::Whole => LineStyle::Solid,
        Dash::Dashed => LineStyle::dashed_dense(),
        Dash::Dotted => LineStyle::dotted_dense(),
    }
}
