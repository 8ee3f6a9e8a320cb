//! What a stick does right after it is let go, and while its own switch is pressed.
use super::sticks::level;
use super::{Source, short};
use crate::measure::centre::{self, ReturnMotion, SettleRule};
use crate::measure::robust::median;
use crate::measure::{Estimate, Measured, Reading, Shortage};
use crate::rig::Half;
use crate::segment::{Press, Release, Rows};
use crate::units::Unit;

/// Swing and settling of the releases.
pub(super) struct Returns {
    pub(super) overshoot: Measured,
    pub(super) settling_ms: Measured,
}

/// Frames a second from which a swing of a let-go stick is told: four a period of 25 Hz, the quickest of a
/// thumbstick's (common practice).
const TELLS_HZ: f64 = 100.0;

/// Overshoot and settling time over the releases (Hodges–Lehmann, n = releases).
///
/// The interval of the settling time is wider by what the rows at its ends leave open: all releases may be
/// subject to that alike. Below 95 frames a second ([`TELLS_HZ`], less 5 % for the board's clock) neither is told.
pub(super) fn motions(source: Source, half: Half) -> Returns {
    let releases = source.segments.releases(half);
    let motions: Vec<ReturnMotion> =
        releases.iter().filter_map(|release| motion(source, half, release)).collect();
    let rows = |release: &Release| Rows { first: release.let_go, end: release.settled.end };
    let span = source.span_of(releases.iter().map(rows));
    let rate_hz = 1e6 / source.tracks.period_us.max(1.0);
    let over = |pick: fn(&ReturnMotion) -> f64, unit: Unit, most: f64| -> Measured {
        if rate_hz < 0.95 * TELLS_HZ {
            let what = format!("frames a second to tell the swing of the {} stick", half.key());
            let advice = "print more often, or remove the delay in the loop";
            return Err(short(&what, rate_hz as usize, TELLS_HZ as usize, advice));
        }
        let values: Vec<f64> = motions.iter().map(pick).collect();
        let found = centre::location(&values).ok_or_else(|| {
            let what = format!("clean releases of the {} stick", half.key());
            short(&what, values.len(), 4, "push the stick to its gate and let it snap back")
        })?;
        // Neither can be negative, nor can a swing exceed the way.
        let Estimate { value, low, high, n } = found;
        Ok(Estimate { value, low: low.clamp(0.0, value), high: high.min(most), n }.over(span, unit))
    };
    let open_ms = median(&motions.iter().map(|m| m.settling_open_ms).collect::<Vec<_>>());
    let opened = |mut settling: Reading| {
        settling.low = (settling.low - open_ms).max(0.0);
        settling.high += open_ms;
        settling
    };
    Returns {
        overshoot: over(|m| m.overshoot, Unit::Fraction, 1.0),
        settling_ms: over(|m| m.settling_ms, Unit::Millis, f64::INFINITY).map(opened),
    }
}

/// The pushed place is taken over this long before the let-go, µs.
const HELD_US: u64 = 60_000;

fn motion(source: Source, half: Half, release: &Release) -> Option<ReturnMotion> {
    let [x, y] = half.stick();
    let t_us = &source.tracks.t_us;
    let from_us = t_us.get(release.let_go)?.saturating_sub(HELD_US);
    let first = t_us.partition_point(|&t| t < from_us).max(release.push.first);
    let rows = Rows { first, end: release.settled.end };
    let (x, y) = (rows.of(source.tracks.axis(x)?), rows.of(source.tracks.axis(y)?));
    let (t_us, let_go) = (rows.of(t_us), release.let_go.checked_sub(first)?);
    let rule = SettleRule::for_bits(source.tracks.raw_bits);
    let rest =
        centre::settled(x.get(let_go..)?, y.get(let_go..)?, t_us.get(let_go..)?, rule).ok()?;
    centre::return_motion(x, y, t_us, let_go, &rest)
}

/// The reading before a press is taken from this long, µs, up to [`LEAD_US`] before it.
const BEFORE_US: u64 = 150_000;
/// Left out before and after the contact changes, µs: the thumb comes down before it closes.
const LEAD_US: u64 = 40_000;
/// Left out after the contact closes, µs.
const DOWN_US: u64 = 15_000;
/// Farthest from rest before the press, share of the travel: the thumb holds it aside.
const ASIDE: f64 = 0.1;

/// Shift of both axes while the stick's own switch is pressed.
pub(super) fn press_shift(source: Source, half: Half) -> [Measured; 2] {
    let none = |s: Shortage| [Err(s.clone()), Err(s)];
    let Some(index) = own_switch(source, half) else {
        let what = format!("name of the {} stick's own switch", half.key());
        return none(short(&what, 0, 1, "name it in the rig, such as \"left stick\""));
    };
    let presses = source
        .segments
        .buttons
        .iter()
        .find(|b| usize::from(b.index) == index)
        .map_or(&[][..], |b| &b.presses[..]);
    let pairs = presses.iter().filter_map(|press| levels(source, half, press));
    let (before, during): (Vec<[f64; 2]>, Vec<[f64; 2]>) = pairs.unzip();
    let span = source.span_of(presses.iter().map(|p| p.rows));
    match centre::press_shift(&before, &during) {
        Ok(shift) => [shift.x, shift.y].map(|e| Ok(e.over(span, Unit::Counts))),
        Err(s) => none(Shortage { what: format!("{} ({} stick)", s.what, half.key()), ..s }),
    }
}

/// The button that the rig names after the stick: "left stick", "press of the right stick".
fn own_switch(source: Source, half: Half) -> Option<usize> {
    let own = |name: &String| {
        let name = name.to_lowercase();
        name.contains(half.key()) && (name.contains("stick") || name.contains("thumb"))
    };
    source.rig.buttons.iter().position(own)
}

/// Level of both axes before and during one press; `None` when the stick was not at rest before it
/// or a stretch has fewer than three rows.
fn levels(source: Source, half: Half, press: &Press) -> Option<([f64; 2], [f64; 2])> {
    let t_us = &source.tracks.t_us;
    let (down, up) = (*t_us.get(press.rows.first)?, *t_us.get(press.rows.end)?);
    let row = |us: u64| t_us.partition_point(|&t| t < us);
    let before =
        Rows { first: row(down.saturating_sub(BEFORE_US)), end: row(down.saturating_sub(LEAD_US)) };
    let during = Rows { first: row(down + DOWN_US), end: row(up.saturating_sub(LEAD_US)) };
    if before.len() < 3 || during.len() < 3 {
        return None;
    }
    let mut pair = ([0.0; 2], [0.0; 2]);
    for (i, axis) in half.stick().into_iter().enumerate() {
        let column = source.tracks.axis(axis)?;
        let known = source.segments.levels.axis(axis)?;
        pair.0[i] = level(before.of(column))?;
        pair.1[i] = level(during.of(column))?;
        if (pair.0[i] - known.rest).abs() > (ASIDE * known.travel()).max(4.0 * known.noise) {
            return None;
        }
    }
    Some(pair)
}
