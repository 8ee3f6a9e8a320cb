//! The heading of the packed dialect: from fields to text and back.
use crate::wire::line::MAX_FIELDS;
use crate::wire::names::{clock_unit, role_of_name};
use crate::wire::{Base, ChecksumForm, ClockUnit, Dialect, Field, Grammar, Role};

/// The width that a role has unless the heading says another.
pub(in crate::wire) fn usual_base(role: Role) -> Base {
    match role {
        Role::Clock | Role::RemoteAge(_) => Base::U32,
        Role::Temperature | Role::OutAxis(_) => Base::I16,
        Role::Button(_) | Role::ResetCause | Role::Duty(_) | Role::Light(_) => Base::U8,
        Role::Seq
        | Role::Axis(_)
        | Role::Buttons
        | Role::Vcc
        | Role::RemoteSeq(_)
        | Role::OutButtons
        | Role::Identity
        | Role::Checksum
        | Role::MoreButtons(_)
        | Role::Ignore => Base::U16,
    }
}

/// `seq,t_us,lx,buttons:u32`: what a board sends to name its fields.
pub(in crate::wire) fn heading_text(dialect: &Dialect) -> String {
    let words: Vec<String> = dialect.fields.iter().map(word).collect();
    words.join(",")
}

fn word(field: &Field) -> String {
    // What a listener will take for granted depends on the name alone.
    let usual = usual_base(role_of_name(&field.name).unwrap_or(Role::Ignore));
    match width_word(field.base) {
        Some(width) if field.base != usual => format!("{}:{width}", field.name),
        _ => field.name.clone(),
    }
}

fn width_word(base: Base) -> Option<&'static str> {
    match base {
        Base::U8 => Some("u8"),
        Base::U16 => Some("u16"),
        Base::U32 => Some("u32"),
        Base::I16 => Some("i16"),
        Base::Decimal | Base::Hex | Base::Bits | Base::Binary | Base::Unsettled => None,
        Base::Fixed(_)
        | Base::FixedComma(_)
        | Base::DayTime
        | Base::State
        | Base::Marks
        | Base::Names => None,
    }
}

/// The dialect that a heading describes; `None` for text that is no heading.
pub(in crate::wire) fn dialect_of(heading: &[u8]) -> Option<Dialect> {
    let text = std::str::from_utf8(heading).ok()?;
    let mut fields: Vec<Field> = Vec::new();
    for word in text.split(',') {
        let (name, width) = word.split_once(':').map_or((word, None), |(n, w)| (n, Some(w)));
        let known = role_of_name(name).filter(|role| fields.iter().all(|f| f.role != *role));
        let role = known.unwrap_or(Role::Ignore);
        let base = match width {
            None => usual_base(role_of_name(name).unwrap_or(Role::Ignore)),
            Some("u8") => Base::U8,
            Some("u16") => Base::U16,
            Some("u32") => Base::U32,
            Some("i16") => Base::I16,
            Some(_) => return None,
        };
        fields.push(Field { name: name.to_owned(), role, base });
    }
    if fields.len() > MAX_FIELDS {
        return None;
    }
    let base_of = |role| fields.iter().find(|f| f.role == role).map(|f| f.base);
    let seq_bits = base_of(Role::Seq).map(|base| match base {
        Base::U8 => 8,
        Base::U32 => 32,
        _ => 16,
    });
    let named = fields.iter().find(|f| f.role == Role::Clock).and_then(|f| clock_unit(&f.name));
    let dialect = Dialect {
        clock_bits: None,
        names: Vec::new(),
        counts: Default::default(),
        line_us: None,
        pattern: String::new(),
        cr_ends: false,
        format: 1,
        grammar: Grammar::Packed,
        clock: named.unwrap_or(ClockUnit::Micros),
        checksum: ChecksumForm::None,
        fields,
        seq_bits,
        by_order: false,
    };
    dialect.check().is_ok().then_some(dialect)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::rig::AxisId;

    #[test]
    fn a_heading_comes_back() {
        let text =
            "seq,t_us,lx,ly,buttons:u32,vcc_mv,remote_age,reset_cause,out_lx,identity,spare:u8";
        let dialect = dialect_of(text.as_bytes()).expect("a heading");
        assert_eq!(heading_text(&dialect), text);
        assert_eq!(dialect.fields[4].base, Base::U32);
        assert_eq!(dialect.fields[8].role, Role::OutAxis(AxisId::Lx));
        assert_eq!((dialect.fields[10].role, dialect.fields[10].base), (Role::Ignore, Base::U8));
        assert_eq!(dialect.seq_bits, Some(16));
    }

    #[test]
    fn what_is_no_heading_is_refused() {
        for odd in [&b""[..], b"seq,,lx", b"seq,lx:u64", b"seq,lx,lx", b"a b,c", b"\xFF"] {
            assert_eq!(dialect_of(odd), None, "{odd:?}");
        }
        let many = vec!["x"; 65].join(",");
        assert_eq!(dialect_of(many.as_bytes()), None);
    }
}
