//! Colours, sizes and type of the window: the only file that names a colour or a font.
use std::sync::Arc;

use egui::epaint::Shadow;
use egui::style::{Selection, WidgetVisuals};
use egui::{
    Color32, Context, CornerRadius, FontData, FontDefinitions, FontFamily, FontId, Margin,
    RichText, Stroke, Style, TextStyle, Theme, Ui, Visuals, vec2,
};

use crate::rig::AxisId;

const fn rgb(code: u32) -> Color32 {
    Color32::from_rgb((code >> 16) as u8, (code >> 8) as u8, code as u8)
}

/// The colours of one theme. Text is always `ink` or `soft`; the others are for lines and marks.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Palette {
    /// Behind the cards.
    pub page: Color32,
    /// Cards, rail, link bar, timeline.
    pub card: Color32,
    /// Text and the main curve.
    pub ink: Color32,
    /// Secondary text: units, intervals, notes.
    pub soft: Color32,
    /// Thin rules and grid lines.
    pub rule: Color32,
    /// Fill of what is chosen, tracks of progress, spread bands.
    pub faint: Color32,
    /// What is current or chosen.
    pub accent: Color32,
    /// Horizontal axis of a stick.
    pub axis_x: Color32,
    /// Vertical axis of a stick.
    pub axis_y: Color32,
    /// Trigger; also the tick of what is done.
    pub trigger: Color32,
    /// Faults and the recording dot.
    pub fault: Color32,
}

const LIGHT: Palette = Palette {
    page: rgb(0xF6F4EF),
    card: rgb(0xFFFFFF),
    ink: rgb(0x1B242C),
    soft: rgb(0x5C6873),
    rule: rgb(0xDAD6CC),
    faint: rgb(0xE9E6DE),
    accent: rgb(0x8A5E00),
    axis_x: rgb(0x0072B2),
    axis_y: rgb(0xC04F00),
    trigger: rgb(0x00795A),
    fault: rgb(0xB23A1A),
};

const DARK: Palette = Palette {
    page: rgb(0x15191E),
    card: rgb(0x1C2228),
    ink: rgb(0xE6EAEE),
    soft: rgb(0x93A0AC),
    rule: rgb(0x2B333B),
    faint: rgb(0x27303A),
    accent: rgb(0xE0A526),
    axis_x: rgb(0x4FA3E0),
    axis_y: rgb(0xF0804A),
    trigger: rgb(0x3BB58F),
    fault: rgb(0xE8694A),
};

impl Palette {
    /// The colours of the theme that a widget is drawn in.
    pub fn of(ui: &Ui) -> &'static Palette {
        Palette::for_dark(ui.visuals().dark_mode)
    }

    /// The colours of the dark or the light theme.
    pub fn for_dark(dark: bool) -> &'static Palette {
        if dark { &DARK } else { &LIGHT }
    }

    /// The colour of an axis' data. Left and right halves share it: place and stroke tell them apart.
    pub fn axis(&self, axis: AxisId) -> Color32 {
        match axis {
            AxisId::Lx | AxisId::Rx => self.axis_x,
            AxisId::Ly | AxisId::Ry => self.axis_y,
            AxisId::Lt | AxisId::Rt => self.trigger,
        }
    }
}

/// Type sizes of the window, by the job that the text does.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Type {
    /// The prompt of the guided run: 34, bold.
    Prompt,
    /// A key figure: 22, bold.
    Key,
    /// Titles of cards: 17, bold.
    Title,
    /// Values beside their label: 17, bold.
    Value,
    /// Labels and running text: 15.
    Label,
    /// Labels that are chosen: 15, bold.
    Chosen,
    /// Units, intervals, axis texts: 13.
    Note,
    /// The same, chosen: 13, bold.
    ChosenNote,
    /// Raw lines and header text: 13, fixed pitch.
    Raw,
}

impl Type {
    /// Font and size.
    pub fn font(self) -> FontId {
        let bold = || FontFamily::Name(BOLD.into());
        match self {
            Type::Prompt => FontId::new(34.0, bold()),
            Type::Key => FontId::new(22.0, bold()),
            Type::Title | Type::Value => FontId::new(17.0, bold()),
            Type::Label => FontId::new(15.0, FontFamily::Proportional),
            Type::Chosen => FontId::new(15.0, bold()),
            Type::Note => FontId::new(13.0, FontFamily::Proportional),
            Type::ChosenNote => FontId::new(13.0, bold()),
            Type::Raw => FontId::new(13.0, FontFamily::Monospace),
        }
    }

    /// Width of a text in one line, points.
    pub fn width(self, ui: &Ui, text: &str) -> f32 {
        let ink = Palette::of(ui).ink;
        ui.painter().layout_no_wrap(text.to_owned(), self.font(), ink).size().x
    }

