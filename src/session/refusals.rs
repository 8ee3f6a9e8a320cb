//! Lines that gave no frame: exact counts by reason, and the places of the first and last ones.
use std::collections::VecDeque;

use crate::wire::{Account, Dialect, Place, Remark, Why};

/// Refused lines kept from the beginning, and again from the end.
const KEPT: usize = 500;
/// Bytes kept of each.
const KEPT_BYTES: usize = 160;

/// Different forms of refused lines that are told apart.
const FORMS: usize = 64;
/// Lines of one form from which on it is one.
pub const FORM_LEAST: u64 = 5;
/// Letters that damage does not put into a line of numbers.
const WORD: usize = 3;

/// Refused lines that are alike but for their digits.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct OtherForm {
    /// The line with a 0 for every number.
    form: Vec<u8>,
    /// How many there are.
    pub count: u64,
    /// So many of them had been taken for damaged frames.
    pub as_damage: u64,
    /// Where the first stood.
    pub place: Place,
    /// The first of them, at most 160 bytes.
    pub example: Vec<u8>,
}

/// Every line of a stream, by what it is; frames are counted by their rows.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct LineCounts {
    /// Headings that name the columns.
    pub heading: u64,
    /// Nothing but blanks.
    pub blank: u64,
    /// Lines of the firmware's edge log.
    pub edge: u64,
    /// Comments: `#`, `//`, `;` or `%` in front.
    pub comment: u64,
    /// Prompts, and what a firmware answers to a command.
    pub reply: u64,
    /// Whatever else was never meant as a frame of this form.
    pub foreign: u64,
    /// Meant as frames and damaged.
    pub damaged: u64,
    /// Cut by the beginning or the end of what came.
    pub cut: u64,
    /// In a part of the session file whose checksum fails.
    pub suspect: u64,
}

impl LineCounts {
    /// All of them.
    pub fn total(&self) -> u64 {
        let LineCounts { heading, blank, edge, comment, reply, foreign, damaged, cut, suspect } =
            *self;
        heading + blank + edge + comment + reply + foreign + damaged + cut + suspect
    }
}

/// One refused line.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Refusal {
    /// Where it stood.
    pub place: Place,
    /// Why it gave no frame.
    pub why: Why,
    /// Its first bytes, at most 160.
    pub bytes: Vec<u8>,
}

/// The account of refused lines.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Refusals {
    counts: [u64; Why::ALL.len()],
    bytes: u64,
    remarks: [u64; 3],
    comments: u64,
    replies: u64,
    before_first: u64,
    forms: Vec<OtherForm>,
    first: Vec<Refusal>,
    last: VecDeque<Refusal>,
}

impl Refusals {
    /// Notes one refused line.
    pub fn add(&mut self, place: Place, why: Why, bytes: &[u8]) {
        self.counts[why.index()] += 1;
        self.bytes += bytes.len() as u64;
        if why == Why::Foreign {
            self.comments += u64::from(is_comment(bytes));
            self.replies += u64::from(is_reply(bytes));
        }
        if why == Why::Foreign || why.is_damage() {
            self.note_form(place, bytes, why.is_damage());
        }
        let bytes = bytes[..bytes.len().min(KEPT_BYTES)].to_vec();
        self.keep(Refusal { place, why, bytes });
    }

    /// Notes that the line that was just refused came before the first frame of an opening.
    pub fn note_before_first(&mut self) {
        self.before_first += 1;
    }

    /// Lines that were never meant as frames and came before the first one of an opening: a banner, or
    /// what the board answered to another program that had spoken to its port.
    pub fn before_first(&self) -> u64 {
        self.before_first
    }

