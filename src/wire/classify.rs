//! Why a line is no frame: the slow path, taken only for lines that were refused.
use super::line::{LineReader, is_between};
use super::{Grammar, Remark, Separator, Why, names, number, pattern};

/// What a refused line is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Verdict {
    /// Neither a frame nor a fault.
    Remark(Remark),
    /// A fault or a foreign line.
    Refused(Why),
}

/// Counts over the tokens of a line.
#[derive(Default)]
struct Tally {
    /// Tokens.
    all: usize,
    /// Tokens that the field at the same place can read whole.
    fitting: usize,
    /// Tokens that some field's base can read whole.
    numeric: usize,
    /// Tokens that are numbers but for one decimal point.
    points: usize,
}

/// Says what a trimmed line is that the reader did not take.
pub(super) fn classify(reader: &LineReader, line: &[u8]) -> Verdict {
    if line.is_empty() {
        return Verdict::Remark(Remark::Blank);
    }
    if is_heading(reader, line) {
        return Verdict::Remark(Remark::Heading);
    }
    let tally = match reader.grammar() {
        Grammar::Columns(separator) => column_tally(reader, separator, line),
        Grammar::Pattern => pattern_tally(reader, line),
        Grammar::Labelled => label_tally(reader, line),
        Grammar::Packed => Tally::default(),
    };
    Verdict::Refused(judge(reader.fields(), &tally))
}

fn judge(fields: usize, tally: &Tally) -> Why {
    let mostly_numbers = 2 * (tally.numeric + tally.points) >= tally.all.max(1);
    if tally.all == 0 || !mostly_numbers {
        return Why::Foreign;
    }
    match tally.all.cmp(&fields) {
        std::cmp::Ordering::Less => Why::Torn,
        std::cmp::Ordering::Greater => Why::FieldCount,
        std::cmp::Ordering::Equal if tally.points > 0 => Why::DecimalPoint,
        // Every field is there and whole, so the checksum itself must be missing.
        std::cmp::Ordering::Equal if tally.fitting == fields => Why::Torn,
        std::cmp::Ordering::Equal => Why::BadField,
    }
}

fn column_tally(reader: &LineReader, separator: Separator, line: &[u8]) -> Tally {
    let mut tally = Tally::default();
    let line = without_sum(line);
    for token in tokens(separator, line) {
        let rule = reader.rules().get(tally.all);
        count_token(reader, rule.is_some_and(|r| reads_whole(r, token)), token, &mut tally);
    }
    tally
}

/// The numbers of a line between whatever text; those that the pattern would read count as fields.
fn pattern_tally(reader: &LineReader, line: &[u8]) -> Tally {
    let mut tally = Tally::default();
    let alone = |b: &u8| !(b.is_ascii_alphanumeric() || matches!(b, b'.' | b'-' | b'+'));
    for token in line.split(alone).filter(|t| t.iter().any(u8::is_ascii_digit)) {
        let rule = reader.rules().get(tally.all);
        count_token(reader, rule.is_some_and(|r| reads_whole(r, token)), token, &mut tally);
    }
    tally
}

/// A labelled line counts as many tokens as it has labels of the dialect or things like them.
fn label_tally(reader: &LineReader, line: &[u8]) -> Tally {
    let mut tally = Tally::default();
    let line = without_sum(line);
    for token in line.split(|b| is_between(*b)).filter(|t| !t.is_empty()) {
        let Some(cut) = token.iter().position(|b| matches!(b, b':' | b'=')) else {
            // A bare word, or a number behind "name: ", which belongs to the token before it.
            tally.all += usize::from(!is_number(reader, token));
            continue;
        };
        let (label, value) = (&token[..cut], &token[cut + 1..]);
        let rule = reader.rules().iter().find(|r| r.label() == label);
        if value.is_empty() {
            tally.all += 1;
            tally.numeric += usize::from(rule.is_some());
        } else {
            count_token(reader, rule.is_some_and(|r| reads_whole(r, value)), value, &mut tally);
        }
    }
    tally
}

fn count_token(reader: &LineReader, fits: bool, token: &[u8], tally: &mut Tally) {
    tally.all += 1;
    tally.fitting += usize::from(fits);
    if fits || is_number(reader, token) {
        tally.numeric += 1;
    } else if is_point(token) {
        tally.points += 1;
    }
}

fn reads_whole(rule: &super::line::Rule, token: &[u8]) -> bool {
    rule.read(token, 0).is_some_and(|(_, end)| end == token.len())
}

fn is_number(reader: &LineReader, token: &[u8]) -> bool {
    number::decimal(token, 0).is_some_and(|(_, end)| end == token.len())
        || reader.rules().iter().any(|r| reads_whole(r, token))
}

/// `12.5`, `-3.0`, `.5`: digits with one point.
pub(super) fn is_point(token: &[u8]) -> bool {
    let digits = token.strip_prefix(b"-").or(token.strip_prefix(b"+")).unwrap_or(token);
    let points = digits.iter().filter(|b| **b == b'.').count();
    let numbers = digits.iter().filter(|b| b.is_ascii_digit()).count();
    points == 1 && numbers > 0 && points + numbers == digits.len()
}

fn without_sum(line: &[u8]) -> &[u8] {
    let line = line.strip_prefix(b"$").unwrap_or(line);
    match line.iter().rposition(|b| *b == b'*') {
        Some(star) if line.len() - star <= 5 => &line[..star],
        _ => line,
    }
}

/// The tokens of a line of columns; an empty one behind a trailing separator is left out.
pub(super) fn tokens(separator: Separator, line: &[u8]) -> impl Iterator<Item = &[u8]> {
    let mark = separator.mark();
    let line = match mark {
        Some(mark) => line.strip_suffix(&[mark]).unwrap_or(line),
        None => line,
    };
    line.split(move |b| mark.map_or(matches!(b, b' ' | b'\t'), |m| *b == m))
        .filter(move |t| mark.is_some() || !t.is_empty())
        .map(<[u8]>::trim_ascii)
}

/// The names of the columns, or names like them, one a field.
fn is_heading(reader: &LineReader, line: &[u8]) -> bool {
    let separator = match reader.grammar() {
        Grammar::Columns(separator) => separator,
        Grammar::Pattern => {
            let words = pattern::heading_words(line);
            let names = words.iter().filter_map(|w| std::str::from_utf8(w).ok());
            let same = names.zip(reader.rules()).filter(|(w, r)| w.as_bytes() == r.label());
            return words.len() == reader.fields() && 2 * same.count() > words.len();
        }
        Grammar::Labelled | Grammar::Packed => return false,
    };
    let words = || heading_words(separator, without_sum(line));
    if words().count() != reader.fields() {
        return false;
    }
    let same = words().zip(reader.rules()).filter(|(w, r)| w.eq_ignore_ascii_case(r.label()));
    let known = words().filter(|w| names::role_of_bytes(w).is_some());
    same.count() == reader.fields() || 2 * known.count() > reader.fields()
}

/// The words of a heading: the columns' separator first, else commas, semicolons and blanks.
pub(super) fn heading_words(separator: Separator, line: &[u8]) -> impl Iterator<Item = &[u8]> {
    let line = line.strip_prefix(b"#").or(line.strip_prefix(b"//")).unwrap_or(line).trim_ascii();
    tokens(separator, line)
        .map(|word| word.strip_prefix(b"\"").unwrap_or(word))
        .map(|word| word.strip_suffix(b"\"").unwrap_or(word))
}