    /// The first of some wordings that fits into `room` in one line, else the last.
    pub fn fitting<'a>(self, ui: &Ui, room: f32, wordings: &[&'a str]) -> &'a str {
        let fits = |words: &&&str| self.width(ui, words) <= room;
        wordings.iter().find(fits).or(wordings.last()).copied().unwrap_or_default()
    }

    /// Text of this kind in ink.
    pub fn text(self, ui: &Ui, text: impl Into<String>) -> RichText {
        RichText::new(text).font(self.font()).color(Palette::of(ui).ink)
    }

    /// Text of this kind in soft ink.
    pub fn soft(self, ui: &Ui, text: impl Into<String>) -> RichText {
        RichText::new(text).font(self.font()).color(Palette::of(ui).soft)
    }
}

/// Measures of the layout in points, all on a grid of four.
pub mod size {
    /// Height of the link bar.
    pub const LINK_BAR: f32 = 48.0;
    /// Width of the rail.
    pub const RAIL: f32 = 188.0;
    /// Height of the timeline.
    pub const TIMELINE: f32 = 92.0;
    /// Margin of the page and gap between cards.
    pub const PAGE: f32 = 16.0;
    /// Inner margin of a card.
    pub const CARD: f32 = 20.0;
    /// Corner radius of a card.
    pub const CARD_RADIUS: u8 = 8;
    /// Below this width of the page, the side column folds under the other cards.
    pub const FOLD: f32 = 1180.0;
}

const BOLD: &str = "bold";

