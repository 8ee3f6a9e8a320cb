//! The shape of the lines: separator or labels, number of fields, heading, checksum.
use std::collections::HashMap;

use crate::wire::checksum::{self, Checked};
use crate::wire::classify::{heading_words, is_point, tokens};
use crate::wire::line::{MAX_FIELDS, is_between, trimmed};
use crate::wire::names::role_of_bytes;
use crate::wire::{ChecksumForm, Grammar, Separator, marks, number, states};

/// Lines of one shape, taken apart.
pub(super) struct Shape<'a> {
    pub(super) grammar: Grammar,
    pub(super) checksum: ChecksumForm,
    pub(super) fields: usize,
    /// Names from the heading or the labels; empty when there are none.
    pub(super) names: Vec<String>,
    /// The line as it stands, for the pattern grammar.
    pub(super) pattern: String,
    /// The tokens of each line that the shape explains.
    pub(super) rows: Vec<Vec<&'a [u8]>>,
}

/// The whole, non-blank lines of a sample, trimmed.
pub(super) fn lines(sample: &[u8], end: u8) -> Vec<&[u8]> {
    let last = memchr::memrchr(end, sample).unwrap_or(0);
    sample[..last].split(move |b| *b == end).map(trimmed).filter(|l| !l.is_empty()).collect()
}

/// A number in any base, or one with a decimal point.
fn is_number(token: &[u8]) -> bool {
    let whole = |read: Option<(i64, usize)>| read.is_some_and(|(_, end)| end == token.len());
    whole(number::long(token, 0))
        || whole(number::hex(token, 0))
        || whole(number::bits(token, 0))
        || whole(number::binary(token, 0))
        || is_point(token)
        || states::is_state(token)
        || marks::is_row(token)
}

impl<'a> Shape<'a> {
    /// The shape that explains most of the lines, and how many lines were judged; as an error where it
    /// explains less than half of them.
    pub(super) fn find(lines: &[&'a [u8]]) -> Result<Shape<'a>, (Shape<'a>, usize)> {
        let checksum = checksum_form(lines);
        let bare: Vec<&[u8]> = lines.iter().map(|line| without_sum(checksum, line)).collect();
        let mut best = labelled(&bare);
        for separator in [Separator::Comma, Separator::Semicolon, Separator::Tab, Separator::Blanks]
        {
            let found = columns(separator, &bare);
            let (more, same) = (found.rows.len(), found.rows.len() == best.rows.len());
            if more > best.rows.len() || same && found.fields > best.fields {
                best = found;
            }
        }
        let headings = match best.grammar {
            Grammar::Columns(separator) => name_columns(&mut best, separator, &bare),
            Grammar::Labelled | Grammar::Pattern | Grammar::Packed => 0,
        };
        let judged = lines.len() - headings;
        // Text between numbers takes longer to look at: only where nothing simpler fits.
        if 10 * best.rows.len() < 7 * judged {
            let other = super::between::find(&bare);
            if 2 * other.rows.len() >= judged && 4 * other.rows.len() > 5 * best.rows.len() {
                return Ok(Shape { checksum, ..other });
            }
        }
        if best.rows.len() < 2 || 2 * best.rows.len() < judged {
            best.checksum = checksum;
            return Err((best, judged));
        }
        best.checksum = checksum;
        Ok(best)
    }
}

/// The checksum at the end of at least half of the lines.
fn checksum_form(lines: &[&[u8]]) -> ChecksumForm {
    let forms = [
        (ChecksumForm::Xor, ChecksumForm::Unchecked8),
        (ChecksumForm::Crc16, ChecksumForm::Unchecked16),
    ];
    for (form, unchecked) in forms {
        let (mut there, mut good) = (0, 0);
        for line in lines {
            match checksum::check(form, line) {
                Checked::Good(_) => (there, good) = (there + 1, good + 1),
                Checked::Wrong(_) => there += 1,
                Checked::Missing => {}
            }
        }
        if 2 * there >= lines.len() {
            return if 2 * good >= there { form } else { unchecked };
        }
    }
    ChecksumForm::None
}

fn without_sum(form: ChecksumForm, line: &[u8]) -> &[u8] {
    let payload = match checksum::check(form, line) {
        Checked::Good(payload) => payload,
        // Damaged: it must not be judged as if it were whole.
        Checked::Wrong(_) => &[],
        Checked::Missing => line,
    };
    payload.strip_prefix(b"$").unwrap_or(payload)
}

fn columns<'a>(separator: Separator, lines: &[&'a [u8]]) -> Shape<'a> {
    let mut counts = [0_usize; MAX_FIELDS + 1];
    let mut rows: Vec<Vec<&[u8]>> = Vec::with_capacity(lines.len());
    for line in lines {
        let row: Vec<&[u8]> = tokens(separator, line).take(MAX_FIELDS + 1).collect();
        if (2..=MAX_FIELDS).contains(&row.len()) && row.iter().all(|t| is_number(t)) {
            counts[row.len()] += 1;
            rows.push(row);
        }
    }
    let most = counts.iter().enumerate().max_by_key(|(_, count)| **count);
    let fields = most.map_or(0, |(fields, _)| fields);
    rows.retain(|row| row.len() == fields);
    let grammar = Grammar::Columns(separator);
    let (names, pattern) = (Vec::new(), String::new());
    Shape { grammar, checksum: ChecksumForm::None, fields, names, rows, pattern }
}

