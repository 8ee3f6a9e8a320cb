//! Charts of a healthy built survey have their axes and items; what is missing leaves them whole.
use super::*;
use crate::emit::built::{of, whole};
use crate::findings::built::healthy;
use crate::segment::{Pace, Pull, Rows};

/// Values of both axes and of every item.
fn values(chart: &Chart) -> Vec<f64> {
    let mut all: Vec<f64> = chart.x.range.into_iter().chain(chart.y.range).collect();
    for item in &chart.items {
        match item {
            Item::Line(line) => all.extend(line.points.iter().flatten()),
            Item::Band(band) => all.extend(band.places.iter().flatten()),
            Item::Points(points) => all.extend(points.at.iter().flatten()),
            Item::Mark(mark) => all.push(mark.at),
            Item::Bars(bars) => bars.bars.iter().for_each(|b| all.extend(b.x.iter().chain(&b.y))),
            Item::Circle(circle) => all.extend(circle.centre.iter().chain([&circle.radius])),
        }
    }
    all
}

fn lines(chart: &Chart) -> Vec<&Line> {
    let items = chart.items.iter();
    items.flat_map(|item| if let Item::Line(line) = item { Some(line) } else { None }).collect()
}

fn marks(chart: &Chart) -> Vec<&str> {
    let items = chart.items.iter();
    items
        .flat_map(|item| if let Item::Mark(mark) = item { Some(&*mark.label) } else { None })
        .collect()
}

/// Axes as "label, unit over label, unit", and that everything in the chart can be drawn.
fn check(chart: &Chart, caption: &str) {
    assert_eq!(chart.caption(), caption, "{}", chart.title);
    assert!(values(chart).iter().all(|v| v.is_finite()), "{chart:?}");
    assert!(!chart.items.is_empty() && chart.missing.is_none(), "{}", chart.title);
    let text = svg(chart, [420.0, 200.0]).into_string();
    assert!(!text.contains("NaN") && !text.contains("inf"), "{text}");
}

const DIRECTIONS: [&str; 4] = ["right", "up", "left", "down"];

#[test]
fn a_stick_has_reach_rim_and_rests() {
    let whole = whole();
    let stick = &whole.built.survey.sticks[1];
    let chart = reach(&stick.profile, Half::Right, Some(0.025), DIRECTIONS);
    check(&chart, "deviation from the mean reach over direction");
    assert_eq!((chart.x.range, chart.y.range), ([0.0, 360.0], [-8.0, 8.0]));
    assert_eq!(marks(&chart), ["limit", ""]);
    let line = lines(&chart)[0];
    assert_eq!((line.points.len(), line.dash), (73, Dash::Dashed), "the turn is closed");
    assert!(matches!(&chart.items[0], Item::Band(band) if band.places.len() == 73));
    assert_eq!(chart.x.names[1].1, "90° up");
    let chart = outline(&stick.profile, Half::Left);
    check(&chart, "x and y, counts");
    assert!(chart.square && lines(&chart)[0].round);
    let chart = rests(Half::Left, &stick.releases, [512.0, 512.0], Some(16.0), Some(20.0));
    check(&chart, "x and y, counts");
    let circles = chart.items.iter().filter(|i| matches!(i, Item::Circle(_))).count();
    assert_eq!((circles, chart.square), (2, true));
    let points = |item: &Item| matches!(item, Item::Points(p) if p.tails_deg.len() == p.at.len());
    assert!(chart.items.iter().any(points));
    assert!(chart.words.contains(&format!("{} releases, dead zone 16.0", stick.releases.len())));
    let far = rests(Half::Left, &stick.releases, [512.0, 512.0], Some(16.0), Some(400.0));
    assert_eq!(far.items.len(), 2, "a far limit is left out");
}

