//! A line of unknown build taken apart: the numbers in it and the text between them.
use crate::wire::pattern::skip;
use crate::wire::{marks, number, states};

/// Numbers of a line and the text round them.
pub(super) struct Taken<'a> {
    /// Text without blanks in front of each number, and behind the last.
    pub(super) gaps: Vec<Vec<u8>>,
    /// The same with its blanks, for names.
    pub(super) words: Vec<&'a [u8]>,
    /// The numbers.
    pub(super) numbers: Vec<&'a [u8]>,
}

/// What counts as a number.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(super) struct Habit {
    /// A comma between two digits is a decimal point.
    pub(super) comma: bool,
    /// Digits right behind a word are its number: `LX482`.
    pub(super) attached: bool,
    /// Words of these pairs are states wherever they stand; behind a colon or an equals sign any is.
    pub(super) states: states::Kinds,
}

/// Takes a line apart. Cost: one pass.
pub(super) fn take(line: &[u8], habit: Habit) -> Taken<'_> {
    let mut taken = Taken { gaps: Vec::new(), words: Vec::new(), numbers: Vec::new() };
    let (mut at, mut from) = (0, 0);
    let mut gap = Vec::new();
    while at < line.len() {
        let behind = skip(line, at);
        if behind > at {
            at = behind;
            continue;
        }
        if let Some(end) = number_end(line, at, habit) {
            taken.gaps.push(std::mem::take(&mut gap));
            taken.words.push(&line[from..at]);
            taken.numbers.push(&line[at..end]);
            (at, from) = (end, end);
            continue;
        }
        let end = word_end(line, at, habit);
        gap.extend_from_slice(&line[at..end]);
        at = end;
    }
    taken.gaps.push(gap);
    taken.words.push(&line[from..]);
    taken
}

/// The end of a word of letters, digits and underlines that is no number, or of one byte.
fn word_end(line: &[u8], at: usize, habit: Habit) -> usize {
    let inside = |b: &u8| b.is_ascii_alphanumeric() || *b == b'_' || !b.is_ascii();
    if !inside(&line[at]) {
        return at + 1;
    }
    let length = line[at..].iter().take_while(|b| inside(b)).count();
    let word = &line[at..at + length];
    if habit.attached && !word[0].is_ascii_digit() {
        let letters = word.iter().take_while(|b| !b.is_ascii_digit()).count();
        return at + letters;
    }
    at + length
}

/// The end of a number that begins at `at`, if one does.
fn number_end(line: &[u8], at: usize, habit: Habit) -> Option<usize> {
    if let Some((_, end)) = number::day_time(line, at) {
        return Some(end);
    }
    let inside = |b: u8| b.is_ascii_alphanumeric() || b == b'_' || !b.is_ascii();
    let fresh = at == 0 || !inside(line[at - 1]);
    if let Some(end) = marks::row_end(line, at).filter(|end| fresh && !is_label(line, *end)) {
        return Some(end);
    }
    if let Some(end) = state_end(line, at, habit).filter(|_| fresh) {
        return Some(end);
    }
    let signed = matches!(line[at], b'-' | b'+');
    // A stroke between two numbers parts them.
    if signed && at > 0 && line[at - 1].is_ascii_digit() {
        return None;
    }
    let start = at + usize::from(signed);
    let run = line[start..].iter().take_while(|b| b.is_ascii_alphanumeric()).count();
    let word = &line[start..start + run];
    let digits = word.iter().take_while(|b| b.is_ascii_digit()).count();
    let end = start + run;
    if digits == 0 {
        let hex = run >= 2 && word.iter().all(|b| matches!(b, b'A'..=b'F'));
        let repeated = run >= 2 && word.iter().all(|b| *b == b'f');
        return ((hex || repeated) && !signed && !is_label(line, end)).then_some(end);
    }
    if let [b'0', mark @ (b'x' | b'X' | b'b' | b'B'), rest @ ..] = word
        && !rest.is_empty()
    {
        let hex = matches!(mark, b'x' | b'X') && rest.iter().all(u8::is_ascii_hexdigit);
        if let Some((_, end)) =
            number::binary(line, start).filter(|_| mark.eq_ignore_ascii_case(&b'b'))
        {
            return Some(end);
        }
        if hex {
            return Some(end);
        }
    }
    let mark = |b: u8| b == b'.' || habit.comma && b == b',';
    let pointed = digits == run && line.get(end).is_some_and(|b| mark(*b));
    if pointed && line.get(end + 1).is_some_and(u8::is_ascii_digit) {
        let part = line[end + 1..].iter().take_while(|b| b.is_ascii_digit()).count();
        return Some(end + 1 + part);
    }
    // Letters part the numbers where they stand right before them.
    let whole = !habit.attached && word.iter().all(u8::is_ascii_hexdigit);
    // A unit may follow: `47mV`.
    Some(if whole { end } else { start + digits })
}

/// The end of a state in words that begins at `at`, if one does and is no label.
fn state_end(line: &[u8], at: usize, habit: Habit) -> Option<usize> {
    let (_, end) = states::state(line, at)?;
    if is_label(line, end) {
        return None;
    }
    let ahead = line[..at].iter().rev().find(|b| !matches!(b, b' ' | b'\t' | b'"'));
    let labelled = matches!(ahead, Some(b':' | b'='));
    (labelled || states::kinds(&line[at..end]) & habit.states != 0).then_some(end)
}

/// True when what ends at `end` is named like a label: a colon or an equals sign follows.
fn is_label(line: &[u8], end: usize) -> bool {
    let rest = line.get(end..).unwrap_or(&[]);
    let next = rest.iter().find(|b| !matches!(b, b' ' | b'\t' | b'"'));
    matches!(next, Some(b':' | b'='))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn numbers(line: &str, habit: Habit) -> Vec<String> {
        let taken = take(line.as_bytes(), habit);
        taken.numbers.iter().map(|n| String::from_utf8_lossy(n).into_owned()).collect()
    }

    #[test]
    fn numbers_are_found_in_any_company() {
        let plain = Habit::default();
        assert_eq!(numbers("{\"a2\":-5, \"b\": 1.25}", plain), ["-5", "1.25"]);
        assert_eq!(
            numbers("[12:01:02.250] D/tag: 0x1F 0b10", plain),
            ["12:01:02.250", "0x1F", "0b10"]
        );
        assert_eq!(numbers("12% | 30mV | 1EF FFF", plain), ["12", "30", "1EF", "FFF"]);
        assert_eq!(numbers("7-9 FE: ad", plain), ["7", "9"]);
        assert_eq!(numbers("p482 q-7", Habit { attached: true, ..plain }), ["482", "-7"]);
        assert_eq!(numbers("X512Y498B0", Habit { attached: true, ..plain }), ["512", "498", "0"]);
        assert_eq!(numbers("0b01_10 0b1", plain), ["0b01_10", "0b1"]);
        assert_eq!(numbers("1,25;3,5", Habit { comma: true, ..plain }), ["1,25", "3,5"]);
    }
}