/// Names the columns from a heading; gives the number of lines that are such headings.
fn name_columns(shape: &mut Shape, separator: Separator, lines: &[&[u8]]) -> usize {
    let heading = lines.iter().find(|line| is_heading(separator, line, shape.fields));
    let Some(heading) = heading else { return 0 };
    let words = heading_words(separator, heading);
    shape.names = words.map(|w| String::from_utf8_lossy(w).into_owned()).collect();
    lines.iter().filter(|line| *line == heading).count()
}

fn is_heading(separator: Separator, line: &[u8], fields: usize) -> bool {
    let (mut count, mut known, mut numbers) = (0, 0, 0);
    for word in heading_words(separator, line) {
        if !word.first().is_some_and(|b| b.is_ascii_alphabetic() || *b == b'_') {
            return false;
        }
        count += 1;
        known += usize::from(role_of_bytes(word).is_some());
        numbers += usize::from(is_number(word));
    }
    // Between blanks any sentence of the right length would do.
    let trusted = separator != Separator::Blanks || 3 * known >= fields;
    count == fields && 2 * numbers < count && trusted
}

fn labelled<'a>(lines: &[&'a [u8]]) -> Shape<'a> {
    let mut groups: HashMap<Vec<&[u8]>, Vec<Vec<&'a [u8]>>> = HashMap::new();
    for line in lines {
        if let Some((labels, row)) = label_pairs(line) {
            groups.entry(labels).or_default().push(row);
        }
    }
    // Equal counts cannot depend on the map's order, hence the labels as second key.
    let best = groups.into_iter().max_by(|a, b| (a.1.len(), &a.0).cmp(&(b.1.len(), &b.0)));
    let (labels, rows) = best.unwrap_or_default();
    let names: Vec<String> =
        labels.iter().map(|l| String::from_utf8_lossy(l).into_owned()).collect();
    let fields = labels.len();
    let (grammar, pattern) = (Grammar::Labelled, String::new());
    Shape { grammar, checksum: ChecksumForm::None, fields, names, rows, pattern }
}

/// Labels of a line, and the token behind each.
type Pairs<'a> = (Vec<&'a [u8]>, Vec<&'a [u8]>);

/// Labels and numbers of a line of `name:number` or `name=number`.
fn label_pairs(line: &[u8]) -> Option<Pairs<'_>> {
    let (mut labels, mut row) = (Vec::new(), Vec::new());
    let mut rest = line;
    loop {
        while let [first, tail @ ..] = rest
            && is_between(*first)
        {
            rest = tail;
        }
        if rest.is_empty() {
            break;
        }
        let cut = rest.iter().position(|b| matches!(b, b':' | b'='))?;
        let label = rest[..cut].trim_ascii();
        let value = rest[cut + 1..].trim_ascii_start();
        let end = value.iter().position(|b| is_between(*b)).unwrap_or(value.len());
        let odd = |b: &u8| !b.is_ascii_graphic() || matches!(b, b',' | b';');
        if label.is_empty() || label.iter().any(odd) || !is_number(&value[..end]) {
            return None;
        }
        if labels.contains(&label) || labels.len() == MAX_FIELDS {
            return None;
        }
        labels.push(label);
        row.push(&value[..end]);
        rest = &value[end..];
    }
    (labels.len() >= 2).then_some((labels, row))
}