#[test]
fn the_scale_of_the_reach_gives_way_to_a_wild_gate() {
    let mut built = healthy();
    for (k, reach) in built.survey.sticks[0].profile.reach.iter_mut().enumerate() {
        *reach = 1.0 + 0.2 * (5.0 * k as f64).to_radians().cos();
    }
    let chart = reach(&built.survey.sticks[0].profile, Half::Left, None, DIRECTIONS);
    assert_eq!(chart.y.range, [-50.0, 50.0]);
}

#[test]
fn a_zone_leaks_less_where_it_takes_more_travel() {
    let whole = whole();
    let zone = &whole.solution.zones[0];
    let chart = leak(zone, 12.0);
    check(&chart, "upper bound of leaking releases over dead zone, counts");
    assert_eq!((chart.y.scale, chart.y.range), (Scale::Log, [LEAST_LEAK, 100.0]));
    assert_eq!(marks(&chart), ["proposed", "by hand", "promised"]);
    assert_eq!(marks(&leak(zone, zone.proposed_counts)), ["proposed", "promised"]);
    let read = chart.read([12.2, 1.0], [1.0, 1.0]).expect("the curve");
    assert_eq!(read.at, [[12.0, zone.leak[11].leak_upper * 100.0]]);
    assert!(read.words.contains("12.0\u{a0}counts (3.0\u{a0}% of travel)"), "{}", read.words);
    assert!(chart.words.contains("Dead zone 12.0 counts loses"));
}

#[test]
fn outputs_are_those_of_the_arithmetic() {
    let run = |raw: u16| (i32::from(raw) * 32 - 16_000) as i16;
    let inputs = || [Output { axis: AxisId::Lx, run: Box::new(run) }];
    let chart = output("Output of left x".into(), &inputs(), [0, 1023]);
    check(&chart, "output over raw code, counts");
    assert_eq!(lines(&chart)[0].points.len(), 1024, "every code");
    assert!(lines(&chart)[0].points.iter().all(|p| p[1] == f64::from(run(p[0] as u16))));
    assert!(!lines(&chart)[0].treads && chart.read([500.2, 0.0], [1.0, 1.0]).is_some());
    let near = output("Output of left x near the rest".into(), &inputs(), [490, 510]);
    assert!(lines(&near)[0].treads);
    let wide = output("Output".into(), &inputs(), [0, 65_535]);
    assert!(lines(&wide)[0].points.len() <= 1026 && wide.x.range == [0.0, 65_535.0]);
    assert_eq!(lines(&wide)[0].points.last().map(|p| p[0]), Some(65_535.0));
    let shifts = [0.0, 4.0, 12.0].map(|lag_ms| Shift { lag_ms, noise: 2.0 - lag_ms / 10.0 });
    let chart = lag(AxisId::Lx, &shifts, 1);
    check(&chart, "noise, counts rms over lag, ms");
    assert!(chart.words.contains("1.60 counts and 4.0 ms now"), "{}", chart.words);
    assert_eq!(chart.x.scale, Scale::Root);
}

#[test]
fn noise_has_a_density_a_histogram_and_an_allan_deviation() {
    let mut survey = healthy().survey;
    let chart = in_quiet_rest(&survey, Half::Left).expect("densities");
    check(&chart, "density, counts²/Hz over frequency, Hz");
    let named: Vec<&str> = lines(&chart).iter().map(|l| l.name.as_str()).collect();
    let of_left = survey.axes.iter().filter(|a| a.axis.half() == Half::Left);
    assert_eq!(named, of_left.map(|a| a.axis.words()).collect::<Vec<_>>());
    let right = in_quiet_rest(&survey, Half::Right).expect("densities");
    assert_eq!((&right.x, &right.y), (&chart.x, &chart.y), "halves can be compared");
    survey.axes.iter_mut().for_each(|a| a.density = Default::default());
    assert!(in_quiet_rest(&survey, Half::Left).is_none());
    let chart = histogram("Histogram of left x".into(), &[(510, 3), (511, 9), (512, 4)], 1);
    check(&chart, "samples over code, counts");
    let read = chart.read([511.2, 0.0], [1.0, 1.0]).expect("a bar");
    assert_eq!(read.words, "511 counts: 9 samples, 56.2 %");
    let points: Vec<_> = [(0.004, 0.7), (0.016, 0.3), (0.064, 0.2)].map(point).into();
    let chart = allan("Allan deviation of left x".into(), &[(AxisId::Lx, &points)]);
    check(&chart, "Allan deviation, counts over averaging time, s");
    assert!(matches!(chart.items[0], Item::Band(_)) && chart.x.scale == Scale::Log);
    let two = [(AxisId::Lx, &points[..]), (AxisId::Rx, &points[..])];
    assert_eq!(lines(&allan("Allan deviation".into(), &two))[1].dash, Dash::Dashed);
}

