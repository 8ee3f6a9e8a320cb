//! The quiet rest: noise density by half, and the figures of every axis.
use super::travel::stroke;
use super::{card, figure, figures, halves};
use crate::emit::figures::{Anchor, Scale, Svg, round_step};
use crate::emit::markup::{Html, tag};
use crate::emit::meta::Report;
use crate::measure::number;
use crate::rig::Half;
use crate::survey::{AxisFigures, SpectrumLine};

/// Most points drawn of one density.
const POINTS: usize = 360;

/// Densities of both halves side by side, then one row an axis.
pub fn write(report: &Report<'_>, out: &mut Html) {
    if report.survey.axes.is_empty() {
        return;
    }
    let range = Range::of(&report.survey.axes);
    let mut body = Html::EMPTY;
    if let Some(range) = range {
        body.push(halves(Half::ALL.into_iter().filter_map(|half| of_half(report, half, range))));
    }
    body.push(axes(report));
    card(out, "Noise in the quiet rest", body);
}

/// The densities of a half in one picture, where it has any.
fn of_half(report: &Report<'_>, half: Half, range: Range) -> Option<Html> {
    let axes = report.survey.axes.iter();
    let axes: Vec<&AxisFigures> =
        axes.filter(|a| a.axis.half() == half && !a.density.hz.is_empty()).collect();
    let words = format!(
        "{} half: noise density in counts²/Hz; dots: what rounding to whole counts adds by itself",
        half.key()
    );
    (!axes.is_empty()).then(|| figure(density(&axes, range), &words))
}

/// What all densities share: highest frequency, lowest and highest decade.
#[derive(Clone, Copy)]
struct Range {
    top_hz: f64,
    decades: [f64; 2],
}

impl Range {
    fn of(axes: &[AxisFigures]) -> Option<Range> {
        let usable = |d: f64| d.is_finite() && d > 0.0;
        let all = axes.iter().flat_map(|a| a.density.counts2_per_hz.iter().copied());
        let (low, high) = all
            .filter(|&d| usable(d))
            .fold((f64::INFINITY, 0.0f64), |(low, high), d| (low.min(d), high.max(d)));
        let top_hz = axes
            .iter()
            .flat_map(|a| a.density.hz.iter().copied())
            .filter(|&hz| usable(hz))
            .fold(0.0, f64::max);
        if !(top_hz > 0.0 && low.is_finite()) {
            return None;
        }
        // At most six decades: what lies below says nothing.
        let top = high.log10().ceil();
        let bottom = low.log10().floor().max(top - 6.0).min(top - 1.0);
        Some(Range { top_hz, decades: [bottom, top] })
    }
}

fn density(axes: &[&AxisFigures], range: Range) -> Html {
    let mut svg = Svg::new([420.0, 204.0], "noise density against frequency");
    let x = Scale { from: [0.0, 52.0], to: [range.top_hz, 402.0] };
    let y = Scale { from: [range.decades[0], 180.0], to: [range.decades[1], 24.0] };
    let mut decade = range.decades[0];
    while decade <= range.decades[1] {
        svg.line([52.0, y.px(decade)], [402.0, y.px(decade)], "grid");
        svg.text([46.0, y.px(decade) + 4.5], Anchor::End, "", &power_of_ten(decade));
        decade += 1.0;
    }
    let step = round_step(range.top_hz, 6);
    let mut hz = 0.0;
    while hz <= range.top_hz {
        svg.line([x.px(hz), 24.0], [x.px(hz), 180.0], "grid");
        svg.text([x.px(hz), 198.0], Anchor::Middle, "", &number(hz, usize::from(step < 1.0)));
        hz += step;
    }
    svg.text([46.0, 198.0], Anchor::End, "", "Hz");
    // Rounding adds 1/12 counts², spread over the band up to half the rate.
    let floor = (1.0f64 / 12.0 / range.top_hz).log10();
    if (range.decades[0]..=range.decades[1]).contains(&floor) {
        svg.line([52.0, y.px(floor)], [402.0, y.px(floor)], "floor");
    }
    let mut name_x = 402.0;
    for axis in axes.iter().rev() {
        svg.curve(&thinned(axis, x, y), &stroke(axis.axis));
        let name = axis.axis.words();
        svg.text([name_x, 13.0], Anchor::End, "name", name);
        let width = name.chars().count() as f64 * 6.7;
        let from = name_x - width - 22.0;
        svg.line([from, 9.0], [from + 18.0, 9.0], &stroke(axis.axis));
        name_x = from - 14.0;
    }
    if let Some(line) = axes.iter().filter_map(|a| strongest(a)).max_by(by_amplitude) {
        let at = x.held(line.hz);
        svg.line([at, 20.0], [at, 28.0], "mark");
        let (anchor, shift) = if at > 320.0 { (Anchor::End, -5.0) } else { (Anchor::Start, 5.0) };
        let words = format!("{}\u{a0}Hz", number(line.hz, 1));
        svg.text([at + shift, 36.0], anchor, "over", &words);
    }
    svg.finish()
}

