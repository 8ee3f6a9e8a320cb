//! The rests under a magnifier: where each release ended, the push it came from, the dead zone.
use egui::{
    Align2, EventFilter, Key, Pos2, Rect, Response, Role, Sense, Stroke, Ui, Vec2, WidgetInfo,
    pos2, vec2,
};

use super::area::{Area, note};
use crate::gui::look::{Palette, Type};
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
    /// The release that is looked at.
    pub chosen: Option<usize>,
}

/// What a person asks of a release.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Asked {
    /// Look at it; `None` = at none any more.
    Look(Option<usize>),
    /// Show where in the session it came from.
    Show(usize),
}

/// Draws the magnifier in a square of `side` points; a click on a rest looks at it, a second one, or
/// Enter, asks for its stretch of the session; the arrow keys go from rest to rest.
pub fn rest_cloud_ui(ui: &mut Ui, cloud: RestCloud<'_>, side: f32) -> Option<Asked> {
    let p = Palette::of(ui);
    let (rect, response) = ui.allocate_exact_size(vec2(side, side + 20.0), Sense::click());
    response.widget_info(|| WidgetInfo::labeled(Role::Image, true, spoken(&cloud)));
    // The caption may be wider than the square.
    let painter = ui.painter_at(rect.expand2(vec2(64.0, 2.0)));
    let square = Rect::from_min_size(rect.min, Vec2::splat(side)).shrink(4.0);
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
    let places: Vec<Pos2> = cloud.releases.iter().map(|r| area.at(r.at[0], r.at[1])).collect();
    for (k, (rest, at)) in cloud.releases.iter().zip(&places).enumerate() {
        let angle = rest.from_deg.to_radians() as f32;
        let towards = vec2(angle.cos(), -angle.sin());
        let (length, line) = match cloud.chosen == Some(k) {
            true => (22.0, Stroke::new(2.0, p.ink)),
            false => (8.0, Stroke::new(1.0, p.soft)),
        };
        painter.line_segment([*at, *at + towards * length], line);
        painter.circle_filled(*at, 3.0, p.ink);
    }
    if let Some(at) = cloud.chosen.and_then(|k| places.get(k)) {
        painter.circle_stroke(*at, 7.0, Stroke::new(2.0, p.accent));
    }
    if let Some([x, y]) = cloud.now {
        let at = area.at(x, y);
        if (at - middle).length() <= area.rect.width() / 2.0 {
            super::state_mark::dot(&painter, at, 5.0, p.accent, p.card);
        }
    }
    if response.has_focus() {
        painter.rect_stroke(square, 4.0, Stroke::new(2.0, p.accent), egui::StrokeKind::Inside);
    }
    let short = match cloud.reach {
        Some(reach) if reach > half => format!("rests ×{:.0}", reach / half),
        _ => "rests".to_owned(),
    };
    let long = format!("{short}, each with its push");
    let caption = match cloud.chosen.and_then(|k| words(&cloud, k)) {
        Some(words) => words,
        None => Type::Note.fitting(ui, side + 48.0, &[&long, &short]).to_owned(),
    };
    note(&painter, pos2(rect.center().x, rect.bottom()), Align2::CENTER_BOTTOM, &caption, p.soft);
    asked(ui, response, &cloud, &places)
}

/// A release in words: its number, the push it came from, how far from the centre it rests.
pub fn words(cloud: &RestCloud<'_>, k: usize) -> Option<String> {
    let rest = cloud.releases.get(k)?;
    let away = (rest.at[0] - cloud.centre[0]).hypot(rest.at[1] - cloud.centre[1]);
    let from = rest.from_deg.rem_euclid(360.0);
    Some(format!("{} of {}, pushed {from:.0}°, {away:.1} off", k + 1, cloud.releases.len()))
}

/// The pointer must be this near to a rest to mean it, points.
const NEAR: f32 = 12.0;

fn asked(ui: &Ui, response: Response, cloud: &RestCloud<'_>, places: &[Pos2]) -> Option<Asked> {
    let nearest = |at: Pos2| {
        let away = |p: &Pos2| (*p - at).length();
        let near = places.iter().enumerate().min_by(|a, b| away(a.1).total_cmp(&away(b.1)))?;
        (away(near.1) <= NEAR).then_some(near.0)
    };
    if response.clicked() {
        response.request_focus();
        // Enter and the space bar have no place, wherever the pointer rests.
        let by_pointer = response.clicked_by(egui::PointerButton::Primary);
        let at = response.interact_pointer_pos().filter(|_| by_pointer);
        let meant = at.map_or(cloud.chosen, nearest);
        return Some(match meant {
            Some(k) if cloud.chosen == Some(k) => Asked::Show(k),
            meant => Asked::Look(meant),
        });
    }
    if response.has_focus() && !cloud.releases.is_empty() {
        let arrows = EventFilter { horizontal_arrows: true, ..EventFilter::default() };
        ui.memory_mut(|m| m.set_focus_lock_filter(response.id, arrows));
        let count = cloud.releases.len();
        let (on, back) =
            ui.input(|i| (i.key_pressed(Key::ArrowRight), i.key_pressed(Key::ArrowLeft)));
        match (on, back) {
            (true, _) => return Some(Asked::Look(Some(next(cloud.chosen, count, true)))),
            (_, true) => return Some(Asked::Look(Some(next(cloud.chosen, count, false)))),
            _ => {}
        }
    }
    if let Some(k) = response.hover_pos().and_then(nearest)
        && let Some(words) = words(cloud, k)
    {
        response.show_tooltip_text(format!("release {words}; click twice to see it in Traces"));
    }
    None
}

/// The next or the previous of `count`, round and round; the first or the last to begin with.
pub fn next(chosen: Option<usize>, count: usize, on: bool) -> usize {
    let count = count.max(1);
    match (chosen, on) {
        (None, true) => 0,
        (None, false) => count - 1,
        (Some(k), true) => (k + 1) % count,
        (Some(k), false) => (k + count - 1) % count,
    }
}

fn spoken(cloud: &RestCloud<'_>) -> String {
    let dead = cloud.dead.map_or(String::new(), |d| format!(", dead zone {d:.1} counts"));
    let chosen = cloud.chosen.and_then(|k| words(cloud, k));
    let chosen = chosen.map_or(String::new(), |words| format!("; release {words}"));
    format!("Rest cloud: {} releases{dead}{chosen}", cloud.releases.len())
}
