//! States of a button in words: `on`, `Released`, `TRUE`.

/// Words for a button that is pressed and one that is not, lower case. Which of them means pressed is
/// settled later by rest, as for bits.
const PAIRS: [(&str, &str); 14] = [
    ("true", "false"),
    ("on", "off"),
    ("yes", "no"),
    ("pressed", "released"),
    ("press", "release"),
    ("down", "up"),
    ("closed", "open"),
    ("close", "open"),
    ("high", "low"),
    ("hi", "lo"),
    ("active", "idle"),
    ("active", "inactive"),
    ("set", "clear"),
    ("held", "free"),
];

/// What is written for a pressed and for another button.
pub(super) const WRITTEN: [&str; 2] = ["false", "true"];

/// Kinds of words, one bit a pair.
pub(super) type Kinds = u16;

/// The state that stands at `at` as a whole word: 1 or 0, and the place behind it.
#[inline]
pub(super) fn state(line: &[u8], at: usize) -> Option<(i64, usize)> {
    let word = word_at(line, at)?;
    let is = |one: &str| word.eq_ignore_ascii_case(one.as_bytes());
    let pressed = PAIRS.iter().any(|(on, _)| is(on));
    (pressed || PAIRS.iter().any(|(_, off)| is(off)))
        .then_some((i64::from(pressed), at + word.len()))
}

/// True for a token that is a state and nothing else.
pub(super) fn is_state(token: &[u8]) -> bool {
    state(token, 0).is_some_and(|(_, end)| end == token.len())
}

/// The pairs that a word belongs to.
pub(super) fn kinds(word: &[u8]) -> Kinds {
    let is = |one: &str| word.eq_ignore_ascii_case(one.as_bytes());
    let pairs = PAIRS.iter().enumerate().filter(|(_, (on, off))| is(on) || is(off));
    pairs.fold(0, |sum, (k, _)| sum | 1 << k)
}

fn word_at(line: &[u8], at: usize) -> Option<&[u8]> {
    let rest = line.get(at..)?;
    // The longest word of the table has 8 letters.
    let length = rest.iter().take(9).take_while(|b| b.is_ascii_alphabetic()).count();
    let ends = !rest.get(length).is_some_and(|b| b.is_ascii_alphanumeric() || *b == b'_');
    ((2..=8).contains(&length) && ends).then(|| &rest[..length])
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn whole_words_of_the_table_are_states() {
        assert_eq!(state(b"a=ON;", 2), Some((1, 4)));
        assert_eq!(state(b"released ", 0), Some((0, 8)));
        assert_eq!(state(b"open", 0), Some((0, 4)));
        for word in [&b"only"[..], b"on1", b"on_", b"o", b"", b"pressedd"] {
            assert_eq!(state(word, 0), None, "{word:?}");
        }
        assert_eq!(kinds(b"open").count_ones(), 2);
        assert_eq!(kinds(b"Down") & kinds(b"UP"), kinds(b"up"));
        assert_eq!(kinds(b"left"), 0);
        for (written, value) in WRITTEN.iter().zip(0..) {
            assert_eq!(state(written.as_bytes(), 0), Some((value, written.len())));
        }
    }
}
