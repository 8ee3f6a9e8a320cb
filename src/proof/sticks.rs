//! A stick after the flash: zero at every rest, full on both axes and in every direction, in order.
use super::{Check, Evidence, Judged};
use crate::measure::{interval, number};
use crate::rig::{Half, Place};
use crate::segment::Rows;
use crate::trim::FULL_OUTPUT;
use crate::trim::check::check as mapping;

/// Fewest releases that say something: six clean ones leave at most 39 % of leaks unseen.
const RELEASES: usize = 6;
/// Directions of the reach.
pub const SECTORS: usize = 16;
/// Fewest different outputs of an axis from which an order can be read.
const LEVELS: usize = 40;

/// All checks of a stick.
pub(super) fn checks(e: &Evidence<'_>, half: Half) -> Vec<Check> {
    let place = Place::Stick(half);
    let [x, y] = half.stick().map(|axis| e.outputs.axis(axis));
    let (Some(x), Some(y)) = (x, y) else {
        let why = "its outputs are not in the stream".to_owned();
        let advice = "print both outputs of the stick (out_lx, out_ly and the like)";
        return vec![Check::new("zero-at-rest", place).undecided(0, why, advice)];
    };
    let mut checks = vec![zero(e, half, place, x, y), ends(e, place, x, y), reach(e, half, place)];
    checks.extend([0, 1].map(|i| order(e, half, i)));
    checks.push(equal(e, half, place));
    checks
}

/// Output 0 in every row of every rest and of every settled release.
fn zero(e: &Evidence<'_>, half: Half, place: Place, x: &[i32], y: &[i32]) -> Check {
    let check = Check::new("zero-at-rest", place);
    let releases = e.segments.releases(half);
    let rests = e.segments.rests.iter().map(|r| r.rows);
    let stretches: Vec<Rows> = releases.iter().map(|r| r.settled).chain(rests).collect();
    let leaks = |rows: &Rows| {
        rows.of(x).iter().zip(rows.of(y)).filter(|(x, y)| (**x, **y) != (0, 0)).count()
    };
    let rows: usize = stretches.iter().map(|r| r.len()).sum();
    let leaking: usize = stretches.iter().map(leaks).sum();
    let n = releases.len();
    let advice =
        "release the stick cleanly from six directions or more, hands off for half a second";
    let count = format!("{n} releases and {} rests", e.segments.rests.len());
    if n < RELEASES && leaking == 0 {
        return check.undecided(n, format!("{count}; {RELEASES} releases are needed"), advice);
    }
    let bad = releases.iter().filter(|r| leaks(&r.settled) > 0).count();
    let bound = interval::share(bad, n).map_or(1.0, |s| s.high);
    let share = leaking as f64 / rows.max(1) as f64;
    let figures = format!(
        "{leaking} of {rows} rows leak, {bad} of {count}; alone that proves at most {} % of \
         releases, 95 % sure",
        number(100.0 * bound, 0)
    );
    let advice = "a larger dead zone is needed: measure this board again and flash the new header";
    check.judged(share, &e.limits.proof_leak_share, n, figures, advice)
}

/// Exactly ±32767 on both axes.
fn ends(e: &Evidence<'_>, place: Place, x: &[i32], y: &[i32]) -> Check {
    let ends = [x, y].map(|c| (c.iter().min().copied(), c.iter().max().copied()));
    let least = ends.iter().flat_map(|(low, high)| [low.map(|l| -l), *high]).flatten().min();
    let least = f64::from(least.unwrap_or(0)) / f64::from(FULL_OUTPUT);
    let [(x0, x1), (y0, y1)] = ends.map(|(a, b)| (a.unwrap_or(0), b.unwrap_or(0)));
    let figures = format!("x {x0} to {x1}, y {y0} to {y1}");
    let advice = "roll along the gate once round; if an end stays short, measure the range again";
    Check::new("full-on-axes", place).judged(least, &e.limits.proof_end_share, 4, figures, advice)
}

/// Greatest output magnitude in each of 16 directions, over the rolls of a stick.
#[derive(Clone, Debug, PartialEq)]
pub struct SectorReach {
    /// Which stick.
    pub half: Half,
    /// Share of full output by direction, from positive x towards positive y; 0 = never went there.
    pub most: [f64; SECTORS],
    /// Whole turns that it comes from.
    pub turns: usize,
}

impl SectorReach {
    /// `None` without outputs of the stick or without a whole turn.
    pub(super) fn of(e: &Evidence<'_>, half: Half) -> Option<SectorReach> {
        let [x, y] = half.stick().map(|axis| e.outputs.axis(axis));
        let (x, y) = (x?, y?);
        let rolls = e.segments.rolls(half);
        let turns: usize = rolls.iter().map(|r| r.turns.len()).sum();
        let mut most = [0.0f64; SECTORS];
        for roll in rolls {
            for (x, y) in roll.rows.of(x).iter().zip(roll.rows.of(y)) {
                let (x, y) = (f64::from(*x), f64::from(*y));
                let turn = y.atan2(x) / std::f64::consts::TAU;
                let sector = (turn * SECTORS as f64 + SECTORS as f64 + 0.5) as usize % SECTORS;
                most[sector] = most[sector].max(x.hypot(y) / f64::from(FULL_OUTPUT));
            }
        }
        (turns > 0).then_some(SectorReach { half, most, turns })
    }
}