fn point((tau_s, value): (f64, f64)) -> crate::measure::stability::AllanPoint {
    let deviation = crate::measure::Estimate { value, low: value * 0.9, high: value * 1.1, n: 100 };
    crate::measure::stability::AllanPoint { tau_s, deviation }
}

#[test]
fn contacts_and_the_stream_have_their_bars() {
    let survey = healthy().survey;
    let chart = bounce(&survey.buttons[0], Some(10.0));
    check(&chart, "press and release over bounce, ms");
    assert_eq!((chart.y.names.len(), marks(&chart).len()), (2, 1));
    let chart = episodes("south", &[0.4, 2.5, 2.9, 40.0], Some(8.0));
    check(&chart, "episodes over length as sampled, ms");
    let Item::Bars(bars) = &chart.items[0] else { panic!("bars first: {chart:?}") };
    assert_eq!(bars.bars.iter().map(|b| b.y[1]).sum::<f64>(), 4.0, "none is lost");
    assert_eq!(marks(&chart), ["window"]);
    let chart = intervals(&survey.stream, Some(1.5)).expect("a clock");
    check(&chart, "interval, ms");
    assert!(marks(&chart).contains(&"limit"));
}

#[test]
fn triggers_have_their_strokes_and_inputs_their_travel() {
    let whole = whole();
    let (survey, trim) = (&whole.built.survey, &whole.solution.trim);
    let rows = |first, end| Rows { first, end };
    let pull = |at: usize| Pull {
        half: Half::Left,
        pace: Pace::Slow,
        up: rows(at, at + 400),
        hold: rows(at + 400, at + 500),
        down: rows(at + 500, at + 900),
        settled: None,
    };
    let codes: Vec<i32> = (0..2000).map(|k| 40 + (k % 900)).collect();
    let t_us: Vec<u64> = (0..2000).map(|k| k * 4000).collect();
    let pulls = [pull(0), pull(1500)];
    let found = strokes_of(&pulls, &codes, &t_us);
    assert_eq!(found.len(), 1, "the last one ends behind the columns");
    assert!(found[0].len() <= 240 && found[0][0] == [0.0, 40.0]);
    let chart = strokes(&survey.triggers[0], &found, Some(trim));
    check(&chart, "reading, counts over time, s");
    assert_eq!(marks(&chart), ["", "full", "pressed from"]);
    let chart = travel(survey, trim);
    check(&chart, "input over raw code, counts");
    assert_eq!(chart.x.range, [0.0, full_scale(survey.raw_bits)]);
    assert_eq!(chart.y.names.len(), survey.axes.len());
}

