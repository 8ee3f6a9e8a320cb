//! How far each stick's output goes in 16 directions, unrolled, near full output.
use egui::{Align2, Rect, Role, Sense, Shape, Stroke, Ui, WidgetInfo, pos2, vec2};

use super::area::{Area, note, round_steps};
use super::numbers::number;
use crate::gui::look::{Palette, Type};
use crate::proof::{SECTORS, SectorReach};
use crate::rig::Half;

/// Height that both pictures need at least, the card's title included.
pub const HEIGHT: f32 = 380.0;

/// Least value that the lower edge may have, share of full; a shorter reach ends there, marked.
const LOWEST: f64 = 0.8;

/// Draws the sticks under one another over the free space; `limit` = least share that passes.
pub fn sectors_ui(ui: &mut Ui, reach: &[SectorReach], limit: Option<f64>) {
    let height = (ui.available_height() / reach.len().max(1) as f32 - 8.0).clamp(120.0, 320.0);
    for one in reach {
        stick_ui(ui, one, limit, height);
    }
}

fn stick_ui(ui: &mut Ui, reach: &SectorReach, limit: Option<f64>, height: f32) {
    let p = Palette::of(ui);
    let (rect, response) =
        ui.allocate_exact_size(vec2(ui.available_width(), height), Sense::hover());
    response.widget_info(|| WidgetInfo::labeled(Role::Image, true, spoken(reach)));
    let painter = ui.painter_at(rect);
    let title = format!("{} stick, per cent of full output", reach.half.key());
    painter.text(rect.min, Align2::LEFT_TOP, title, Type::Note.font(), p.ink);
    let inner = Rect::from_min_max(rect.min + vec2(48.0, 24.0), rect.max - vec2(12.0, 22.0));
    // Components are rounded down and each is full by itself: a corner may go beyond full.
    let most = reach.most.iter().copied().fold(1.0, f64::max);
    let high = (most * 100.0).ceil().max(101.0) / 100.0;
    let least = reach.most.iter().copied().fold(limit.unwrap_or(1.0), f64::min);
    let low = (((least * 100.0).floor() - 1.0) / 100.0).max(LOWEST);
    let area = Area { rect: inner, x: [-0.5, SECTORS as f64 - 0.5], y: [low, high] };
    // Whole per cents only: halves would be written alike.
    let rules = ((area.rect.height() / 20.0) as usize).min(((high - low) * 100.0).round() as usize);
    for percent in round_steps(low * 100.0, high * 100.0, rules) {
        area.rule_y(&painter, p, percent / 100.0, &number(percent, 0));
    }
    let pitch = inner.width() / SECTORS as f32;
    let stroke = Stroke::new(2.0, p.ink);
    for (k, share) in reach.most.iter().enumerate() {
        let (x, y) = (area.px(k as f64), area.py(share.clamp(low, high)));
        let ends = [pos2(x - pitch * 0.4, y), pos2(x + pitch * 0.4, y)];
        let bar = match reach.half {
            Half::Left => vec![Shape::line_segment(ends, stroke)],
            Half::Right => Shape::dashed_line(&ends, stroke, 4.0, 3.0),
        };
        painter.extend(bar);
        if *share < low {
            let below = [vec2(-4.0, -8.0), vec2(4.0, -8.0), vec2(0.0, -1.0)];
            let corners = below.map(|v| pos2(x, y) + v).to_vec();
            painter.add(Shape::convex_polygon(corners, p.fault, Stroke::NONE));
        }
        if k % 2 == 0 {
            let degrees = format!("{}°", number(k as f64 * 360.0 / SECTORS as f64, 0));
            note(&painter, pos2(x, inner.bottom() + 4.0), Align2::CENTER_TOP, &degrees, p.soft);
        }
    }
    if let Some(limit) = limit {
        area.limit_y(&painter, p, limit, "limit");
    }
}

fn spoken(reach: &SectorReach) -> String {
    let (k, least) = reach
        .most
        .iter()
        .copied()
        .enumerate()
        .fold((0, f64::MAX), |least, one| if one.1 < least.1 { one } else { least });
    format!(
        "Output of the {} stick in {SECTORS} directions over {} turns: at least {} %, towards {}°",
        reach.half.key(),
        reach.turns,
        number(least * 100.0, 2),
        number(k as f64 * 360.0 / SECTORS as f64, 1)
    )
}
