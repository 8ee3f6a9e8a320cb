//! Lines of numbers between text that stays: the pattern of a dialect, made ready and read.
use super::line::Rule;

/// Text in front of a field or behind the last, blanks left out.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub(super) struct Gap {
    /// Pieces of text; before each but the first, text that varies.
    pieces: Vec<Vec<u8>>,
}

/// Where a field stands in a pattern.
pub(super) const FIELD: &str = "{}";
/// Where text stands that varies.
pub(super) const ANY: &str = "{*}";

/// Says what makes a pattern unusable.
pub(super) fn check(pattern: &str, fields: usize) -> Result<(), String> {
    let places = pattern.matches(FIELD).count();
    if places != fields {
        return Err(format!("{places} places ({FIELD}) in the pattern for {fields} fields"));
    }
    if pattern.contains("{}{}") {
        return Err("two fields with nothing between them".to_owned());
    }
    Ok(())
}

/// The gaps of a pattern: one in front of each field, one behind the last.
pub(super) fn gaps(pattern: &str) -> Vec<Gap> {
    let solid = |piece: &str| piece.bytes().filter(|b| !is_blank(*b)).collect();
    let gap = |text: &str| Gap { pieces: text.split(ANY).map(solid).collect() };
    pattern.split(FIELD).map(gap).collect()
}

/// Writes a pattern with `field` called for each place.
pub(super) fn write(pattern: &str, out: &mut Vec<u8>, field: impl Fn(usize, &mut Vec<u8>)) {
    for (i, text) in pattern.split(FIELD).enumerate() {
        if i > 0 {
            field(i - 1, out);
        }
        out.extend_from_slice(text.replace(ANY, "").as_bytes());
    }
}

#[inline]
fn is_blank(byte: u8) -> bool {
    matches!(byte, b' ' | b'\t')
}

/// The place behind blanks and the colour codes of a terminal.
#[inline]
pub(super) fn skip(line: &[u8], mut at: usize) -> usize {
    loop {
        match line.get(at) {
            Some(b' ' | b'\t' | b'\r') => at += 1,
            Some(0x1B) => at = behind_escape(line, at),
            _ => return at,
        }
    }
}

/// The place behind an escape sequence (ECMA-48: parameters, then one byte from `@` to `~`).
pub(super) fn behind_escape(line: &[u8], at: usize) -> usize {
    if line.get(at + 1) != Some(&b'[') {
        return (at + 2).min(line.len());
    }
    let end = line[at + 2..].iter().position(|b| (b'@'..=b'~').contains(b));
    end.map_or(line.len(), |end| at + 2 + end + 1)
}

/// The place behind `text` at `at`, blanks anywhere in it.
#[inline]
fn literal(text: &[u8], line: &[u8], at: usize) -> Option<usize> {
    let mut at = skip(line, at);
    for byte in text {
        at = skip(line, at);
        if line.get(at) != Some(byte) {
            return None;
        }
        at += 1;
    }
    Some(skip(line, at))
}

impl Gap {
    /// How far a line agrees with the gap from `at` on.
    pub(super) fn reaches(&self, line: &[u8], at: usize) -> usize {
        let mut place = skip(line, at);
        for (k, piece) in self.pieces.iter().enumerate() {
            let from =
                (place..line.len()).find_map(|p| literal(piece, line, p).map(|end| (p, end)));
            match from.filter(|(p, _)| k > 0 || *p == place) {
                Some((_, end)) => place = end,
                None if k > 0 => return place,
                None => {
                    let agrees = |n: &usize| literal(&piece[..*n], line, place).is_some();
                    let most = (0..=piece.len()).take_while(agrees).last().unwrap_or(0);
                    return literal(&piece[..most], line, place).unwrap_or(place);
                }
            }
        }
        place
    }

    /// The place behind the gap.
    pub(super) fn pass(&self, line: &[u8], at: usize) -> Option<usize> {
        let (first, others) = self.pieces.split_first()?;
        let mut place = literal(first, line, at)?;
        for piece in others {
            place = match piece.first() {
                Some(_) => (place..line.len()).find_map(|p| literal(piece, line, p))?,
                None => {
                    let ahead = line.get(place..)?.iter();
                    place + ahead.take_while(|b| !is_start(**b)).count()
                }
            };
        }
        Some(place)
    }

    fn is_blank(&self) -> bool {
        matches!(self.pieces.as_slice(), [piece] if piece.is_empty())
    }
}

/// May a number begin so?
fn is_start(byte: u8) -> bool {
    byte.is_ascii_digit() || matches!(byte, b'-' | b'+')
}

/// Reads a line by its gaps into `cells`.
pub(super) fn read(gaps: &[Gap], rules: &[Rule], line: &[u8], cells: &mut [i32]) -> Option<()> {
    let (last, before) = gaps.split_last()?;
    let mut at = 0;
    for (i, (gap, (rule, cell))) in before.iter().zip(rules.iter().zip(cells)).enumerate() {
        let start = gap.pass(line, at)?;
        if i > 0 && gap.is_blank() && start == at {
            return None;
        }
        (*cell, at) = rule.read(line, start)?;
        // A number must end where its digits do.
        if line.get(at).is_some_and(u8::is_ascii_digit) {
            return None;
        }
    }
    (before.len() == rules.len() && last.pass(line, at)? == line.len()).then_some(())
}

/// The words of a line that may be a heading: between commas, semicolons, strokes and tabs, else
/// between blanks; quotes and brackets do not count.
pub(super) fn heading_words(line: &[u8]) -> Vec<&[u8]> {
    let marked = line.iter().any(|b| matches!(b, b',' | b';' | b'|' | b'\t'));
    let cut = move |b: &u8| match marked {
        true => matches!(b, b',' | b';' | b'|' | b'\t'),
        false => is_blank(*b),
    };
    let odd = |b: &u8| !(b.is_ascii_alphanumeric() || matches!(b, b'_' | b'%'));
    let bare = |word: &'_ [u8]| {
        let from = word.iter().position(|b| !odd(b)).unwrap_or(word.len());
        let to = word.iter().rposition(|b| !odd(b)).map_or(from, |at| at + 1);
        from..to.max(from)
    };
    line.split(cut).map(|word| &word[bare(word)]).filter(|w| !w.is_empty()).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::wire::{Base, Role};

    fn numbers(pattern: &str, line: &str) -> Option<Vec<i32>> {
        let gaps = gaps(pattern);
        let rule = || Rule::new("n", Role::Ignore, Base::Decimal, None);
        let rules: Vec<Rule> = (1..gaps.len()).map(|_| rule()).collect();
        let mut cells = vec![0; rules.len()];
        read(&gaps, &rules, line.as_bytes(), &mut cells)?;
        Some(cells)
    }

    #[test]
    fn text_stays_and_blanks_do_not_count() {
        assert_eq!(numbers("<{} / {}>", "< 12/-3 >"), Some(vec![12, -3]));
        assert_eq!(numbers("{} {};", "\x1b[3m 5   6\x1b[0m ;"), Some(vec![5, 6]));
        assert_eq!(numbers("a{*}b {}", "a x bc b 4"), None);
        assert_eq!(numbers("a{*}b {}", "a x b 4"), Some(vec![4]));
        assert_eq!(numbers("{} {}", "56"), None);
        assert_eq!(numbers("v {}", "v 5 x"), None);
        assert_eq!(numbers("{\"a\":{},\"b\":{}}", "{\"a\": 1, \"b\": 2}"), Some(vec![1, 2]));
    }
}
