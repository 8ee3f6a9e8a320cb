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

/// Room for the end of a file's name below which nothing of it is shown.
const LEAST_NAME: f32 = 120.0;

/// One piece of the bar: words, type, ink, and the gap behind it.
type Piece<'a> = (&'a str, Type, egui::Color32, f32);

fn wide(painter: &Painter, (text, font, ink, gap): &Piece<'_>) -> f32 {
    painter.layout_no_wrap((*text).to_owned(), font.font(), *ink).size().x + gap
}

/// Draws the bar over the free height of `ui`; what stands on the right is left to the caller.
///
/// Where the room does not suffice, the fourth figure goes first, then the beginning of the file's
/// name, then the other figures from the last on; that a recording is made is always said. All of
/// it stands in the tooltip.
pub fn link_bar_ui(ui: &mut Ui, bar: &LinkBar<'_>, right: f32) {
    let p = Palette::of(ui);
    let rect = ui.available_rect_before_wrap();
    let rect = Rect::from_min_max(rect.min, pos2(rect.right() - right, rect.bottom()));
    let response = ui.allocate_rect(rect, Sense::hover());
    response.widget_info(|| WidgetInfo::labeled(Role::Status, true, spoken(bar)));
    let painter = ui.painter_at(rect);
    let y = rect.center().y;
    let at = pos2(rect.left() + 20.0, y);
    let used = painter.text(at, Align2::LEFT_CENTER, bar.rig, Type::Chosen.font(), p.ink);
    let mut x = (used.right() + 24.0).max(rect.left() + 204.0);
    mark(&painter, p, pos2(x + 6.0, y), bar.mark);
    x += 22.0;
    let source: Piece<'_> = (bar.source, Type::Label, p.ink, 24.0);
    let said = bar.recording.map(|(time, _)| format!("recording {time}"));
    let recording: Option<Piece<'_>> = said.as_deref().map(|s| (s, Type::Label, p.ink, 20.0));
    let fixed =
        wide(&painter, &source) + recording.as_ref().map_or(0.0, |r| wide(&painter, r) + 34.0);
    let (figures, file) = fit(&painter, p, bar, rect.right() - x - fixed);
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
    write(x, (&file, Type::Label, p.soft, 0.0));
    response.on_hover_text(spoken(bar));
}

/// The figures, and as much of the file's name, as fit into `room`.
fn fit<'a>(
    painter: &Painter,
    p: &Palette,
    bar: &LinkBar<'a>,
    room: f32,
) -> (Vec<Piece<'a>>, String) {
    let mut figures: Vec<Piece<'a>> = Vec::new();
    for (k, figure) in bar.figures.iter().enumerate() {
        figures.push((figure, Type::Label, if k == 0 { p.ink } else { p.soft }, 20.0));
    }
    let name = bar.recording.map_or("", |(_, file)| file);
    let whole = wide(painter, &(name, Type::Label, p.soft, 0.0));
    let mut left = room - figures.iter().map(|f| wide(painter, f)).sum::<f32>() - whole;
    if left < 0.0
        && figures.len() > 3
        && let Some(last) = figures.pop()
    {
        left += wide(painter, &last);
    }
    if left >= 0.0 {
        return (figures, name.to_owned());
    }
    left += whole;
    if whole > 0.0 && left >= LEAST_NAME {
        // A long name keeps its end, where date and time stand.
        let letters = name.chars().count();
        // Letters differ in width: a tenth is left for that.
        let kept = ((letters as f32 * left / whole * 0.9) as usize).saturating_sub(1);
        let end: String = name.chars().skip(letters - kept).collect();
        return (figures, format!("…{end}"));
    }
    while left < 0.0
        && let Some(last) = figures.pop()
    {
        left += wide(painter, &last);
    }
    (figures, String::new())
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
