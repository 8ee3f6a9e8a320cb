//! Small vector figures for the sheet: lines, curves with gaps, circles and text as inline SVG.
//!
//! Colours and strokes come from the sheet's style by class. Every text is escaped here, every
//! coordinate that is not finite is left out, so that no input can break the document.
use std::fmt::Write;

use super::markup::{Html, Tag, tag};

/// Where a text is anchored.
#[derive(Clone, Copy)]
pub enum Anchor {
    /// At its left end.
    Start,
    /// At its middle.
    Middle,
    /// At its right end.
    End,
}

/// A figure under construction; coordinates are in pixels of its own box, y downward.
pub struct Svg {
    body: Html,
    size: [f64; 2],
    label: String,
}

impl Svg {
    /// An empty figure; `label` is what a screen reader says of it.
    pub fn new(size: [f64; 2], label: &str) -> Svg {
        Svg { body: Html::EMPTY, size, label: label.to_owned() }
    }

    /// A straight line.
    pub fn line(&mut self, from: [f64; 2], to: [f64; 2], class: &str) {
        if finite(from) && finite(to) {
            let ([x1, y1], [x2, y2]) = (from.map(px), to.map(px));
            let line = tag("line").attr("class", class).attr("x1", x1).attr("y1", y1);
            self.push(line.attr("x2", x2).attr("y2", y2));
        }
    }

    /// A curve through the points, broken where one is not finite; a point by itself is a dot.
    pub fn curve(&mut self, points: &[[f64; 2]], class: &str) {
        for run in points.split(|&p| !finite(p)) {
            match run {
                [] => {}
                [alone] => self.circle(*alone, 1.0, class),
                run => {
                    let run = coordinates(run);
                    self.push(tag("polyline").attr("class", class).attr("points", run));
                }
            }
        }
    }

    /// A closed outline, broken like a curve where a point is not finite.
    pub fn outline(&mut self, points: &[[f64; 2]], class: &str) {
        if points.iter().all(|&p| finite(p)) && points.len() > 2 {
            let points = coordinates(points);
            self.push(tag("polygon").attr("class", class).attr("points", points));
        } else {
            self.curve(points, class);
        }
    }

    /// A band between two heights at each place, broken where one is not finite.
    pub fn band(&mut self, places: &[[f64; 3]], class: &str) {
        for run in places.split(|[x, low, high]| !finite([*x, *low]) || !high.is_finite()) {
            if run.len() < 2 {
                continue;
            }
            let there = run.iter().map(|&[x, low, _]| [x, low]);
            let back = run.iter().rev().map(|&[x, _, high]| [x, high]);
            let points = coordinates(&there.chain(back).collect::<Vec<_>>());
            self.push(tag("polygon").attr("class", class).attr("points", points));
        }
    }

    /// A circle.
    pub fn circle(&mut self, centre: [f64; 2], radius: f64, class: &str) {
        if finite(centre) && radius.is_finite() && radius >= 0.0 {
            let [cx, cy] = centre.map(px);
            let r = px(radius);
            self.push(
                tag("circle").attr("class", class).attr("cx", cx).attr("cy", cy).attr("r", r),
            );
        }
    }

    /// A rectangle from its upper left corner.
    pub fn rectangle(&mut self, at: [f64; 2], size: [f64; 2], class: &str) {
        if finite(at) && finite(size) && size.iter().all(|&s| s >= 0.0) {
            let ([x, y], [w, h]) = (at.map(px), size.map(px));
            let rect = tag("rect").attr("class", class).attr("x", x).attr("y", y);
            self.push(rect.attr("width", w).attr("height", h));
        }
    }

    /// A line of text on its base line.
    pub fn text(&mut self, at: [f64; 2], anchor: Anchor, class: &str, text: &str) {
        if finite(at) {
            let [x, y] = at.map(px);
            let anchor = match anchor {
                Anchor::Start => "start",
                Anchor::Middle => "middle",
                Anchor::End => "end",
            };
            let start = tag("text").attr("class", class).attr("x", x).attr("y", y);
            self.body.push(start.attr("text-anchor", anchor).line(text));
        }
    }

