//! Painter for the sheet: a chart as one inline SVG element; classes say what its style makes of an ink.
use super::{Axis, Band, Bars, Chart, Circle, Dash, Ink, Item, Line, Mark, On, Points};
use crate::emit::figures::{Anchor, Svg};
use crate::emit::markup::Html;

/// Height of a line of numbers under the picture, and of the names above it, px.
const TEXT: f64 = 18.0;
/// Width of a character of the sheet's small type, px: wide enough for B612.
const WIDE: f64 = 8.2;
/// Length of the tails of points, px.
const TAIL: f64 = 8.0;

/// The chart in a box of so many px; an axis without a label has no numbers and takes no room.
///
/// Values beyond an axis are drawn at its end, what is not finite not at all. Cost: O(items).
pub fn svg(chart: &Chart, size: [f64; 2]) -> Html {
    let mut svg = Svg::new(size, &chart.words);
    let frame = Frame::of(chart, size);
    frame.grid(chart, &mut svg);
    for item in &chart.items {
        match item {
            Item::Line(line) => frame.line(line, &mut svg),
            Item::Band(band) => frame.band(band, &mut svg),
            Item::Points(points) => frame.points(points, &mut svg),
            Item::Bars(bars) => frame.bars(bars, &mut svg),
            Item::Circle(circle) => frame.circle(circle, &mut svg),
            Item::Mark(mark) => frame.mark(mark, &mut svg),
        }
    }
    if let Some(words) = chart.missing {
        let [x, y] = [0, 1].map(|k| (frame.at[0][k] + frame.at[1][k]) / 2.0);
        svg.text([x, y - 5.0], Anchor::Middle, "name over", words);
    }
    frame.legend(chart, &mut svg);
    svg.finish()
}

/// Where the values lie.
struct Frame<'a> {
    x: &'a Axis,
    y: &'a Axis,
    /// Upper left and lower right corner, px.
    at: [[f64; 2]; 2],
}