/// One of every kind, with gaps in each.
pub fn every_kind() -> Chart {
    let axis = |name: &str| Axis::new(name, "counts", [-10.0, 10.0]);
    let mut chart = Chart { square: true, ..Chart::new("Every kind", axis("x"), axis("y")) };
    let gap = f64::NAN;
    let points = vec![[-9.0, 1.0], [-5.0, 2.0], [0.0, gap], [4.0, 3.0], [9.0, f64::INFINITY]];
    chart.items.push(Item::Line(Line { name: "line".into(), points, ..Line::default() }));
    let places = vec![[-9.0, 0.0, 1.0], [-5.0, 0.0, 2.0], [0.0, gap, 1.0], [4.0, 0.0, 1.0]];
    chart.items.push(Item::Band(Band { places, ink: Ink::Faint }));
    let at = vec![[1.0, 1.0], [gap, 2.0]];
    chart.items.push(Item::Points(Points { at, tails_deg: vec![90.0, gap], ..Points::default() }));
    chart.mark(On::X, Some(3.0), "mark", Ink::Accent, Dash::Whole);
    chart.mark(On::Y, Some(gap), "none", Ink::Limit, Dash::Dashed);
    let bar = |x: f64| Bar { x: [x, x + 1.0], y: [0.0, 2.0], words: "bar".into() };
    chart.items.push(Item::Bars(Bars { bars: vec![bar(-8.0), bar(gap)], ink: Ink::Main }));
    let (centre, ink, dash) = ([0.0, 0.0], Ink::Accent, Dash::Whole);
    for radius in [4.0, gap] {
        chart.items.push(Item::Circle(Circle { centre, radius, ink, dash, filled: true }));
    }
    chart
}

#[test]
fn every_kind_of_item_is_written_and_nothing_that_is_not_finite() {
    let text = svg(&every_kind(), [300.0, 300.0]).into_string();
    assert!(!text.contains("NaN") && !text.contains("inf"), "{text}");
    assert_eq!(text.matches("class=\"curve\"").count(), 3, "two pieces and the legend: {text}");
    assert_eq!(text.matches("class=\"spread\"").count(), 1);
    assert_eq!(text.matches("class=\"dot\"").count(), 1);
    assert_eq!(text.matches("class=\"mark\"").count(), 1);
    assert_eq!(text.matches("class=\"bar\"").count(), 1);
    assert_eq!(text.matches("class=\"zone\"").count(), 1);
    assert!(text.contains(">mark</text>") && !text.contains(">none</text>"));
    assert!(text.contains(">x, counts</text>") && text.contains(">y, counts</text>"));
}

#[test]
fn what_was_not_seen_is_said_in_the_picture() {
    let mut built = healthy();
    built.survey.sticks[0].profile.reach.fill(f64::NAN);
    built.survey.sticks[0].profile.raw_counts.fill(f64::NAN);
    built.survey.sticks[0].releases.clear();
    let whole = of(built);
    let stick = &whole.built.survey.sticks[0];
    let charts = [
        reach(&stick.profile, Half::Left, Some(0.025), DIRECTIONS),
        outline(&stick.profile, Half::Left),
        rests(Half::Left, &stick.releases, [0.0; 2], None, None),
        spectrum("Spectrum".into(), "counts/√Hz", &[]),
        histogram("Histogram".into(), &[], 1),
        allan("Allan deviation".into(), &[]),
        strokes(&whole.built.survey.triggers[0], &[], None),
    ];
    for chart in charts {
        let words = chart.missing.expect("a reason");
        let text = svg(&chart, [300.0, 200.0]).into_string();
        assert!(text.contains(words) && !text.contains("NaN"), "{text}");
        assert!(chart.read([1.0, 1.0], [1.0, 1.0]).is_none_or(|r| !r.words.contains('–')));
    }
}

#[test]
fn axes_are_always_a_range_that_can_be_drawn() {
    for range in [[0.0, 0.0], [5.0, -5.0], [f64::NAN, 1.0], [0.0, f64::INFINITY]] {
        let axis = Axis::new("a", "", range);
        assert!(axis.range[0] < axis.range[1], "{range:?}");
        let axis = Axis::log("a", "", range);
        assert!(axis.range[0] > 0.0 && axis.range[0] < axis.range[1], "{range:?}");
        assert!(axis.ends().iter().all(|e| e.is_finite()));
    }
    let axis = Axis { scale: Scale::Root, ..Axis::new("a", "", [0.0, 9.0]) };
    assert_eq!((axis.place(9.0), axis.value(axis.place(2.25))), (3.0, 2.25));
}
