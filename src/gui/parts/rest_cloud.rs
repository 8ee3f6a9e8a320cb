//! The rests under a magnifier: where each release ended, the push it came from, the dead zone.
use egui::{EventFilter, Key, Pos2, Response, Role, Stroke, Ui, WidgetInfo, vec2};

use super::chart::{Hand, chart_ui};
use crate::emit::chart::{Chart, Item, Points};
use crate::gui::look::{Palette, Type};

/// What the magnifier shows.
#[derive(Clone, Copy, Debug)]
pub struct RestCloud<'a> {
    /// The rests about their centre.
    pub chart: &'a Chart,
    /// The stick now, counts from the centre.
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

/// Draws the magnifier in a square of `side` points with its words below; a click on a rest looks at it,
/// a second one, or Enter, asks for its stretch of the session; the arrow keys go from rest to rest.
pub fn rest_cloud_ui(ui: &mut Ui, cloud: RestCloud<'_>, side: f32) -> Option<Asked> {
    let none = Points::default();
    let rests = cloud.chart.items.iter().find_map(|item| match item {
        Item::Points(points) => Some(points),
        _ => None,
    });
    let rests = rests.unwrap_or(&none);
    let words = cloud.chosen.and_then(|k| rests.words.get(k));
    ui.vertical(|ui| {
        ui.set_width(side);
        let drawn = chart_ui(ui, cloud.chart, vec2(side, side), Hand::Clicks);
        let response = drawn.response.clone();
        response.widget_info(|| {
            let chosen = words.map_or(String::new(), |words| format!("; release {words}"));
            WidgetInfo::labeled(Role::Image, true, format!("{}{chosen}", cloud.chart.words))
        });
        let places: Vec<Pos2> = rests.at.iter().map(|at| drawn.at(cloud.chart, *at)).collect();
        let tail = |k| Some((places.get(k)?, rests.tails_deg.get(k)?));
        if let Some((at, deg)) = cloud.chosen.and_then(tail) {
            let (p, painter) = (Palette::of(ui), ui.painter_at(response.rect));
            let (sin, cos) = (deg.to_radians() as f32).sin_cos();
            painter.line_segment([*at, *at + vec2(cos, -sin) * 22.0], Stroke::new(2.0, p.ink));
            painter.circle_stroke(*at, 7.0, Stroke::new(2.0, p.accent));
        }
        if let Some(now) = cloud.now {
            drawn.now(ui, cloud.chart, now);
        }
        drawn.focus(ui);
        let count = places.len();
        let (long, short) =
            (format!("{count} rests, each with its push"), format!("{count} rests"));
        let caption = words.map_or(long.as_str(), String::as_str);
        let caption = Type::Note.fitting(ui, side, &[caption, &short]);
        ui.label(Type::Note.soft(ui, caption));
        asked(ui, response, cloud.chosen, &places)
    })
    .inner
}

/// The pointer must be this near to a rest to mean it, points.
const NEAR: f32 = 12.0;

fn asked(ui: &Ui, response: Response, chosen: Option<usize>, places: &[Pos2]) -> Option<Asked> {
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
        let meant = at.map_or(chosen, nearest);
        return Some(match meant {
            Some(k) if chosen == Some(k) => Asked::Show(k),
            meant => Asked::Look(meant),
        });
    }
    if response.has_focus() && !places.is_empty() {
        let arrows = EventFilter { horizontal_arrows: true, ..EventFilter::default() };
        ui.memory_mut(|m| m.set_focus_lock_filter(response.id, arrows));
        let count = places.len();
        let (on, back) =
            ui.input(|i| (i.key_pressed(Key::ArrowRight), i.key_pressed(Key::ArrowLeft)));
        match (on, back) {
            (true, _) => return Some(Asked::Look(Some(next(chosen, count, true)))),
            (_, true) => return Some(Asked::Look(Some(next(chosen, count, false)))),
            _ => {}
        }
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
