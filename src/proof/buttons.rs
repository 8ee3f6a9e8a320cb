//! Buttons after the flash: one press, one event.
use super::{Check, Evidence};
use crate::rig::Place;
use crate::segment::{ButtonTrack, Rows};

/// Fewest presses of a button that say something.
const PRESSES: usize = 3;

/// One check a button that has constants.
pub(super) fn checks(e: &Evidence<'_>) -> Vec<Check> {
    e.trim.buttons.iter().map(|b| button(e, b.index, &b.name)).collect()
}

fn button(e: &Evidence<'_>, index: u8, name: &str) -> Check {
    let check = Check::new("one-press-one-event", Place::Button(index)).called(name);
    let Some(masks) = &e.outputs.buttons else {
        let advice = "print the debounced buttons as one mask (out_buttons)";
        return check.undecided(0, "the board sends no debounced buttons".to_owned(), advice);
    };
    if e.tracks.buttons.is_none() {
        return check.left_out("the raw contacts are not in the stream");
    }
    let Some(track) = e.segments.buttons.iter().find(|b| b.index == index) else {
        return check.left_out("the raw contacts are not in the stream");
    };
    let bit = 1u32 << (index & 31);
    let events: Vec<usize> = masks
        .windows(2)
        .enumerate()
        .filter(|(_, w)| !w[0] & w[1] & bit != 0)
        .map(|(row, _)| row + 1)
        .collect();
    let n = track.presses.len();
    if n < PRESSES {
        let figures = format!("{n} presses; {PRESSES} are needed");
        return check.undecided(n, figures, "press it a few times, slowly and quickly");
    }
    let (wrong, stray) = misfits(track, &events, masks.len());
    let figures = format!(
        "{} events of {n} presses, {wrong} presses with another number than one, \
                           {stray} events without a press",
        events.len()
    );
    let advice = "lengthen its windows: press it slowly and from the side, then measure it again";
    check.judged((wrong + stray) as f64, &e.limits.resets, n, figures, advice)
}

/// Presses with another number of events than one, and events far from any press.
///
/// A press owns the rows from half of the gap before it to half of the gap after it, so that the
/// delay of the firmware does not matter.
fn misfits(track: &ButtonTrack, events: &[usize], rows: usize) -> (usize, usize) {
    let presses = &track.presses;
    let middle = |k: usize| presses[k - 1].rows.end.midpoint(presses[k].rows.first);
    let owned = |k: usize| Rows {
        first: if k == 0 { 0 } else { middle(k) },
        end: if k + 1 == presses.len() { rows } else { middle(k + 1) },
    };
    let in_press = |k: usize| events.iter().filter(|row| owned(k).contains(**row)).count();
    let wrong = (0..presses.len()).filter(|&k| in_press(k) != 1).count();
    let before = |row: &usize| presses.iter().any(|p| p.rows.first <= *row);
    (wrong, events.iter().filter(|row| !before(row)).count())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::segment::Press;

    #[test]
    fn each_press_owns_the_events_about_it() {
        let press = |first, end| Press { rows: Rows { first, end } };
        let presses = vec![press(100, 120), press(200, 230), press(300, 310)];
        let track = ButtonTrack { index: 0, presses, ..ButtonTrack::default() };
        assert_eq!(misfits(&track, &[101, 201, 301], 400), (0, 0));
        assert_eq!(misfits(&track, &[101, 201, 240, 301], 400), (1, 0), "a second event");
        assert_eq!(misfits(&track, &[101, 301], 400), (1, 0), "none");
        assert_eq!(misfits(&track, &[50, 201, 301], 400), (0, 1), "before any contact");
    }
}
