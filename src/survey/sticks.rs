//! Sticks: centre, scatter and hysteresis from the releases, form and reach from the turns.
use super::why::said;
use super::{Profile, ReleaseRest, Source, StickFigures, returns, short};
use crate::measure::centre::{self, Rested};
use crate::measure::gate::{self, GateFigures, Turn};
use crate::measure::histogram::CodeHistogram;
use crate::measure::interval;
use crate::measure::{Estimate, Measured, Reading, Shortage, Span};
use crate::rig::Half;
use crate::segment::{Kind, Part, Release, Turning};
use crate::units::Unit;

/// Prompted pushes needed for a rotation.
const PUSHES_MIN: usize = 8;
/// A push farther than this from what was asked answers another prompt, degrees.
const PUSH_OFF_DEG: f64 = 30.0;
/// Most that a stick is turned: farther off it would answer for the next of eight directions.
const PUSH_TURNED_DEG: f64 = 22.5;

/// What the turns say of the stick's two axes, for the axes' own figures.
pub(super) struct Gate {
    pub(super) low: Measured<[Reading; 2]>,
    pub(super) high: Measured<[Reading; 2]>,
    pub(super) clipped: Measured<[Reading; 2]>,
}

pub(super) fn figures(source: Source, half: Half) -> (StickFigures, Gate) {
    let releases = rests(source, half);
    let rested: Vec<Rested> =
        releases.iter().map(|r| Rested { at: r.at, from_deg: r.from_deg }).collect();
    let span = source.span_of(source.segments.releases(half).iter().map(|r| r.settled));
    let counts = |e: Estimate| e.over(span, Unit::Counts);
    let part = Part::Stick(half);
    let of_pushes =
        |s: Shortage| said(source, (Kind::Release, part), rested.len(), of_stick(s, half));
    let found = centre::centre(&rested).map_err(of_pushes);
    let middle = match &found {
        Ok(centre) => centre.at(),
        Err(_) => resting_place(source, half),
    };
    let centre = match found {
        Ok(c) => [Ok(counts(c.x)), Ok(counts(c.y))],
        Err(s) => [Err(s.clone()), Err(s)],
    };
    let hysteresis = centre::hysteresis(&rested)
        .map(|side| side.map(|h| counts(h.size)).map_err(|s| of_stick(s, half)));
    let returns = returns::motions(source, half);
    let stick = StickFigures {
        half,
        centre,
        scatter: centre::scatter(&rested).map(counts).map_err(of_pushes),
        hysteresis,
        releases,
        overshoot: returns.overshoot,
        settling_ms: returns.settling_ms,
        press_shift: returns::press_shift(source, half),
        ..unrolled(half, said(source, (Kind::Roll, part), 0, none_of_turns(half)))
    };
    let turns: Vec<Turn> = source
        .segments
        .turns(half)
        .map(|(way, rows)| Turn {
            rows: rows.first..rows.end,
            clockwise: way == Turning::Clockwise,
        })
        .collect();
    let [x, y] = half.stick();
    let (Some(x), Some(y)) = (source.tracks.axis(x), source.tracks.axis(y)) else {
        return with_gate(stick, Err(none_of_turns(half)), source.whole(), None);
    };
    let span = source.span_of(source.segments.turns(half).map(|(_, rows)| rows));
    let figures = gate::gate(x, y, &turns, middle)
        .map_err(|s| said(source, (Kind::Roll, part), turns.len(), of_stick(s, half)));
    with_gate(stick, figures, span, pushed_rotation(source, half))
}

/// Joins what the gate says to what the releases say.
fn with_gate(
    stick: StickFigures,
    figures: Measured<GateFigures>,
    span: Span,
    pushed: Option<Reading>,
) -> (StickFigures, Gate) {
    let figures = match figures {
        Ok(figures) => figures,
        Err(s) => {
            let gate = Gate { low: Err(s.clone()), high: Err(s.clone()), clipped: Err(s.clone()) };
            let mut stick = StickFigures {
                centre: stick.centre,
                releases: stick.releases,
                scatter: stick.scatter,
                hysteresis: stick.hysteresis,
                overshoot: stick.overshoot,
                settling_ms: stick.settling_ms,
                press_shift: stick.press_shift,
                ..unrolled(stick.half, s)
            };
            if let Some(rotation) = pushed {
                stick.rotation_deg = Ok(rotation);
            }
            return (stick, gate);
        }
    };
    let half = stick.half;
    let of = |figure: Measured<Estimate>, unit| -> Measured {
        figure.map(|e| e.over(span, unit)).map_err(|s| of_stick(s, half))
    };
    let pair = |pair: [Estimate; 2], unit| Ok(pair.map(|e| e.over(span, unit)));
    let gate = Gate {
        low: pair(figures.low, Unit::Counts),
        high: pair(figures.high, Unit::Counts),
        clipped: pair(figures.clipped.map(|c| c.share), Unit::Fraction),
    };
    let stick = StickFigures {
        outer_reach: Ok(figures.radius.over(span, Unit::Counts)),
        roundness: of(figures.roundness, Unit::Fraction),
        mzci: of(figures.mzci, Unit::Fraction),
        orthogonality_deg: of(figures.orthogonality_deg, Unit::Degrees),
        rotation_deg: pushed.map_or_else(|| of(figures.rotation_deg, Unit::Degrees), Ok),
        coverage: Ok(figures.coverage.over(span, Unit::Fraction)),
        profile: Profile {
            reach: figures.profile.reach.to_vec(),
            spread: figures.profile.spread.to_vec(),
            raw_counts: figures.profile.raw_counts.to_vec(),
        },
        shape: figures.shape.map_err(|s| of_stick(s, half)),
        deficits: figures.deficits,
        direction_difference: of(figures.direction_difference, Unit::Fraction),
        ..stick
    };
    (stick, gate)
}