    /// Adds a later account to this one.
    pub fn merge(&mut self, later: &Refusals) {
        for (mine, theirs) in self.counts.iter_mut().zip(later.counts) {
            *mine += theirs;
        }
        self.bytes += later.bytes;
        self.comments += later.comments;
        self.replies += later.replies;
        self.before_first += later.before_first;
        for (mine, theirs) in self.remarks.iter_mut().zip(later.remarks) {
            *mine += theirs;
        }
        for other in &later.forms {
            let room = self.forms.len() < FORMS;
            match self.forms.iter_mut().find(|form| form.form == other.form) {
                Some(form) => {
                    form.count += other.count;
                    form.as_damage += other.as_damage;
                }
                None if room => self.forms.push(other.clone()),
                None => {}
            }
        }
        for refusal in later.kept() {
            self.keep(refusal.clone());
        }
    }

    /// Notes a line that is neither a frame nor refused.
    pub fn remark(&mut self, what: Remark) {
        let kind = match what {
            Remark::Heading => 0,
            Remark::Blank => 1,
            Remark::Edge(_) => 2,
        };
        self.remarks[kind] += 1;
    }

    /// Every line but the frames, by what it is.
    pub fn lines(&self) -> LineCounts {
        let [heading, blank, edge] = self.remarks;
        let foreign = self.count(Why::Foreign);
        // A form that comes again and again is none that damage makes.
        let other = self.other_form().filter(|form| form.count >= FORM_LEAST);
        let as_damage = other.map_or(0, |form| form.as_damage);
        LineCounts {
            heading,
            blank,
            edge,
            comment: self.comments,
            reply: self.replies,
            foreign: foreign - self.comments - self.replies + as_damage,
            damaged: self.malformed() - as_damage,
            cut: self.count(Why::OpenedMidLine) + self.count(Why::CutAtEnd),
            suspect: self.count(Why::Suspect),
        }
    }

    /// The commonest form of refused lines that hold two numbers, and a word or nothing that was meant as a frame:
    /// frames of another form, as damage makes no words. Comments and replies are none.
    pub fn other_form(&self) -> Option<&OtherForm> {
        let fits = |form: &&OtherForm| {
            let numbers = form.form.iter().filter(|b| **b == b'0').count();
            let letters = form.form.split(|b| !b.is_ascii_alphabetic()).map(<[u8]>::len);
            let plain = !is_comment(&form.form) && !is_reply(&form.form);
            plain && numbers >= 2 && (form.as_damage == 0 || letters.max().unwrap_or(0) >= WORD)
        };
        self.forms.iter().filter(fits).max_by_key(|form| form.count)
    }

    fn note_form(&mut self, place: Place, bytes: &[u8], damage: bool) {
        let damage = u64::from(damage);
        let bytes = &bytes[..bytes.len().min(KEPT_BYTES)];
        let mut form: Vec<u8> = Vec::with_capacity(bytes.len());
        for byte in bytes.trim_ascii() {
            let shown = if byte.is_ascii_digit() { b'0' } else { *byte };
            let again = matches!(shown, b'0' | b' ') && form.last() == Some(&shown);
            if !again && shown != b'-' {
                form.push(shown);
            }
        }
        let room = self.forms.len() < FORMS;
        match self.forms.iter_mut().find(|known| known.form == form) {
            Some(known) => {
                known.count += 1;
                known.as_damage += damage;
            }
            None if room => {
                let example = bytes.to_vec();
                self.forms.push(OtherForm { form, count: 1, as_damage: damage, place, example });
            }
            None => {}
        }
    }

    fn keep(&mut self, refusal: Refusal) {
        if self.first.len() < KEPT {
            self.first.push(refusal);
            return;
        }
        if self.last.len() == KEPT {
            self.last.pop_front();
        }
        self.last.push_back(refusal);
    }

    /// How many lines were refused for this reason.
    pub fn count(&self, why: Why) -> u64 {
        self.counts[why.index()]
    }

    /// All refused lines.
    pub fn total(&self) -> u64 {
        self.counts.iter().sum()
    }

    /// Lines meant as frames and damaged on the way.
    pub fn malformed(&self) -> u64 {
        Why::ALL.iter().filter(|w| w.is_damage()).map(|w| self.count(*w)).sum()
    }

    /// Bytes of the refused lines (of a line that is too long, its first 4 096).
    pub fn bytes(&self) -> u64 {
        self.bytes
    }

