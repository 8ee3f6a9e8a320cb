//! One line to cells by a dialect: the hot path of every byte, without allocation.
use super::checksum::{self, Checked};
use super::pattern::{self, Gap};
use super::{Base, ChecksumForm, Counts, Dialect, Field, Grammar, Role, Separator};
use super::{listed, marks, number, states};

/// Fields a dialect may have.
pub(super) const MAX_FIELDS: usize = 64;

/// What a line turned out to be on the fast path.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Parsed {
    /// All cells are filled.
    Frame,
    /// The grammar fits, the checksum does not.
    WrongSum,
    /// Anything else; the slow path says what.
    Other,
}

/// A field ready for reading: base, range and label.
#[derive(Clone, Debug)]
pub(super) struct Rule {
    base: Base,
    wraps: bool,
    least: i64,
    most: i64,
    label: Vec<u8>,
    /// What a list may hold.
    names: Vec<Vec<u8>>,
    /// How its number becomes a count, where it is none.
    counts: Option<Counts>,
}

impl Rule {
    pub(super) fn new(name: &str, role: Role, base: Base, seq_bits: Option<u8>) -> Rule {
        let word = i64::from(u32::MAX);
        let (least, most) = match role {
            // Raw readings have 8 to 16 bits; processed ones fit an int16.
            Role::Axis(_) | Role::OutAxis(_) => (-65_535, 65_535),
            Role::Button(_) => (0, 1),
            Role::Seq => (0, seq_bits.map_or(word, |bits| (1 << bits.min(32)) - 1)),
            Role::Clock
            | Role::Buttons
            | Role::MoreButtons(_)
            | Role::OutButtons
            | Role::RemoteSeq(_) => (0, word),
            _ => (i64::from(i32::MIN), word),
        };
        let wraps = matches!(role, Role::Clock | Role::Ignore);
        Rule {
            base,
            wraps,
            least,
            most,
            label: name.as_bytes().to_vec(),
            names: Vec::new(),
            counts: None,
        }
    }

    /// The same for a field of a dialect.
    fn of(field: &Field, dialect: &Dialect) -> Rule {
        let mut rule = Rule::new(&field.name, field.role, field.base, dialect.seq_bits);
        rule.counts = dialect.counts.get(&field.name).copied();
        if field.base == Base::Names {
            rule.names = dialect.names.iter().map(|name| name.as_bytes().to_vec()).collect();
        }
        rule
    }

    /// Nothing at all is a value too: an empty list.
    pub(super) fn may_be_empty(&self) -> bool {
        self.base == Base::Names
    }

    /// The field's 32 bits and the place behind its digits.
    #[inline]
    pub(super) fn read(&self, line: &[u8], at: usize) -> Option<(i32, usize)> {
        let (value, end) = self.digits(line, at)?;
        let value = match &self.counts {
            None => value,
            Some(counts) => turned(counts, value),
        };
        // The low 32 bits on purpose: unsigned fields use all of them.
        (self.least <= value && value <= self.most).then_some((value as u32 as i32, end))
    }

    /// The number that stands there, whatever its size.
    #[inline]
    pub(super) fn digits(&self, line: &[u8], at: usize) -> Option<(i64, usize)> {
        match self.base {
            Base::Decimal if self.wraps => Some(self.wrapped(number::long(line, at)?)),
            Base::Decimal => number::decimal(line, at),
            Base::Hex | Base::Unsettled => number::hex(line, at),
            _ => self.rare(line, at),
        }
    }

    /// The same of the bases that few boards print: apart, so that the usual ones stay short.
    #[inline(never)]
    fn rare(&self, line: &[u8], at: usize) -> Option<(i64, usize)> {
        match self.base {
            Base::Decimal | Base::Hex | Base::Unsettled => self.digits(line, at),
            Base::Bits => number::bits(line, at),
            Base::Binary => number::binary(line, at),
            Base::Fixed(places) => Some(self.wrapped(number::fixed(line, at, b'.', places)?)),
            Base::FixedComma(places) => Some(self.wrapped(number::fixed(line, at, b',', places)?)),
            Base::DayTime => Some(self.wrapped(number::day_time(line, at)?)),
            Base::Names => Some(listed::listed(&self.names, line, at)),
            Base::Marks => marks::marks(line, at),
            Base::State => states::state(line, at),
            Base::U8 | Base::U16 | Base::U32 | Base::I16 => None,
        }
    }

