//! A second form of lines in one stream whose lines hold the same readings: read into the columns of the first.
use super::line::{LineReader, Parsed, trimmed};
use super::mask::Evidence;
use super::{Base, Dialect, Grammar, Role};

/// Lines of a second form made into frames of the first.
#[derive(Clone, Debug)]
pub struct SecondForm {
    more: Vec<String>,
    /// Fields whose digits were taken for hexadecimal, and what they say of that.
    settling: Vec<(usize, Evidence)>,
    dialects: [Dialect; 2],
    reader: LineReader,
    cells: Vec<i32>,
    /// For each field of the first form where its value comes from.
    places: Vec<From>,
}

/// Where the value of a field comes from.
#[derive(Clone, Copy, Debug)]
enum From {
    /// That field of the second form.
    Field(usize),
    /// No role says what it is: it stays.
    Before,
    /// Buttons that such a line leaves out: none is pressed.
    Idle,
}

impl SecondForm {
    /// The way from `second`, lines of text, to `first`; `None` unless each role of the first stands in the second with
    /// digits and units that mean the same. Buttons may be left out: they are not pressed then.
    pub fn of(first: &Dialect, second: &Dialect) -> Option<SecondForm> {
        let packed = |d: &Dialect| d.grammar == Grammar::Packed;
        let sound = first.check().is_ok() && second.check().is_ok();
        if packed(second) || !sound || first.by_order != second.by_order {
            return None;
        }
        // Digits that may be of two bases are settled over all lines of one form, and packed frames have none.
        if packed(first) && second.fields.iter().any(|field| field.base == Base::Unsettled) {
            return None;
        }
        let mut places = Vec::with_capacity(first.fields.len());
        for (k, field) in first.fields.iter().enumerate() {
            let other = second.field_of(field.role).filter(|_| field.role != Role::Ignore);
            match other {
                Some(at) if same_reading(field.role, (first, k), (second, at)) => {
                    places.push(From::Field(at));
                }
                None if field.role == Role::Ignore => places.push(From::Before),
                None if is_button(field.role) => places.push(From::Idle),
                _ => return None,
            }
        }
        let reader = LineReader::new(second);
        let cells = vec![0; reader.fields()];
        let unknown = |role: Role| role != Role::Ignore && first.field_of(role).is_none();
        let more = second.fields.iter().filter(|field| unknown(field.role));
        let more = more.map(|field| field.name.clone()).collect();
        let (settling, dialects) = (Vec::new(), [first.clone(), second.clone()]);
        Some(SecondForm { more, settling, dialects, reader, cells, places })
    }

    /// The same for a first form that is packed: digits of masks that may be of two bases count as hexadecimal
    /// until all lines were read and [`SecondForm::in_decimals`] is asked.
    pub fn settling(first: &Dialect, second: &Dialect) -> Option<SecondForm> {
        let unsettled = |k: &usize| second.fields[*k].base == Base::Unsettled;
        let open: Vec<usize> = (0..second.fields.len()).filter(unsettled).collect();
        let mut way = SecondForm::of(first, &with_base(second, &open, Base::Hex))?;
        way.settling = open.into_iter().map(|k| (k, Evidence::default())).collect();
        Some(way)
    }

    /// The form again where the lines that were read show digits of a mask to be decimal.
    pub fn in_decimals(&self) -> Option<SecondForm> {
        let decimal = self.settling.iter().filter(|(_, e)| e.base() == Base::Decimal);
        let decimal: Vec<usize> = decimal.map(|(k, _)| *k).collect();
        let [first, second] = &self.dialects;
        if decimal.is_empty() {
            return None;
        }
        SecondForm::of(first, &with_base(second, &decimal, Base::Decimal))
    }

    /// Names of readings that only lines of this form hold: they are not read.
    pub fn more(&self) -> &[String] {
        &self.more
    }

    /// Puts the readings of a line into the cells of a frame of the first form; false for a line of any
    /// other form. What no role says stays as it is.
    pub fn read(&mut self, line: &[u8], frame: &mut [i32]) -> bool {
        if self.reader.read(trimmed(line), &mut self.cells) != Parsed::Frame {
            return false;
        }
        for (field, evidence) in &mut self.settling {
            evidence.add(&self.cells[*field..*field + 1]);
        }
        for (cell, place) in frame.iter_mut().zip(&self.places) {
            match place {
                From::Field(at) => *cell = self.cells[*at],
                From::Idle => *cell = 0,
                From::Before => {}
            }
        }
        true
    }
}

/// The dialect with another base for some of its fields.
fn with_base(dialect: &Dialect, fields: &[usize], base: Base) -> Dialect {
    let mut dialect = dialect.clone();
    for k in fields {
        dialect.fields[*k].base = base;
    }
    dialect
}

/// True where fields of two dialects that stand for a role give the same counts for the same reading.
pub fn same_reading(role: Role, one: (&Dialect, usize), other: (&Dialect, usize)) -> bool {
    let base = |(dialect, field): (&Dialect, usize)| dialect.fields[field].base;
    let clock = |dialect: &Dialect| (dialect.clock, dialect.clock_bits);
    let same_clock = role != Role::Clock || clock(one.0) == clock(other.0);
    base(one).counts_like(base(other)) && same_clock
}

fn is_button(role: Role) -> bool {
    matches!(role, Role::Buttons | Role::MoreButtons(_) | Role::Button(_))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::wire::recognise;

    fn form(line: impl Fn(usize) -> String) -> Dialect {
        let text: String = (0..300).map(|k| line(k) + "\n").collect();
        recognise(text.as_bytes()).expect("a form")
    }

    #[test]
    fn the_same_readings_in_other_words_are_read() {
        let first = form(|k| format!("ms={},lx={},ly={}", 4 * k, 500 + k % 90, 510 - k % 80));
        let second = form(|k| format!("at {} ms: lx {} ly {}", 4 * k, 500 + k % 90, 510 - k % 80));
        let mut way = SecondForm::of(&first, &second).expect("the same readings");
        let mut frame = [0; 3];
        assert!(way.read(b"at 12 ms: lx 7 ly 8\r", &mut frame));
        assert_eq!(frame, [12, 7, 8]);
        assert!(!way.read(b"ms=1,lx=2,ly=3", &mut frame));
        let other = form(|k| format!("at {} ms: lx {}", 4 * k, 500 + k % 90));
        assert!(SecondForm::of(&first, &other).is_none(), "one reading is missing");
        let micros = form(|k| format!("us {} lx {} ly {}", 4000 * k, 500 + k % 90, 510 - k % 80));
        assert!(SecondForm::of(&first, &micros).is_none(), "another unit");
    }
}
