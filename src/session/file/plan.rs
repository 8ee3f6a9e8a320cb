//! Which stretches of a session file are read, in which order, and what the rest costs.
use std::collections::HashSet;

use super::index::{Index, Seal, Spot, Stretch};
use super::{Damage, DamageKind};

/// Lines by which a damaged block may be off its running numbers: line feeds were hit or made.
const NEAR: u64 = 64;

/// What is done with a stretch.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Step {
    /// Its lines are taken; the first one has this running number.
    Take(Stretch, u64),
    /// Nothing proves that its lines are as they were: they are not measured.
    Skip(Stretch, u64),
    /// About so many records are not in the file here.
    Gap(u64),
}

impl Step {
    /// Bytes of the file that it is about.
    pub(super) fn bytes(&self) -> u64 {
        match self {
            Step::Take(stretch, _) | Step::Skip(stretch, _) => stretch.bytes,
            Step::Gap(_) => 0,
        }
    }
}

/// The steps in order, and the damage in the order of the file.
pub(super) struct Plan {
    pub(super) steps: Vec<Step>,
    pub(super) damage: Vec<Damage>,
}

/// Plans what is read behind the head.
///
/// Running numbers say where a block belongs: one that stands elsewhere is put back, one that comes
/// twice is taken once, and what is missing is known by its lines. `headless`: the first stretch is no
/// head. `says_end`: the version of the file is one whose last checkpoint says that it is the last.
pub(super) fn plan(index: &Index, headless: bool, says_end: bool) -> Plan {
    let mut body = numbers(&index.stretches);
    let head = if headless || body.is_empty() { None } else { body.remove(0).1 };
    let mut planning = Planning {
        plan: Plan { steps: Vec::new(), damage: Vec::new() },
        expect: head.map(|number| number + 1),
        open: false,
        per_line: per_line(&index.stretches),
    };
    let (mut reached, mut seen) = (0, HashSet::new());
    for (stretch, number) in &body {
        let sealed = matches!(stretch.seal, Seal::Whole(_) | Seal::Mended(_));
        let Some(number) = number.filter(|_| sealed) else { continue };
        if seen.insert(number) && number < reached {
            let words =
                "the block stood behind later ones and was put back where its numbers belong";
            planning.note(stretch, stretch.lines, 0, DamageKind::Moved, words);
        }
        reached = reached.max(number);
    }
    let mut last = 0;
    let mut keyed: Vec<(u64, bool, Stretch, Option<u64>)> = Vec::with_capacity(body.len());
    for (stretch, number) in body.drain(..) {
        last = number.unwrap_or(last);
        let broken = matches!(stretch.seal, Seal::Broken(_));
        keyed.push((last, broken && number.is_some(), stretch, number));
    }
    keyed.sort_by_key(|(key, broken, ..)| (*key, *broken));
    for (.., stretch, number) in keyed {
        planning.step(stretch, number);
    }
    planning.ends(index, says_end);
    planning.plan
}

/// The running number of each stretch's checkpoint, where it is to be believed.
fn numbers(stretches: &[Stretch]) -> Vec<(Stretch, Option<u64>)> {
    let mut all: Vec<(Stretch, Option<u64>)> = Vec::with_capacity(stretches.len());
    let mut before = Some(0);
    let whole = |stretch: &Stretch| match stretch.seal {
        Seal::Whole(number) => Some(number),
        _ => None,
    };
    let there: HashSet<u64> = stretches.iter().filter_map(whole).collect();
    for (k, stretch) in stretches.iter().enumerate() {
        let ought = before.map(|before: u64| before + stretch.lines + 1);
        let number = match stretch.seal {
            Seal::Whole(number) => {
                // Where another block has the number, this one was moved.
                let ought = ought.filter(|ought| !there.contains(ought));
                Some(corrected(number, ought, stretches.get(k + 1)))
            }
            Seal::Mended(number) => Some(number),
            Seal::Broken(number) => {
                number.filter(|number| ought.is_some_and(|o| o.abs_diff(*number) <= NEAR))
            }
            Seal::Tail => None,
        };
        before = number.or(ought);
        all.push((*stretch, number));
    }
    all
}

/// A number that was hit, though its checksum was not: what follows goes on from the right one.
fn corrected(number: u64, ought: Option<u64>, next: Option<&Stretch>) -> u64 {
    let Some(ought) = ought.filter(|ought| *ought != number) else { return number };
    let goes_on = match next.map(|next| (next.seal, next.lines)) {
        Some((Seal::Whole(after), lines)) => after == ought + lines + 1,
        Some(_) => false,
        None => {
            let (a, b) = (number.to_string(), ought.to_string());
            a.len() == b.len() && a.bytes().zip(b.bytes()).filter(|(a, b)| a != b).count() == 1
        }
    };
    if goes_on { ought } else { number }
}

/// Records a line of the file, checkpoints counted as lines.
fn per_line(stretches: &[Stretch]) -> f64 {
    let all = stretches.iter().skip(1);
    let (records, lines) = all.fold((0, 0), |(r, l), s| (r + s.records, l + s.lines + 1));
    if lines == 0 { 1.0 } else { records as f64 / lines as f64 }
}

