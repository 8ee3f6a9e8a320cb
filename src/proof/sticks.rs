//! A stick after the flash: zero at every rest, full on both axes and in every direction, in order.
use super::{Check, Evidence, Judged};
use crate::measure::{interval, number};
use crate::rig::Half;
use crate::segment::Rows;
use crate::trim::check::check;
use crate::trim::{FULL_OUTPUT, Trim};

/// Fewest releases that say something: six clean ones leave at most 39 % of leaks unseen.
const RELEASES: usize = 6;
/// Directions of the reach.
const SECTORS: usize = 16;
/// Fewest different raw codes on an axis from which an order can be read.
const CODES: usize = 40;

/// All checks of a stick.
pub(super) fn checks(e: &Evidence<'_>, half: Half) -> Vec<Check> {
    let place = format!("{} stick", half.key());
    let [x, y] = half.stick().map(|axis| e.outputs.axis(axis));
    let (Some(x), Some(y)) = (x, y) else {
        let why = "its outputs are not in the stream".to_owned();
        let advice = "print both outputs of the stick (out_lx, out_ly and the like)";
        return vec![Check::new("zero-at-rest", &place).undecided(0, why, advice)];
    };
    let mut checks =
        vec![zero(e, half, &place, x, y), ends(e, &place, x, y), reach(e, half, &place, x, y)];
    checks.extend([0, 1].map(|i| order(e, half, i)));
    checks.push(equal(e, half, &place));
    checks
}

/// Output 0 in every row of every rest and of every settled release.
fn zero(e: &Evidence<'_>, half: Half, place: &str, x: &[i32], y: &[i32]) -> Check {
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
fn ends(e: &Evidence<'_>, place: &str, x: &[i32], y: &[i32]) -> Check {
    let ends = [x, y].map(|c| (c.iter().min().copied(), c.iter().max().copied()));
    let least = ends.iter().flat_map(|(low, high)| [low.map(|l| -l), *high]).flatten().min();
    let least = f64::from(least.unwrap_or(0)) / f64::from(FULL_OUTPUT);
    let [(x0, x1), (y0, y1)] = ends.map(|(a, b)| (a.unwrap_or(0), b.unwrap_or(0)));
    let figures = format!("x {x0} to {x1}, y {y0} to {y1}");
    let advice = "roll along the gate once round; if an end stays short, measure the range again";
    Check::new("full-on-axes", place).judged(least, &e.limits.proof_end_share, 4, figures, advice)
}

/// Greatest magnitude in each of 16 directions of the rolls.
fn reach(e: &Evidence<'_>, half: Half, place: &str, x: &[i32], y: &[i32]) -> Check {
    let check = Check::new("reach-16-sectors", place);
    let rolls = e.segments.rolls(half);
    let turns: usize = rolls.iter().map(|r| r.turns.len()).sum();
    let mut most = [0.0f64; SECTORS];
    for roll in rolls {
        for (x, y) in roll.rows.of(x).iter().zip(roll.rows.of(y)) {
            let (x, y) = (f64::from(*x), f64::from(*y));
            let turn = y.atan2(x) / std::f64::consts::TAU;
            let sector = (turn * SECTORS as f64 + SECTORS as f64 + 0.5) as usize % SECTORS;
            most[sector] = most[sector].max(x.hypot(y));
        }
    }
    if turns == 0 {
        let advice = "press outward and roll once round each way, two seconds a turn";
        return check.undecided(0, "no whole turn".to_owned(), advice);
    }
    let least = most.iter().copied().fold(f64::MAX, f64::min);
    let at = most.iter().position(|m| *m == least).unwrap_or(0) as f64 * 360.0 / SECTORS as f64;
    let full = f64::from(FULL_OUTPUT);
    let figures = format!(
        "least magnitude {} of {FULL_OUTPUT}, towards {}° of the output; {turns} turns",
        number(least, 0),
        number(at, 0)
    );
    let advice =
        "free the gate in that direction, or measure it again: the outer radius is too large";
    check.judged(least / full, &e.limits.proof_reach_share, turns, figures, advice)
}

/// Along an axis, with the other at rest, the output never turns back as the raw code rises.
fn order(e: &Evidence<'_>, half: Half, which: usize) -> Check {
    let [axis, other] = [half.stick()[which], half.stick()[1 - which]];
    let check = Check::new("monotonic", axis.words());
    let (Some(output), Some(trim), Some(beside)) =
        (e.outputs.axis(axis), e.trim.axis(axis), e.trim.axis(other))
    else {
        return check.left_out("no constants of this axis");
    };
    let (Some(raw), Some(raw_beside)) = (e.tracks.axis(axis), e.tracks.axis(other)) else {
        return check.left_out("the raw codes are not in the stream");
    };
    let smoothed = e.trim.options.smoothing.iter().any(|s| s.axis == axis);
    if smoothed && e.outputs.judged == Judged::Board {
        return check.left_out("smoothed outputs lag behind their raw codes");
    }
    let near = i32::from(beside.dead.max(1));
    let rows = raw.iter().zip(raw_beside).zip(output);
    let pairs = rows
        .filter(|((_, b), _)| (**b - i32::from(beside.centre)).abs() <= near)
        .map(|((raw, _), out)| (*raw, *out * i32::from(trim.sign)));
    let (codes, reversal) = reversal(pairs);
    if codes < CODES {
        let advice = "push the stick straight along its axes, slowly, to the gate and back";
        let figures = format!("{codes} different codes on the axis; {CODES} are needed");
        return check.undecided(codes, figures, advice);
    }
    // The other axis moves within its zone meanwhile: what that changes is no turning back.
    let step = largest_step(e.trim, half, which);
    let figures = format!("turns back by {reversal} at most, a count is {step}; {codes} codes");
    let advice = "flash the header that belongs to the record";
    let counts = f64::from(reversal) / f64::from(step.max(1));
    check.judged(counts, &e.limits.proof_reversal_steps, codes, figures, advice)
}

/// Different codes, and the largest amount by which a higher code gave less output than a lower.
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

/// The largest step of one count in the record's own mapping of a stick's axis.
fn largest_step(trim: &Trim, half: Half, which: usize) -> u16 {
    let fields = check(trim).sticks;
    fields.iter().find(|f| f.half == half).map_or(0, |f| f.sweeps[which].largest_step)
}

/// The board's outputs against the record's for the same frame's raw codes.
fn equal(e: &Evidence<'_>, half: Half, place: &str) -> Check {
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
