//! What presses and idle button lines show: long bounce, double presses, a missing pull-up.
use super::say;
use super::{Bench, Code, Finding, Severity};
use crate::measure::distribution::binomial_tail;
use crate::rig::Place;
use crate::session::TimeSource;
use std::collections::VecDeque;

use crate::measure::contact::OPEN_LEAST_US;
use crate::measure::{Measured, Span};
use crate::survey::{ButtonFigures, scaled};
use crate::units::Unit;

/// A finger does not press and let go in less than this, µs (common practice).
const FINGER_US: u64 = 25_000;
/// So many doubles at the limit come by chance in fewer buttons than this: the upper half of 99 %.
const BY_CHANCE: f64 = 0.005;
/// Idle closures that are called a pattern rather than line damage.
const IDLE_CLOSURES: u64 = 5;
/// A short closure this near to a press is its bounce, µs.
const APART_US: u64 = 100_000;

/// Contacts that bounce long, or open by themselves while they are held.
pub(super) fn chatter(bench: &Bench<'_>, found: &mut Vec<Finding>) {
    long_bounce(bench, found);
    dropouts(bench, found);
}

fn long_bounce(bench: &Bench<'_>, found: &mut Vec<Finding>) {
    let band = &bench.limits.bounce_ms;
    for button in &bench.survey.buttons {
        let edges =
            [("press", &button.bounce_press_max_ms), ("release", &button.bounce_release_max_ms)];
        let worst = edges
            .into_iter()
            .filter_map(|(edge, bound)| {
                let bound = scaled::bounce(button, bound)?;
                let seen = bound.low + button.looked.every_ms;
                Some((Severity::of(band.grade(bound.low, bound.high))?, edge, seen, bound))
            })
            .min_by(|a, b| a.0.cmp(&b.0).then(b.2.total_cmp(&a.2)));
        let Some((severity, edge, seen, bound)) = worst else { continue };
        if flickers(bench, button) {
            continue;
        }
        let evidence = format!(
            "b{}: the longest {edge} bounce was {seen:.1}\u{a0}ms {}, {:.1}\u{a0}ms at \
             most, in {}; {}",
            button.index,
            if button.looked.by_log { "by the board's own times" } else { "as sampled" },
            bound.value,
            say::count_of(button.presses as u64, "press"),
            say::missed(band, severity, Unit::Millis),
        );
        let remedy = "Lengthen the debounce window of this button; clean or replace the switch if \
            it is worn";
        found.push(
            Finding::new(Code::Chatter, place(button), severity, evidence, remedy).at(bound.span),
        );
    }
}

/// Openings while held from which a contact drops out: no finger opens and closes a switch within 50 ms and
/// holds on, and a line damaged twice in the same bit within a press is none.
const DROPOUTS_MIN: usize = 3;

/// Contacts that open by themselves while they are held.
fn dropouts(bench: &Bench<'_>, found: &mut Vec<Finding>) {
    // Without any clock nobody knows how short they were.
    if bench.tracks.time_source == TimeSource::Assumed {
        return;
    }
    for button in &bench.survey.buttons {
        let Some(dropouts) = at_least(&button.dropouts, DROPOUTS_MIN) else { continue };
        if flickers(bench, button) || super::has(found, &[Code::Chatter], place(button)) {
            continue;
        }
        let evidence = format!(
            "b{} opened for a moment while it was held {} in {}; no finger lets go and closes it again \
             within {}\u{a0}ms",
            button.index,
            say::count_of(dropouts, "time"),
            say::count_of(button.presses as u64, "press"),
            OPEN_LEAST_US / 1000,
        );
        let remedy = "Clean or replace the switch and look at its joint and wire; until then hold a \
            release back for longer than the gap";
        let place = place(button);
        found.push(Finding::new(Code::Chatter, place, Severity::Warning, evidence, remedy));
    }
}

/// A count that is known and so high.
fn at_least(count: &Measured<usize>, least: usize) -> Option<u64> {
    count.as_ref().ok().filter(|n| **n >= least).map(|n| *n as u64)
}

/// One press that closes twice.
pub(super) fn double_fire(bench: &Bench<'_>, found: &mut Vec<Finding>) {
    let band = &bench.limits.double_share;
    for button in &bench.survey.buttons {
        let Some(doubles) = at_least(&button.doubles, scaled::DOUBLES_MIN) else { continue };
        let Ok(share) = &button.double_share else { continue };
        let Some(severity) = Severity::of(band.grade(share.low, share.high)) else { continue };
        // A share of few has no even interval: loud where so many at the limit come by chance in less
        // than one of two hundred buttons, the upper half of 99 %.
        let Some(limit) = band.marginal.high else { continue };
        let by_chance = binomial_tail(doubles, share.n as u64, limit);
        let severity = if by_chance < BY_CHANCE { severity } else { Severity::Note };
        if flickers(bench, button) {
            continue;
        }
        let evidence = format!(
            "b{} closed again within 80\u{a0}ms of letting go {} in {} releases, {} ({}); {}",
            button.index,
            say::count_of(doubles, "time"),
            share.n,
            share.value_text(),
            share.interval_text(),
            say::missed(band, severity, Unit::Fraction),
        );
        let remedy = "Lengthen the release window of this button past the second closure; a light \
            switch rebounds from the finger";
        found.push(Finding::new(Code::DoubleFire, place(button), severity, evidence, remedy));
    }
}

