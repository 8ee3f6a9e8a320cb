//! The rests under a magnifier: where each release ended, the push it came from, the dead zone.
use egui::{Align2, Response, Role, Sense, Stroke, Ui, Vec2, WidgetInfo, pos2, vec2};

use super::area::{Area, note};
use crate::gui::look::Palette;
use crate::survey::ReleaseRest;

/// What the magnifier shows.
#[derive(Clone, Copy, Debug)]
pub struct RestCloud<'a> {
    /// Where the releases ended.
    pub releases: &'a [ReleaseRest],
    /// Centre of the stick, counts.
    pub centre: [f64; 2],
    /// Radius of the proposed dead zone, counts.
    pub dead: Option<f64>,
    /// Mean reach, counts: what the magnification refers to.
    pub reach: Option<f64>,
    /// The stick now, counts.
    pub now: Option<[f64; 2]>,
}

/// Draws the magnifier in a square of `side` points.
pub fn rest_cloud_ui(ui: &mut Ui, cloud: RestCloud<'_>, side: f32) -> Response {
    let p = Palette::of(ui);
    let (rect, response) = ui.allocate_exact_size(vec2(side, side + 20.0), Sense::hover());
    response.widget_info(|| WidgetInfo::labeled(Role::Image, true, spoken(&cloud)));
    // The caption may be wider than the square.
    let painter = ui.painter_at(rect.expand2(vec2(48.0, 2.0)));
    let square = egui::Rect::from_min_size(rect.min, Vec2::splat(side)).shrink(4.0);
    let far = cloud
        .releases
        .iter()
        .map(|r| (r.at[0] - cloud.centre[0]).hypot(r.at[1] - cloud.centre[1]))
        .fold(cloud.dead.unwrap_or(0.0), f64::max);
    let half = if far > 0.0 { far * 1.5 } else { 10.0 };
    let area = Area::square(square, cloud.centre, half);
    let middle = area.rect.center();
    let rule = Stroke::new(1.0, p.rule);
    painter.hline(area.rect.x_range(), middle.y, rule);
    painter.vline(middle.x, area.rect.y_range(), rule);
    painter.circle_stroke(middle, area.rect.width() / 2.0, rule);
    if let Some(dead) = cloud.dead {
        let radius = (dead / half) as f32 * area.rect.width() / 2.0;
        painter.circle(middle, radius, p.accent.gamma_multiply(0.10), Stroke::new(1.75, p.accent));
    }
    for rest in cloud.releases {
        let at = area.at(rest.at[0], rest.at[1]);
        let angle = rest.from_deg.to_radians() as f32;
        let towards = vec2(angle.cos(), -angle.sin());
        painter.line_segment([at, at + towards * 8.0], Stroke::new(1.0, p.soft));
        painter.circle_filled(at, 3.0, p.ink);
    }
    if let Some([x, y]) = cloud.now {
        let at = area.at(x, y);
        if (at - middle).length() <= area.rect.width() / 2.0 {
            super::state_mark::dot(&painter, at, 5.0, p.accent, p.card);
        }
    }
    let caption = match cloud.reach {
        Some(reach) if reach > half => {
            format!("rests ×{:.0}, each with its push", reach / half)
        }
        _ => "rests, each with its push".to_owned(),
    };
    note(&painter, pos2(rect.center().x, rect.bottom()), Align2::CENTER_BOTTOM, &caption, p.soft);
    response
}

fn spoken(cloud: &RestCloud<'_>) -> String {
    let dead = cloud.dead.map_or(String::new(), |d| format!(", dead zone {d:.1} counts"));
    format!("Rest cloud: {} releases{dead}", cloud.releases.len())
}
