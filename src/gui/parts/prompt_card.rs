//! The prompt of the guided run: one sentence in large type, how far the data suffice, and the keys.
use egui::{Align2, Rect, Response, Role, Sense, Stroke, Ui, WidgetInfo, pos2, vec2};

use super::state_mark::arc;
use crate::gui::look::{Palette, Type, size};

/// What the card says.
#[derive(Clone, Copy, Debug)]
pub struct Prompt<'a> {
    /// What to do: "Roll both sticks round the gate, slowly".
    pub title: &'a str,
    /// How, and how far it is.
    pub detail: &'a str,
    /// Why the last data were refused, if they were.
    pub refusal: Option<&'a str>,
    /// Share of the data that suffice, 0 to 1.
    pub share: f32,
    /// The count in the ring: "51".
    pub count: &'a str,
    /// How many pieces the ring has (sectors, releases, presses); 0 = a plain ring.
    pub pieces: usize,
    /// The keys, one a line.
    pub keys: &'a [&'a str],
    /// Room left of the ring for buttons of the caller's.
    pub buttons: f32,
}

/// Height of the card.
pub const HEIGHT: f32 = 104.0;

/// Draws the card in `rect`.
pub fn prompt_card_ui(ui: &mut Ui, rect: Rect, prompt: &Prompt<'_>) -> Response {
    let p = Palette::of(ui);
    let response = ui.allocate_rect(rect, Sense::hover());
    response.widget_info(|| WidgetInfo::labeled(Role::Status, true, spoken(prompt)));
    let painter = ui.painter_at(rect);
    painter.rect(
        rect,
        size::CARD_RADIUS,
        p.card,
        Stroke::new(1.0, p.rule),
        egui::StrokeKind::Inside,
    );
    let ring = pos2(rect.right() - 84.0, rect.center().y);
    ring_shapes(&painter, p, ring, prompt);
    let keys_right = ring.x - 64.0;
    let mut keys_left = keys_right - prompt.buttons;
    for (k, key) in prompt.keys.iter().enumerate() {
        let y = rect.center().y + (k as f32 - (prompt.keys.len() as f32 - 1.0) / 2.0) * 24.0;
        let used = painter.text(
            pos2(keys_right, y),
            Align2::RIGHT_CENTER,
            key,
            Type::Label.font(),
            p.soft,
        );
        keys_left = keys_left.min(used.left());
    }
    let left = rect.left() + 28.0;
    let room = Rect::from_min_max(pos2(left, rect.top()), pos2(keys_left - 16.0, rect.bottom()));
    let text = painter.with_clip_rect(room);
    let font = fitting(ui, prompt.title, room.width());
    text.text(pos2(left, rect.top() + 38.0), Align2::LEFT_CENTER, prompt.title, font, p.ink);
    let second = pos2(left, rect.top() + 76.0);
    match prompt.refusal {
        Some(why) => {
            super::state_mark::State::Warning.paint(&text, second + vec2(8.0, 0.0), p);
            let at = second + vec2(28.0, 0.0);
            text.text(at, Align2::LEFT_CENTER, why, Type::Label.font(), p.ink);
        }
        None => {
            text.text(second, Align2::LEFT_CENTER, prompt.detail, Type::Label.font(), p.soft);
        }
    }
    response
}

/// The prompt's font, smaller where the sentence would not fit.
fn fitting(ui: &Ui, title: &str, width: f32) -> egui::FontId {
    let mut font = Type::Prompt.font();
    let ink = Palette::of(ui).ink;
    while font.size > 20.0
        && ui.painter().layout_no_wrap(title.to_owned(), font.clone(), ink).size().x > width
    {
        font.size -= 2.0;
    }
    font
}

fn ring_shapes(painter: &egui::Painter, p: &Palette, centre: egui::Pos2, prompt: &Prompt<'_>) {
    let (radius, width) = (36.0, 8.0);
    let share = prompt.share.clamp(0.0, 1.0);
    if prompt.pieces == 0 || prompt.pieces > 120 {
        painter.circle_stroke(centre, radius, Stroke::new(width, p.faint));
        if share > 0.0 {
            painter.add(arc(centre, radius, 0.0, share, Stroke::new(width, p.accent)));
        }
    } else {
        let n = prompt.pieces as f32;
        let done = (share * n + 1e-4).floor() as usize;
        let gap = (0.35 / n).min(0.008);
        for k in 0..prompt.pieces {
            let colour = if k < done { p.accent } else { p.faint };
            let (from, to) = (k as f32 / n + gap / 2.0, (k as f32 + 1.0) / n - gap / 2.0);
            painter.add(arc(centre, radius, from, to, Stroke::new(width, colour)));
        }
    }
    // A word is written smaller than a number, so that it stays inside.
    let font = if prompt.count.len() > 4 { Type::Chosen } else { Type::Key };
    painter.text(centre, Align2::CENTER_CENTER, prompt.count, font.font(), p.ink);
}

fn spoken(prompt: &Prompt<'_>) -> String {
    let second = prompt.refusal.unwrap_or(prompt.detail);
    format!("{}. {second}. {:.0} % of the data suffice", prompt.title, prompt.share * 100.0)
}