    /// The finished element.
    pub fn finish(self) -> Html {
        let [w, h] = self.size.map(px);
        let svg = tag("svg").attr("viewBox", format!("0 0 {w} {h}")).attr("role", "img");
        svg.attr("aria-label", self.label).line(Html::markup("\n").then(self.body))
    }

    fn push(&mut self, element: Tag) {
        self.body.push(element);
        self.body.push(Html::markup("\n"));
    }
}

/// A linear scale from values to pixels.
#[derive(Clone, Copy)]
pub struct Scale {
    /// Value and pixel of one end.
    pub from: [f64; 2],
    /// Value and pixel of the other.
    pub to: [f64; 2],
}

impl Scale {
    /// Pixel of a value; not finite when the scale has no length or the value is not finite.
    pub fn px(&self, value: f64) -> f64 {
        let share = (value - self.from[0]) / (self.to[0] - self.from[0]);
        self.from[1] + share * (self.to[1] - self.from[1])
    }

    /// Pixel of a value, held inside the scale.
    pub fn held(&self, value: f64) -> f64 {
        let (low, high) = (self.from[1].min(self.to[1]), self.from[1].max(self.to[1]));
        self.px(value).clamp(low, high)
    }
}

/// A round step (1, 2 or 5 times a power of ten) that divides `range` into at most `most` parts.
///
/// 1 for ranges that are not above zero and finite.
pub fn round_step(range: f64, most: u32) -> f64 {
    let least = range / f64::from(most.max(1));
    if !(least.is_finite() && least > 0.0) {
        return 1.0;
    }
    let power = 10f64.powf(least.log10().floor());
    let factor = [1.0, 2.0, 5.0].into_iter().find(|f| f * power >= least * (1.0 - 1e-9));
    factor.unwrap_or(10.0) * power
}

fn finite(point: [f64; 2]) -> bool {
    point.iter().all(|v| v.is_finite())
}

fn coordinates(points: &[[f64; 2]]) -> String {
    let mut text = String::with_capacity(points.len() * 12);
    for (i, [x, y]) in points.iter().enumerate() {
        let blank = if i == 0 { "" } else { " " };
        // Writing to a string cannot fail.
        let _ = write!(text, "{blank}{},{}", px(*x), px(*y));
    }
    text
}

/// A coordinate with at most two decimals, never "-0".
fn px(value: f64) -> String {
    let text = format!("{value:.2}");
    let text = text.trim_end_matches('0').trim_end_matches('.');
    if text == "-0" { "0".to_owned() } else { text.to_owned() }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn curves_break_at_gaps_and_nothing_that_is_not_finite_is_written() {
        let mut svg = Svg::new([100.0, 50.0], "a \"curve\"");
        svg.curve(&[[0.0, 1.0], [1.0, 2.0], [2.0, f64::NAN], [3.0, 4.0]], "ink");
        svg.outline(&[[0.0, 0.0], [1.0, f64::INFINITY], [2.0, 2.0]], "ink");
        svg.line([0.0, f64::NAN], [1.0, 1.0], "rule");
        svg.circle([0.0, 0.0], f64::NAN, "dot");
        svg.text([1.0, -0.001], Anchor::Middle, "soft", "<&>");
        let text = svg.finish().into_string();
        assert_eq!(text.matches("<polyline").count(), 1);
        assert_eq!(text.matches("<circle").count(), 3, "{text}");
        assert!(!text.contains("NaN") && !text.contains("inf"), "{text}");
        assert!(text.contains("y=\"0\" text-anchor=\"middle\">&lt;&amp;&gt;</text>"), "{text}");
        assert!(text.contains("aria-label=\"a &quot;curve&quot;\""));
    }

    #[test]
    fn steps_are_round() {
        assert_eq!(round_step(16.0, 5), 5.0);
        assert_eq!(round_step(125.0, 7), 20.0);
        assert_eq!(round_step(0.3, 4), 0.1);
        assert_eq!(round_step(f64::NAN, 4), 1.0);
    }

    #[test]
    fn scales_hold_their_ends() {
        let scale = Scale { from: [0.0, 100.0], to: [10.0, 0.0] };
        assert_eq!((scale.px(5.0), scale.held(20.0), scale.held(-1.0)), (50.0, 0.0, 100.0));
    }
}
