//! Of a log that is refused: a dialect file half filled in, to be edited.
use std::fmt::Write;
use std::io::Read;
use std::path::Path;

use crate::session::file::FileError;
use crate::wire::{Base, ChecksumForm, ClockUnit, Dialect, Field, Grammar, Role, Unrecognised};

use super::feed::file_name;
use super::naming::as_ron;

/// Bytes of the file in which an example line is looked for.
const HEAD: u64 = 65_536;
/// Bytes of a line that serves as an example.
const LONGEST: usize = 400;
/// Keys that the file may have besides, each as a comment with an example.
const MORE: &str = "\
// Further keys, where they are needed; each stands inside the brackets above:
//     checksum: xor,              *HH at the end of each line; or crc16, unchecked8, unchecked16
//     clock: millis,              where the clock counts milliseconds and not microseconds
//     clock_bits: 16,             where the clock wraps before 32 bits
//     line_us: 4000,              states the time from line to line where nothing in them tells it
//     counts: {\"x\": (times: 1, over: 1, plus: 512)},   where the numbers of a field are no counts
//     names: [\"south\", \"tl\"],     what a field of base names may list
// Roles: seq, clock, axis(lx|ly|rx|ry|lt|rt), button(0..31), buttons, vcc, ignore, and others; bases:
// decimal, hex, bits, binary, fixed(2), state, marks, names. trimbench dialect alone says all of them.
";

/// A dialect file to begin with: the form that comes nearest to the lines, or else one line of the file with
/// a place for each number; the fields that nobody knows are ignored until somebody says what they are.
///
/// `None` where the file is no text, or holds no line with a number.
pub fn draft(path: &Path, why: &FileError) -> Option<String> {
    if matches!(why, FileError::Unrecognised { reason: Unrecognised::Binary { .. }, .. }) {
        return None;
    }
    let mut head = Vec::new();
    std::fs::File::open(path).ok()?.take(HEAD).read_to_end(&mut head).ok()?;
    let line = example(&head)?;
    let nearest = why.account().and_then(|account| account.nearest.as_ref());
    let (dialect, known) = match nearest.filter(|nearest| nearest.dialect.check().is_ok()) {
        Some(nearest) => {
            let words = format!("it reads {} of {} lines", nearest.reads, nearest.lines);
            (nearest.dialect.clone(), words)
        }
        None => (of_line(line)?, "made of this one line".to_owned()),
    };
    let name: String = file_name(path).chars().filter(|c| !c.is_control()).collect();
    let mut text = format!(
        "// A form for the lines of {name}, to be completed: {}, {known}.\n\
         // One of its lines: {line}\n\
         // Say of each field what it is, then try it: trimbench dialect LOG --dialect THIS.ron\n",
        dialect.words()
    );
    if let Some(account) = why.account() {
        account.lines().iter().for_each(|line| {
            // Writing into a string cannot fail.
            let _ = writeln!(text, "//     {line}");
        });
    }
    let body = as_ron(&dialect, &text);
    Some(format!("{body}{MORE}"))
}

/// The middle one of the longest lines that are plain text with a number in it.
fn example(head: &[u8]) -> Option<&str> {
    let plain = |line: &&[u8]| {
        let printable = line.iter().all(|b| matches!(b, b'\t' | 0x20..=0x7E));
        line.len() <= LONGEST && printable && line.iter().any(u8::is_ascii_digit)
    };
    let lines = head.split(|b| matches!(b, b'\n' | b'\r'));
    let mut lines: Vec<&[u8]> = lines.filter(plain).collect();
    let most = lines.iter().map(|line| numbers(line).len()).max()?;
    lines.retain(|line| numbers(line).len() == most);
    std::str::from_utf8(lines.get(lines.len() / 2)?).ok()
}

/// Where numbers stand in a line, and how they are written.
fn numbers(line: &[u8]) -> Vec<(usize, usize, Base)> {
    let mut found = Vec::new();
    let mut at = 0;
    while at < line.len() {
        let word = line[at..].iter().take_while(|b| b.is_ascii_alphanumeric()).count();
        if word == 0 || !line[at].is_ascii_digit() {
            at += word.max(1);
            continue;
        }
        let text = &line[at..at + word];
        let digits = text.iter().take_while(|b| b.is_ascii_digit()).count();
        let hex = text.strip_prefix(b"0x").unwrap_or(text);
        let (mut end, mut base) = match digits == word {
            true => (at + word, Base::Decimal),
            false if !hex.is_empty() && hex.iter().all(u8::is_ascii_hexdigit) => {
                (at + word, Base::Hex)
            }
            false => (at + digits, Base::Decimal),
        };
        let places = |from: usize| line[from..].iter().take_while(|b| b.is_ascii_digit()).count();
        if base == Base::Decimal
            && line.get(end) == Some(&b'.')
            && (1..8).contains(&places(end + 1))
        {
            let behind = places(end + 1);
            (end, base) = (end + 1 + behind, Base::Fixed(behind as u8));
        }
        let apart = at < 2 || !line[at - 2].is_ascii_alphanumeric();
        let signed = at > 0 && matches!(line[at - 1], b'-' | b'+') && apart;
        found.push((at - usize::from(signed), end, base));
        at = end.max(at + 1);
    }
    found
}

/// A pattern with a place for each number of a line, each ignored.
fn of_line(line: &str) -> Option<Dialect> {
    let places = numbers(line.as_bytes());
    let (mut pattern, mut from) = (String::new(), 0);
    let mut fields = Vec::new();
    for (k, (start, end, base)) in places.into_iter().enumerate() {
        pattern += &line[from..start];
        pattern += "{}";
        from = end;
        let name = format!("number_{}", k + 1);
        fields.push(Field { name, role: Role::Ignore, base });
    }
    pattern += &line[from..];
    let dialect = plain(pattern, fields);
    dialect.check().is_ok().then_some(dialect)
}

/// Fields between text, and nothing else said.
fn plain(pattern: String, fields: Vec<Field>) -> Dialect {
    Dialect {
        format: 1,
        grammar: Grammar::Pattern,
        fields,
        checksum: ChecksumForm::None,
        clock: ClockUnit::Micros,
        clock_bits: None,
        pattern,
        names: Vec::new(),
        counts: Default::default(),
        line_us: None,
        cr_ends: false,
        seq_bits: None,
        by_order: false,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_number_of_a_line_gets_a_place() {
        let dialect = of_line("t=1.25 <0x3F|-7> v2 12mV {9}").expect("a form");
        assert_eq!(dialect.pattern, "t={} <{}|{}> v2 {}mV {{}}");
        let bases: Vec<Base> = dialect.fields.iter().map(|f| f.base).collect();
        let decimal = Base::Decimal;
        assert_eq!(bases, [Base::Fixed(2), Base::Hex, decimal, decimal, decimal]);
        assert_eq!(of_line("no number"), None);
    }

    #[test]
    fn the_example_is_a_line_with_the_most_numbers() {
        let head = b"boot\nx 1\nx 1, y 2\n\x01\x02 3\nx 5, y 6\nx 7, y 8\nx 9";
        assert_eq!(example(head), Some("x 5, y 6"));
        assert_eq!(example(b"nothing"), None);
    }
}
