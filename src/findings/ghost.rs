//! Phantoms of a button matrix: three corners held, the fourth reads closed by itself.
use std::collections::BTreeMap;

use super::{Bench, Code, Finding, Severity, say};
use crate::rig::{Place, Word};
use crate::segment::Rows;

/// Times that the phantom must have been told from the other three.
const TIMES_MIN: usize = 2;
/// A prompt to hold buttons together is answered within this time, µs.
const ANSWER_US: u64 = 3_000_000;

/// A fourth button that closes only while three others do.
pub(super) fn matrix_ghost(bench: &Bench<'_>, found: &mut Vec<Finding>) {
    let Some(masks) = bench.tracks.buttons.as_deref() else { return };
    for (set, episodes) in together(masks) {
        let lines: Vec<u32> = (0..32).filter(|bit| set >> bit & 1 == 1).collect();
        let ghosts: Vec<u32> = lines
            .iter()
            .copied()
            .filter(|ghost| {
                // Four that move as one show nothing, neither for nor against.
                let told = |rows: &&Rows| is_told_apart(rows.of(masks), set, *ghost);
                episodes.iter().all(|rows| follows(rows.of(masks), set, *ghost))
                    && episodes.iter().filter(told).count() >= TIMES_MIN
            })
            .collect();
        let asked = asked_for(bench, &episodes);
        let unasked = ghosts.iter().copied().filter(|g| asked >> g & 1 == 0);
        // Who was never asked for was not held; without a prompt the masks alone decide.
        let ghosts: Vec<u32> = match unasked.collect::<Vec<_>>() {
            some if asked != 0 && !some.is_empty() => some,
            _ => ghosts,
        };
        let Some(&ghost) = ghosts.first() else { continue };
        let others: Vec<String> =
            lines.iter().filter(|l| **l != ghost).map(|l| format!("b{l}")).collect();
        let mut evidence = format!(
            "b{ghost} reads closed in exactly the frames in which {} are all held, {} of {}, and never \
             without one of them; four fingers do not keep step to a frame",
            others.join(", "),
            episodes.len(),
            say::count_of(episodes.len() as u64, "time"),
        );
        if let Some(other) = ghosts.get(1) {
            evidence.push_str(&format!("; it may as well be b{other}: hold the three again"));
        }
        if asked & set == set & !(1 << ghost) {
            evidence.push_str("; those three were asked for and it was not");
        }
        let remedy = "Fit a diode at each button of the matrix, all the same way round; until then let the \
            firmware ignore a rectangle whose four corners read closed";
        let last = episodes[episodes.len() - 1];
        let rows = Rows { first: episodes[0].first, end: last.end };
        found.push(
            Finding::new(
                Code::MatrixGhost,
                Place::Button(ghost as u8),
                Severity::Fault,
                evidence,
                remedy,
            )
            .at(bench.span(rows)),
        );
    }
}

/// Sets of four lines that were closed at once, with the stretches in which any of them was.
fn together(masks: &[u32]) -> BTreeMap<u32, Vec<Rows>> {
    let mut found: BTreeMap<u32, Vec<Rows>> = BTreeMap::new();
    let mut row = 0;
    while row < masks.len() {
        if masks[row].count_ones() != 4 {
            row += 1;
            continue;
        }
        let set = masks[row];
        let first = masks[..row].iter().rposition(|m| m & set == 0).map_or(0, |k| k + 1);
        let rest = masks[row..].iter().position(|m| m & set == 0);
        let end = rest.map_or(masks.len(), |k| row + k);
        found.entry(set).or_default().push(Rows { first, end });
        row = end.max(row + 1);
    }
    found
}

/// Lines that a prompt asked to be held together just before any of the episodes, as bits.
fn asked_for(bench: &Bench<'_>, episodes: &[Rows]) -> u32 {
    let t_us = &bench.tracks.t_us;
    let begun = |rows: &Rows| t_us.get(rows.first).copied();
    let prompts = bench.tracks.marks.iter().filter(|mark| mark.word == Word::Chord);
    prompts
        .filter(|mark| {
            let soon = mark.at.0..=mark.at.0.saturating_add(ANSWER_US);
            episodes.iter().filter_map(begun).any(|start| soon.contains(&start))
        })
        .flat_map(|mark| mark.text.split_whitespace())
        .filter_map(|word| word.strip_prefix('b')?.parse::<u32>().ok())
        .filter(|line| *line < 32)
        .fold(0, |bits, line| bits | 1 << line)
}

/// True when `ghost` is closed in the very frames in which the other three are.
fn follows(masks: &[u32], set: u32, ghost: u32) -> bool {
    let others = set & !(1 << ghost);
    masks.iter().all(|m| (m >> ghost & 1 == 1) == (m & others == others))
}

/// True when some of the other three are also closed without the rest.
fn is_told_apart(masks: &[u32], set: u32, ghost: u32) -> bool {
    let others = set & !(1 << ghost);
    masks.iter().any(|m| matches!((m & others).count_ones(), 1 | 2))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_fourth_corner_follows_the_three_and_a_finger_does_not() {
        // b0, b1 and b4 held one after the other, b5 with all three; then a real fourth finger.
        let ghost = [0, 1, 3, 0b11_0011, 0b11_0011, 0b01_0010, 0b01_0000, 0];
        let finger = [0, 1, 3, 0b01_0011, 0b11_0011, 0b11_0010, 0b01_0000, 0];
        let masks = [ghost, ghost].concat();
        let seen = together(&masks);
        let episodes = &seen[&0b11_0011];
        assert_eq!(episodes.len(), 2);
        assert!(episodes.iter().all(|rows| follows(rows.of(&masks), 0b11_0011, 5)));
        assert!(!follows(&ghost, 0b11_0011, 0) && !follows(&finger, 0b11_0011, 5));
        assert!(is_told_apart(&ghost, 0b11_0011, 5));
        assert!(!is_told_apart(&[0b1111, 0b1111], 0b1111, 3), "all as one show nothing");
    }
}
