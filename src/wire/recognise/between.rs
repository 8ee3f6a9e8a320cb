//! Lines of numbers between text: the pattern that explains most of them, and names for the fields.
use std::collections::HashMap;

use crate::rig::AxisId;
use crate::wire::line::MAX_FIELDS;
use crate::wire::pattern::{ANY, FIELD, behind_escape, heading_words};
use crate::wire::words::{are_sticks, role_of_words};
use crate::wire::{ChecksumForm, Grammar, Role, states};

use super::shape::Shape;
use super::tokens::{Habit, Taken, take};

/// The pattern that explains most of the lines; one without rows when there is none.
pub(super) fn find<'a>(lines: &[&'a [u8]]) -> Shape<'a> {
    let comma = match commas(lines) {
        Commas::Thousands => return empty(),
        Commas::Points => Habit { comma: true, ..Habit::default() },
        Commas::Between => Habit::default(),
    };
    let best = with_states(lines, comma);
    if 2 * best.rows.len() >= lines.len() {
        return best;
    }
    let attached = with_states(lines, Habit { attached: true, ..comma });
    if attached.rows.len() > best.rows.len() { attached } else { best }
}

/// Words that change from line to line and are states are fields too.
fn with_states<'a>(lines: &[&'a [u8]], habit: Habit) -> Shape<'a> {
    let rows = usual_rows(lines, habit);
    let states = states_that_change(&rows);
    let plain = shape_of(lines, rows);
    if states == 0 {
        return plain;
    }
    let worded = shape_of(lines, usual_rows(lines, Habit { states, ..habit }));
    if 10 * worded.rows.len() >= 9 * plain.rows.len() { worded } else { plain }
}

/// The pairs of states of which both words stand at the same place of different lines.
fn states_that_change(rows: &[Taken<'_>]) -> states::Kinds {
    let Some(first) = rows.first() else { return 0 };
    let gaps =
        (0..first.gaps.len()).filter(|k| rows.iter().any(|row| row.gaps[*k] != first.gaps[*k]));
    let mut found = 0;
    for k in gaps {
        let before = words_of(first.words[k]);
        for row in rows {
            let words = words_of(row.words[k]);
            if words.len() != before.len() {
                continue;
            }
            let changed = words.iter().zip(&before).filter(|(now, then)| now != then);
            found |= changed.fold(0, |sum, (now, then)| {
                sum | states::kinds(now.as_bytes()) & states::kinds(then.as_bytes())
            });
        }
    }
    found
}

/// What the commas of the lines stand for.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Commas {
    /// They part the fields, or there are none.
    Between,
    /// Decimal points: each between two digits, none twice in a number, and something else parts the
    /// fields.
    Points,
    /// Marks of thousands: always three digits behind them, and in the same column numbers without.
    /// Such a number could be read three ways; it is left to a person.
    Thousands,
}

/// True where numbers hold marks that may be of thousands.
pub(super) fn thousands(lines: &[&[u8]]) -> bool {
    commas(lines) == Commas::Thousands
}

fn commas(lines: &[&[u8]]) -> Commas {
    match has_decimal_commas(lines) {
        false => Commas::Between,
        true if has_thousands(lines) => Commas::Thousands,
        true => Commas::Points,
    }
}

fn has_thousands(lines: &[&[u8]]) -> bool {
    let mut seen: Vec<[bool; 2]> = Vec::new();
    for line in lines {
        let cells = line.split(|b| matches!(b, b';' | b'\t' | b'|'));
        for (k, cell) in cells.enumerate().take(MAX_FIELDS) {
            if seen.len() <= k {
                seen.push([false; 2]);
            }
            match cell.iter().position(|b| *b == b',') {
                Some(at) => {
                    let places = cell[at + 1..].iter().take_while(|b| b.is_ascii_digit()).count();
                    if places != 3 {
                        return false;
                    }
                    seen[k][0] = true;
                }
                None => seen[k][1] |= cell.iter().any(u8::is_ascii_digit),
            }
        }
    }
    seen.contains(&[true; 2])
}

