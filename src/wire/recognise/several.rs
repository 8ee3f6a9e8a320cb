//! Frames that are spread over several lines: seen by lines of different build that take turns.
use crate::wire::{number, states};

/// Most lines that a frame is looked for in.
const MOST: usize = 16;

/// What stays of a line when its numbers and states are taken out.
#[derive(Clone, Copy, PartialEq, Eq)]
struct Build {
    /// Of the text between the numbers.
    hash: u64,
    /// Numbers and states.
    numbers: usize,
}

/// Lines of a frame when it is spread over more than one: the same builds follow each other all the
/// time, and no line holds two thirds of the numbers. Cost: one pass.
pub(super) fn lines_a_frame(lines: &[&[u8]]) -> Option<usize> {
    let all = lines.iter().map(|line| (*line, build(line)));
    let (lines, builds): (Vec<&[u8]>, Vec<Build>) = all.filter(|(_, b)| b.numbers > 0).unzip();
    let again = |after: usize| {
        let pairs = builds.windows(after + 1);
        pairs.filter(|part| part[0] == part[after]).count()
    };
    if 4 * again(1) > 3 * builds.len() {
        return None;
    }
    let turns = |after: &usize| {
        let pairs = builds.len().saturating_sub(*after);
        pairs >= 7 * after && 10 * again(*after) >= 9 * pairs
    };
    let turn = (2..=MOST).find(turns)?;
    let middle = &builds[builds.len() / 2..][..turn];
    let all: usize = middle.iter().map(|b| b.numbers).sum();
    let most = middle.iter().map(|b| b.numbers).max().unwrap_or(0);
    let alike = middle.iter().all(|b| b.numbers == most);
    (3 * most < 2 * all && !(alike && go_on(&lines, most, turn))).then_some(turn)
}

/// Lines of as many numbers each go on from one to the next, as those of one frame a line do: words that
/// take turns among them say something else.
fn go_on(lines: &[&[u8]], numbers: usize, turn: usize) -> bool {
    let rows: Vec<Vec<i64>> =
        lines.iter().map(|l| values(l)).filter(|v| v.len() == numbers).collect();
    if rows.len() <= 2 * turn {
        return true;
    }
    let apart = |k: usize, after: usize| {
        let mut steps: Vec<u64> =
            rows.windows(after + 1).map(|part| part[0][k].abs_diff(part[after][k])).collect();
        let middle = steps.len() / 2;
        *steps.select_nth_unstable(middle).1
    };
    (0..numbers).all(|k| apart(k, 1) <= 2 * apart(k, turn) + 2)
}

/// The whole numbers of a line, in order.
fn values(line: &[u8]) -> Vec<i64> {
    let words = line.split(|b| !b.is_ascii_alphanumeric());
    let numbers = words.filter(|word| word.first().is_some_and(u8::is_ascii_digit));
    numbers.filter_map(|word| number::long(word, 0)).map(|(value, _)| value).collect()
}

fn build(line: &[u8]) -> Build {
    let mut found = Build { hash: 0xCBF2_9CE4_8422_2325, numbers: 0 };
    let mut mix =
        |byte: u8| found.hash = (found.hash ^ u64::from(byte)).wrapping_mul(0x100_0000_01B3);
    let mut at = 0;
    while at < line.len() {
        let inside = |b: &u8| b.is_ascii_alphanumeric() || matches!(b, b'.' | b'_');
        let length = line[at..].iter().take_while(|b| inside(b)).count();
        let word = &line[at..at + length];
        if length == 0 {
            // A sign belongs to its number, and blanks part nothing.
            if !matches!(line[at], b' ' | b'\t' | b'-' | b'+') {
                mix(line[at]);
            }
            at += 1;
            continue;
        }
        if word[0].is_ascii_digit() || states::is_state(word) || is_hex(word) {
            found.numbers += 1;
            mix(b'#');
        } else {
            word.iter().for_each(|b| mix(*b));
        }
        at += length;
    }
    found
}

/// Two digits of base 16 and more, of which a line may hold any.
fn is_hex(word: &[u8]) -> bool {
    word.len() >= 2 && word.iter().all(u8::is_ascii_hexdigit)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn turns(text: impl Fn(usize) -> String) -> Option<usize> {
        let text: String = (0..100).map(|k| text(k) + "\n").collect();
        let lines: Vec<&[u8]> = text.lines().map(str::as_bytes).collect();
        lines_a_frame(&lines)
    }

    #[test]
    fn lines_that_take_turns_are_one_frame() {
        let side = |k: usize| ["left", "right"][k % 2];
        assert_eq!(
            turns(|k| format!("{} {} {}", side(k), 500 + k % 7, 510 - k % 5 + 30 * (k % 2))),
            Some(2)
        );
        let three = |k: usize| match k % 3 {
            0 => format!("P {k},{}", k * 3),
            1 => format!("Q {},{k}", 7 * k),
            _ => format!("keys {:X}", 0xA0 + k),
        };
        assert_eq!(turns(three), Some(3));
    }

    #[test]
    fn other_lines_between_whole_frames_are_none() {
        assert_eq!(turns(|k| format!("{k},{},{},{}", k * 2, k * 3, k % 4)), None);
        // One short line of state behind each whole one.
        let status = |k: usize| match k % 2 {
            0 => format!("{k},{},{},{},{},{}", k * 2, k * 3, k % 4, k % 5, k % 6),
            _ => format!("battery {} mV", 3700 - k),
        };
        assert_eq!(turns(status), None);
        assert_eq!(turns(|k| format!("A {} {k}", ["on", "off"][k % 2])), None);
        // Words that take turns while the readings go on.
        let level = |k: usize| format!("{} {} {}", ["I", "D"][k % 2], 500 + k % 40, 510 + k % 7);
        assert_eq!(turns(level), None);
    }
}
