//! Buttons as a list of the names that are pressed: `south+tl`, `none`.

/// Words for a list without names.
const NONE: [&str; 8] = ["none", "nil", "null", "no", "nothing", "idle", "keine", "released"];

/// The bit of a name that is not among the known ones.
pub(super) const OTHER: u32 = 31;

fn is_inside(byte: u8) -> bool {
    byte.is_ascii_alphanumeric() || byte == b'_'
}

/// Words of a list in a row of bytes; what stands between them does not count.
pub(super) fn words(text: &[u8]) -> impl Iterator<Item = &[u8]> {
    text.split(|b| !is_inside(*b)).filter(|word| !word.is_empty())
}

/// True for a word that says that nothing is pressed.
pub(super) fn is_none(word: &[u8]) -> bool {
    NONE.iter().any(|none| word.eq_ignore_ascii_case(none.as_bytes())) || word == b"0"
}

/// The list at `at` as a mask, bit n = the n-th of `names`, and the place behind its last word. Names that are
/// not among them set bit 31. An empty list is one.
///
/// It ends before a word that a colon or an equals sign follows.
pub(super) fn listed(names: &[Vec<u8>], line: &[u8], at: usize) -> (i64, usize) {
    let (mut mask, mut end) = (0_i64, at);
    let mut next = at;
    loop {
        let parts =
            |b: &u8| matches!(b, b' ' | b'\t' | b',' | b'+' | b'|' | b'/' | b'&' | b'"' | b'\'');
        next += line[next..].iter().take_while(|b| parts(b)).count();
        let length = line[next..].iter().take_while(|b| is_inside(**b)).count();
        let behind = next + length;
        let label = line[behind..].iter().find(|b| !matches!(b, b' ' | b'\t' | b'"'));
        if length == 0 || matches!(label, Some(b':' | b'=')) {
            return (mask, end);
        }
        let word = &line[next..behind];
        if !is_none(word) {
            let bit = names.iter().position(|name| name == word).map_or(OTHER, |n| n as u32);
            mask |= 1 << bit;
        }
        // A quoted word ends with its quote.
        let quote =
            next.checked_sub(1).and_then(|at| line.get(at)).filter(|b| matches!(b, b'"' | b'\''));
        let quoted = next > at && quote.is_some() && quote == line.get(behind);
        next = behind + usize::from(quoted);
        end = next;
    }
}

/// Writes a mask as such a list.
pub(super) fn write(names: &[String], mask: u32, out: &mut Vec<u8>) {
    let pressed = names.iter().enumerate().filter(|(n, _)| mask >> n & 1 == 1);
    let mut words: Vec<&str> = pressed.map(|(_, name)| name.as_str()).collect();
    if mask >> OTHER & 1 == 1 {
        words.push("other");
    }
    let text = if words.is_empty() { "none".to_owned() } else { words.join("+") };
    out.extend_from_slice(text.as_bytes());
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lists_are_masks_and_back() {
        let names = ["A", "LB", "up"].map(str::to_owned);
        let known: Vec<Vec<u8>> = names.iter().map(|n| n.as_bytes().to_vec()).collect();
        let read = |line: &str, at| listed(&known, line.as_bytes(), at);
        assert_eq!(read("held:A+up", 5), (5, 9));
        assert_eq!(read("[\"LB\", \"A\"]", 1), (3, 10));
        assert_eq!(read("none;", 0), (0, 4));
        assert_eq!(read("", 0), (0, 0));
        assert_eq!(read("A t=5", 0), (1, 1));
        assert_eq!(read("A home", 0), (1 | 1 << OTHER, 6));
        for mask in [0, 1, 6, 7] {
            let mut out = Vec::new();
            write(&names, mask, &mut out);
            assert_eq!(listed(&known, &out, 0), (i64::from(mask), out.len()));
        }
    }
}
