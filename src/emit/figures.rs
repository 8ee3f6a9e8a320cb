//! Elements of an inline SVG: lines, curves with gaps, polygons, circles, rectangles and text.
//!
//! Colours and strokes come from the sheet's style by class. Every text is escaped here, every
//! coordinate that is not finite is left out, so that no input can break the document.
use std::fmt::Write;

use super::escape::html;

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
    body: String,
    size: [f64; 2],
    label: String,
}

impl Svg {
    /// An empty figure; `label` is what a screen reader says of it.
    pub fn new(size: [f64; 2], label: &str) -> Svg {
        Svg { body: String::new(), size, label: html(label) }
    }

    /// A straight line.
    pub fn line(&mut self, from: [f64; 2], to: [f64; 2], class: &str) {
        if finite(from) && finite(to) {
            let ([x1, y1], [x2, y2]) = (from.map(px), to.map(px));
            self.push(&format!(
                "<line class=\"{class}\" x1=\"{x1}\" y1=\"{y1}\" x2=\"{x2}\" y2=\"{y2}\"/>"
            ));
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
                    self.push(&format!("<polyline class=\"{class}\" points=\"{run}\"/>"));
                }
            }
        }
    }

    /// A filled polygon; nothing when a corner is not finite or there are fewer than three.
    pub fn polygon(&mut self, points: &[[f64; 2]], class: &str) {
        if points.len() > 2 && points.iter().all(|&p| finite(p)) {
            let points = coordinates(points);
            self.push(&format!("<polygon class=\"{class}\" points=\"{points}\"/>"));
        }
    }

    /// A circle.
    pub fn circle(&mut self, centre: [f64; 2], radius: f64, class: &str) {
        if finite(centre) && radius.is_finite() && radius >= 0.0 {
            let [cx, cy] = centre.map(px);
            let r = px(radius);
            self.push(&format!("<circle class=\"{class}\" cx=\"{cx}\" cy=\"{cy}\" r=\"{r}\"/>"));
        }
    }

    /// A rectangle from its upper left corner.
    pub fn rectangle(&mut self, at: [f64; 2], size: [f64; 2], class: &str) {
        if finite(at) && finite(size) && size.iter().all(|&s| s >= 0.0) {
            let ([x, y], [w, h]) = (at.map(px), size.map(px));
            self.push(&format!(
                "<rect class=\"{class}\" x=\"{x}\" y=\"{y}\" width=\"{w}\" height=\"{h}\"/>"
            ));
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
            let text = html(text);
            self.push(&format!(
                "<text class=\"{class}\" x=\"{x}\" y=\"{y}\" text-anchor=\"{anchor}\">{text}</text>"
            ));
        }
    }

    /// The finished element.
    pub fn finish(self) -> String {
        let [w, h] = self.size.map(px);
        format!(
            "<svg viewBox=\"0 0 {w} {h}\" role=\"img\" aria-label=\"{}\">\n{}</svg>\n",
            self.label, self.body
        )
    }

    fn push(&mut self, element: &str) {
        self.body.push_str(element);
        self.body.push('\n');
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
        let text = svg.finish();
        assert_eq!(text.matches("<polyline").count(), 1);
        assert_eq!(text.matches("<circle").count(), 1, "{text}");
        assert!(!text.contains("NaN") && !text.contains("inf"), "{text}");
        assert!(text.contains("y=\"0\" text-anchor=\"middle\">&lt;&amp;&gt;</text>"), "{text}");
        assert!(text.contains("aria-label=\"a &quot;curve&quot;\""));
    }
}
