//! Where and why a line departs from a dialect: column, token and reason in words. Never on the hot
//! path: asked only for lines that were refused and are shown to somebody.
use super::checksum::{self, Checked};
use super::classify::is_point;
use super::line::{LineReader, Rule, ends, is_between, skip_blanks, trimmed};
use super::pattern;
use super::{Dialect, Grammar, Separator};

/// The first place at which a line departs from a dialect.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Misfit {
    /// Byte of the line as it came, the first is 0.
    pub at: usize,
    /// Bytes of what stands there; 0 at the end of the line.
    pub length: usize,
    /// What was looked for and is not there.
    pub reason: String,
}

/// A dialect made ready for saying what is wrong with lines.
#[derive(Clone, Debug)]
pub struct LineCheck {
    reader: LineReader,
    marks: String,
}

/// Where in the payload, how long, and why.
type Found = (usize, usize, String);

impl LineCheck {
    /// Ready to judge lines by `dialect`.
    pub fn new(dialect: &Dialect) -> LineCheck {
        LineCheck { reader: LineReader::new(dialect), marks: dialect.pattern.clone() }
    }

    /// What is wrong with a line without its delimiter; `None` for one that fits, and for packed
    /// frames, of which no place says more than another. Cost: one pass.
    pub fn misfit(&self, line: &[u8]) -> Option<Misfit> {
        let text = trimmed(line);
        let before = line.iter().take_while(|b| matches!(b, b' ' | b'\t' | b'\r')).count();
        let (payload, sum) = match checksum::check(self.reader.checksum(), text) {
            Checked::Good(payload) => (payload, None),
            Checked::Wrong(payload) => {
                let star = payload.len();
                let why = "the checksum does not agree with the line before it".to_owned();
                (payload, Some((star, text.len() - star, why)))
            }
            Checked::Missing => {
                let digits = checksum::digits(self.reader.checksum());
                let why = format!("a checksum of {digits} digits behind a star is missing");
                (text, Some((text.len(), 0, why)))
            }
        };
        let bare = payload.strip_prefix(b"$").unwrap_or(payload);
        let dollar = payload.len() - bare.len();
        let found = match self.reader.grammar() {
            Grammar::Columns(separator) => self.columns(separator, bare),
            Grammar::Labelled => self.labelled(bare),
            Grammar::Pattern => self.between(bare),
            Grammar::Packed => return None,
        };
        let found = found.map(|(at, length, why)| (at + dollar, length, why)).or(sum)?;
        Some(Misfit { at: before + found.0, length: found.1, reason: found.2 })
    }

    fn columns(&self, separator: Separator, line: &[u8]) -> Option<Found> {
        let fields = self.reader.fields();
        let mark = separator.mark();
        // A tab is a blank only where it does not part the fields.
        let skip = |line: &[u8], at: usize| match mark {
            Some(_) => at + line[at..].iter().take_while(|b| **b == b' ').count(),
            None => skip_blanks(line, at),
        };
        let mut at = 0;
        for k in 0..fields {
            let mut start = skip(line, at);
            if let Some(mark) = mark.filter(|_| k > 0 && start < line.len()) {
                if line[start] != mark {
                    let why = format!("a {} should part the fields here", separator.word());
                    return Some((start, token(line, start, Some(mark)), why));
                }
                start = skip(line, start + 1);
            }
            if start == line.len() {
                return Some((start, 0, format!("the line ends after {k} of {fields} fields")));
            }
            let last = self.reader.rules().get(k).filter(|_| k + 1 == fields);
            if let Some((_, end)) = last.and_then(|rule| rule.read(line, start))
                && ends(line, end)
            {
                return None;
            }
            let length = token(line, start, mark);
            if let Some(why) = self.odd(k, &line[start..start + length]) {
                return Some((start, length, why));
            }
            at = start + length;
        }
        let rest = skip(line, at);
        let rest = if mark.is_some_and(|m| line.get(rest) == Some(&m)) {
            skip_blanks(line, rest + 1)
        } else {
            rest
        };
        (!ends(line, rest)).then(|| {
            (rest, line.len() - rest, format!("more than the {fields} fields stand in the line"))
        })
    }

