//! How the values of a visible channel spread: over frequency (spectrum) and over codes (histogram).
use std::ops::Range;
use std::time::{Duration, Instant};

use egui::{Pos2, Rect, Role, Sense, Shape, Stroke, Ui, WidgetInfo, pos2, vec2};

use crate::desk::Desk;
use crate::gui::actions::Action;
use crate::gui::look::{Palette, Type};
use crate::gui::parts::area::{Area, round_steps};
use crate::gui::parts::numbers::number;
use crate::gui::parts::table;
use crate::gui::stations::copy_corner;
use crate::measure::histogram::CodeHistogram;
use crate::measure::spectrum::{Density, Detrend, WelchPlan, Window, welch};

/// Newest samples that are used at most.
const MOST_ROWS: usize = 65_536;
/// Samples of a segment at most: 0.24 Hz apart at 1 kHz.
const MOST_SEGMENT: usize = 4_096;
/// Samples of a segment at least.
const LEAST_SEGMENT: usize = 64;
/// A live picture is made anew this often at most.
const PAUSE: Duration = Duration::from_millis(250);
/// Bars of a histogram at most; codes are put together in equal steps above that.
const MOST_BARS: usize = 200;

/// Which picture.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Kind {
    /// Density over frequency.
    #[default]
    Spectrum,
    /// How often each code came.
    Histogram,
}

/// The picture as last made.
#[derive(Default)]
pub struct Spread {
    made_of: Option<(Kind, usize, Range<usize>)>,
    made: Option<Instant>,
    /// Samples that went in.
    samples: usize,
    /// Frequency in Hz and amplitude density in counts/√Hz.
    spectrum: Vec<[f64; 2]>,
    bandwidth_hz: f64,
    /// First code of each bar and how often its codes came.
    bars: Vec<(i32, u64)>,
    step: i32,
}

impl Spread {
    /// Draws the picture of `field` over `rows`, in the free space.
    pub fn ui(
        &mut self,
        ui: &mut Ui,
        desk: &Desk,
        kind: Kind,
        field: usize,
        rows: Range<usize>,
        actions: &mut Vec<Action>,
    ) {
        self.follow(ui, desk, kind, field, rows);
        let words = self.words(kind);
        copy_corner(ui, || self.as_text(kind), actions);
        ui.label(Type::Note.soft(ui, words.as_str()));
        let size = ui.available_size().max(vec2(80.0, 60.0));
        let (rect, response) = ui.allocate_exact_size(size, Sense::hover());
        response.widget_info(|| WidgetInfo::labeled(Role::Image, true, words.as_str()));
        match kind {
            Kind::Spectrum => self.spectrum_ui(ui, rect),
            Kind::Histogram => self.histogram_ui(ui, rect),
        }
        if let Some(at) = response.hover_pos()
            && let Some(words) = self.at(kind, rect, at)
        {
            response.show_tooltip_text(words);
        }
    }

    /// The points of the picture as a table.
    fn as_text(&self, kind: Kind) -> String {
        let (headings, rows): ([&str; 2], Vec<Vec<String>>) = match kind {
            Kind::Spectrum => {
                let points = self.spectrum.iter();
                (
                    ["Hz", "counts/√Hz"],
                    points.map(|[f, v]| vec![f.to_string(), v.to_string()]).collect(),
                )
            }
            Kind::Histogram => {
                let bars = self.bars.iter();
                (
                    ["counts", "samples"],
                    bars.map(|(c, n)| vec![c.to_string(), n.to_string()]).collect(),
                )
            }
        };
        table::as_text(&headings, &rows)
    }

    fn words(&self, kind: Kind) -> String {
        let samples = self.samples;
        match kind {
            _ if samples == 0 => "no stretch without a gap is long enough yet".to_owned(),
            Kind::Spectrum => format!(
                "counts/√Hz over Hz, {samples} samples without a gap, Hann, bandwidth {} Hz",
                number(self.bandwidth_hz, 2)
            ),
            Kind::Histogram if self.step > 1 => {
                format!("samples a code, {samples} samples, {} codes a bar", self.step)
            }
            Kind::Histogram => format!("samples a code, {samples} samples"),
        }
    }