/// A comma is a decimal point where something else parts the fields, where all numbers have as many
/// places behind it, and where not three digits and more stand on both sides, as in pairs of readings.
fn has_decimal_commas(lines: &[&[u8]]) -> bool {
    let (mut all, mut points) = (0, 0);
    let mut places = [0_usize; 10];
    let mut long = 0;
    for line in lines.iter().filter(|line| line.contains(&b',')) {
        // The marks within a colour code part nothing.
        let line = without_escapes(line);
        all += 1;
        let run = |bytes: &mut dyn Iterator<Item = &u8>| {
            bytes.take_while(|byte| byte.is_ascii_digit()).count()
        };
        let mut whole = true;
        for (at, _) in line.iter().enumerate().filter(|(_, byte)| **byte == b',') {
            let before = run(&mut line[..at].iter().rev());
            let behind = run(&mut line[at + 1..].iter());
            whole &= before > 0 && behind > 0 && line.get(at + 1 + behind) != Some(&b',');
            places[behind.min(9)] += 1;
            long += usize::from(before >= 3 && behind >= 3);
        }
        let parted = line.iter().any(|b| matches!(b, b';' | b'\t' | b'|'));
        points += usize::from(parted && whole);
    }
    let (usual, count) = (places.iter().max().unwrap_or(&0), places.iter().sum::<usize>());
    all > 0 && 10 * points >= 9 * all && 20 * usual >= 19 * count && 2 * long < count
}

/// The marks of the gaps, no letters and nothing beyond ASCII: what lines of one build have in common.
fn skeleton(taken: &Taken<'_>) -> Vec<u8> {
    let mut marks = Vec::new();
    for gap in &taken.gaps {
        marks.extend(gap.iter().filter(|b| b.is_ascii() && !b.is_ascii_alphanumeric()));
        marks.push(0);
    }
    marks
}

/// The lines of the build that is met most.
fn usual_rows<'a>(lines: &[&'a [u8]], habit: Habit) -> Vec<Taken<'a>> {
    let mut groups: HashMap<Vec<u8>, Vec<Taken<'a>>> = HashMap::new();
    for line in lines {
        let taken = take(line, habit);
        if (2..=MAX_FIELDS).contains(&taken.numbers.len()) {
            groups.entry(skeleton(&taken)).or_default().push(taken);
        }
    }
    let best = groups.into_iter().max_by(|a, b| (a.1.len(), &a.0).cmp(&(b.1.len(), &b.0)));
    best.map_or(Vec::new(), |(_, rows)| rows)
}

fn shape_of<'a>(lines: &[&'a [u8]], rows: Vec<Taken<'a>>) -> Shape<'a> {
    let Some(first) = rows.first() else { return empty() };
    let fields = first.numbers.len();
    let mut pattern = String::new();
    for k in 0..=fields {
        pattern.push_str(&gap_text(&rows, k));
        if k < fields {
            pattern.push_str(FIELD);
        }
    }
    let blank = |k: usize| rows.iter().all(|row| row.gaps[k].is_empty());
    let steady: Vec<bool> =
        (0..fields).map(|k| rows.iter().all(|r| r.gaps[k] == first.gaps[k])).collect();
    let names = match heading(lines, fields) {
        Some(names) => names,
        None if (0..=fields).all(blank) => Vec::new(),
        None => names(first, &steady),
    };
    let rows = rows.into_iter().map(|row| row.numbers).collect();
    Shape { grammar: Grammar::Pattern, checksum: ChecksumForm::None, fields, names, rows, pattern }
}

fn empty<'a>() -> Shape<'a> {
    Shape {
        grammar: Grammar::Pattern,
        checksum: ChecksumForm::None,
        fields: 0,
        names: Vec::new(),
        rows: Vec::new(),
        pattern: String::new(),
    }
}

