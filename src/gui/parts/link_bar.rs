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

/// Draws the bar over the free height of `ui`; what stands on the right is left to the caller.
pub fn link_bar_ui(ui: &mut Ui, bar: &LinkBar<'_>, right: f32) {
    let p = Palette::of(ui);
    let rect = ui.available_rect_before_wrap();
    let rect = Rect::from_min_max(rect.min, pos2(rect.right() - right, rect.bottom()));
    let response = ui.allocate_rect(rect, Sense::hover());
    response.widget_info(|| WidgetInfo::labeled(Role::Status, true, spoken(bar)));
    let painter = ui.painter_at(rect);
    let y = rect.center().y;
    let mut x = rect.left() + 20.0;
    let used = painter.text(pos2(x, y), Align2::LEFT_CENTER, bar.rig, Type::Chosen.font(), p.ink);
    x = (used.right() + 24.0).max(rect.left() + 204.0);
    mark(&painter, p, pos2(x + 6.0, y), bar.mark);
    x += 22.0;
    let write = |x: f32, text: &str, font: Type, ink| {
        painter.text(pos2(x, y), Align2::LEFT_CENTER, text, font.font(), ink).right()
    };
    x = write(x, bar.source, Type::Label, p.ink) + 24.0;
    for (k, figure) in bar.figures.iter().enumerate() {
        let ink = if k == 0 { p.ink } else { p.soft };
        x = write(x, figure, Type::Label, ink) + 20.0;
    }
    if let Some((time, file)) = bar.recording {
        x += 12.0;
        painter.circle_filled(pos2(x + 6.0, y), 6.0, p.fault);
        x += 22.0;
        x = painter
            .text(
                pos2(x, y),
                Align2::LEFT_CENTER,
                format!("recording {time}"),
                Type::Label.font(),
                p.ink,
            )
            .right()
            + 20.0;
        painter.text(pos2(x, y), Align2::LEFT_CENTER, file, Type::Label.font(), p.soft);
    }
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