/// A stick of which no turns are known.
fn unrolled(half: Half, shortage: Shortage) -> StickFigures {
    let none: fn(&Shortage) -> Measured = |s| Err(s.clone());
    let s = &shortage;
    StickFigures {
        half,
        centre: [none(s), none(s)],
        releases: Vec::new(),
        scatter: none(s),
        hysteresis: [none(s), none(s)],
        outer_reach: none(s),
        roundness: none(s),
        mzci: none(s),
        orthogonality_deg: none(s),
        rotation_deg: none(s),
        coverage: none(s),
        profile: Profile::default(),
        shape: Err(s.clone()),
        deficits: Vec::new(),
        direction_difference: none(s),
        overshoot: none(s),
        settling_ms: none(s),
        press_shift: [none(s), none(s)],
    }
}

fn none_of_turns(half: Half) -> Shortage {
    let what = format!("whole turns of the {} stick", half.key());
    short(&what, 0, 6, "roll the stick along its gate, three slow turns each way")
}

/// The shortage with the stick named.
fn of_stick(mut shortage: Shortage, half: Half) -> Shortage {
    let stick = format!("the {} stick", half.key());
    if shortage.what.contains("this stick") {
        shortage.what = shortage.what.replace("this stick", &stick);
    } else if !shortage.what.ends_with(&stick) {
        shortage.what = format!("{} of {stick}", shortage.what);
    }
    shortage
}

/// Where each release came to rest.
fn rests(source: Source, half: Half) -> Vec<ReleaseRest> {
    let [x, y] = half.stick();
    let (Some(x), Some(y)) = (source.tracks.axis(x), source.tracks.axis(y)) else {
        return Vec::new();
    };
    let rest = |release: &Release| {
        Some(ReleaseRest {
            at: [level(release.settled.of(x))?, level(release.settled.of(y))?],
            from_deg: release.direction_deg,
            t_us: source.span(release.settled).start_us,
        })
    };
    source.segments.releases(half).iter().filter_map(rest).collect()
}

/// Centre to measure a gate from when there are too few releases: the longest quiet rest, else the
/// level at which the stick was most often still.
fn resting_place(source: Source, half: Half) -> [f64; 2] {
    half.stick().map(|axis| {
        let column = source.tracks.axis(axis).unwrap_or(&[]);
        let quiet = source.segments.longest_rest().and_then(|rest| level(rest.rows.of(column)));
        quiet
            .or_else(|| source.segments.levels.axis(axis).map(|l| l.rest))
            .unwrap_or(f64::from(source.tracks.full_scale()) / 2.0)
    })
}

/// Mean of codes without those farther than five robust σ from their median; `None` without codes.
pub(super) fn level(codes: &[i32]) -> Option<f64> {
    let tally = CodeHistogram::of(codes)?;
    let (middle, way) = (tally.median(), 5.0 * tally.sigma().max(0.5));
    let near = tally.pairs().filter(|(code, _)| (f64::from(*code) - middle).abs() <= way);
    let (sum, n) = near.fold((0.0, 0.0), |(sum, n), (code, count)| {
        (sum + f64::from(code) * count as f64, n + count as f64)
    });
    (n > 0.0).then(|| sum / n)
}

/// Rotation of the readings against prompted pushes: mean of (push − prompt), counter-clockwise in the raw
/// readings.
///
/// Needs eight pushes, and three quarters of all, that answered their prompts: within 30° of the median
/// (a person pushes the wrong way now and then); ± t·s/√n of those. Directions are those of the raw
/// readings with the rig's signs taken off; without a rig the signs are those under which most answer.
fn pushed_rotation(source: Source, half: Half) -> Option<Reading> {
    let releases = source.segments.releases(half);
    let part = source.rig.sticks.iter().find(|part| part.half == half);
    let under = |flips: [bool; 2]| (answered(releases, flips), flips[0] != flips[1]);
    let (off, mirrored) = match part {
        Some(part) => under([part.x_inverted, part.y_inverted]),
        None => [[false, false], [true, false], [false, true], [true, true]]
            .map(under)
            .into_iter()
            .reduce(|best, next| if next.0.len() > best.0.len() { next } else { best })?,
    };
    let asked = releases.iter().filter(|release| release.prompted_deg.is_some()).count();
    if off.len() < PUSHES_MIN || 4 * off.len() < 3 * asked {
        return None;
    }
    // A turn runs the other way round in the raw readings where one of the axes is inverted.
    let off: Vec<f64> = if mirrored { off.into_iter().map(|off| -off).collect() } else { off };
    let span = source.span_of(releases.iter().map(|r| r.push));
    Some(interval::mean(&off).ok()?.over(span, Unit::Degrees))
}

/// Departures of the pushes from their prompts under some signs of the axes, degrees: those within 30°
/// of their median, where that is itself nearer to the prompt than to the next one (22.5°).
fn answered(releases: &[Release], [flip_x, flip_y]: [bool; 2]) -> Vec<f64> {
    let off: Vec<f64> = releases
        .iter()
        .filter_map(|release| {
            let (sin, cos) = release.direction_deg.to_radians().sin_cos();
            let seen = (if flip_y { -sin } else { sin }).atan2(if flip_x { -cos } else { cos });
            let off = seen.to_degrees() - release.prompted_deg?;
            Some((off + 180.0).rem_euclid(360.0) - 180.0)
        })
        .collect();
    let usual = crate::measure::robust::median(&off);
    if usual.is_nan() || usual.abs() > PUSH_TURNED_DEG {
        return Vec::new();
    }
    off.into_iter().filter(|off| (off - usual).abs() <= PUSH_OFF_DEG).collect()
}