/// The fonts: B612 first, the toolkit's own behind it for glyphs that B612 lacks.
fn fonts() -> FontDefinitions {
    let mut fonts = FontDefinitions::default();
    let shipped: [(&str, &'static [u8]); 3] = [
        ("b612", include_bytes!("../../assets/fonts/B612-Regular.otf")),
        ("b612-bold", include_bytes!("../../assets/fonts/B612-Bold.otf")),
        ("b612-mono", include_bytes!("../../assets/fonts/B612Mono-Regular.otf")),
    ];
    for (name, bytes) in shipped {
        fonts.font_data.insert(name.to_owned(), Arc::new(FontData::from_static(bytes)));
    }
    let mut behind = fonts.families.get(&FontFamily::Proportional).cloned().unwrap_or_default();
    let fixed = fonts.families.get(&FontFamily::Monospace).cloned().unwrap_or_default();
    for name in &fixed {
        if !behind.contains(name) {
            behind.push(name.clone());
        }
    }
    let with = |first: &str, rest: &[String]| {
        std::iter::once(first.to_owned()).chain(rest.iter().cloned()).collect::<Vec<_>>()
    };
    fonts.families.insert(FontFamily::Proportional, with("b612", &behind));
    fonts.families.insert(FontFamily::Name(BOLD.into()), with("b612-bold", &behind));
    fonts.families.insert(FontFamily::Monospace, with("b612-mono", &fixed));
    fonts
}

fn widget(p: &Palette, fill: Color32, edge: Color32, width: f32) -> WidgetVisuals {
    WidgetVisuals {
        bg_fill: fill,
        weak_bg_fill: fill,
        bg_stroke: Stroke::new(width, edge),
        corner_radius: CornerRadius::same(4),
        fg_stroke: Stroke::new(1.5, p.ink),
        expansion: 0.0,
    }
}

fn visuals(dark: bool) -> Visuals {
    let p = Palette::for_dark(dark);
    let mut v = if dark { Visuals::dark() } else { Visuals::light() };
    v.override_text_color = None;
    v.weak_text_color = Some(p.soft);
    v.widgets.noninteractive = widget(p, p.card, p.rule, 1.0);
    v.widgets.noninteractive.fg_stroke = Stroke::new(1.0, p.ink);
    v.widgets.inactive = widget(p, p.faint, p.rule, 1.0);
    v.widgets.hovered = widget(p, p.faint, p.soft, 1.0);
    v.widgets.active = widget(p, p.faint, p.accent, 2.0);
    v.widgets.open = widget(p, p.faint, p.soft, 1.0);
    v.selection = Selection { bg_fill: p.faint, stroke: Stroke::new(1.5, p.ink) };
    v.hyperlink_color = p.ink;
    v.faint_bg_color = p.page;
    v.extreme_bg_color = p.page;
    v.text_edit_bg_color = Some(p.page);
    v.code_bg_color = p.page;
    v.warn_fg_color = p.accent;
    v.error_fg_color = p.fault;
    v.window_fill = p.card;
    v.window_stroke = Stroke::new(1.0, p.rule);
    v.window_shadow = Shadow::NONE;
    v.popup_shadow = Shadow::NONE;
    v.panel_fill = p.card;
    v.window_corner_radius = CornerRadius::same(size::CARD_RADIUS);
    v.menu_corner_radius = CornerRadius::same(4);
    v.text_cursor.stroke = Stroke::new(2.0, p.accent);
    // A blinking caret repaints the whole window twice a second for nothing.
    v.text_cursor.blink = false;
    v.interact_cursor = None;
    // What cannot be used yet is paler and still legible.
    v.disabled_alpha = if dark { 0.6 } else { 0.7 };
    v
}

fn style(style: &mut Style, dark: bool) {
    style.visuals = visuals(dark);
    style.text_styles = [
        (TextStyle::Heading, Type::Title.font()),
        (TextStyle::Body, Type::Label.font()),
        (TextStyle::Button, Type::Label.font()),
        (TextStyle::Small, Type::Note.font()),
        (TextStyle::Monospace, Type::Raw.font()),
    ]
    .into();
    style.spacing.item_spacing = vec2(8.0, 8.0);
    style.spacing.button_padding = vec2(12.0, 4.0);
    style.spacing.interact_size = vec2(44.0, 28.0);
    style.spacing.menu_margin = Margin::same(8);
    style.spacing.window_margin = Margin::same(20);
    style.spacing.combo_width = 96.0;
    style.spacing.tooltip_width = 420.0;
    style.animation_time = 0.0;
    style.interaction.selectable_labels = false;
}

/// Sets fonts and both themes; call once when the window is made.
pub fn install(ctx: &Context) {
    ctx.set_fonts(fonts());
    ctx.style_mut_of(Theme::Light, |s| style(s, false));
    ctx.style_mut_of(Theme::Dark, |s| style(s, true));
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Contrast ratio of two colours: (L₁ + 0.05) / (L₂ + 0.05), WCAG 2.2, relative luminance of sRGB.
    fn contrast(a: Color32, b: Color32) -> f64 {
        let luminance = |c: Color32| {
            let linear = |v: u8| {
                let v = f64::from(v) / 255.0;
                if v <= 0.04045 { v / 12.92 } else { ((v + 0.055) / 1.055).powf(2.4) }
            };
            0.2126 * linear(c.r()) + 0.7152 * linear(c.g()) + 0.0722 * linear(c.b())
        };
        let (a, b) = (luminance(a), luminance(b));
        (a.max(b) + 0.05) / (a.min(b) + 0.05)
    }

    #[test]
    fn black_on_white_is_21() {
        assert!((contrast(Color32::BLACK, Color32::WHITE) - 21.0).abs() < 1e-9);
    }

    #[test]
    fn text_is_legible_wherever_it_stands() {
        for (name, p) in [("light", &LIGHT), ("dark", &DARK)] {
            for (paper, colour) in [("page", p.page), ("card", p.card), ("faint", p.faint)] {
                for (ink, text) in [("ink", p.ink), ("soft", p.soft)] {
                    let ratio = contrast(text, colour);
                    assert!(ratio >= 4.5, "{name}: {ink} on {paper} is only {ratio:.2}:1");
                }
            }
        }
    }

    #[test]
    fn what_is_written_on_the_accent_is_legible() {
        for p in [&LIGHT, &DARK] {
            assert!(contrast(p.card, p.accent) >= 4.5, "{:?} on {:?}", p.card, p.accent);
        }
    }

    /// Every colour that the toolkit may write with, on every paper that it may write on.
    #[test]
    fn the_toolkits_own_widgets_are_legible() {
        for dark in [false, true] {
            let v = visuals(dark);
            let w = &v.widgets;
            let states = [&w.noninteractive, &w.inactive, &w.hovered, &w.active, &w.open];
            let mut pairs: Vec<(Color32, Color32)> =
                states.iter().flat_map(|s| [(s.fg_stroke.color, s.bg_fill)]).collect();
            let field = v.text_edit_bg_color.unwrap_or(v.extreme_bg_color);
            let papers = [
                field,
                v.panel_fill,
                v.window_fill,
                v.extreme_bg_color,
                v.faint_bg_color,
                v.code_bg_color,
            ];
            for paper in papers {
                pairs.extend([(v.text_color(), paper), (v.weak_text_color(), paper)]);
                pairs.extend([(v.hyperlink_color, paper), (v.warn_fg_color, paper)]);
                pairs.push((v.error_fg_color, paper));
            }
            pairs.push((v.selection.stroke.color, v.selection.bg_fill));
            for (text, paper) in pairs {
                let ratio = contrast(text, paper);
                assert!(ratio >= 4.5, "dark {dark}: {text:?} on {paper:?} is only {ratio:.2}:1");
            }
        }
    }

    /// A greyed control: words and paper both fade towards what stands behind them.
    #[test]
    fn what_cannot_be_used_is_legible() {
        for dark in [false, true] {
            let (v, p) = (visuals(dark), Palette::for_dark(dark));
            let fade = |c: Color32, on: Color32| {
                let share = |a: u8, b: u8| {
                    (f32::from(a) * v.disabled_alpha + f32::from(b) * (1.0 - v.disabled_alpha))
                        as u8
                };
                Color32::from_rgb(share(c.r(), on.r()), share(c.g(), on.g()), share(c.b(), on.b()))
            };
            for behind in [p.card, p.page] {
                for paper in [behind, fade(p.faint, behind), fade(p.page, behind)] {
                    let ratio = contrast(fade(p.ink, paper), paper);
                    assert!(ratio >= 4.5, "dark {dark}: on {paper:?} only {ratio:.2}:1");
                }
            }
        }
    }

    #[test]
    fn marks_stand_out_from_their_paper() {
        for p in [&LIGHT, &DARK] {
            for mark in [p.accent, p.axis_x, p.axis_y, p.trigger, p.fault] {
                for paper in [p.page, p.card] {
                    assert!(contrast(mark, paper) >= 3.0, "{mark:?} on {paper:?}");
                }
            }
        }
    }
}
