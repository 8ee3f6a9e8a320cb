//! The state of a station, a finding or a figure as a shape: readable without its colour.
use egui::{Color32, Painter, Pos2, Rect, Shape, Stroke, StrokeKind, pos2, vec2};

use crate::gui::look::Palette;

/// What a mark says.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum State {
    /// Nothing to say: no mark.
    #[default]
    None,
    /// Not started: a ring.
    NotStarted,
    /// In work: a ring with a quarter of it heavy.
    Now,
    /// Done: a ring with a tick.
    Done,
    /// A warning: a triangle.
    Warning,
    /// A fault: a square.
    Fault,
    /// A note: an open diamond.
    Note,
}

impl State {
    /// What assistive technology says after the name.
    pub fn words(self) -> &'static str {
        match self {
            State::None => "",
            State::NotStarted => "not started",
            State::Now => "in work",
            State::Done => "done",
            State::Warning => "warning",
            State::Fault => "fault",
            State::Note => "note",
        }
    }

    /// `name`, followed by the state where there is one.
    pub fn spoken(self, name: &str) -> String {
        match self {
            State::None => name.to_owned(),
            _ => format!("{name}, {}", self.words()),
        }
    }

    /// Paints the mark about 16 points wide.
    pub fn paint(self, painter: &Painter, centre: Pos2, p: &Palette) {
        let line = |colour| Stroke::new(1.75, colour);
        match self {
            State::None => {}
            State::NotStarted => {
                painter.circle_stroke(centre, 8.0, Stroke::new(1.25, p.soft));
            }
            State::Now => {
                painter.circle_stroke(centre, 8.0, line(p.accent));
                painter.add(arc(centre, 6.5, 0.0, 0.25, Stroke::new(4.5, p.accent)));
            }
            State::Done => {
                painter.circle_stroke(centre, 8.0, line(p.trigger));
                let tick = [vec2(-3.5, 0.0), vec2(-1.0, 2.75), vec2(4.0, -3.0)];
                painter.add(Shape::line(tick.map(|v| centre + v).to_vec(), line(p.trigger)));
            }
            State::Warning => {
                let up = [vec2(0.0, -7.5), vec2(8.5, 7.0), vec2(-8.5, 7.0)];
                painter.add(Shape::closed_line(up.map(|v| centre + v).to_vec(), line(p.accent)));
            }
            State::Fault => {
                let rect = Rect::from_center_size(centre, vec2(14.0, 14.0));
                painter.rect_stroke(rect, 0.0, Stroke::new(2.25, p.fault), StrokeKind::Inside);
                painter.rect_filled(rect.shrink(4.5), 0.0, p.fault);
            }
            State::Note => {
                let corners = [vec2(0.0, -8.0), vec2(7.0, 0.0), vec2(0.0, 8.0), vec2(-7.0, 0.0)];
                painter.add(Shape::closed_line(corners.map(|v| centre + v).to_vec(), line(p.soft)));
            }
        }
    }

    /// The mark at half its size, filled, for a place along a line; nothing but what stands out.
    pub fn paint_small(self, painter: &Painter, centre: Pos2, p: &Palette) {
        let shape = |points: &[egui::Vec2], colour| {
            let points = points.iter().map(|v| centre + *v).collect();
            painter.add(Shape::convex_polygon(points, colour, Stroke::new(1.0, p.card)));
        };
        match self {
            State::Warning => {
                shape(&[vec2(0.0, -4.5), vec2(5.0, 4.0), vec2(-5.0, 4.0)], p.accent);
            }
            State::Fault => {
                let corners = [vec2(-4.0, -4.0), vec2(4.0, -4.0), vec2(4.0, 4.0), vec2(-4.0, 4.0)];
                shape(&corners, p.fault);
            }
            State::Note => {
                let corners = [vec2(0.0, -4.5), vec2(4.0, 0.0), vec2(0.0, 4.5), vec2(-4.0, 0.0)];
                shape(&corners, p.soft);
            }
            _ => {}
        }
    }
}

/// An arc from one share of a turn to another, clockwise from the top.
pub fn arc(centre: Pos2, radius: f32, from: f32, to: f32, stroke: Stroke) -> Shape {
    let steps = (((to - from).abs() * radius * 2.0).ceil() as usize).clamp(4, 240);
    let points = (0..=steps)
        .map(|k| {
            let turn = from + (to - from) * k as f32 / steps as f32;
            let angle = turn * std::f32::consts::TAU;
            pos2(centre.x + radius * angle.sin(), centre.y - radius * angle.cos())
        })
        .collect();
    Shape::line(points, stroke)
}

/// A filled disc with a rim of the paper's colour, so that it stands off the curve beneath.
pub fn dot(painter: &Painter, at: Pos2, radius: f32, colour: Color32, paper: Color32) {
    painter.circle(at, radius, colour, Stroke::new(1.5, paper));
}
