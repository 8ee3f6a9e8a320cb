//! Wiring, from the roll-call: axes swapped or inverted, halves exchanged, a half built mirrored.
use super::say::SUPPLY_CAUTION;
use super::{Bench, Code, Finding, Severity};
use crate::rig::{AxisId, Control, Half, Place};
use crate::survey::{Answered, RollCall};

/// Largest ratio of answers that is shown.
const MOST_SHOWN: f64 = 99.0;
/// Least answer of another channel over the next one for a swap to be sure.
const DOMINANCE: f64 = 2.0;

/// The roll-call, where somebody declared what the columns mean: roles that go by their order alone can
/// contradict nobody, and the roll-call puts them right.
fn declared<'a>(bench: &Bench<'a>) -> Option<&'a RollCall> {
    bench.survey.roll_call.as_ref().filter(|_| !bench.tracks.roles_by_order)
}

/// x and y of a stick answer for each other.
pub(super) fn swapped_axes(bench: &Bench<'_>, found: &mut Vec<Finding>) {
    let Some(roll_call) = declared(bench) else { return };
    for half in Half::ALL {
        let [x, y] = half.stick();
        let (Some(to_right), Some(up)) = (axis_of(roll_call, x), axis_of(roll_call, y)) else {
            continue;
        };
        if (to_right.0, up.0) != (y, x) || to_right.1.dominance.min(up.1.dominance) < DOMINANCE {
            continue;
        }
        let evidence = format!(
            "{} stick: pushed right, {} moved by {:.0}\u{a0}counts; pushed up, {} moved by {:.0}; the other \
             axis moved {:.0} times less",
            half.key(),
            y.words(),
            to_right.1.change,
            x.words(),
            up.1.change,
            to_right.1.dominance.min(up.1.dominance).min(MOST_SHOWN),
        );
        let remedy = "Exchange the two pins, or the two roles in the dialect and the firmware's map; \
            then call the roll again";
        found.push(
            Finding::new(Code::SwappedAxes, Place::Stick(half), Severity::Fault, evidence, remedy)
                .at(roll_call.span),
        );
    }
}

/// An axis runs the other way than the rig says.
pub(super) fn inverted_axis(bench: &Bench<'_>, found: &mut Vec<Finding>) {
    let Some(roll_call) = declared(bench) else { return };
    for axis in AxisId::ALL.into_iter().filter(|a| !a.is_trigger()) {
        if super::has(found, &[Code::SwappedAxes, Code::HalvesExchanged], Place::Half(axis.half()))
            || super::has(found, &[Code::HalvesExchanged], Place::Halves)
            || super::has(found, &[Code::MirroredHalf], Place::Half(axis.half())) && is_x(axis)
            || super::has(found, &[Code::FloatingInput, Code::StuckRail], axis)
        {
            continue;
        }
        let Some((channel, answered)) = axis_of(roll_call, axis) else { continue };
        if channel != axis || !bench.survey.signs_declared || !against(bench, axis, &answered) {
            continue;
        }
        let way = if is_x(axis) { "right" } else { "up" };
        let evidence = format!(
            "{} went {} by {:.0}\u{a0}counts when the stick was pushed {way}, where the rig says that it \
             goes {}; its size is normal",
            axis.words(),
            if answered.change > 0.0 { "up" } else { "down" },
            answered.change.abs(),
            if answered.change > 0.0 { "down" } else { "up" },
        );
        let remedy = "Set the sign of this axis in the rig, which the constants carry into the \
            firmware; no wire need be touched";
        found.push(
            Finding::new(Code::InvertedAxis, axis, Severity::Fault, evidence, remedy)
                .at(roll_call.span),
        );
    }
}