    /// Makes the picture anew when what it shows has changed, a live one a few times a second.
    fn follow(&mut self, ui: &Ui, desk: &Desk, kind: Kind, field: usize, rows: Range<usize>) {
        let stretch = longest_whole(desk, rows);
        let key = Some((kind, field, stretch.clone()));
        if self.made_of == key {
            return;
        }
        let same = matches!(&self.made_of, Some((k, f, _)) if (*k, *f) == (kind, field));
        if same && let Some(left) = self.made.and_then(|m| PAUSE.checked_sub(m.elapsed())) {
            ui.ctx().request_repaint_after(left);
            return;
        }
        let cells = desk.session().column_part(field, stretch);
        *self = Spread { made_of: key, made: Some(Instant::now()), ..Spread::default() };
        match kind {
            Kind::Spectrum => self.take_spectrum(&cells, 1e6 / desk.timebase().period_us()),
            Kind::Histogram => self.take_histogram(&cells),
        }
    }

    fn take_spectrum(&mut self, cells: &[i32], rate_hz: f64) {
        let segment = (cells.len() / 4).clamp(LEAST_SEGMENT, MOST_SEGMENT);
        let (window, detrend) = (Window::Hann, Detrend::Mean);
        let plan = WelchPlan { segment, overlap: segment / 2, window, detrend };
        if !rate_hz.is_finite() {
            return;
        }
        let Ok(Density { hz, density, bandwidth_hz, .. }) = welch(cells, rate_hz, plan) else {
            return;
        };
        self.samples = cells.len();
        self.bandwidth_hz = bandwidth_hz;
        // The first bin holds what is left of the mean.
        self.spectrum = hz.into_iter().zip(density).skip(1).map(|(f, d)| [f, d.sqrt()]).collect();
    }

    fn take_histogram(&mut self, cells: &[i32]) {
        let Some(histogram) = CodeHistogram::of(cells) else { return };
        self.samples = histogram.n();
        let codes = i64::from(histogram.max()) - i64::from(histogram.min()) + 1;
        self.step = (codes as usize).div_ceil(MOST_BARS).max(1) as i32;
        for (code, count) in histogram.pairs() {
            let first = code.div_euclid(self.step) * self.step;
            match self.bars.last_mut() {
                Some((last, n)) if *last == first => *n += count,
                _ => self.bars.push((first, count)),
            }
        }
    }

    fn spectrum_area(&self, rect: Rect) -> Area {
        let most = self.spectrum.iter().map(|p| p[1]).fold(0.0, f64::max).max(1e-6);
        let least = self.spectrum.iter().map(|p| p[1]).filter(|v| *v > 0.0).fold(most, f64::min);
        let top = most.log10().ceil();
        let bottom = least.log10().floor().clamp(top - 5.0, top - 1.0);
        let last = self.spectrum.last().map_or(1.0, |p| p[0]);
        Area { rect: inner(rect), x: [0.0, last], y: [bottom, top] }
    }

    fn spectrum_ui(&self, ui: &Ui, rect: Rect) {
        if self.spectrum.is_empty() {
            return;
        }
        let p = Palette::of(ui);
        let painter = ui.painter_at(rect);
        let area = self.spectrum_area(rect);
        for power in area.y[0] as i32..=area.y[1] as i32 {
            let value = 10f64.powi(power);
            let text = number(value, (-power).max(0) as usize);
            area.rule_y(&painter, p, f64::from(power), &text);
        }
        for hz in round_steps(0.0, area.x[1], (area.rect.width() / 90.0) as usize) {
            area.rule_x(&painter, p, hz, &number(hz, 0));
        }
        let floor = 10f64.powf(area.y[0]);
        let points: Vec<Pos2> =
            self.spectrum.iter().map(|[f, v]| area.at(*f, v.max(floor).log10())).collect();
        painter
            .with_clip_rect(area.rect.expand(1.0))
            .add(Shape::line(points, Stroke::new(1.5, p.ink)));
    }

    fn histogram_area(&self, rect: Rect) -> Area {
        let most = self.bars.iter().map(|b| b.1).max().unwrap_or(1);
        let first = self.bars.first().map_or(0, |b| b.0);
        let last = self.bars.last().map_or(1, |b| b.0 + self.step);
        let x = [f64::from(first) - 1.5, f64::from(last) + 0.5];
        Area { rect: inner(rect), x, y: [0.0, most as f64 * 1.08] }
    }

