//! How the values of a visible channel spread: over frequency, over codes, over averaging times.
use std::ops::Range;
use std::time::{Duration, Instant};

use egui::{Ui, vec2};

use crate::desk::Desk;
use crate::emit::chart::{self, Chart, Dash, Density as Drawn, Ink};
use crate::gui::actions::Action;
use crate::gui::look::Type;
use crate::gui::parts::chart::{Hand, chart_ui};
use crate::gui::parts::numbers::number;
use crate::gui::parts::table;
use crate::gui::stations::copy_corner;
use crate::measure::histogram::CodeHistogram;
use crate::measure::spectrum::{Density, Detrend, WelchPlan, Window, welch};
use crate::measure::stability::{AllanPoint, AllanSums};
use crate::rig::AxisId;

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
    /// How averaging steadies it.
    Allan,
}

/// The picture as last made.
#[derive(Default)]
pub struct Spread {
    made_of: Option<(Kind, usize, Range<usize>)>,
    made: Option<Instant>,
    /// Samples that went in.
    samples: usize,
    /// Frequency in Hz and amplitude density in counts/√Hz, or by rows.
    spectrum: Vec<[f64; 2]>,
    bandwidth_hz: f64,
    /// First code of each bar and how often its codes came.
    bars: Vec<(i32, u64)>,
    step: i32,
    /// Averaging time in s (or rows) and Allan deviation in counts.
    allan: Vec<AllanPoint>,
    /// What is drawn of it.
    chart: Option<Chart>,
    /// Frequencies are in cycles a row and averages in rows: nothing tells the time.
    by_rows: bool,
}

/// Units of a picture whose axis is time, frequency or rows.
struct Per {
    frequency: &'static str,
    density: &'static str,
    averaging: &'static str,
}

/// What a picture is made of.
pub struct Of {
    /// Which picture.
    pub kind: Kind,
    /// Which column, of which channel, by what name.
    pub field: usize,
    /// The axis that the column holds.
    pub axis: Option<AxisId>,
    /// Its name for a person.
    pub name: String,
}

impl Spread {
    /// Draws the picture over `rows`, in the free space.
    pub fn ui(
        &mut self,
        ui: &mut Ui,
        desk: &Desk,
        of: &Of,
        rows: Range<usize>,
        actions: &mut Vec<Action>,
    ) {
        self.follow(ui, desk, of, rows);
        let words = self.words(of.kind);
        copy_corner(ui, || self.as_text(of.kind), actions);
        ui.label(Type::Note.soft(ui, words.as_str()));
        if let Some(chart) = self.chart.as_mut().filter(|_| self.samples > 0) {
            let size = ui.available_size().max(vec2(80.0, 84.0));
            chart.words = format!("{}: {words}", chart.title);
            chart_ui(ui, chart, size, Hand::Moves);
        }
    }

    /// The points of the picture as a table.
    fn as_text(&self, kind: Kind) -> String {
        let (headings, rows): ([&str; 2], Vec<Vec<String>>) = match kind {
            Kind::Spectrum => {
                let points = self.spectrum.iter();
                (
                    [self.per().frequency, self.per().density],
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
            Kind::Allan => {
                let points = self.allan.iter();
                (
                    [self.per().averaging, "counts"],
                    points
                        .map(|p| vec![p.tau_s.to_string(), p.deviation.value.to_string()])
                        .collect(),
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
                "{samples} samples without a gap, Hann, bandwidth {} {}",
                number(self.bandwidth_hz, if self.by_rows { 5 } else { 2 }),
                self.per().frequency
            ),
            Kind::Histogram if self.step > 1 => {
                format!("{samples} samples, {} codes a bar", self.step)
            }
            Kind::Histogram => format!("{samples} samples"),
            Kind::Allan => format!("{samples} samples without a gap; band: 95 % interval"),
        }
    }

    /// Makes the picture anew when what it shows has changed, a live one a few times a second.
    fn follow(&mut self, ui: &Ui, desk: &Desk, of: &Of, rows: Range<usize>) {
        let (kind, field) = (of.kind, of.field);
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
        self.by_rows = desk.row_us().is_some();
        // A row is the unit where nothing tells the time.
        let rate_hz = if self.by_rows { 1.0 } else { 1e6 / desk.timebase().period_us() };
        let per = self.per();
        self.chart = Some(match kind {
            Kind::Spectrum => {
                self.take_spectrum(&cells, rate_hz);
                let (hz, density): (Vec<f64>, Vec<f64>) =
                    self.spectrum.iter().map(|[f, v]| (*f, *v)).unzip();
                let (name, ink, dash) = (String::new(), Ink::Main, Dash::Whole);
                let line = Drawn { name, ink, dash, hz: &hz, density: &density };
                let title = format!("Spectrum of {}", of.name);
                let mut chart = chart::spectrum(title, per.density, &[line]);
                chart.x.unit = per.frequency;
                chart
            }
            Kind::Histogram => {
                self.take_histogram(&cells);
                chart::histogram(format!("Histogram of {}", of.name), &self.bars, self.step)
            }
            Kind::Allan => {
                self.take_allan(&cells, rate_hz);
                let axis = of.axis.unwrap_or(AxisId::Lx);
                let title = format!("Allan deviation of {}", of.name);
                let mut chart = chart::allan(title, &[(axis, &self.allan)]);
                if self.by_rows {
                    chart.x.unit = per.averaging;
                    "rows averaged".clone_into(&mut chart.x.label);
                }
                chart
            }
        });
    }

    /// The units along the axis.
    fn per(&self) -> Per {
        match self.by_rows {
            false => Per { frequency: "Hz", density: "counts/√Hz", averaging: "s" },
            true => Per { frequency: "cycles/row", density: "counts·√row", averaging: "rows" },
        }
    }

    fn take_allan(&mut self, cells: &[i32], rate_hz: f64) {
        if rate_hz.is_finite() {
            self.allan = AllanSums::of(cells).octaves(rate_hz);
        }
        self.samples = if self.allan.is_empty() { 0 } else { cells.len() };
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