struct Planning {
    plan: Plan,
    /// Running number that comes next; `None` while nothing tells it.
    expect: Option<u64>,
    /// A broken stretch without a number came since the last proven one.
    open: bool,
    per_line: f64,
}

impl Planning {
    fn note(&mut self, at: &Stretch, lines: u64, rows: u64, kind: DamageKind, words: &str) {
        let (line, byte, at_us, words) = (at.line, at.byte, at.at_us, words.to_owned());
        self.plan.damage.push(Damage { line, lines, byte, at_us, rows, kind, words });
    }

    fn step(&mut self, stretch: Stretch, number: Option<u64>) {
        match (stretch.seal, number) {
            (Seal::Whole(_) | Seal::Mended(_), Some(number)) => self.sealed(stretch, number),
            (Seal::Broken(_), number) => self.broken(stretch, number),
            _ => self.tail(stretch),
        }
    }

    fn sealed(&mut self, stretch: Stretch, number: u64) {
        let first = number.saturating_sub(stretch.lines);
        match self.expect {
            Some(expect) if first < expect && stretch.lines > 0 => {
                let words = "the block is there already; it is taken once";
                return self.note(&stretch, stretch.lines, 0, DamageKind::Doubled, words);
            }
            Some(expect) if first > expect && !self.open => {
                let missing = first - expect;
                let rows = (missing as f64 * self.per_line).round() as u64;
                let words = format!("{missing} lines are missing before this block");
                self.note(&stretch, missing, rows, DamageKind::Lines, &words);
                self.plan.steps.push(Step::Gap(rows));
            }
            _ => {}
        }
        let hit = matches!(stretch.seal, Seal::Mended(_)) || stretch.seal != Seal::Whole(number);
        if hit {
            let words = "the checkpoint behind these lines was hit; they agree with what is left of it, \
                and nothing is lost";
            self.note(&stretch, stretch.lines, 0, DamageKind::Checkpoint, words);
        }
        self.plan.steps.push(Step::Take(stretch, first));
        (self.expect, self.open) = (Some(number + 1), false);
    }

    fn broken(&mut self, stretch: Stretch, number: Option<u64>) {
        if let (Some(number), Some(expect)) = (number, self.expect)
            && number < expect
        {
            let words = "the block's checksum does not agree; the same lines are there whole";
            return self.note(&stretch, stretch.lines, 0, DamageKind::Doubled, words);
        }
        // Line feeds that were hit or made do not change how many records there were.
        let own = number.zip(self.expect).map(|(number, expect)| number.saturating_sub(expect));
        let off = own.map_or(0, |own| own as i64 - stretch.lines as i64);
        let off = if off.unsigned_abs() <= NEAR { off } else { 0 };
        let rows = stretch.records.saturating_add_signed(off);
        let words = match number {
            None if stretch.bytes >= super::index::MOST_BLOCK as u64 => {
                "no checkpoint within 32 MB: these lines are kept in the file and not measured"
            }
            _ => {
                "the block's checksum does not agree: its lines are kept in the file and not measured"
            }
        };
        self.note(&stretch, stretch.lines, rows, DamageKind::Block, words);
        self.plan.steps.push(Step::Skip(stretch, rows));
        self.open |= number.is_none();
        self.expect = number.map(|number| number + 1).or(self.expect);
    }

    fn tail(&mut self, stretch: Stretch) {
        let words = "nothing proves the lines behind the last checkpoint; they are measured";
        self.note(&stretch, stretch.lines, 0, DamageKind::Unverified, words);
        self.plan.steps.push(Step::Take(stretch, self.expect.unwrap_or(stretch.line)));
    }

    /// What is wrong behind the last block.
    fn ends(&mut self, index: &Index, says_end: bool) {
        let unproven = index.stretches.iter().any(|stretch| stretch.seal == Seal::Tail);
        if let Some(cut) = &index.cut {
            let words = "the last line was cut while it was written; it is left out";
            self.note_spot(cut, cut.records, DamageKind::Record, words);
        }
        if let Some(joined) = &index.joined {
            let words = format!(
                "another session begins here; its {} records are left out: cut the file before this \
                 line to read it",
                joined.records
            );
            self.note_spot(joined, 0, DamageKind::Joined, &words);
        }
        if says_end && !index.ended && !unproven && index.cut.is_none() {
            let words = "the recording was not ended: it is still being written, or was cut here and what \
                came behind is lost";
            self.note_spot(
                index.joined.as_ref().unwrap_or(&index.end),
                0,
                DamageKind::Unended,
                words,
            );
        }
        self.plan.damage.sort_by_key(|damage| damage.byte);
    }

    fn note_spot(&mut self, at: &Spot, rows: u64, kind: DamageKind, words: &str) {
        let (line, byte, at_us, words) = (at.line, at.byte, at.at_us, words.to_owned());
        self.plan.damage.push(Damage { line, lines: 1, byte, at_us, rows, kind, words });
    }
}
