//! Noise: its density over frequency, how often each code comes, how averaging steadies it.
use super::{Axis, Band, Bar, Bars, Chart, Dash, Ink, Item, Line, On};
use crate::measure::number;
use crate::measure::stability::AllanPoint;
use crate::rig::{AxisId, Half};
use crate::survey::{AxisFigures, SpectrumLine, Survey};

/// Most points drawn of one density.
const POINTS: usize = 720;
/// Decades that a density spans at most: what lies below says nothing.
const DECADES: f64 = 6.0;

/// One density of a spectrum.
pub struct Density<'a> {
    /// Whose; empty where there is one.
    pub name: String,
    /// Its ink.
    pub ink: Ink,
    /// How it is drawn.
    pub dash: Dash,
    /// Frequencies, Hz, ascending.
    pub hz: &'a [f64],
    /// Density at each, in the unit of the spectrum.
    pub density: &'a [f64],
}

/// Densities over frequency, logarithmic in height.
///
/// Of a long density the greatest of each group of neighbours is drawn, so that no line is lost; what
/// is not above zero is left out. Cost: O(points).
pub fn spectrum(title: String, unit: &'static str, densities: &[Density<'_>]) -> Chart {
    let usable = |d: &f64| d.is_finite() && *d > 0.0;
    let all = || densities.iter().flat_map(|d| d.density.iter().copied().filter(usable));
    let (low, high) =
        all().fold((f64::INFINITY, 0.0), |(l, h): (f64, f64), d| (l.min(d), h.max(d)));
    let last =
        densities.iter().flat_map(|d| d.hz.last().copied().filter(usable)).fold(0.0, f64::max);
    let top = high.log10().ceil();
    let bottom = low.log10().floor().clamp(top - DECADES, top - 1.0);
    let y = Axis::log("density", unit, [bottom, top].map(|power| 10f64.powf(power)));
    let mut chart = Chart::new(title, Axis::new("frequency", "Hz", [0.0, last]), y);
    if low > high {
        chart.missing = Some("not seen");
        return chart;
    }
    for one in densities {
        let pairs: Vec<[f64; 2]> = one
            .hz
            .iter()
            .zip(one.density)
            .map(|(hz, d)| [*hz, *d])
            .filter(|p| usable(&p[1]))
            .collect();
        let group = pairs.len().div_ceil(POINTS).max(1);
        let greatest =
            |chunk: &[[f64; 2]]| chunk.iter().copied().max_by(|a, b| a[1].total_cmp(&b[1]));
        let points = pairs.chunks(group).filter_map(greatest).collect();
        let (name, ink, dash) = (one.name.clone(), one.ink, one.dash);
        chart.items.push(Item::Line(Line { name, points, ink, dash, ..Line::default() }));
    }
    chart
}

/// Densities of a half's axes in the quiet rest, with what rounding to whole counts adds by itself and
/// the strongest line that noise alone would hardly show; both halves have the same axes.
///
/// `None` when no axis of the half has a density. Cost: O(points).
pub fn in_quiet_rest(survey: &Survey, half: Half) -> Option<Chart> {
    let of = |axes: &[&AxisFigures]| {
        let densities: Vec<Density<'_>> = axes
            .iter()
            .map(|a| Density {
                name: a.axis.words().to_owned(),
                ink: Ink::of(a.axis),
                dash: Dash::of(a.axis.half()),
                hz: &a.density.hz,
                density: &a.density.counts2_per_hz,
            })
            .collect();
        spectrum(format!("Noise density, {} half", half.key()), "counts²/Hz", &densities)
    };
    let every: Vec<&AxisFigures> =
        survey.axes.iter().filter(|a| !a.density.hz.is_empty()).collect();
    let axes: Vec<&AxisFigures> = every.iter().copied().filter(|a| a.axis.half() == half).collect();
    if axes.is_empty() {
        return None;
    }
    let shared = of(&every);
    let mut chart = Chart { x: shared.x, y: shared.y, ..of(&axes) };
    // Rounding adds 1/12 counts², spread over the band up to half the rate.
    let floor = Some(1.0 / 12.0 / chart.x.range[1]).filter(|f| *f > chart.y.range[0]);
    chart.mark(On::Y, floor, "rounding", Ink::Soft, Dash::Dotted);
    let line =
        axes.iter().filter_map(|a| strongest(a)).max_by(|a, b| a.amplitude.total_cmp(&b.amplitude));
    if let Some(line) = line {
        let label = format!("{}\u{a0}Hz", number(line.hz, 1));
        chart.mark(On::X, Some(line.hz), &label, Ink::Accent, Dash::Dotted);
    }
    Some(chart)
}

