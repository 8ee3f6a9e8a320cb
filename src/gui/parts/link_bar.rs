//! The link bar: what is connected, how fast, what was lost, and whether it is being recorded.
use egui::{Align2, Painter, Rect, Role, Sense, Ui, WidgetInfo, pos2};

use crate::gui::look::{Palette, Type};

/// How the link stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum LinkMark {
    /// Nothing chosen: an open ring.
    None,
    /// Bytes are coming: a filled disc.
    Live,
    /// Waiting for the port to come back: a ring with a bar.
    Waiting,
    /// A recording is open, nothing is live: an open ring.
    File,
}

/// What the bar says, in words made by its caller.
#[derive(Clone, Debug)]
pub struct LinkBar<'a> {
    /// The controller: "Heron rig, board 7C".
    pub rig: &'a str,
    /// State of the link.
    pub mark: LinkMark,
    /// The source: "serial ttyACM0".
    pub source: &'a str,
    /// Figures that matter, with their unit; the first in ink, the rest soft.
    pub figures: &'a [String],
    /// Time recorded and file name, while recording.
    pub recording: Option<(&'a str, &'a str)>,
}

/// One piece of the bar: words, type, ink, and the gap behind it.
type Piece<'a> = (&'a str, Type, egui::Color32, f32);

/// Draws the bar over the free height of `ui`; what stands on the right is left to the caller.
///
/// Where the room does not suffice, the file's name goes first, then figures from the last on; that
/// a recording is made is always said. All of it stands in the tooltip.
pub fn link_bar_ui(ui: &mut Ui, bar: &LinkBar<'_>, right: f32) {
    let p = Palette::of(ui);
    let rect = ui.available_rect_before_wrap();
    let rect = Rect::from_min_max(rect.min, pos2(rect.right() - right, rect.bottom()));
    let response = ui.allocate_rect(rect, Sense::hover());
    response.widget_info(|| WidgetInfo::labeled(Role::Status, true, spoken(bar)));
    let painter = ui.painter_at(rect);
    let wide = |(text, font, ink, gap): &Piece<'_>| {
        painter.layout_no_wrap((*text).to_owned(), font.font(), *ink).size().x + gap
    };
    let y = rect.center().y;
    let at = pos2(rect.left() + 20.0, y);
    let used = painter.text(at, Align2::LEFT_CENTER, bar.rig, Type::Chosen.font(), p.ink);
    let mut x = (used.right() + 24.0).max(rect.left() + 204.0);
    mark(&painter, p, pos2(x + 6.0, y), bar.mark);
    x += 22.0;
    let source: Piece<'_> = (bar.source, Type::Label, p.ink, 24.0);
    let mut figures: Vec<Piece<'_>> = Vec::new();
    for (k, figure) in bar.figures.iter().enumerate() {
        figures.push((figure, Type::Label, if k == 0 { p.ink } else { p.soft }, 20.0));
    }
    let said = bar.recording.map(|(time, _)| format!("recording {time}"));
    let recording: Option<Piece<'_>> = said.as_deref().map(|s| (s, Type::Label, p.ink, 20.0));
    let mut file: Option<Piece<'_>> =
        bar.recording.map(|(_, file)| (file, Type::Label, p.soft, 0.0));
    let dot = if recording.is_some() { 34.0 } else { 0.0 };
    let fixed = wide(&source) + recording.as_ref().map_or(0.0, wide) + dot;
    let mut room = rect.right() - x - fixed - figures.iter().map(wide).sum::<f32>();
    room -= file.as_ref().map_or(0.0, wide);
    if room < 0.0 {
        room += file.take().as_ref().map_or(0.0, wide);
    }
    while room < 0.0
        && let Some(last) = figures.pop()
    {
        room += wide(&last);
    }
    let write = |x: f32, (text, font, ink, gap): Piece<'_>| {
        painter.text(pos2(x, y), Align2::LEFT_CENTER, text, font.font(), ink).right() + gap
    };
    x = write(x, source);
    for figure in figures {
        x = write(x, figure);
    }
    if let Some(piece) = recording {
        painter.circle_filled(pos2(x + 18.0, y), 6.0, p.fault);
        x = write(x + 34.0, piece);
    }
    if let Some(piece) = file {
        write(x, piece);
    }
    response.on_hover_text(spoken(bar));
}

fn mark(painter: &Painter, p: &Palette, at: egui::Pos2, mark: LinkMark) {
    let line = egui::Stroke::new(1.5, p.soft);
    match mark {
        LinkMark::Live => {
            painter.circle_filled(at, 5.0, p.trigger);
        }
        LinkMark::None | LinkMark::File => {
            painter.circle_stroke(at, 5.0, line);
        }
        LinkMark::Waiting => {
            painter.circle_stroke(at, 5.0, egui::Stroke::new(1.5, p.accent));
            painter.hline(at.x - 2.5..=at.x + 2.5, at.y, egui::Stroke::new(2.0, p.accent));
        }
    }
}

fn spoken(bar: &LinkBar<'_>) -> String {
    let state = match bar.mark {
        LinkMark::None => "no link",
        LinkMark::Live => "live",
        LinkMark::Waiting => "waiting",
        LinkMark::File => "recording opened",
    };
    let recording = bar.recording.map_or(String::new(), |(t, f)| format!(", recording {t} to {f}"));
    format!("Link: {} {}, {state}, {}{recording}", bar.rig, bar.source, bar.figures.join(", "))
}
