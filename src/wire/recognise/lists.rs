//! Lists of the names that are pressed, found in the text between the numbers of a line.
use crate::wire::listed::{is_none, words};
use crate::wire::states;

use super::tokens::Taken;

/// Names that a list may hold, and letters of one.
const MOST: usize = 24;
const LONGEST: usize = 12;

/// A list of names in one of the gaps.
pub(super) struct List {
    /// The gap: before this number, or behind the last.
    pub(super) gap: usize,
    /// The text before and behind the list.
    pub(super) around: [String; 2],
    /// The names in order of the alphabet.
    pub(super) names: Vec<String>,
}

/// The first gap whose text is a list: empty in most lines, of few names, that changes now and then.
pub(super) fn find(rows: &[Taken<'_>]) -> Option<List> {
    let gaps = rows.first()?.words.len();
    (1..gaps).find_map(|gap| list(rows, gap))
}

fn list(rows: &[Taken<'_>], gap: usize) -> Option<List> {
    let texts: Vec<&[u8]> = rows.iter().map(|row| row.words[gap]).collect();
    let first = texts.first()?;
    if texts.iter().all(|text| text == first) {
        return None;
    }
    let same = |text: &&[u8]| text.iter().zip(*first).take_while(|(a, b)| a == b).count();
    let head = texts.iter().map(same).min().unwrap_or(0);
    let mark = |b: &u8| matches!(b, b':' | b'=' | b'[' | b'(' | b'{' | b'<' | b';' | b' ' | b'\t');
    let head = first[..head].iter().rposition(mark)? + 1;
    let back = |text: &&[u8]| {
        let closes =
            |(a, b): &(&u8, &u8)| a == b && matches!(a, b']' | b')' | b'}' | b'>' | b' ' | b'\t');
        text[head..].iter().rev().zip(first[head..].iter().rev()).take_while(closes).count()
    };
    let tail = texts.iter().map(back).min().unwrap_or(0);
    let lists: Vec<&[u8]> = texts.iter().map(|text| &text[head..text.len() - tail]).collect();
    let mut names: Vec<&[u8]> = Vec::new();
    let (mut empty, mut changes) = (0, 0);
    for (k, list) in lists.iter().enumerate() {
        let pressed = || words(list).filter(|word| !is_none(word));
        empty += usize::from(pressed().next().is_none());
        changes += usize::from(k > 0 && lists[k - 1] != *list);
        for word in pressed() {
            if !names.contains(&word) {
                names.push(word);
            }
        }
        if names.len() > MOST {
            return None;
        }
    }
    let plain = |name: &&[u8]| name[0].is_ascii_alphabetic() && name.len() <= LONGEST;
    let states = names.iter().all(|name| states::is_state(name));
    let rare = 2 * empty >= lists.len() && 5 * changes <= lists.len();
    if !rare || states || names.len() < 2 || !names.iter().all(plain) {
        return None;
    }
    names.sort_unstable();
    let text = |bytes: &[u8]| String::from_utf8_lossy(bytes).into_owned();
    let around = [text(&first[..head]), text(&first[first.len() - tail..])];
    Some(List { gap, around, names: names.into_iter().map(text).collect() })
}

/// The word before a list: its label.
pub(super) fn label(before: &str) -> String {
    let mut words = before.split(|c: char| !(c.is_ascii_alphanumeric() || c == '_'));
    words.rfind(|word| !word.is_empty()).unwrap_or("buttons").to_owned()
}
