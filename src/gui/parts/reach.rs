//! Reach by direction unrolled over a turn: deviation from the mean reach, magnified, with limits.
use egui::{Align2, Painter, Pos2, Response, Role, Sense, Shape, Stroke, Ui, WidgetInfo, vec2};

use super::area::{Area, note};
use super::state_mark::dot;
use crate::gui::look::{Palette, Type};
use crate::survey::Profile;

/// What the picture needs besides the profile.
#[derive(Clone, Copy, Debug, Default)]
pub struct ReachLook {
    /// Right half: dashed line.
    pub dashed: bool,
    /// Limits at ± this share; `None` = no limit drawn.
    pub limit: Option<f64>,
    /// The stick now: direction in degrees and reach as a share of the mean.
    pub now: Option<[f64; 2]>,
    /// Where raw 0°, 90°, 180° and 270° lie for the person: "right", "up", ….
    pub directions: [&'static str; 4],
}

/// Largest deviation shown without rescaling, share of the mean reach.
const HALF_RANGE: f64 = 0.08;

/// Draws the unrolled profile over the free width, `height` high.
pub fn reach_ui(ui: &mut Ui, profile: &Profile, look: ReachLook, height: f32) -> Response {
    let p = Palette::of(ui);
    let width = ui.available_width();
    let captions =
        ["reach by direction, deviation from the mean reach ×10", "deviation of the reach ×10"];
    ui.label(Type::Note.soft(ui, Type::Note.fitting(ui, width, &captions)));
    let (rect, response) = ui.allocate_exact_size(vec2(width, height), Sense::hover());
    response.widget_info(|| WidgetInfo::labeled(Role::Image, true, spoken(profile)));
    let painter = ui.painter_at(rect.expand(2.0));
    let inner = egui::Rect::from_min_max(rect.min + vec2(52.0, 8.0), rect.max - vec2(8.0, 24.0));
    let half = half_range(profile);
    let area = Area { rect: inner, x: [0.0, 360.0], y: [-half, half] };
    grid(&painter, p, &area, half, look.directions);
    spread(&painter, p, &area, profile);
    let stroke = Stroke::new(2.0, p.ink);
    for run in runs(&area, profile) {
        super::lane::runs(&painter, &[run], stroke, look.dashed);
    }
    if let Some(limit) = look.limit.filter(|l| *l < half) {
        area.limit_y(&painter, p, limit, "limit");
        area.limit_y(&painter, p, -limit, "");
    }
    if let Some([deg, share]) = look.now {
        let y = (share - 1.0).clamp(-half, half);
        dot(&painter, area.at(deg.rem_euclid(360.0), y), 6.0, p.accent, p.card);
    }
    response
}

fn half_range(profile: &Profile) -> f64 {
    let most = profile.reach.iter().filter(|r| r.is_finite()).map(|r| (r - 1.0).abs());
    let most = most.fold(0.0, f64::max) * 1.15;
    if most <= HALF_RANGE { HALF_RANGE } else { super::area::round_step(most) }
}

fn grid(painter: &Painter, p: &Palette, area: &Area, half: f64, directions: [&str; 4]) {
    let pitch = area.rect.width() / 4.0 - 8.0;
    let percent = |v: f64| format!("{} %", super::numbers::signed(v * 100.0, 0));
    for y in [-half, -half / 2.0, 0.0, half / 2.0, half] {
        let text = match y {
            0.0 => "0".to_owned(),
            y if y.abs() == half => percent(y),
            _ => String::new(),
        };
        area.rule_y(painter, p, y, &text);
    }
    let whole =
        [0, 1, 2, 3].map(|k| format!("{}° {}", 90 * k, directions[k]).trim_end().to_owned());
    let wide = |text: &String| {
        painter.layout_no_wrap(text.clone(), Type::Note.font(), p.soft).size().x > pitch
    };
    // A narrow turn names the directions alone.
    let short = whole.iter().any(wide) && directions.iter().all(|d| !d.is_empty());
    for quarter in 0..4 {
        let deg = 90.0 * quarter as f64;
        let text = if short { directions[quarter] } else { &whole[quarter] };
        let x = area.px(deg).round();
        painter.vline(x, area.rect.y_range(), Stroke::new(1.0, p.rule));
        let at = egui::pos2(x + 4.0, area.rect.bottom() + 4.0);
        note(painter, at, Align2::LEFT_TOP, text, p.soft);
    }
}

/// Band of ± one standard deviation over turns, from each seen sector to its seen neighbour.
fn spread(painter: &Painter, p: &Palette, area: &Area, profile: &Profile) {
    let n = profile.reach.len();
    let edges = |k: usize| {
        let (r, s) = (profile.reach[k % n], *profile.spread.get(k % n)?);
        let x = k as f64 * 360.0 / n as f64;
        (r + s).is_finite().then(|| [area.at(x, r - 1.0 + s), area.at(x, r - 1.0 - s)])
    };
    let mut mesh = egui::Mesh::default();
    for k in 0..n {
        let (Some(a), Some(b)) = (edges(k), edges(k + 1)) else { continue };
        let first = mesh.vertices.len() as u32;
        for corner in [a[0], a[1], b[1], b[0]] {
            mesh.colored_vertex(corner, p.faint);
        }
        mesh.add_triangle(first, first + 1, first + 2);
        mesh.add_triangle(first, first + 2, first + 3);
    }
    painter.with_clip_rect(area.rect).add(Shape::mesh(mesh));
}

/// Runs of neighbouring sectors that were seen, in pixels; the turn is closed at 360°.
fn runs(area: &Area, profile: &Profile) -> Vec<Vec<Pos2>> {
    let n = profile.reach.len();
    let mut runs = vec![Vec::new()];
    for k in 0..=n {
        let Some(r) = (n > 0).then(|| profile.reach[k % n]) else { break };
        if r.is_finite() {
            let point = area.at(k as f64 * 360.0 / n as f64, r - 1.0);
            runs.last_mut().into_iter().for_each(|run| run.push(point));
        } else if runs.last().is_some_and(|run| !run.is_empty()) {
            runs.push(Vec::new());
        }
    }
    runs
}

fn spoken(profile: &Profile) -> String {
    let seen = profile.reach.iter().filter(|r| r.is_finite()).count();
    let (low, high) = profile
        .reach
        .iter()
        .filter(|r| r.is_finite())
        .fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), r| (l.min(*r), h.max(*r)));
    if seen == 0 {
        return "Reach by direction: nothing seen yet".to_owned();
    }
    format!(
        "Reach by direction: {seen} of {} sectors seen, deviation {} to {} %",
        profile.reach.len(),
        super::numbers::signed((low - 1.0) * 100.0, 1),
        super::numbers::signed((high - 1.0) * 100.0, 1)
    )
}