fn by_amplitude(a: &&SpectrumLine, b: &&SpectrumLine) -> std::cmp::Ordering {
    a.amplitude.total_cmp(&b.amplitude)
}

/// The strongest line that noise alone would hardly show.
fn strongest(axis: &AxisFigures) -> Option<&SpectrumLine> {
    axis.lines.iter().filter(|line| line.false_alarm < 1e-3).max_by(by_amplitude)
}

/// The greatest density of each group of neighbours, so that no line is lost in the thinning.
fn thinned(axis: &AxisFigures, x: Scale, y: Scale) -> Vec<[f64; 2]> {
    let pairs: Vec<(f64, f64)> = axis
        .density
        .hz
        .iter()
        .copied()
        .zip(axis.density.counts2_per_hz.iter().copied())
        .filter(|(hz, d)| hz.is_finite() && d.is_finite() && *d > 0.0)
        .collect();
    let group = pairs.len().div_ceil(POINTS).max(1);
    pairs
        .chunks(group)
        .filter_map(|chunk| chunk.iter().max_by(|a, b| a.1.total_cmp(&b.1)))
        .map(|&(hz, d)| [x.px(hz), y.held(d.log10())])
        .collect()
}

/// 10 with a raised exponent.
fn power_of_ten(exponent: f64) -> String {
    let digits = ["⁰", "¹", "²", "³", "⁴", "⁵", "⁶", "⁷", "⁸", "⁹"];
    let mut text = String::from(if exponent < 0.0 { "10⁻" } else { "10" });
    for digit in format!("{:.0}", exponent.abs()).bytes() {
        text.push_str(digits.get(usize::from(digit.wrapping_sub(b'0'))).unwrap_or(&""));
    }
    text
}

fn axes(report: &Report<'_>) -> Html {
    let axes = &report.survey.axes;
    let names: Vec<(String, String)> =
        axes.iter().map(|a| (a.axis.key().to_owned(), a.axis.words().to_owned())).collect();
    let lines = axes.iter().filter_map(|a| Some((a, strongest(a)?))).map(|(a, line)| {
        let (hz, amplitude) = (number(line.hz, 1), number(line.amplitude, 2));
        format!("{} {hz}\u{a0}Hz with {amplitude}\u{a0}counts", a.axis.words())
    });
    let lines: Vec<String> = lines.collect();
    let about = match lines.as_slice() {
        [] => "No axis has a line that noise alone would hardly show.".to_owned(),
        found => format!("Strongest lines: {}.", found.join("; ")),
    };
    figures::grid(report, "axes", &names, "Every axis")
        .then(tag("p").class("small soft").line(about))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn exponents_are_raised() {
        assert_eq!(power_of_ten(-3.0), "10⁻³");
        assert_eq!(power_of_ten(0.0), "10⁰");
        assert_eq!(power_of_ten(12.0), "10¹²");
    }
}