/// Greatest magnitude in each of 16 directions of the rolls.
fn reach(e: &Evidence<'_>, half: Half, place: Place) -> Check {
    let check = Check::new("reach-16-sectors", place);
    let Some(SectorReach { most, turns, .. }) = SectorReach::of(e, half) else {
        let advice = "press outward and roll once round each way, two seconds a turn";
        return check.undecided(0, "no whole turn".to_owned(), advice);
    };
    let least = most.iter().copied().fold(f64::MAX, f64::min);
    let at = most.iter().position(|m| *m == least).unwrap_or(0) as f64 * 360.0 / SECTORS as f64;
    let figures = format!(
        "least magnitude {} of {FULL_OUTPUT}, towards {}° of the output; {turns} turns",
        number(least * f64::from(FULL_OUTPUT), 0),
        number(at, 0)
    );
    let advice =
        "free the gate in that direction, or measure it again: the outer radius is too large";
    check.judged(least, &e.limits.proof_reach_share, turns, figures, advice)
}

/// The output never turns back: over every code of the record's mapping, or on the board as the
/// record's output for the same codes rises.
fn order(e: &Evidence<'_>, half: Half, which: usize) -> Check {
    let axis = half.stick()[which];
    let check = Check::new("monotonic", axis);
    let fields = mapping(e.trim).sticks;
    let Some(sweep) = fields.iter().find(|f| f.half == half).map(|f| &f.sweeps[which]) else {
        return check.left_out("no constants of this stick");
    };
    let advice = "flash the header that belongs to the record";
    if e.outputs.judged == Judged::Record {
        let codes = usize::from(e.trim.full_scale()) + 1;
        let turns = f64::from(u8::from(!sweep.monotonic));
        let figures = format!(
            "{} outputs over all of {codes} codes, largest step {}",
            sweep.distinct, sweep.largest_step
        );
        return check.judged(turns, &e.limits.resets, codes, figures, advice);
    }
    let pair = (e.outputs.axis(axis), e.outputs.expected[axis.index()].as_deref());
    let (Some(output), Some(expected)) = pair else {
        return check.left_out("the raw codes are not in the stream");
    };
    if e.trim.options.smoothing.iter().any(|s| s.axis == axis) {
        return check.left_out("smoothed outputs lag behind their raw codes");
    }
    let (levels, reversal) = reversal(expected.iter().copied().zip(output.iter().copied()));
    if levels < LEVELS {
        let advice = "roll along the gate and push the stick to it in several directions";
        let figures = format!("{levels} different outputs; {LEVELS} are needed");
        return check.undecided(levels, figures, advice);
    }
    let step = sweep.largest_step;
    let figures =
        format!("turns back by {reversal} at most, a count is {step}; {levels} outputs seen");
    let counts = f64::from(reversal) / f64::from(step.max(1));
    check.judged(counts, &e.limits.proof_reversal_steps, levels, figures, advice)
}

/// Different levels, and the largest amount by which a higher one gave less output than a lower.
pub(super) fn reversal(pairs: impl Iterator<Item = (i32, i32)>) -> (usize, u32) {
    let mut pairs: Vec<(i32, i32)> = pairs.collect();
    pairs.sort_unstable();
    let (mut codes, mut worst, mut most) = (0, 0, i32::MIN);
    for of_code in pairs.chunk_by(|a, b| a.0 == b.0) {
        codes += 1;
        // Sorted by output within a code: the first is the least.
        let (least, greatest) = (of_code[0].1, of_code[of_code.len() - 1].1);
        if most > least {
            worst = worst.max(most.abs_diff(least));
        }
        most = most.max(greatest);
    }
    (codes, worst)
}

/// The board's outputs against the record's for the same frame's raw codes.
fn equal(e: &Evidence<'_>, half: Half, place: Place) -> Check {
    let axes = half.stick();
    let smoothed = e.trim.options.smoothing.iter().any(|s| axes.contains(&s.axis));
    super::triggers::equal_columns(e, &axes, smoothed, place)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_reversal_is_between_codes_and_never_within_one() {
        let order = |pairs: &[(i32, i32)]| reversal(pairs.iter().copied());
        assert_eq!(order(&[(3, 30), (1, 10), (2, 20), (2, 24)]), (3, 0));
        assert_eq!(order(&[(1, 10), (2, 24), (3, 20), (4, 25)]), (4, 4));
        assert_eq!(order(&[]), (0, 0));
    }
}
