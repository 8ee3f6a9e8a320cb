//! The account of lines that gave no frames, for whoever has to mend them: the first ones quoted with
//! the place and the reason, how many of which kind, and the form that most of them nearly have.
use super::misfit::{LineCheck, Quoted};
use super::recognise::nearest;
use super::{Dialect, Framer, Place, Sink, Why};

/// Lines quoted.
const QUOTED: usize = 3;

/// A refused line with the place at which it goes wrong.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct RefusedLine {
    /// Where it stood.
    pub place: Place,
    /// What kind of refusal it is.
    pub why: Why,
    /// The line, and what in it is pointed at.
    pub quoted: Quoted,
    /// What was looked for and is not there.
    pub reason: String,
}

/// The form that most lines nearly have.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Nearest {
    /// In words.
    pub form: String,
    /// The form itself.
    pub dialect: Dialect,
    /// Lines that it reads.
    pub reads: u64,
    /// Lines that were looked at, blank ones left out.
    pub lines: u64,
}

/// What became of the lines of a stream that is not understood.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Account {
    /// The first three of the commonest kind.
    pub first: Vec<RefusedLine>,
    /// How many of which kind, the commonest first.
    pub kinds: Vec<(Why, u64)>,
    /// The form that would almost fit, where any line fits one.
    pub nearest: Option<Nearest>,
}

/// Says place, length and reason of what is wrong with a line.
type Explain<'a> = &'a dyn Fn(&[u8]) -> (usize, usize, String);

/// Gathers what a framer refuses.
struct Gather<'a> {
    reads: u64,
    counts: [u64; Why::ALL.len()],
    kept: Vec<RefusedLine>,
    explain: Explain<'a>,
}

/// Place, length and reason of what is wrong with a line.
fn misfit(check: &LineCheck, line: &[u8]) -> (usize, usize, String) {
    match check.misfit(line) {
        Some(misfit) => (misfit.at, misfit.length, misfit.reason),
        // It fits, and nothing shows that its last number is whole.
        None => (line.len(), 0, "nothing shows that the line is whole".to_owned()),
    }
}

impl<'a> Gather<'a> {
    fn by(explain: Explain<'a>) -> Gather<'a> {
        Gather { reads: 0, counts: Default::default(), kept: Vec::new(), explain }
    }

    fn account(self, nearest: Option<Nearest>) -> Account {
        let mut kinds: Vec<(Why, u64)> = Why::ALL.into_iter().zip(self.counts).collect();
        kinds.retain(|(_, count)| *count > 0);
        kinds.sort_by_key(|(_, count)| std::cmp::Reverse(*count));
        let mut first = self.kept;
        let commonest = kinds.first().map(|(why, _)| *why);
        first.retain(|line| Some(line.why) == commonest);
        Account { first, kinds, nearest }
    }
}

impl Sink for Gather<'_> {
    fn frame(&mut self, _: Place, _: &[i32]) {
        self.reads += 1;
    }

    fn refused(&mut self, place: Place, why: Why, bytes: &[u8]) {
        self.counts[why.index()] += 1;
        if self.counts[why.index()] <= QUOTED as u64 {
            let (at, length, reason) = (self.explain)(bytes);
            let quoted = Quoted::of(bytes, at, length);
            self.kept.push(RefusedLine { place, why, quoted, reason });
        }
    }
}

impl Account {
    /// The account of a sample by the form that reads most of it, `odd` where the lines share a cause.
    pub(super) fn of_sample(sample: &[u8], best: Option<&Dialect>, odd: Option<&str>) -> Account {
        let Some(dialect) = best.filter(|_| odd.is_none()) else {
            return Account::without_form(sample, odd);
        };
        let check = LineCheck::new(dialect);
        let explain = |line: &[u8]| misfit(&check, line);
        let mut gather = Gather::by(&explain);
        let mut framer = Framer::new(dialect);
        framer.push(sample, &mut gather);
        framer.finish(&mut gather);
        let (reads, refused) = (gather.reads, gather.counts.iter().sum::<u64>());
        let (form, dialect) = (dialect.words(), dialect.clone());
        let nearest = Nearest { form, dialect, reads, lines: reads + refused };
        gather.account(Some(nearest).filter(|n| n.reads > 0))
    }

