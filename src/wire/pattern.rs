//! Lines of numbers between text that stays: the pattern of a dialect, made ready and read.
use super::line::{Rule, ends};

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

/// The text before each field and behind the last, and the characters of each field: `{}` for as many as its
/// digits are, `{4}` for just four.
fn taken_apart(pattern: &str) -> (Vec<&str>, Vec<Option<usize>>) {
    let (mut texts, mut widths) = (Vec::new(), Vec::new());
    let (mut from, mut at) = (0, 0);
    while let Some(open) = pattern[at..].find('{').map(|place| at + place) {
        let digits = pattern[open + 1..].bytes().take_while(u8::is_ascii_digit).count();
        let behind = open + 1 + digits;
        at = open + 1;
        if digits > 2 || pattern.as_bytes().get(behind) != Some(&b'}') {
            continue;
        }
        texts.push(&pattern[from..open]);
        widths.push(pattern[open + 1..behind].parse().ok());
        (from, at) = (behind + 1, behind + 1);
    }
    texts.push(&pattern[from..]);
    (texts, widths)
}

/// The text before each field and behind the last.
pub(super) fn texts(pattern: &str) -> Vec<&str> {
    taken_apart(pattern).0
}

/// Characters of each field; `None` for as many as its digits are.
pub(super) fn widths(pattern: &str) -> Vec<Option<usize>> {
    taken_apart(pattern).1
}

/// Says what makes a pattern unusable.
pub(super) fn check(pattern: &str, fields: usize) -> Result<(), String> {
    let (texts, widths) = taken_apart(pattern);
    if widths.len() != fields {
        let places = widths.len();
        return Err(format!(
            "{places} places in the pattern for {fields} fields; a place is {FIELD}, or {{4}} for 4 characters"
        ));
    }
    let glued =
        |k: &usize| *k > 0 && *k < fields && texts[*k].is_empty() && widths[k - 1].is_none();
    if (0..texts.len()).any(|k| glued(&k)) {
        return Err(
            "two fields with nothing between them; say how wide the first one is: {4} for 4 characters"
                .to_owned(),
        );
    }
    if widths.contains(&Some(0)) {
        return Err("a field of no characters: {0}".to_owned());
    }
    Ok(())
}

/// The gaps of a pattern: one in front of each field, one behind the last.
pub(super) fn gaps(pattern: &str) -> Vec<Gap> {
    let solid = |piece: &str| piece.bytes().filter(|b| !is_blank(*b)).collect();
    let gap = |text: &str| Gap { pieces: text.split(ANY).map(solid).collect() };
    texts(pattern).into_iter().map(gap).collect()
}

/// Writes a pattern with `field` called for each place.
pub(super) fn write(pattern: &str, out: &mut Vec<u8>, field: impl Fn(usize, &mut Vec<u8>)) {
    let (texts, widths) = taken_apart(pattern);
    for (i, text) in texts.into_iter().enumerate() {
        if i > 0 {
            let from = out.len();
            field(i - 1, out);
            let missing = widths[i - 1].map_or(0, |width| width.saturating_sub(out.len() - from));
            out.splice(from..from, std::iter::repeat_n(b'0', missing));
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

    /// Nothing but blanks.
    pub(super) fn is_blank(&self) -> bool {
        matches!(self.pieces.as_slice(), [piece] if piece.is_empty())
    }
}

/// May a number begin so?
fn is_start(byte: u8) -> bool {
    byte.is_ascii_digit() || matches!(byte, b'-' | b'+')
}

/// Reads a line by its gaps into `cells`.
pub(super) fn read(
    gaps: &[Gap],
    widths: &[Option<usize>],
    rules: &[Rule],
    line: &[u8],
    cells: &mut [i32],
) -> Option<()> {
    let (last, before) = gaps.split_last()?;
    let mut at = 0;
    for (i, (gap, (rule, cell))) in before.iter().zip(rules.iter().zip(cells)).enumerate() {
        let width = widths.get(i).copied().flatten();
        // Blanks before its digits belong to a field of so many characters.
        let start = if width.is_some() && gap.is_blank() { at } else { gap.pass(line, at)? };
        if let Some(width) = width {
            let text = line.get(start..start + width)?;
            let end;
            (*cell, end) = rule.read(text, skip(text, 0))?;
            if end != width {
                return None;
            }
            at = start + width;
            continue;
        }
        let parted = i == 0 || !gap.is_blank() || start > at || widths[i - 1].is_some();
        if !parted && !rule.may_be_empty() {
            return None;
        }
        (*cell, at) = rule.read(line, start)?;
        // A number must end where its digits do.
        if line.get(at).is_some_and(u8::is_ascii_digit) {
            return None;
        }
    }
    (before.len() == rules.len() && ends(line, last.pass(line, at)?)).then_some(())
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
        read(&gaps, &widths(pattern), &rules, line.as_bytes(), &mut cells)?;
        Some(cells)
    }

    #[test]
    fn text_stays_and_blanks_do_not_count() {
        assert_eq!(numbers("<{} / {}>", "< 12/-3 >"), Some(vec![12, -3]));
        assert_eq!(numbers("{} {};", "\x1b[3m 5   6\x1b[0m ;"), Some(vec![5, 6]));
        assert_eq!(numbers("a{*}b {}", "a x bc b 4"), None);
        assert_eq!(numbers("a{*}b {}", "a x b 4"), Some(vec![4]));
        assert_eq!(numbers("{} {}", "56"), None);
        assert_eq!(numbers("{3}{4}x{}", "0120456x7"), Some(vec![12, 456, 7]));
        assert_eq!(numbers("{3}{4}", "12 0456"), None);
        assert_eq!(numbers("{3}{3}", " 12456"), Some(vec![12, 456]));
        assert_eq!(numbers("v {}", "v 5 x"), Some(vec![5]), "a remark");
        assert_eq!(numbers("v {}", "v 5 x2"), None);
        assert_eq!(numbers("v {}", "v 5x"), None);
        assert_eq!(numbers("{\"a\":{},\"b\":{}}", "{\"a\": 1, \"b\": 2}"), Some(vec![1, 2]));
    }
}
