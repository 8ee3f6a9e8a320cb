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
const HEIGHT: f32 = 104.0;
/// What the row of buttons below the words adds to a narrow card.
const ROW: f32 = 40.0;
/// Width of the ring with its margins.
const RING: f32 = 148.0;

/// True where the buttons stand below the words: beside them there would be no room for both.
pub fn is_narrow(width: f32, buttons: f32) -> bool {
    width - buttons - RING < 400.0
}

/// Height of a card of that width with so much room for buttons.
pub fn height(width: f32, buttons: f32) -> f32 {
    HEIGHT + if buttons > 0.0 && is_narrow(width, buttons) { ROW } else { 0.0 }
}

/// Where the buttons stand in the card's rectangle: left of the ring, or below the words.
pub fn buttons_rect(card: Rect, buttons: f32) -> Rect {
    match is_narrow(card.width(), buttons) {
        true => Rect::from_min_max(
            pos2(card.left() + 28.0, card.bottom() - ROW - 4.0),
            pos2(card.right() - 16.0, card.bottom() - 12.0),
        ),
        false => Rect::from_min_max(
            pos2(card.right() - RING - buttons + 8.0, card.top() + 16.0),
            pos2(card.right() - RING, card.bottom() - 16.0),
        ),
    }
}

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
    let narrow = is_narrow(rect.width(), prompt.buttons);
    // The words stand above the buttons of a narrow card.
    let words = Rect::from_min_size(rect.min, vec2(rect.width(), HEIGHT));
    let ring = pos2(rect.right() - 84.0, words.center().y);
    ring_shapes(&painter, p, ring, prompt);
    let keys_right = ring.x - 64.0;
    let mut keys_left = keys_right - if narrow { 0.0 } else { prompt.buttons };
    for (k, key) in prompt.keys.iter().enumerate() {
        let y = words.center().y + (k as f32 - (prompt.keys.len() as f32 - 1.0) / 2.0) * 24.0;
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
    let room = keys_left - 16.0 - left;
    let font = fitting(ui, prompt.title, room);
    let second = match prompt.refusal {
        Some(why) => painter.layout(why.to_owned(), Type::Label.font(), p.ink, room - 28.0),
        None => painter.layout(prompt.detail.to_owned(), Type::Label.font(), p.soft, room),
    };
    // Title and detail share the height: a detail of two lines moves both apart.
    let two = second.rows.len() > 1;
    let title_y = rect.top() + if two { 30.0 } else { 38.0 };
    painter.text(pos2(left, title_y), Align2::LEFT_CENTER, prompt.title, font, p.ink);
    let first = second.rows.first().map_or(0.0, |row| row.height());
    let y = rect.top() + if two { 62.0 } else { 76.0 };
    let mut at = pos2(left, y);
    if prompt.refusal.is_some() {
        super::state_mark::State::Warning.paint(&painter, at + vec2(8.0, 0.0), p);
        at.x += 28.0;
    }
    painter.galley(at - vec2(0.0, first / 2.0), second, p.ink);
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
