//! Raw code to output exactly as the firmware computes it, and where the input stands now.
use egui::{Align2, Response, Role, Sense, Shape, Stroke, Ui, WidgetInfo, pos2, vec2};

use super::area::{Area, note, round_steps};
use super::numbers::number;
use super::state_mark::dot;
use crate::gui::look::{Palette, Type};

/// What the picture shows.
pub struct Staircase<'a> {
    /// Name of the input.
    pub name: &'a str,
    /// First and last raw code drawn.
    pub codes: [u16; 2],
    /// Lowest and highest output drawn.
    pub outputs: [i16; 2],
    /// The firmware's arithmetic.
    pub run: &'a dyn Fn(u16) -> i16,
    /// The raw code now.
    pub now: Option<u16>,
    /// Right half: dashed.
    pub dashed: bool,
}

/// Draws the staircase over the free width, `height` high; one step for each raw code.
pub fn staircase_ui(ui: &mut Ui, stairs: &Staircase<'_>, height: f32) -> Response {
    let p = Palette::of(ui);
    let width = ui.available_width();
    let caption = "raw code to output as the firmware computes it";
    let whole = format!("{}, {caption}", stairs.name);
    let caption = Type::Note.fitting(ui, width, &[&whole, caption, "raw code to output"]);
    ui.label(Type::Note.soft(ui, caption));
    let (rect, response) = ui.allocate_exact_size(vec2(width, height), Sense::hover());
    response.widget_info(|| {
        WidgetInfo::labeled(Role::Image, true, format!("Output of {} by raw code", stairs.name))
    });
    let painter = ui.painter_at(rect.expand(2.0));
    let inner = egui::Rect::from_min_max(rect.min + vec2(60.0, 8.0), rect.max - vec2(16.0, 24.0));
    let [lowest, highest] = stairs.outputs.map(f64::from);
    let [first, last] = stairs.codes.map(u32::from);
    let air = (highest - lowest) * 0.03;
    let x = [f64::from(first), f64::from(last.max(first + 1))];
    let area = Area { rect: inner, x, y: [lowest - air, highest + air] };
    for y in rules(lowest, highest) {
        area.rule_y(&painter, p, y, &number(y, 0));
    }
    for x in round_steps(x[0], x[1], (inner.width() / 80.0) as usize) {
        area.rule_x(&painter, p, x, &number(x, 0));
    }
    let points = treads(stairs, &area);
    let painter = painter.with_clip_rect(inner.expand(3.0));
    if stairs.dashed {
        painter.extend(Shape::dashed_line(&points, Stroke::new(2.0, p.ink), 6.0, 4.0));
    } else {
        painter.add(Shape::line(points, Stroke::new(2.0, p.ink)));
    }
    if let Some(now) = stairs.now.filter(|now| (stairs.codes[0]..=stairs.codes[1]).contains(now)) {
        let out = (stairs.run)(now);
        let at = area.at(f64::from(now), f64::from(out));
        dot(&painter, at, 5.0, p.accent, p.card);
        let words = format!("{now} gives {}", number(f64::from(out), 0));
        // Above the lower end of the stairs there is never a line.
        let falls = (stairs.run)(stairs.codes[0]) > (stairs.run)(stairs.codes[1]);
        let y = inner.top() + 20.0;
        let (x, align) = match falls {
            false => (inner.left() + 4.0, Align2::LEFT_CENTER),
            true => (inner.right() - 4.0, Align2::RIGHT_CENTER),
        };
        let wide = painter.layout_no_wrap(words.clone(), Type::Note.font(), p.ink).size().x;
        let (swatch, x) = match falls {
            false => (x + 4.0, x + 16.0),
            true => (x - wide - 12.0, x),
        };
        dot(&painter, pos2(swatch, y), 4.0, p.accent, p.card);
        note(&painter, pos2(x, y), align, &words, p.ink);
    }
    response
}

/// Where rules stand: round shares of full output for the whole, else round numbers.
fn rules(lowest: f64, highest: f64) -> Vec<f64> {
    if highest >= 32767.0 {
        let whole = [-32767.0, -16384.0, 0.0, 16384.0, 32767.0];
        return whole.into_iter().filter(|y| *y >= lowest).collect();
    }
    round_steps(lowest, highest, 6)
}

/// The line of the staircase: where a code is wider than a few points, a tread as wide as it.
fn treads(stairs: &Staircase<'_>, area: &Area) -> Vec<egui::Pos2> {
    let [first, last] = stairs.codes.map(u32::from);
    let wide = f64::from(area.rect.width()) / f64::from(last.max(first + 1) - first);
    // Codes finer than pixels are drawn twice a pixel at most: each of them exact.
    let step = (0.5 / wide).ceil().max(1.0) as u32;
    let codes: Vec<(u32, i16)> = (first..=last)
        .step_by(step as usize)
        .chain([last])
        .map(|code| (code, (stairs.run)(code as u16)))
        .collect();
    if wide >= 3.0 {
        let half = 0.5;
        return codes
            .iter()
            .flat_map(|(code, out)| {
                [-half, half].map(|by| area.at(f64::from(*code) + by, f64::from(*out)))
            })
            .collect();
    }
    // Codes between two of the same output add nothing to the line.
    let kept = codes.iter().enumerate().filter(|(k, (_, out))| {
        let same = |other: Option<&(u32, i16)>| other.is_some_and(|o| o.1 == *out);
        !(same(k.checked_sub(1).and_then(|k| codes.get(k))) && same(codes.get(k + 1)))
    });
    kept.map(|(_, (code, out))| area.at(f64::from(*code), f64::from(*out))).collect()
}