/// The left half answers for the right one and the other way round.
pub(super) fn halves_exchanged(bench: &Bench<'_>, found: &mut Vec<Finding>) {
    let Some(roll_call) = declared(bench) else { return };
    let axes = AxisId::ALL.into_iter().filter_map(|a| Some((a, axis_of(roll_call, a)?.0)));
    let answered: Vec<(AxisId, AxisId)> = axes.collect();
    let crossed: Vec<&(AxisId, AxisId)> =
        answered.iter().filter(|(asked, by)| asked.half() != by.half()).collect();
    let from = |half: Half| crossed.iter().any(|(asked, _)| asked.half() == half);
    if crossed.len() < 3
        || crossed.len() < answered.len()
        || !from(Half::Left)
        || !from(Half::Right)
    {
        return;
    }
    let words: Vec<String> =
        crossed.iter().map(|(asked, by)| format!("{} by {}", asked.words(), by.words())).collect();
    let evidence = format!(
        "{} of {} controls were answered by the other half: {}",
        crossed.len(),
        answered.len(),
        words.join(", ")
    );
    let remedy = "Exchange the two halves' bus addresses or connectors, or their roles in the dialect \
        and the firmware's map";
    found.push(
        Finding::new(Code::HalvesExchanged, Place::Halves, Severity::Fault, evidence, remedy)
            .with_caution(SUPPLY_CAUTION)
            .at(roll_call.span),
    );
}

/// A half on the other half's circuit board: its x runs backward and its buttons count backward.
pub(super) fn mirrored_half(bench: &Bench<'_>, found: &mut Vec<Finding>) {
    let Some(roll_call) = declared(bench) else { return };
    for half in Half::ALL {
        let [x, _] = half.stick();
        let Some((channel, answered)) = axis_of(roll_call, x) else { continue };
        if channel != x || !against(bench, x, &answered) {
            continue;
        }
        let pairs = buttons_of(bench, roll_call, half);
        let (Some(low), Some(high)) =
            (pairs.iter().map(|p| p.0).min(), pairs.iter().map(|p| p.0).max())
        else {
            continue;
        };
        let backward = pairs.iter().filter(|(asked, by)| *by == low + high - asked).count();
        if pairs.len() < 3 || backward < pairs.len() {
            continue;
        }
        let evidence = format!(
            "{} half: x went by {:.0}\u{a0}counts against its sign, and its {} buttons answered in \
             reverse order (b{low} by b{high}); an inverted axis alone would leave the buttons in order",
            half.key(),
            answered.change.abs(),
            pairs.len(),
        );
        let remedy = "This half carries the other half's circuit board: turn its sign and button order \
            by a map of its own, or fit the right board";
        found.push(
            Finding::new(Code::MirroredHalf, Place::Half(half), Severity::Fault, evidence, remedy)
                .at(roll_call.span),
        );
    }
}

/// Buttons of a half that were answered: (asked, by). The first half of the bits is the left one's.
fn buttons_of(bench: &Bench<'_>, roll_call: &RollCall, half: Half) -> Vec<(usize, usize)> {
    let first = bench.tracks.button_count.div_ceil(2);
    let own = |n: usize| (n < first) == (half == Half::Left);
    (0..bench.tracks.button_count)
        .filter(|&n| own(n))
        .filter_map(|n| match roll_call.of(Control::Button(n as u8))? {
            (Control::Button(by), _) => Some((n, usize::from(by))),
            _ => None,
        })
        .collect()
}

/// The axis that answered when an axis' control was asked for.
fn axis_of(roll_call: &RollCall, axis: AxisId) -> Option<(AxisId, Answered)> {
    match roll_call.of(Control::Axis(axis))? {
        (Control::Axis(by), answered) => Some((by, answered)),
        _ => None,
    }
}

fn is_x(axis: AxisId) -> bool {
    axis == axis.half().stick()[0]
}

/// True when an axis of a stick moved against the sign that the rig gives it.
fn against(bench: &Bench<'_>, axis: AxisId, answered: &Answered) -> bool {
    let inverted = bench.survey.inverted[axis.index()];
    (answered.change < 0.0) != inverted
}
