//! The small outline of the gate in raw counts round the centre, with the stick's recent trail.
use egui::{
    Align2, EventFilter, Key, Pos2, Response, Role, Sense, Stroke, Ui, Vec2, WidgetInfo, pos2, vec2,
};

use super::area::{Area, note};
use crate::gui::look::{Palette, Type};
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
    /// Reference circles; with them the outline is drawn after the scaling of each side.
    pub circles: Option<Circles>,
    /// The stick can be moved from here (virtual board).
    pub draggable: bool,
}

/// The circles that roundness is measured against, in shares of the mean reach.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Circles {
    /// Centre and radius of the least-squares circle.
    pub fitted: [f64; 3],
    /// Common centre, inner and outer radius of the minimum zone.
    pub zone: [f64; 4],
}

/// How long the trail is, seconds.
pub const TRAIL_S: f32 = 0.5;

/// Where a stick is led to, in counts from its centre.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Led {
    /// There, now.
    To([f64; 2]),
    /// It was let go.
    Free,
}

/// Draws the outline in a square of `side` points; says where the stick is led, where it can be.
pub fn gate_outline_ui(ui: &mut Ui, gate: GateOutline<'_>, side: f32) -> Option<Led> {
    let p = Palette::of(ui);
    let sense = if gate.draggable { Sense::click_and_drag() } else { Sense::hover() };
    let (rect, response) = ui.allocate_exact_size(vec2(side, side + 20.0), sense);
    response.widget_info(|| {
        let seen = gate.profile.raw_counts.iter().filter(|r| r.is_finite()).count();
        let twice = gate.seen.iter().filter(|v| **v >= 2).count();
        let mut said = format!("Gate outline: {seen} sectors seen");
        if !gate.seen.is_empty() {
            said.push_str(&format!(", {twice} of them twice in this roll"));
        }
        if gate.circles.is_some() {
            said.push_str(", with reference circles");
        }
        WidgetInfo::labeled(Role::Image, true, said)
    });
    // The caption may be wider than the square.
    let painter = ui.painter_at(rect.expand2(vec2(32.0, 2.0)));
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
    let radii: Vec<f64> = match &gate.circles {
        None => gate.profile.raw_counts.clone(),
        Some(_) => gate.profile.reach.iter().map(|share| share * gate.reach).collect(),
    };
    for run in outline(&area, &radii) {
        super::lane::runs(&painter, &[run], Stroke::new(1.75, p.ink), gate.dashed);
    }
    if let Some(circles) = &gate.circles {
        circles_ui(&painter, p, &area, circles, gate.reach);
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
    let words = match (gate.circles.is_some(), gate.draggable) {
        (true, _) => ["scaled reach, zone dashed", "scaled reach"],
        (false, true) => ["reach; drag the stick", "reach; drag it"],
        (false, false) => ["reach, counts from centre", "reach, counts"],
    };
    let words = Type::Note.fitting(ui, side + 32.0, &words);
    note(&painter, below, Align2::CENTER_BOTTOM, words, p.soft);
    if !gate.draggable {
        return None;
    }
    if response.has_focus() {
        painter.rect_stroke(square, 4.0, Stroke::new(2.0, p.accent), egui::StrokeKind::Inside);
    }
    led(ui, response, &area, gate.reach)
}

/// By the pointer while it is pressed, or by the arrow keys while the outline has the focus.
fn led(ui: &Ui, response: Response, area: &Area, reach: f64) -> Option<Led> {
    let was_led_by_keys = response.id.with("keys");
    let at =
        response.is_pointer_button_down_on().then(|| response.interact_pointer_pos()).flatten();
    if let Some(at) = at {
        response.request_focus();
        return Some(Led::To([area.value_x(at.x), area.value_y(at.y)]));
    }
    if response.drag_stopped() || response.clicked() {
        return Some(Led::Free);
    }
    let mut to = [0.0; 2];
    if response.has_focus() {
        let arrows = EventFilter {
            horizontal_arrows: true,
            vertical_arrows: true,
            ..EventFilter::default()
        };
        ui.memory_mut(|m| m.set_focus_lock_filter(response.id, arrows));
        let down = |key| f64::from(u8::from(ui.input(|i| i.key_down(key))));
        to = [
            down(Key::ArrowRight) - down(Key::ArrowLeft),
            down(Key::ArrowUp) - down(Key::ArrowDown),
        ];
    }
    let led = to != [0.0; 2];
    let was = ui.data_mut(|d| {
        let kept = d.get_temp_mut_or_default::<bool>(was_led_by_keys);
        std::mem::replace(kept, led)
    });
    response.on_hover_text("Drag, or use the arrow keys; it springs back when let go");
    match (led, was) {
        (true, _) => {
            let length = to[0].hypot(to[1]);
            Some(Led::To(to.map(|v| v / length * reach * 1.02)))
        }
        (false, true) => Some(Led::Free),
        (false, false) => None,
    }
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

/// The least-squares circle in one line, both circles of the minimum zone dashed.
fn circles_ui(painter: &egui::Painter, p: &Palette, area: &Area, circles: &Circles, reach: f64) {
    let points = |x: f64, y: f64, r: f64| -> Vec<Pos2> {
        let at = |k: u32| {
            let (sin, cos) = (f64::from(k) / 120.0 * std::f64::consts::TAU).sin_cos();
            area.at((x + r * cos) * reach, (y + r * sin) * reach)
        };
        (0..=120).map(at).collect()
    };
    let [x, y, r] = circles.fitted;
    painter.add(egui::Shape::line(points(x, y, r), Stroke::new(1.25, p.accent)));
    let [x, y, inner, outer] = circles.zone;
    for r in [inner, outer] {
        let dashes = egui::Shape::dashed_line(&points(x, y, r), Stroke::new(1.0, p.ink), 4.0, 4.0);
        painter.extend(dashes);
    }
}

fn outline(area: &Area, radii: &[f64]) -> Vec<Vec<Pos2>> {
    let n = radii.len();
    let mut runs = vec![Vec::new()];
    for k in 0..=n {
        let Some(r) = (n > 0).then(|| radii[k % n]) else { break };
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