/// A button line that flickers while nobody touches it.
pub(super) fn missing_pull_up(bench: &Bench<'_>, found: &mut Vec<Finding>) {
    let Some((rest, closures)) = idle_closures(bench) else { return };
    for (index, &count) in closures.iter().enumerate().take(bench.tracks.button_count) {
        if count < IDLE_CLOSURES {
            continue;
        }
        let evidence = format!(
            "b{index} closed {count} times for less than {}\u{a0}ms in {:.1}\u{a0}s, \
             apart from any press, {:.2} a second; a wired line does so never",
            FINGER_US / 1000,
            rest.seconds(),
            count as f64 / rest.seconds().max(1e-3),
        );
        let remedy = "Enable the pin's pull-up or fit 10 kΩ to the supply of the converter; \
            check the joint and the wire";
        let place = Place::Button(index as u8);
        found.push(
            Finding::new(Code::MissingPullUp, place, Severity::Warning, evidence, remedy)
                .with_caution(say::SUPPLY_CAUTION)
                .at(rest),
        );
    }
}

/// Short closures of each line in the quiet rest.
fn idle_closures(bench: &Bench<'_>) -> Option<(Span, [u64; 32])> {
    let rest = quiet_rest(bench)?;
    let masks = bench.tracks.buttons.as_deref()?;
    let t_us = &bench.tracks.t_us;
    let rows = t_us.partition_point(|&t| t < rest.start_us)
        ..t_us.partition_point(|&t| t <= rest.end_us).min(masks.len());
    let part = masks.get(rows.clone()).filter(|part| !part.is_empty())?;
    Some((rest, short_closures(part, &t_us[rows])))
}

/// A line that flickers by itself: its bounce and its doubles say nothing of the contact.
fn flickers(bench: &Bench<'_>, button: &ButtonFigures) -> bool {
    let closures = idle_closures(bench).map(|(_, closures)| closures);
    closures.is_some_and(|c| c.get(usize::from(button.index)).is_some_and(|&n| n >= IDLE_CLOSURES))
}

/// The span of the quiet rest that the noise was read from.
fn quiet_rest(bench: &Bench<'_>) -> Option<Span> {
    bench.survey.axes.iter().find_map(|axis| axis.noise_rms.as_ref().ok()).map(|r| r.span)
}

/// Closures shorter than a finger's and apart from any press, by bit: the bounce of a press is none.
///
/// One pass; only rows that change cost more than a test.
fn short_closures(masks: &[u32], t_us: &[u64]) -> [u64; 32] {
    let mut lines: [IdleLine; 32] = std::array::from_fn(|_| IdleLine::default());
    for (pair, &now_us) in masks.windows(2).zip(t_us.iter().skip(1)) {
        let mut changed = pair[0] ^ pair[1];
        while changed != 0 {
            let bit = changed.trailing_zeros() as usize;
            changed &= changed - 1;
            lines[bit].change(pair[1] >> bit & 1 == 1, now_us);
        }
    }
    lines.map(|line| line.count + line.waiting.len() as u64)
}

/// What one line did so far.
#[derive(Default)]
struct IdleLine {
    /// Short closures that no press came near to.
    count: u64,
    /// Ends of short closures that a press may still come near to: a few at most.
    waiting: VecDeque<u64>,
    closed_us: Option<u64>,
    pressed_until_us: Option<u64>,
}

impl IdleLine {
    fn change(&mut self, closed: bool, now_us: u64) {
        if closed {
            self.closed_us = Some(now_us);
            while self.waiting.front().is_some_and(|end| end + APART_US < now_us) {
                self.waiting.pop_front();
                self.count += 1;
            }
            return;
        }
        let Some(start_us) = self.closed_us.take() else { return };
        if now_us.saturating_sub(start_us) >= FINGER_US {
            self.waiting.clear();
            self.pressed_until_us = Some(now_us);
        } else if self.pressed_until_us.is_none_or(|end| end + APART_US < start_us) {
            self.waiting.push_back(now_us);
        }
    }
}

fn place(button: &ButtonFigures) -> Place {
    Place::Button(button.index)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_short_closures_are_counted() {
        let masks = [0, 1, 0, 0, 1, 1, 1, 1, 0, 2, 0, 2];
        let t_us: Vec<u64> = (0..12).map(|i| i * 10_000).collect();
        let count = short_closures(&masks, &t_us);
        assert_eq!((count[0], count[1]), (0, 1), "bounce and a closure without end do not count");
    }

    #[test]
    fn only_what_is_apart_from_a_press_is_flicker() {
        // Bit 0: flickers, is pressed 200 ms later with bounce on both sides, flickers 200 ms later.
        let closures =
            [(100, 105), (300, 302), (304, 500), (503, 505), (700, 705), (720, 725), (990, 999)];
        let closed = |t: u64| closures.iter().any(|&(a, b)| (a..b).contains(&t));
        let t_us: Vec<u64> = (0..1_000).map(|t| t * 1_000).collect();
        let masks: Vec<u32> = (0..1_000).map(|t| u32::from(closed(t))).collect();
        assert_eq!(short_closures(&masks, &t_us)[0], 4);
    }
}
