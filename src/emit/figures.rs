//! Elements of an inline SVG: lines, curves with gaps, polygons, circles, rectangles and text.
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

    /// A filled polygon; nothing when a corner is not finite or there are fewer than three.
    pub fn polygon(&mut self, points: &[[f64; 2]], class: &str) {
        if points.len() > 2 && points.iter().all(|&p| finite(p)) {
            let points = coordinates(points);
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
        svg.polygon(&[[0.0, 0.0], [1.0, f64::INFINITY], [2.0, 2.0]], "ink");
        svg.line([0.0, f64::NAN], [1.0, 1.0], "rule");
        svg.circle([0.0, 0.0], f64::NAN, "dot");
        svg.text([1.0, -0.001], Anchor::Middle, "soft", "<&>");
        let text = svg.finish().into_string();
        assert_eq!(text.matches("<polyline").count(), 1);
        assert_eq!(text.matches("<circle").count(), 1, "{text}");
        assert!(!text.contains("NaN") && !text.contains("inf"), "{text}");
        assert!(text.contains("y=\"0\" text-anchor=\"middle\">&lt;&amp;&gt;</text>"), "{text}");
        assert!(text.contains("aria-label=\"a &quot;curve&quot;\""));
    }
}