    fn labelled(&self, line: &[u8]) -> Option<Found> {
        let rules = self.reader.rules();
        let mut seen = vec![false; rules.len()];
        let mut at = 0;
        loop {
            while line.get(at).is_some_and(|b| is_between(*b)) {
                at += 1;
            }
            if at == line.len() || seen.iter().all(|seen| *seen) && ends(line, at) {
                break;
            }
            let end = line[at..].iter().position(|b| is_between(*b) || matches!(b, b':' | b'='));
            let end = end.map_or(line.len(), |length| at + length);
            let label = &line[at..end];
            let Some(k) = rules.iter().position(|r| r.label() == label) else {
                return Some((at, end - at, "no label of this form".to_owned()));
            };
            let value = skip_blanks(line, end);
            if !matches!(line.get(value), Some(b':' | b'=')) {
                let why = "a colon or an equals sign should stand behind the label".to_owned();
                return Some((value, line.len().min(value + 1) - value, why));
            }
            let start = skip_blanks(line, value + 1);
            let length = line[start..].iter().take_while(|b| !is_between(**b)).count();
            if seen[k] {
                return Some((at, end - at, "this label stands twice".to_owned()));
            }
            if let Some(why) = self.odd(k, &line[start..start + length]) {
                return Some((start, length, why));
            }
            seen[k] = true;
            at = start + length;
        }
        let missing = seen.iter().position(|seen| !seen)?;
        Some((line.len(), 0, format!("{} is missing", self.field(missing))))
    }

    fn between(&self, line: &[u8]) -> Option<Found> {
        let gaps = self.reader.gaps();
        let texts: Vec<&str> = pattern::texts(&self.marks);
        let mut at = 0;
        for (k, gap) in gaps.iter().enumerate() {
            let text = texts.get(k).copied().unwrap_or("").trim();
            let Some(start) = gap.pass(line, at) else {
                let stands = gap.reaches(line, at);
                let why = match stands == line.len() {
                    true => format!("the line ends before \"{}\"", shown(text.as_bytes())),
                    false => format!("\"{}\" should stand here", shown(text.as_bytes())),
                };
                return Some((stands, token(line, stands, None), why));
            };
            if k == self.reader.fields() {
                let more = line.len() - start;
                let why = "more stands behind what ends a line of this form".to_owned();
                return (!ends(line, start)).then_some((start, more, why));
            }
            let rule = &self.reader.rules()[k];
            if start == line.len() && !rule.may_be_empty() {
                let fields = self.reader.fields();
                return Some((start, 0, format!("the line ends after {k} of {fields} fields")));
            }
            if let Some(width) = self.reader.widths()[k] {
                let start = if gap.is_blank() { at } else { start };
                let end = (start + width).min(line.len());
                let text = &line[start..end];
                let short = text.len() < width;
                match self.odd(k, &text[pattern::skip(text, 0)..]) {
                    Some(why) => return Some((start, text.len(), why)),
                    None if short => return Some((start, text.len(), self.expected(k))),
                    None => at = end,
                }
                continue;
            }
            let read = rule.read(line, start).map(|(_, end)| end);
            match read.filter(|end| !line.get(*end).is_some_and(u8::is_ascii_digit)) {
                Some(end) => at = end,
                None => {
                    let ahead = line[start..].iter();
                    let whole = ahead.take_while(|b| b.is_ascii_alphanumeric() || is_sign(**b));
                    let length = whole.count().max(1);
                    let why = self.odd(k, &line[start..start + length]);
                    return Some((start, length, why.unwrap_or_else(|| self.expected(k))));
                }
            }
        }
        None
    }

    /// Why a token is no value of field `k`.
    fn odd(&self, k: usize, token: &[u8]) -> Option<String> {
        let rule: &Rule = self.reader.rules().get(k)?;
        let whole = |read: Option<(i64, usize)>| read.filter(|(_, end)| *end == token.len());
        if rule.read(token, 0).is_some_and(|(_, end)| end == token.len()) {
            return None;
        }
        Some(if token.is_empty() {
            format!("{} is empty", self.field(k))
        } else if whole(rule.digits(token, 0)).is_some() {
            let (least, most) = rule.bounds();
            format!("{} goes from {least} to {most}", self.field(k))
        } else if is_point(token) {
            format!("{}; a decimal point stands in it", self.expected(k))
        } else {
            self.expected(k)
        })
    }