    /// Least and greatest value of the field.
    pub(super) fn bounds(&self) -> (i64, i64) {
        (self.least, self.most)
    }

    /// How its digits are read.
    pub(super) fn base(&self) -> Base {
        self.base
    }

    /// A clock of more than 32 bits goes on at its low ones; what is not used may have any size.
    fn wrapped(&self, (value, end): (i64, usize)) -> (i64, usize) {
        if self.wraps { (value & i64::from(u32::MAX), end) } else { (value, end) }
    }

    /// The label in front of the number.
    pub(super) fn label(&self) -> &[u8] {
        &self.label
    }
}

#[cold]
fn turned(counts: &Counts, value: i64) -> i64 {
    counts.of(value)
}

/// A dialect made ready for reading lines.
#[derive(Clone, Debug)]
pub(super) struct LineReader {
    grammar: Grammar,
    checksum: ChecksumForm,
    rules: Vec<Rule>,
    gaps: Vec<Gap>,
    widths: Vec<Option<usize>>,
}

/// Blanks at both ends and the CR before the LF taken off.
#[inline]
pub(super) fn trimmed(line: &[u8]) -> &[u8] {
    let mut line = line;
    while let [rest @ .., b'\r' | b' ' | b'\t'] = line {
        line = rest;
    }
    while let [b'\r' | b' ' | b'\t', rest @ ..] = line {
        line = rest;
    }
    line
}

#[inline]
pub(super) fn skip_blanks(line: &[u8], mut at: usize) -> usize {
    while matches!(line.get(at), Some(b' ' | b'\t')) {
        at += 1;
    }
    at
}

impl LineReader {
    /// Rules for at most [`MAX_FIELDS`] fields; [`Dialect::check`] refuses more.
    pub(super) fn new(dialect: &Dialect) -> LineReader {
        let rules = dialect.fields.iter().take(MAX_FIELDS);
        LineReader {
            grammar: dialect.grammar,
            checksum: dialect.checksum,
            rules: rules.map(|f| Rule::of(f, dialect)).collect(),
            gaps: pattern::gaps(&dialect.pattern),
            widths: pattern::widths(&dialect.pattern),
        }
    }

    /// Number of fields.
    pub(super) fn fields(&self) -> usize {
        self.rules.len()
    }

    /// The fields' rules in order.
    pub(super) fn rules(&self) -> &[Rule] {
        &self.rules
    }

    /// The text between the fields, for the pattern grammar.
    pub(super) fn gaps(&self) -> &[Gap] {
        &self.gaps
    }

    /// Characters of each field, for the pattern grammar; `None` for as many as its digits are.
    pub(super) fn widths(&self) -> &[Option<usize>] {
        &self.widths
    }

    /// How the lines are built.
    pub(super) fn grammar(&self) -> Grammar {
        self.grammar
    }

    /// The checksum at the end of each line.
    pub(super) fn checksum(&self) -> ChecksumForm {
        self.checksum
    }

    /// Reads a trimmed line into `cells` (one a field).
    #[inline]
    pub(super) fn read(&self, line: &[u8], cells: &mut [i32]) -> Parsed {
        let (payload, proven) = match checksum::check(self.checksum, line) {
            Checked::Good(payload) => (payload, true),
            Checked::Wrong(payload) => (payload, false),
            Checked::Missing => return Parsed::Other,
        };
        let payload = payload.strip_prefix(b"$").unwrap_or(payload);
        let whole = match self.grammar {
            Grammar::Columns(separator) => self.columns(separator, payload, cells),
            Grammar::Labelled => self.labelled(payload, cells),
            Grammar::Pattern => {
                pattern::read(&self.gaps, &self.widths, &self.rules, payload, cells)
            }
            // Never a line; the framer asks the packed reader.
            Grammar::Packed => None,
        };
        match (whole, proven) {
            (Some(()), true) => Parsed::Frame,
            (Some(()), false) => Parsed::WrongSum,
            (None, false) => Parsed::WrongSum,
            (None, true) => Parsed::Other,
        }
    }

