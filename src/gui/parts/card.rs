//! The card: a panel of paper on the page, with a title and perhaps a note below it.
use egui::{Align, Frame, Layout, Margin, Rect, Stroke, Ui, UiBuilder, vec2};

use crate::gui::look::{Palette, Type, size};

/// A card in the flow of `ui`, as wide as there is room.
pub fn card<R>(ui: &mut Ui, title: &str, content: impl FnOnce(&mut Ui) -> R) -> R {
    let p = Palette::of(ui);
    Frame::new()
        .fill(p.card)
        .stroke(Stroke::new(1.0, p.rule))
        .corner_radius(size::CARD_RADIUS)
        .inner_margin(Margin::same(size::CARD as i8))
        .show(ui, |ui| {
            ui.take_available_width();
            title_ui(ui, title);
            content(ui)
        })
        .inner
}

/// A card that fills `rect` exactly; what does not fit is clipped at its edge.
pub fn card_at<R>(ui: &mut Ui, rect: Rect, title: &str, content: impl FnOnce(&mut Ui) -> R) -> R {
    let p = Palette::of(ui);
    let painter = ui.painter();
    painter.rect(
        rect,
        size::CARD_RADIUS,
        p.card,
        Stroke::new(1.0, p.rule),
        egui::StrokeKind::Inside,
    );
    let inner = rect.shrink2(vec2(size::CARD, size::CARD - 4.0));
    let builder = UiBuilder::new().max_rect(inner).layout(Layout::top_down(Align::Min));
    ui.scope_builder(builder.id_salt(title), |ui| {
        ui.shrink_clip_rect(rect.shrink(1.0));
        title_ui(ui, title);
        content(ui)
    })
    .inner
}

fn title_ui(ui: &mut Ui, title: &str) {
    if !title.is_empty() {
        ui.label(Type::Title.text(ui, title));
    }
}

/// Cuts `rect` into columns of equal width with the page's gap between them.
pub fn columns<const N: usize>(rect: Rect) -> [Rect; N] {
    let width = (rect.width() - size::PAGE * (N as f32 - 1.0)) / N as f32;
    std::array::from_fn(|k| {
        let left = rect.left() + k as f32 * (width + size::PAGE);
        Rect::from_min_size(egui::pos2(left, rect.top()), vec2(width, rect.height()))
    })
}

/// Cuts a band of `height` off the top of `rect`; gives the band and what is left below the gap.
pub fn cut_top(rect: Rect, height: f32) -> (Rect, Rect) {
    let y = rect.top() + height;
    let top = Rect::from_min_max(rect.min, egui::pos2(rect.right(), y));
    let rest = Rect::from_min_max(egui::pos2(rect.left(), y + size::PAGE), rect.max);
    (top, rest)
}

/// Cuts a column of `width` off the right of `rect`; gives the rest and the column.
pub fn cut_right(rect: Rect, width: f32) -> (Rect, Rect) {
    let x = rect.right() - width;
    let rest = Rect::from_min_max(rect.min, egui::pos2(x - size::PAGE, rect.bottom()));
    let side = Rect::from_min_max(egui::pos2(x, rect.top()), rect.max);
    (rest, side)
}

/// The page of a station: its whole free space, or as much as it needs in a scroll area.
pub fn page_ui<R>(ui: &mut Ui, least_height: f32, content: impl FnOnce(&mut Ui, Rect) -> R) -> R {
    let free = ui.available_rect_before_wrap();
    if free.height() >= least_height {
        return content(ui, free);
    }
    egui::ScrollArea::vertical()
        .auto_shrink([false, false])
        .show(ui, |ui| {
            let room = vec2(ui.available_width() - 12.0, least_height);
            let (rect, _) = ui.allocate_exact_size(room, egui::Sense::hover());
            content(ui, rect)
        })
        .inner
}

/// What an empty station says: one sentence in the middle of the page.
pub fn empty_ui(ui: &mut Ui, sentence: &str) {
    ui.add_space((ui.available_height() * 0.4).max(0.0));
    ui.vertical_centered(|ui| ui.label(Type::Label.soft(ui, sentence)));
}
