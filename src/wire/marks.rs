//! Buttons as a row of marks: `..#.....`, `-X--`, each button's own letter where it is pressed.

/// Marks in a row at least: fewer may be anything.
const LEAST: usize = 4;

/// Stands for a button that is not pressed.
fn is_off(byte: u8) -> bool {
    matches!(byte, b'.' | b'-' | b'_')
}

fn is_mark(byte: u8) -> bool {
    is_off(byte) || byte.is_ascii_alphanumeric() || matches!(byte, b'#' | b'*' | b'+' | b'@')
}

fn run(line: &[u8], at: usize) -> &[u8] {
    let rest = line.get(at..).unwrap_or(&[]);
    &rest[..rest.iter().take_while(|b| is_mark(**b)).count()]
}

/// The row of 4 to 32 marks at `at`, the first = bit 0, and the place behind it.
#[inline]
pub(super) fn marks(line: &[u8], at: usize) -> Option<(i64, usize)> {
    let run = run(line, at);
    let bits = run.iter().zip(0..).map(|(byte, bit)| i64::from(!is_off(*byte)) << bit);
    (LEAST..=32).contains(&run.len()).then(|| (bits.sum(), at + run.len()))
}

/// The end of what is surely such a row: at least half of it stands for no press, all by one sign, and
/// what does not is no number.
pub(super) fn row_end(line: &[u8], at: usize) -> Option<usize> {
    let run = run(line, at);
    let signs: Vec<u8> = run.iter().copied().filter(|b| is_off(*b)).collect();
    let one = signs.iter().all(|b| Some(b) == signs.first());
    let digits = run.iter().any(|b| b.is_ascii_digit() && *b != b'1');
    let sure = (LEAST..=32).contains(&run.len()) && one && !digits && 2 * signs.len() >= run.len();
    sure.then_some(at + run.len())
}

/// True for a token that is such a row and nothing else.
pub(super) fn is_row(token: &[u8]) -> bool {
    row_end(token, 0) == Some(token.len())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn rows_of_marks_are_masks() {
        assert_eq!(marks(b"..#.....,", 0), Some((4, 8)));
        assert_eq!(marks(b"AB-- ", 0), Some((3, 4)));
        assert_eq!(marks(b"xxx", 0), None);
        assert_eq!(marks(&[b'.'; 33], 0), None);
        for row in [&b"------"[..], b"__1__1", b"A..D"] {
            assert!(is_row(row), "{row:?}");
        }
        for other in [&b"..-x"[..], b"left", b"-500", b"1.25", b"2026-11-30", b"...", b"a_b_c"] {
            assert!(!is_row(other), "{other:?}");
        }
    }
}