/// The text of one gap: as it stands in every row, or what begins and ends it in all of them.
fn gap_text(rows: &[Taken<'_>], k: usize) -> String {
    let Some(first) = rows.first().map(|row| &row.gaps[k]) else { return String::new() };
    if rows.iter().all(|row| row.gaps[k] == *first) {
        let blank = first.is_empty() && k > 0 && k < rows[0].numbers.len();
        let shown = literal(&without_escapes(rows[0].words[k]));
        return if blank { " ".to_owned() } else { collapsed(&shown) };
    }
    let common = |same: &dyn Fn(&[u8]) -> usize| {
        rows.iter().map(|row| same(&row.gaps[k])).min().unwrap_or(0)
    };
    let head = common(&|gap| gap.iter().zip(first).take_while(|(a, b)| a == b).count());
    let short = rows.iter().map(|row| row.gaps[k].len()).min().unwrap_or(0);
    let tail =
        common(&|gap| gap.iter().rev().zip(first.iter().rev()).take_while(|(a, b)| a == b).count());
    let tail = tail.min(short - head);
    // Never cut within a character.
    let head = first[..head].iter().rposition(u8::is_ascii).map_or(0, |at| at + 1);
    let behind = &first[first.len() - tail..];
    let behind = behind.iter().position(u8::is_ascii).map_or(&behind[..0], |at| &behind[at..]);
    format!("{} {ANY} {}", literal(&first[..head]), literal(behind))
}

/// Bytes as text of a pattern: what is no UTF-8, and what would read as a field, may be anything.
fn literal(bytes: &[u8]) -> String {
    let mut shown = String::with_capacity(bytes.len());
    for chunk in bytes.utf8_chunks() {
        shown.push_str(chunk.valid());
        if !chunk.invalid().is_empty() {
            shown.push_str(&format!(" {ANY} "));
        }
    }
    let any = format!(" {ANY} ");
    let shown = shown.replace(FIELD, &any).replace("{ }", &any);
    // Two in a row are one.
    let twice = format!("{ANY} {ANY}");
    let mut shown = collapsed(&shown);
    while shown.contains(&twice) {
        shown = shown.replace(&twice, ANY);
    }
    shown
}

/// Blanks in a row as one.
fn collapsed(text: &str) -> String {
    let mut shown = String::with_capacity(text.len());
    for c in text.chars() {
        let blank = matches!(c, ' ' | '\t' | '\r');
        if !(blank && shown.ends_with(' ')) {
            shown.push(if blank { ' ' } else { c });
        }
    }
    shown
}

fn text(bytes: &[u8]) -> String {
    String::from_utf8_lossy(bytes).into_owned()
}

/// The words of a gap, lower case and upper as they stand.
fn words_of(gap: &[u8]) -> Vec<String> {
    let plain = without_escapes(gap);
    let text = String::from_utf8_lossy(&plain);
    let words = text.split(|c: char| !(c.is_ascii_alphanumeric() || c == '_'));
    words.filter(|w| !w.is_empty()).map(str::to_owned).collect()
}

/// The text without the colour codes of a terminal.
fn without_escapes(gap: &[u8]) -> Vec<u8> {
    let mut plain = Vec::with_capacity(gap.len());
    let mut at = 0;
    while let Some(byte) = gap.get(at) {
        if *byte == 0x1B {
            plain.push(b' ');
            at = behind_escape(gap, at);
        } else {
            plain.push(*byte);
            at += 1;
        }
    }
    plain
}

/// Names from a line without frames that has a word for each field.
fn heading(lines: &[&[u8]], fields: usize) -> Option<Vec<String>> {
    let named = |line: &&&[u8]| {
        let words = heading_words(line);
        let letter = |w: &&[u8]| w.first().is_some_and(|b| b.is_ascii_alphabetic() || *b == b'_');
        // What a word means is asked last: it costs far more than its look.
        let known = || words.iter().filter(|w| role_of_words(&[&text(w)]).is_some()).count();
        words.len() == fields && words.iter().all(letter) && 3 * known() >= fields
    };
    let line = lines.iter().filter(|line| !line.contains(&b'=')).find(named)?;
    Some(heading_words(line).into_iter().map(text).collect())
}

/// Names from the text round the numbers of a line.
///
/// The last word before a number is its own; the words before that hold for the numbers behind it
/// too, until others come. A number without words is the next of those before it. Where the first
/// number has no word before it and the last one has one behind it, the words stand behind.
fn names(line: &Taken<'_>, steady: &[bool]) -> Vec<String> {
    let fields = line.numbers.len();
    let all: Vec<Vec<String>> = line.words.iter().map(|gap| words_of(gap)).collect();
    let behind = all[0].is_empty() && (1..=fields).all(|k| !all[k].is_empty());
    if behind {
        let units = (2..=fields).all(|k| all[k] == all[1]);
        return if units { Vec::new() } else { all[1..].iter().map(|w| w.join("_")).collect() };
    }
    let mut context: Vec<String> = Vec::new();
    let mut found: Vec<String> = Vec::with_capacity(fields);
    let mut nth = 0;
    for (k, words) in all.iter().take(fields).enumerate() {
        // A unit behind the number before is no name of this one.
        let words: &[String] = if steady[k] { words } else { &[] };
        match words.split_last() {
            None => nth += 1,
            Some((own, before)) => {
                if !before.is_empty() {
                    context = before.to_vec();
                }
                if role_of_words(&[own]).is_none() && role_in(&context, own).is_none() {
                    context.clear();
                    context.extend(words.iter().cloned());
                }
                nth = 0;
            }
        }
        let own = words.last().cloned();
        let name = match own {
            Some(own) => named(&context, &own, all.get(k + 1).is_some_and(Vec::is_empty)),
            None => ordinal(&context, all_last(&all, k), nth),
        };
        found.push(name);
    }
    unique(found)
}

/// The last word that stood before field `k`.
fn all_last(all: &[Vec<String>], k: usize) -> Option<&String> {
    all[..=k].iter().rev().find_map(|words| words.last())
}

fn role_in(context: &[String], own: &str) -> Option<Role> {
    let mut words: Vec<&str> = context.iter().map(String::as_str).collect();
    words.push(own);
    role_of_words(&words)
}

/// The name of a number with a word of its own; `first` when numbers without words follow.
fn named(context: &[String], own: &str, first: bool) -> String {
    if first && let Some(name) = numbered(context, own, 0) {
        return name;
    }
    if role_in(context, own).is_some() && role_of_words(&[own]) != role_in(context, own) {
        return context.iter().map(String::as_str).chain([own]).collect::<Vec<_>>().join("_");
    }
    own.to_owned()
}

/// The name of the n-th number behind a word.
fn ordinal(context: &[String], own: Option<&String>, nth: usize) -> String {
    own.and_then(|own| numbered(context, own, nth)).unwrap_or_default()
}

/// `left` and two numbers: x and y; `triggers` and two numbers: left and right.
fn numbered(context: &[String], own: &str, nth: usize) -> Option<String> {
    let alone = (!context.is_empty()).then(|| numbered(&[], own, nth)).flatten();
    if alone.is_some() {
        return alone;
    }
    let mut words: Vec<&str> = context.iter().map(String::as_str).collect();
    if words.last() != Some(&own) {
        words.push(own);
    }
    if role_of_words(&words).is_some_and(|role| matches!(role, Role::Buttons)) {
        return None;
    }
    let pairs = [(["x", "y"], false), (["left", "right"], true)];
    for (pair, levers) in pairs {
        let fits = pair.iter().all(|part| {
            let all: Vec<&str> = words.iter().copied().chain([*part]).collect();
            let lever = |axis| matches!(axis, AxisId::Lt | AxisId::Rt);
            matches!(role_of_words(&all), Some(Role::Axis(axis)) if lever(axis) == levers)
        });
        if fits {
            return pair.get(nth).map(|part| format!("{}_{part}", words.join("_")));
        }
    }
    let six = ["left_x", "left_y", "right_x", "right_y", "left_trigger", "right_trigger"];
    are_sticks(&words).then(|| six.get(nth).map(|part| (*part).to_owned())).flatten()
}

/// A name that stands twice says nothing the second time.
fn unique(mut names: Vec<String>) -> Vec<String> {
    for k in 1..names.len() {
        if names[..k].contains(&names[k]) {
            names[k].clear();
        }
    }
    names
}