    fn histogram_ui(&self, ui: &Ui, rect: Rect) {
        if self.bars.is_empty() {
            return;
        }
        let p = Palette::of(ui);
        let painter = ui.painter_at(rect);
        let area = self.histogram_area(rect);
        for n in round_steps(0.0, area.y[1], (area.rect.height() / 36.0) as usize) {
            area.rule_y(&painter, p, n, &number(n, 0));
        }
        let steps = round_steps(area.x[0], area.x[1], (area.rect.width() / 80.0) as usize);
        for code in steps.into_iter().filter(|c| c.fract() == 0.0) {
            area.rule_x(&painter, p, code, &number(code, 0));
        }
        for (first, n) in &self.bars {
            // A bar stands round its code, or over all the codes that it holds.
            let (left, right) = (f64::from(*first) - 0.5, f64::from(*first + self.step) - 0.5);
            let (left, right) = (area.px(left), area.px(right));
            let gap = ((right - left) * 0.15).min(2.0);
            let top = area.py(*n as f64);
            let bar =
                Rect::from_min_max(pos2(left + gap, top), pos2(right - gap, area.rect.bottom()));
            painter.rect_filled(bar, 0.0, p.ink);
        }
    }

    /// What stands under the pointer, in words.
    fn at(&self, kind: Kind, rect: Rect, at: Pos2) -> Option<String> {
        match kind {
            Kind::Spectrum => {
                let hz = self.spectrum_area(rect).value_x(at.x);
                let near = self
                    .spectrum
                    .iter()
                    .min_by(|a, b| (a[0] - hz).abs().total_cmp(&(b[0] - hz).abs()))?;
                Some(format!("{} Hz: {} counts/√Hz", number(near[0], 1), number(near[1], 3)))
            }
            Kind::Histogram => {
                let code = self.histogram_area(rect).value_x(at.x).round() as i32;
                let (first, n) = self
                    .bars
                    .iter()
                    .find(|(first, _)| (*first..*first + self.step).contains(&code))?;
                let share = *n as f64 / self.samples.max(1) as f64 * 100.0;
                Some(format!("{first} counts: {n} samples, {} %", number(share, 1)))
            }
        }
    }
}

fn inner(rect: Rect) -> Rect {
    Rect::from_min_max(rect.min + vec2(60.0, 8.0), rect.max - vec2(16.0, 22.0))
}

/// The longest stretch of `rows` in which nothing is missing; its newest samples if it is long.
fn longest_whole(desk: &Desk, rows: Range<usize>) -> Range<usize> {
    let mut longest = 0..0;
    let mut from = rows.start;
    let gaps = desk.timebase().gaps_in(rows.clone()).iter().copied();
    for gap in gaps.chain([rows.end]) {
        if gap.saturating_sub(from) > longest.len() {
            longest = from..gap;
        }
        from = gap;
    }
    longest.end.saturating_sub(MOST_ROWS).max(longest.start)..longest.end
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_sine_stands_at_its_frequency() {
        let cells: Vec<i32> = (0..4096)
            .map(|k| (500.0 + 40.0 * (f64::from(k) * 0.05 * std::f64::consts::TAU).sin()) as i32)
            .collect();
        let mut spread = Spread::default();
        spread.take_spectrum(&cells, 1000.0);
        let most = spread.spectrum.iter().max_by(|a, b| a[1].total_cmp(&b[1])).expect("bins");
        assert!((most[0] - 50.0).abs() < 2.0, "{most:?}");
    }

    #[test]
    fn many_codes_share_bars_and_none_is_lost() {
        let cells: Vec<i32> = (0..4000).map(|k| k % 1000).collect();
        let mut spread = Spread::default();
        spread.take_histogram(&cells);
        assert_eq!(spread.step, 5);
        assert!(spread.bars.len() <= MOST_BARS);
        assert_eq!(spread.bars.iter().map(|b| b.1).sum::<u64>(), 4000);
    }

    #[test]
    fn too_few_samples_give_no_picture() {
        let mut spread = Spread::default();
        spread.take_spectrum(&[1; 20], 1000.0);
        assert!(spread.spectrum.is_empty());
        assert!(spread.words(Kind::Spectrum).contains("no stretch"));
    }
}
