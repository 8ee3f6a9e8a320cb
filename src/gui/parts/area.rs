//! A plotting area: values to pixels, round grid steps, grid lines with their numbers.
use egui::{Align2, Color32, Painter, Pos2, Rect, Shape, Stroke, pos2};

use crate::gui::look::{Palette, Type};

/// A rectangle on screen with the values at its edges; y grows upwards.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Area {
    /// Where it stands.
    pub rect: Rect,
    /// Values at the left and the right edge.
    pub x: [f64; 2],
    /// Values at the lower and the upper edge.
    pub y: [f64; 2],
}

impl Area {
    /// An area with square units: one value unit is as long in x as in y, centred on `centre`.
    pub fn square(rect: Rect, centre: [f64; 2], half_side: f64) -> Area {
        let side = rect.width().min(rect.height());
        let rect = Rect::from_center_size(rect.center(), egui::Vec2::splat(side));
        Area {
            rect,
            x: [centre[0] - half_side, centre[0] + half_side],
            y: [centre[1] - half_side, centre[1] + half_side],
        }
    }

    /// Horizontal pixel of a value.
    pub fn px(&self, x: f64) -> f32 {
        let share = (x - self.x[0]) / (self.x[1] - self.x[0]);
        self.rect.left() + share as f32 * self.rect.width()
    }

    /// Vertical pixel of a value.
    pub fn py(&self, y: f64) -> f32 {
        let share = (y - self.y[0]) / (self.y[1] - self.y[0]);
        self.rect.bottom() - share as f32 * self.rect.height()
    }

    /// Pixel of a pair of values.
    pub fn at(&self, x: f64, y: f64) -> Pos2 {
        pos2(self.px(x), self.py(y))
    }

    /// Value under a horizontal pixel.
    pub fn value_x(&self, px: f32) -> f64 {
        let share = f64::from((px - self.rect.left()) / self.rect.width());
        self.x[0] + share * (self.x[1] - self.x[0])
    }

    /// Value under a vertical pixel.
    pub fn value_y(&self, py: f32) -> f64 {
        let share = f64::from((self.rect.bottom() - py) / self.rect.height());
        self.y[0] + share * (self.y[1] - self.y[0])
    }

    /// A horizontal rule with its number to the left of the area.
    pub fn rule_y(&self, painter: &Painter, p: &Palette, y: f64, text: &str) {
        let py = self.py(y).round();
        painter.hline(self.rect.x_range(), py, Stroke::new(1.0, p.rule));
        note(painter, pos2(self.rect.left() - 8.0, py), Align2::RIGHT_CENTER, text, p.soft);
    }

    /// A vertical rule with its number below the area.
    pub fn rule_x(&self, painter: &Painter, p: &Palette, x: f64, text: &str) {
        let px = self.px(x).round();
        painter.vline(px, self.rect.y_range(), Stroke::new(1.0, p.rule));
        note(painter, pos2(px, self.rect.bottom() + 4.0), Align2::CENTER_TOP, text, p.soft);
    }

    /// A limit: a dashed line in ink across the area, named at its right end.
    pub fn limit_y(&self, painter: &Painter, p: &Palette, y: f64, name: &str) {
        let py = self.py(y).round();
        let ends = [pos2(self.rect.left(), py), pos2(self.rect.right(), py)];
        painter.extend(Shape::dashed_line(&ends, Stroke::new(1.0, p.ink), 5.0, 4.0));
        let name = painter.layout_no_wrap(name.to_owned(), Type::Note.font(), p.soft);
        let at = pos2(self.rect.right(), py - 2.0) - name.size();
        // Paper behind the name: no grid line runs through it.
        painter.rect_filled(Rect::from_min_size(at, name.size()), 0.0, p.card);
        painter.galley(at, name, p.soft);
    }
}

/// Small text in a picture.
pub fn note(painter: &Painter, at: Pos2, align: Align2, text: &str, colour: Color32) -> Rect {
    painter.text(at, align, text, Type::Note.font(), colour)
}

/// Grid positions at a step of 1, 2 or 5 times a power of ten, at most about `most` of them.
///
/// Empty when the range is empty or not finite. Cost: O(most).
pub fn round_steps(low: f64, high: f64, most: usize) -> Vec<f64> {
    let span = high - low;
    if !span.is_finite() || span <= 0.0 || most == 0 {
        return Vec::new();
    }
    let step = round_step(span / most as f64);
    let first = (low / step).ceil() as i64;
    let last = (high / step).floor() as i64;
    (first..=last).map(|k| k as f64 * step).collect()
}

/// The smallest of 1, 2, 5 times a power of ten that is at least `least` (> 0).
pub fn round_step(least: f64) -> f64 {
    let power = 10f64.powf(least.log10().floor());
    [1.0, 2.0, 5.0, 10.0]
        .into_iter()
        .map(|m| m * power)
        .find(|s| *s >= least * (1.0 - 1e-9))
        .unwrap_or(10.0 * power)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn steps_are_round_and_few() {
        assert_eq!(round_steps(0.0, 10.0, 5), [0.0, 2.0, 4.0, 6.0, 8.0, 10.0]);
        assert_eq!(round_steps(-0.08, 0.08, 4).len(), 3);
        assert!(round_steps(1.0, 1.0, 5).is_empty());
        assert!(round_steps(0.0, f64::NAN, 5).is_empty());
    }

    #[test]
    fn values_and_pixels_are_inverse() {
        let area = Area {
            rect: Rect::from_min_max(pos2(10.0, 20.0), pos2(110.0, 220.0)),
            x: [-5.0, 5.0],
            y: [0.0, 100.0],
        };
        assert_eq!(area.at(-5.0, 0.0), pos2(10.0, 220.0));
        assert!((area.value_x(area.px(1.25)) - 1.25).abs() < 1e-6);
        assert!((area.value_y(area.py(42.0)) - 42.0).abs() < 1e-4);
    }
}