    /// The account of lines that have nothing in common.
    fn without_form(sample: &[u8], odd: Option<&str>) -> Account {
        let explain = |line: &[u8]| {
            let digit = line.iter().position(u8::is_ascii_digit);
            let sign = |b: &u8| b.is_ascii_alphanumeric() || matches!(b, b'.' | b',' | b'-');
            let length = |at: usize| line[at..].iter().take_while(|b| sign(b)).count();
            match (digit, odd) {
                (Some(at), Some(odd)) => (at, length(at), odd.to_owned()),
                (Some(at), None) => {
                    (at, length(at), "the numbers stand otherwise than in other lines".to_owned())
                }
                (None, _) => (0, line.len(), "no number stands in this line".to_owned()),
            }
        };
        let mut gather = Gather::by(&explain);
        let mut place = Place { line: 1, byte: 0 };
        for line in sample.split(|b| *b == b'\n') {
            if !line.trim_ascii().is_empty() {
                gather.refused(place, Why::Foreign, line.strip_suffix(b"\r").unwrap_or(line));
            }
            place.line += 1;
            place.byte += line.len() as u64 + 1;
        }
        gather.account(None)
    }

    /// The account of lines that a dialect in force refused, `kept` the first of them, `counts` how many
    /// of each kind there are. Cost: that of recognising the lines kept.
    pub fn of_refused<'a>(
        dialect: &Dialect,
        kept: impl Iterator<Item = (Place, Why, &'a [u8])>,
        counts: impl Fn(Why) -> u64,
    ) -> Account {
        let check = LineCheck::new(dialect);
        let explain = |line: &[u8]| misfit(&check, line);
        let mut gather = Gather::by(&explain);
        let mut sample = Vec::new();
        for (place, why, bytes) in kept {
            gather.refused(place, why, bytes);
            sample.extend_from_slice(bytes);
            sample.push(b'\n');
        }
        gather.counts = Why::ALL.map(counts);
        gather.account(nearest(&sample))
    }

    /// The first refused line in half a sentence: `line 3, column 9, "1.5": …`.
    pub fn words(&self) -> Option<String> {
        let line = self.first.first()?;
        Some(format!("line {}, {}: {}", line.place.line, line.quoted.words(), line.reason))
    }

    /// The account in lines of text: each refused line with a caret under the place, then the kinds, then
    /// the form that would almost fit. Nothing in them moves a terminal.
    pub fn lines(&self) -> Vec<String> {
        let mut out = Vec::new();
        for line in &self.first {
            let head = format!("line {}: ", line.place.line);
            let quoted = &line.quoted;
            out.push(format!("{head}{}", quoted.text));
            let marks = "^".repeat(quoted.width);
            out.push(format!("{}{marks}", " ".repeat(head.len() + quoted.caret)));
            out.push(format!("{}{}: {}", " ".repeat(head.len()), quoted.words(), line.reason));
        }
        let kinds: Vec<String> =
            self.kinds.iter().map(|(why, n)| format!("{n} {}", why.words())).collect();
        if !kinds.is_empty() {
            out.push(format!("lines refused: {}", kinds.join(", ")));
        }
        if let Some(nearest) = &self.nearest {
            let fields = nearest.dialect.fields.iter();
            let names = fields.map(|field| super::misfit::shown(field.name.as_bytes()));
            let names: Vec<String> = names.take(12).collect();
            out.push(format!(
                "nearest form: {} ({}), which reads {} of {} lines",
                nearest.form,
                names.join(" "),
                nearest.reads,
                nearest.lines
            ));
        }
        out
    }
}