    #[inline]
    fn columns(&self, separator: Separator, line: &[u8], cells: &mut [i32]) -> Option<()> {
        let Some(mark) = separator.mark() else { return self.blanks(line, cells) };
        let mut at = 0;
        for (i, (rule, cell)) in self.rules.iter().zip(cells.iter_mut()).enumerate() {
            if i > 0 {
                if line.get(at) != Some(&mark) {
                    return None;
                }
                at += 1;
            }
            while line.get(at) == Some(&b' ') {
                at += 1;
            }
            (*cell, at) = rule.read(line, at)?;
            while line.get(at) == Some(&b' ') {
                at += 1;
            }
        }
        // A separator behind the last field is a habit of many print loops.
        let end = if line.get(at) == Some(&mark) { skip_blanks(line, at + 1) } else { at };
        ends(line, end).then_some(())
    }

    fn blanks(&self, line: &[u8], cells: &mut [i32]) -> Option<()> {
        let mut at = 0;
        for (i, (rule, cell)) in self.rules.iter().zip(cells.iter_mut()).enumerate() {
            let start = skip_blanks(line, at);
            if i > 0 && start == at {
                return None;
            }
            (*cell, at) = rule.read(line, start)?;
        }
        ends(line, at).then_some(())
    }

    fn labelled(&self, line: &[u8], cells: &mut [i32]) -> Option<()> {
        let mut seen = 0_u64;
        let mut expected = 0;
        let mut at = 0;
        loop {
            at = skip_between(line, at);
            let whole = seen.count_ones() as usize == self.rules.len();
            if at == line.len() || whole && ends(line, at) {
                break;
            }
            let field = self.labelled_at(line, at, expected)?;
            at = skip_blanks(line, at + self.rules[field].label.len());
            if !matches!(line.get(at), Some(b':' | b'=')) {
                return None;
            }
            let start = skip_blanks(line, at + 1);
            let (value, end) = self.rules[field].read(line, start)?;
            if seen >> field & 1 == 1 || !line.get(end).is_none_or(|b| is_between(*b)) {
                return None;
            }
            cells[field] = value;
            seen |= 1 << field;
            expected = field + 1;
            at = end;
        }
        (seen.count_ones() as usize == self.rules.len()).then_some(())
    }

    /// The field whose label stands at `at`; the one that usually follows is tried first.
    #[inline]
    fn labelled_at(&self, line: &[u8], at: usize, expected: usize) -> Option<usize> {
        let fits = |rule: &Rule| {
            let end = at + rule.label.len();
            line[at..].starts_with(&rule.label)
                && matches!(line.get(end), Some(b':' | b'=' | b' ' | b'\t'))
        };
        if self.rules.get(expected).is_some_and(fits) {
            return Some(expected);
        }
        self.rules.iter().position(fits)
    }
}

/// True where a frame may end at `at`: behind it stand blanks, or words behind a blank, without
/// digits and labels.
#[inline]
pub(super) fn ends(line: &[u8], at: usize) -> bool {
    skip_blanks(line, at) == line.len() || is_remark(line, at)
}

#[cold]
fn is_remark(line: &[u8], at: usize) -> bool {
    let blank = |b: &u8| matches!(b, b' ' | b'\t');
    let apart = line.get(at).is_some_and(blank) || at > 0 && line.get(at - 1).is_some_and(blank);
    apart
        && line[at..].iter().all(|b| {
            blank(b) || b.is_ascii_graphic() && !b.is_ascii_digit() && !matches!(b, b':' | b'=')
        })
}

/// True for what may stand between two labelled fields.
#[inline]
pub(super) fn is_between(byte: u8) -> bool {
    matches!(byte, b' ' | b'\t' | b',' | b';')
}

#[inline]
fn skip_between(line: &[u8], mut at: usize) -> usize {
    while line.get(at).is_some_and(|b| is_between(*b)) {
        at += 1;
    }
    at
}