/// The strongest line that noise alone would hardly show.
pub fn strongest(axis: &AxisFigures) -> Option<&SpectrumLine> {
    let sure = axis.lines.iter().filter(|line| line.false_alarm < 1e-3);
    sure.max_by(|a, b| a.amplitude.total_cmp(&b.amplitude))
}

/// How often each code came: first code and count of each bar, `step` codes wide, ascending.
///
/// Cost: O(bars).
pub fn histogram(title: String, bars: &[(i32, u64)], step: i32) -> Chart {
    let first = bars.first().map_or(0.0, |b| f64::from(b.0));
    let last = bars.last().map_or(1.0, |b| f64::from(b.0.saturating_add(step)));
    let most = bars.iter().map(|b| b.1).max().unwrap_or(0);
    let all = bars.iter().map(|b| b.1).sum::<u64>().max(1);
    let x = Axis::new("code", "counts", [first - 1.0, last]);
    let y = Axis::new("samples", "", [0.0, most.max(1) as f64 * 1.08]);
    let mut chart = Chart::new(title, x, y);
    if most == 0 {
        chart.missing = Some("nothing seen");
    }
    let bar = |&(code, n): &(i32, u64)| {
        let share = number(n as f64 / all as f64 * 100.0, 1);
        let codes = match step {
            1 => code.to_string(),
            step => format!("{code} to {}", code.saturating_add(step - 1)),
        };
        let x = [f64::from(code) - 0.5, f64::from(code.saturating_add(step)) - 0.5];
        Bar { x, y: [0.0, n as f64], words: format!("{codes} counts: {n} samples, {share} %") }
    };
    chart.items.push(Item::Bars(Bars { bars: bars.iter().map(bar).collect(), ink: Ink::Main }));
    chart
}

/// How far averages that follow one another differ, over the time that is averaged: Allan deviations,
/// with their 95 % interval where one axis stands alone.
///
/// Cost: O(points).
pub fn allan(title: String, axes: &[(AxisId, &[AllanPoint])]) -> Chart {
    let all = || axes.iter().flat_map(|(_, points)| points.iter());
    let over = |values: &mut dyn Iterator<Item = f64>| {
        let usable = values.filter(|v| v.is_finite() && *v > 0.0);
        usable.fold([f64::INFINITY, 0.0], |[low, high], v: f64| [low.min(v), high.max(v)])
    };
    let times = over(&mut all().map(|p| p.tau_s));
    let alone = axes.len() == 1;
    let values = over(&mut all().flat_map(|p| {
        let d = p.deviation;
        let ends = if alone { [d.low, d.high] } else { [d.value; 2] };
        ends.into_iter().chain([d.value])
    }));
    let x = Axis::log("averaging time", "s", [times[0] * 0.9, times[1] * 1.1]);
    let y = Axis::log("Allan deviation", "counts", [values[0] * 0.7, values[1] * 1.4]);
    let mut chart = Chart::new(title, x, y);
    if times[0] > times[1] || values[0] > values[1] {
        chart.missing = Some("no rest is long enough");
        return chart;
    }
    for (axis, points) in axes {
        if alone {
            let places =
                points.iter().map(|p| [p.tau_s, p.deviation.low, p.deviation.high]).collect();
            chart.items.push(Item::Band(Band { places, ink: Ink::Faint }));
        }
        let points = points.iter().map(|p| [p.tau_s, p.deviation.value]).collect();
        let name = if alone { String::new() } else { axis.words().to_owned() };
        let ink = if alone { Ink::Main } else { Ink::of(*axis) };
        let dash = if alone { Dash::Whole } else { Dash::of(axis.half()) };
        chart.items.push(Item::Line(Line { name, points, ink, dash, ..Line::default() }));
    }
    chart
}