    fn expected(&self, k: usize) -> String {
        let base = self.reader.rules().get(k).map_or("number", |rule| rule.base().words());
        format!("{} is read as a {base}", self.field(k))
    }

    fn field(&self, k: usize) -> String {
        let label = self.reader.rules().get(k).map_or(&[][..], Rule::label);
        format!("field {} ({})", k + 1, shown(label))
    }
}

fn is_sign(byte: u8) -> bool {
    matches!(byte, b'.' | b'-' | b'+' | b'_')
}

/// Bytes up to the mark (or a blank), blanks before it left out.
fn token(line: &[u8], at: usize, mark: Option<u8>) -> usize {
    let ends = |b: &u8| mark.map_or(matches!(b, b' ' | b'\t'), |m| *b == m);
    let length = line[at..].iter().position(ends).unwrap_or(line.len() - at);
    line[at..at + length].trim_ascii_end().len()
}

/// Text that nothing obeys: what is not printable ASCII is written as an escape.
pub fn shown(bytes: &[u8]) -> String {
    let mut text = String::with_capacity(bytes.len());
    bytes.iter().for_each(|byte| push(&mut text, *byte));
    text
}

fn push(text: &mut String, byte: u8) {
    match byte {
        b'\t' => text.push_str("\\t"),
        0x20..=0x7E => text.push(char::from(byte)),
        _ => text.push_str(&format!("\\x{byte:02X}")),
    }
}

/// Characters of a quoted line at most.
const QUOTED: usize = 72;

/// A line as it is shown to a person, with the place that is pointed at.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Quoted {
    /// The line, or the part of it round the place, escaped.
    pub text: String,
    /// Characters of `text` before the place.
    pub caret: usize,
    /// Characters that are pointed at, at least 1.
    pub width: usize,
    /// The character of the line at which it stands, the first is 1.
    pub column: usize,
    /// What stands there, escaped; empty at the end of the line.
    pub token: String,
}

impl Quoted {
    /// Quotes `line` with `length` bytes from `at` on pointed at.
    pub fn of(line: &[u8], at: usize, length: usize) -> Quoted {
        let at = at.min(line.len());
        let end = (at + length).min(line.len());
        // So much before the place that it stands within what is shown.
        let before = shown(&line[..at]).len();
        let first = match before > QUOTED / 2 && shown(line).len() > QUOTED {
            true => at.saturating_sub(QUOTED / 4),
            false => 0,
        };
        let cut = if first > 0 { "…" } else { "" };
        let head = format!("{cut}{}", shown(&line[first..at]));
        let mut text = format!("{head}{}", shown(&line[at..]));
        if text.chars().count() > QUOTED {
            text = text.chars().take(QUOTED).collect::<String>() + "…";
        }
        let token = shown(&line[at..end]);
        let room = text.chars().count().saturating_sub(head.chars().count());
        Quoted {
            caret: head.chars().count(),
            width: token.len().min(room).max(1),
            column: String::from_utf8_lossy(&line[..at]).chars().count() + 1,
            token: match token.len() > 24 {
                true => format!("{}…", &token[..24]),
                false => token,
            },
            text,
        }
    }