    /// The first lines with place and reason, how many of which kind, and the form that would almost fit;
    /// `None` without a refused line. Not for every frame of a window.
    pub fn account(&self, dialect: &Dialect) -> Option<Account> {
        let kept = self.kept().map(|r| (r.place, r.why, r.bytes.as_slice()));
        (self.total() > 0).then(|| Account::of_refused(dialect, kept, |why| self.count(why)))
    }

    /// The lines kept, in the order of the stream: the first 500 and the last 500.
    pub fn kept(&self) -> impl Iterator<Item = &Refusal> {
        self.first.iter().chain(&self.last)
    }
}

fn is_comment(line: &[u8]) -> bool {
    let line = line.trim_ascii_start();
    [&b"#"[..], b"//", b";", b"%"].iter().any(|mark| line.starts_with(mark)) && !is_reply(line)
}

/// A prompt, or a word that answers a command, with or without a mark before it.
fn is_reply(line: &[u8]) -> bool {
    let line = line.strip_prefix(b"#").unwrap_or(line).trim_ascii();
    let word = line.split(|b| !b.is_ascii_alphanumeric()).next().unwrap_or(&[]);
    let answers = ["ok", "done", "ack", "nak", "err", "error", "refused"];
    matches!(line.first(), Some(b'>' | b'$'))
        || answers.iter().any(|answer| word.eq_ignore_ascii_case(answer.as_bytes()))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn counts_stay_exact_while_the_list_stays_short() {
        let mut refusals = Refusals::default();
        for line in 1..=5000 {
            refusals.add(Place { line, byte: line * 10 }, Why::Torn, &[b'x'; 1000]);
        }
        assert_eq!(refusals.count(Why::Torn), 5000);
        assert_eq!(refusals.bytes(), 5_000_000);
        assert_eq!(refusals.kept().count(), 2 * KEPT);
        let places: Vec<u64> = refusals.kept().map(|r| r.place.line).collect();
        assert_eq!((places[0], places[499], places[500], places[999]), (1, 500, 4501, 5000));
        assert!(refusals.kept().all(|r| r.bytes.len() == KEPT_BYTES));
    }

    #[test]
    fn every_line_is_counted_once_and_another_form_is_told_from_damage() {
        let mut refusals = Refusals::default();
        let mut line = 0;
        let mut add = |refusals: &mut Refusals, why, text: &str| {
            line += 1;
            refusals.add(Place { line, byte: 0 }, why, text.as_bytes());
        };
        for k in 0..40 {
            add(&mut refusals, Why::Foreign, &format!("cell {} mV, load {}", 3900 + k, k % 7));
            add(&mut refusals, Why::Torn, &format!("{k},4000,51{k}"));
            add(&mut refusals, Why::Foreign, "# still warm 20 21 22");
        }
        add(&mut refusals, Why::Foreign, "# done rate 250");
        add(&mut refusals, Why::Foreign, "ready");
        add(&mut refusals, Why::CutAtEnd, "1,2");
        refusals.remark(Remark::Heading);
        refusals.remark(Remark::Blank);
        let counts = refusals.lines();
        assert_eq!((counts.comment, counts.reply, counts.foreign), (40, 1, 41));
        assert_eq!((counts.damaged, counts.cut, counts.heading, counts.blank), (40, 1, 1, 1));
        assert_eq!(counts.total(), refusals.total() + 2);
        let other = refusals.other_form().expect("a form");
        assert_eq!((other.count, other.place.line), (40, 1));
        assert_eq!(other.example, b"cell 3900 mV, load 0");
    }

    #[test]
    fn merging_equals_adding_in_order() {
        let mut whole = Refusals::default();
        let mut parts = Refusals::default();
        for part in 0..3_u64 {
            let mut one = Refusals::default();
            for i in 0..300 {
                let place = Place { line: part * 300 + i + 1, byte: 0 };
                whole.add(place, Why::Foreign, b"boot");
                one.add(place, Why::Foreign, b"boot");
            }
            parts.merge(&one);
        }
        assert_eq!(whole, parts);
    }
}