impl Frame<'_> {
    fn of(chart: &Chart, [wide, high]: [f64; 2]) -> Frame<'_> {
        let (x, y) = (&chart.x, &chart.y);
        let bare = |axis: &Axis| axis.label.is_empty();
        let longest = y.ticks(y.range, 6).iter().map(|t| t.text.chars().count()).max().unwrap_or(0);
        let left = if bare(y) {
            1.0 + if bare(x) { 0.0 } else { 11.0 }
        } else {
            longest.max(2) as f64 * WIDE + 8.0
        };
        let top = if bare(y) { 1.0 } else { TEXT + 6.0 };
        let named = |item: &Item| matches!(item, Item::Line(line) if !line.name.is_empty());
        let top = if chart.items.iter().any(named) { top + TEXT } else { top };
        let right = if bare(x) { 1.0 } else { 16.0 };
        let rows = if bare(x) { 0.0 } else { 2.0 + f64::from(u8::from(x.also.is_some())) };
        let mut at = [[left, top], [wide - right, high - rows * TEXT - 1.0]];
        if chart.square {
            let side = (at[1][0] - at[0][0]).min(at[1][1] - at[0][1]);
            let spare = (at[1][0] - at[0][0] - side) / 2.0;
            at[0][0] += spare;
            at[1] = [at[0][0] + side, at[0][1] + side];
        }
        Frame { x, y, at }
    }

    fn along(axis: &Axis, value: f64, from: f64, to: f64) -> f64 {
        let [low, high] = axis.ends();
        // A clamp keeps what is not a number.
        let share = ((axis.place(value) - low) / (high - low)).clamp(0.0, 1.0);
        from + share * (to - from)
    }

    fn px(&self, [x, y]: [f64; 2]) -> [f64; 2] {
        let [[left, top], [right, bottom]] = self.at;
        [Frame::along(self.x, x, left, right), Frame::along(self.y, y, bottom, top)]
    }

    fn grid(&self, chart: &Chart, svg: &mut Svg) {
        let [[left, top], [right, bottom]] = self.at;
        let class = |value: f64| if value == 0.0 { "rule" } else { "grid" };
        if !self.y.label.is_empty() {
            let most = ((bottom - top) / 26.0).clamp(2.0, 8.0) as usize;
            for tick in self.y.ticks(self.y.range, most) {
                let y = self.px([0.0, tick.value])[1];
                svg.line([left, y], [right, y], class(tick.value));
                svg.text([left - 6.0, y + 4.5], Anchor::End, "", &tick.text);
            }
            svg.text(
                [if chart.square { left } else { 0.0 }, 13.0],
                Anchor::Start,
                "",
                &self.y.named(),
            );
        }
        if self.x.label.is_empty() {
            return;
        }
        let named = !self.x.names.is_empty();
        // A name stands behind its rule, a number below it.
        let anchor = if named { Anchor::Start } else { Anchor::Middle };
        let each = if chart.square { 26.0 } else { 54.0 };
        let most = ((right - left) / each).clamp(2.0, 12.0) as usize;
        let mut free_from = 0.0;
        let ticks = self.x.ticks(self.x.range, most);
        let farthest = ticks.iter().map(|tick| tick.value.abs()).fold(0.0, f64::max);
        for tick in ticks {
            let x = self.px([tick.value, 0.0])[0];
            svg.line([x, top], [x, bottom], class(tick.value));
            let wide = tick.text.chars().count() as f64 * WIDE;
            let begins = if named { x } else { x - wide / 2.0 };
            // A small square names its middle and its ends; elsewhere what has room is named.
            let named_here = tick.value == 0.0 || tick.value.abs() > farthest * 0.999;
            if begins < free_from || chart.square && !named_here {
                continue;
            }
            free_from = begins + wide + 4.0;
            svg.text([x, bottom + TEXT - 3.0], anchor, "", &tick.text);
            if let (Some(also), true) = (&self.x.also, tick.value > 0.0) {
                let text = crate::measure::number(tick.value * also.factor, 1);
                svg.text([x, bottom + 2.0 * TEXT - 3.0], Anchor::Middle, "", &text);
            }
        }
        let named = match &self.x.also {
            Some(also) => format!("{}, below {}", self.x.named(), also.unit),
            None => self.x.named(),
        };
        let rows = if self.x.also.is_some() { 3.0 } else { 2.0 };
        svg.text([right, bottom + rows * TEXT - 3.0], Anchor::End, "", &named);
    }

    fn line(&self, line: &Line, svg: &mut Svg) {
        let class = class(line.ink, line.dash);
        let points = line.points.iter();
        let points: Vec<[f64; 2]> = if line.treads {
            points.flat_map(|&[x, y]| [[x - 0.5, y], [x + 0.5, y]]).map(|p| self.px(p)).collect()
        } else {
            points.map(|&p| self.px(p)).collect()
        };
        svg.curve(&points, &class);
    }

    fn band(&self, band: &Band, svg: &mut Svg) {
        for run in band.places.split(|place| !place.iter().all(|v| v.is_finite())) {
            let there = run.iter().map(|&[x, low, _]| self.px([x, low]));
            let back = run.iter().rev().map(|&[x, _, high]| self.px([x, high]));
            svg.polygon(&there.chain(back).collect::<Vec<_>>(), "spread");
        }
    }

    fn points(&self, points: &Points, svg: &mut Svg) {
        let (radius, class) = match (points.large, points.ink) {
            (true, Ink::Accent) => (5.0, "chosen"),
            (true, _) => (5.0, "dot"),
            (false, _) => (2.6, "dot"),
        };
        for (k, &point) in points.at.iter().enumerate() {
            let at = self.px(point);
            if let Some(deg) = points.tails_deg.get(k) {
                let (sin, cos) = deg.to_radians().sin_cos();
                svg.line(at, [at[0] + TAIL * cos, at[1] - TAIL * sin], "tail");
            }
            svg.circle(at, radius, class);
            if let Some(name) = points.names.get(k) {
                svg.text([at[0] + 7.0, at[1] - 5.0], Anchor::Start, "", name);
            }
        }
    }

    fn bars(&self, bars: &Bars, svg: &mut Svg) {
        for bar in &bars.bars {
            let (from, to) = (self.px([bar.x[0], bar.y[1]]), self.px([bar.x[1], bar.y[0]]));
            let class = match bars.ink {
                Ink::Accent => "bar accent",
                Ink::X => "bar x",
                Ink::Y => "bar y",
                Ink::Trigger => "bar t",
                _ => "bar",
            };
            svg.rectangle(from, [to[0] - from[0], to[1] - from[1]], class);
        }
    }

    fn circle(&self, circle: &Circle, svg: &mut Svg) {
        let at = self.px(circle.centre);
        let radius = self.px([circle.centre[0] + circle.radius, circle.centre[1]])[0] - at[0];
        let class = if circle.filled { "zone".to_owned() } else { class(circle.ink, circle.dash) };
        svg.circle(at, radius, &class);
    }

    fn mark(&self, mark: &Mark, svg: &mut Svg) {
        let [[left, top], [right, bottom]] = self.at;
        let class = class(mark.ink, mark.dash);
        match mark.on {
            On::X => {
                let x = self.px([mark.at, 0.0])[0];
                svg.line([x, top], [x, bottom], &class);
                let late = x > (left + right) / 2.0;
                let (x, anchor) =
                    if late { (x - 5.0, Anchor::End) } else { (x + 5.0, Anchor::Start) };
                svg.text([x, top + 12.0], anchor, "over", &mark.label);
            }
            On::Y => {
                let y = self.px([0.0, mark.at])[1];
                svg.line([left, y], [right, y], &class);
                let y = if y - top < 16.0 { y + 14.0 } else { y - 4.0 };
                svg.text([right - 2.0, y], Anchor::End, "over", &mark.label);
            }
        }
    }

    /// Names of the lines above the picture, each behind a piece of its line, from the right.
    fn legend(&self, chart: &Chart, svg: &mut Svg) {
        let mut right = self.at[1][0];
        for item in chart.items.iter().rev() {
            if let Item::Line(line) = item
                && !line.name.is_empty()
            {
                svg.text([right, 13.0 + TEXT], Anchor::End, "name", &line.name);
                let from = right - line.name.chars().count() as f64 * 6.9 - 22.0;
                svg.line(
                    [from, 9.0 + TEXT],
                    [from + 18.0, 9.0 + TEXT],
                    &class(line.ink, line.dash),
                );
                right = from - 12.0;
            }
        }
    }
}

/// What the style knows an ink by.
fn class(ink: Ink, dash: Dash) -> String {
    let name = match (ink, dash) {
        (Ink::Accent, Dash::Dotted) => return "hint".to_owned(),
        (_, Dash::Dotted) => return "floor".to_owned(),
        (Ink::Limit, _) => return "limit".to_owned(),
        (Ink::Main, _) => "curve",
        (Ink::Soft, _) => "tail",
        (Ink::Faint, _) => "spread",
        (Ink::Accent, _) => "mark",
        (Ink::X, _) => "x",
        (Ink::Y, _) => "y",
        (Ink::Trigger, _) => "t",
    };
    match dash {
        Dash::Dashed => format!("{name} right"),
        _ => name.to_owned(),
    }
}