    /// Place and token in words: `column 9, "1.5"`.
    pub fn words(&self) -> String {
        match self.token.is_empty() {
            true => format!("column {}, the end of the line", self.column),
            false => format!("column {}, \"{}\"", self.column, self.token),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::wire::{Base, ChecksumForm, Field, Role};

    fn form(grammar: Grammar, pattern: &str, bases: &[(&str, Role, Base)]) -> LineCheck {
        let field = |(name, role, base): &(&str, Role, Base)| Field {
            name: (*name).to_owned(),
            role: *role,
            base: *base,
        };
        LineCheck::new(&Dialect {
            format: 1,
            grammar,
            fields: bases.iter().map(field).collect(),
            checksum: ChecksumForm::None,
            clock: Default::default(),
            clock_bits: None,
            names: Vec::new(),
            counts: Default::default(),
            line_us: None,
            pattern: pattern.to_owned(),
            cr_ends: false,
            seq_bits: None,
            by_order: false,
        })
    }

    fn told(check: &LineCheck, line: &str) -> Option<(usize, String, String)> {
        let misfit = check.misfit(line.as_bytes())?;
        let quoted = Quoted::of(line.as_bytes(), misfit.at, misfit.length);
        Some((quoted.column, quoted.token, misfit.reason))
    }

    const THREE: [(&str, Role, Base); 3] = [
        ("n", Role::Seq, Base::Decimal),
        ("up", Role::Button(0), Base::Decimal),
        ("keys", Role::Buttons, Base::Hex),
    ];

    #[test]
    fn columns_name_the_place_and_what_is_wrong_there() {
        let check = form(Grammar::Columns(Separator::Comma), "", &THREE);
        assert_eq!(told(&check, "7, 1,FF"), None);
        assert_eq!(told(&check, " 7,1,FF,"), None);
        for (line, column, token, words) in [
            (
                "7,1.5,FF",
                3,
                "1.5",
                "field 2 (up) is read as a whole decimal number; a decimal point",
            ),
            ("7,2,FF", 3, "2", "field 2 (up) goes from 0 to 1"),
            ("  7,1,xyz", 7, "xyz", "field 3 (keys) is read as a hexadecimal number"),
            ("7,1", 4, "", "the line ends after 2 of 3 fields"),
            ("7,,FF", 3, "", "field 2 (up) is empty"),
            ("7,1,FF,9,9", 8, "9,9", "more than the 3 fields"),
            ("7;1;FF", 1, "7;1;FF", "field 1 (n) is read as"),
        ] {
            let said = told(&check, line).unwrap_or_else(|| panic!("{line} fits"));
            assert_eq!((said.0, said.1.as_str()), (column, token), "{line}: {said:?}");
            assert!(said.2.contains(words), "{line}: {said:?}");
        }
    }

    #[test]
    fn labels_and_text_between_name_the_place_too() {
        let labels = form(Grammar::Labelled, "", &THREE);
        assert_eq!(told(&labels, "n:7 up=1 keys: F"), None);
        let said = |line: &str| told(&labels, line).expect("a place");
        assert_eq!(said("n:7 down=1 keys:F"), (5, "down".into(), "no label of this form".into()));
        assert_eq!(said("n:7 up=1").2, "field 3 (keys) is missing");
        assert!(said("n:7 up=1 up=0 keys:F").2.contains("twice"));
        let text = form(Grammar::Pattern, "<n {} up {} of {}>", &THREE);
        assert_eq!(told(&text, "<n 7 up 1 of FF>"), None);
        let said = |line: &str| told(&text, line).expect("a place");
        assert_eq!(said("<n 7 uq 1 of FF>"), (7, "q".into(), "\"up\" should stand here".into()));
        assert_eq!(said("<n 7 up").2, "the line ends after 1 of 3 fields");
        assert_eq!(said("<n 7 up 1 of FF").2, "the line ends before \">\"");
        assert_eq!(said("<n 7 up 9 of FF>").1, "9");
    }

    #[test]
    fn a_quoted_line_is_harmless_short_and_points_at_its_place() {
        let quoted = Quoted::of(b"a\x1b[31m,\xC3\xBC,x", 10, 1);
        assert_eq!(quoted.text, "a\\x1B[31m,\\xC3\\xBC,x");
        assert_eq!(&quoted.text[quoted.caret..quoted.caret + quoted.width], "x");
        assert_eq!(quoted.column, 10, "characters, not bytes");
        let long = [b"1,".repeat(200), b"z".to_vec(), b",1".repeat(200)].concat();
        let quoted = Quoted::of(&long, 400, 1);
        assert!(quoted.text.chars().count() <= QUOTED + 1);
        assert_eq!(quoted.text.chars().nth(quoted.caret), Some('z'));
        let end = Quoted::of(b"1,2", 3, 0);
        assert_eq!(
            (end.caret, end.width, end.words().as_str()),
            (3, 1, "column 4, the end of the line")
        );
        for at in 0..=long.len() {
            let quoted = Quoted::of(&long, at, 9);
            assert!(quoted.caret + quoted.width <= QUOTED + 2, "{at}: {quoted:?}");
        }
    }
}
