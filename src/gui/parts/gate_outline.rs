//! The small outline of the gate in raw counts round the centre, with the stick's recent trail.
use egui::{Align2, Pos2, Response, Role, Sense, Stroke, Ui, Vec2, WidgetInfo, pos2, vec2};

use super::area::{Area, note};
use crate::gui::look::Palette;
use crate::survey::Profile;

/// What the outline shows.
#[derive(Clone, Copy, Debug)]
pub struct GateOutline<'a> {
    /// Reach by direction; its raw counts are drawn.
    pub profile: &'a Profile,
    /// Centre, counts: where the trail's zero is.
    pub centre: [f64; 2],
    /// Mean reach, counts; sets the scale when nothing was rolled yet.
    pub reach: f64,
    /// Right half: dashed line.
    pub dashed: bool,
    /// Recent positions in raw counts with their age in seconds, oldest first.
    pub trail: &'a [([f64; 2], f32)],
    /// Share of samples so far in each of the 72 sectors: 0 = unseen; empty = no ring drawn.
    pub seen: &'a [u8],
}

/// How long the trail is, seconds.
pub const TRAIL_S: f32 = 0.5;

/// Draws the outline in a square of `side` points.
pub fn gate_outline_ui(ui: &mut Ui, gate: GateOutline<'_>, side: f32) -> Response {
    let p = Palette::of(ui);
    let (rect, response) = ui.allocate_exact_size(vec2(side, side + 20.0), Sense::hover());
    response.widget_info(|| {
        let seen = gate.profile.raw_counts.iter().filter(|r| r.is_finite()).count();
        WidgetInfo::labeled(Role::Image, true, format!("Gate outline: {seen} sectors seen"))
    });
    let painter = ui.painter_at(rect.expand(2.0));
    let square = egui::Rect::from_min_size(rect.min, Vec2::splat(side)).shrink(4.0);
    let most = gate.profile.raw_counts.iter().copied().filter(|r| r.is_finite());
    let half = most.fold(gate.reach, f64::max).max(1.0) * 1.12;
    let area = Area::square(square, [0.0, 0.0], half);
    let middle = area.rect.center();
    let rule = Stroke::new(1.0, p.rule);
    painter.hline(area.rect.x_range(), middle.y, rule);
    painter.vline(middle.x, area.rect.y_range(), rule);
    painter.circle_stroke(middle, (gate.reach / half) as f32 * area.rect.width() / 2.0, rule);
    sectors(&painter, p, middle, area.rect.width() / 2.0, gate.seen);
    for run in outline(&area, gate.profile) {
        super::lane::runs(&painter, &[run], Stroke::new(1.75, p.ink), gate.dashed);
    }
    let at = |[x, y]: [f64; 2]| area.at(x - gate.centre[0], y - gate.centre[1]);
    for pair in gate.trail.windows(2) {
        let fade = (1.0 - pair[0].1 / TRAIL_S).clamp(0.0, 1.0);
        let stroke = Stroke::new(2.5, p.accent.gamma_multiply(fade));
        painter.line_segment([at(pair[0].0), at(pair[1].0)], stroke);
    }
    if let Some((last, _)) = gate.trail.last() {
        super::state_mark::dot(&painter, at(*last), 6.0, p.accent, p.card);
    }
    let below = pos2(rect.center().x, rect.bottom());
    note(&painter, below, Align2::CENTER_BOTTOM, "reach, counts from centre", p.soft);
    response
}

/// A ring of sectors round the outline: a heavy piece where seen twice, a thin one where seen once.
fn sectors(painter: &egui::Painter, p: &Palette, middle: Pos2, radius: f32, seen: &[u8]) {
    let n = seen.len() as f32;
    for (k, times) in seen.iter().enumerate() {
        // Sector k is centred on k·5° counter-clockwise from the right; arcs run clockwise from the top.
        let centre = 0.25 - k as f32 / n;
        let (from, to) = (centre - 0.42 / n, centre + 0.42 / n);
        let stroke = match times {
            0 => Stroke::new(2.0, p.faint),
            1 => Stroke::new(2.0, p.accent),
            _ => Stroke::new(5.0, p.accent),
        };
        painter.add(super::state_mark::arc(middle, radius - 3.0, from, to, stroke));
    }
}

fn outline(area: &Area, profile: &Profile) -> Vec<Vec<Pos2>> {
    let n = profile.raw_counts.len();
    let mut runs = vec![Vec::new()];
    for k in 0..=n {
        let Some(r) = (n > 0).then(|| profile.raw_counts[k % n]) else { break };
        if r.is_finite() {
            let angle = (k as f64 / n as f64) * std::f64::consts::TAU;
            let point = area.at(r * angle.cos(), r * angle.sin());
            runs.last_mut().into_iter().for_each(|run| run.push(point));
        } else if runs.last().is_some_and(|run| !run.is_empty()) {
            runs.push(Vec::new());
        }
    }
    runs
}
