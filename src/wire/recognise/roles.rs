//! The meaning of each field: by its name, else by the default order and by how it runs.
use crate::rig::AxisId;
use crate::wire::names::{clock_unit as unit_of_name, plain, role_of_name, without_fillers};
use crate::wire::words::role_of_words;
use crate::wire::{Base, ClockUnit, Field, Role};

use super::column::Column;
use super::order::{Company, best_clock, by_order, fill_up, give_masks};

/// Names, roles and bases of all fields, and whether the roles go by nothing but their order.
pub(super) fn assign(names: &[String], columns: &[Column]) -> (Vec<Field>, bool) {
    let mut roles = by_name(names, columns);
    let named = roles.iter().any(|r| matches!(r, Role::Axis(_) | Role::OutAxis(_)));
    if !named {
        roles = by_order(columns);
    }
    let padded = Company::of(columns).padded;
    let axis_hex = |(role, column): (&Role, &Column)| {
        matches!(role, Role::Axis(_)) && column.is_hex() && column.may_be_hex()
    };
    let hex_axes = roles.iter().zip(columns).any(axis_hex);
    let base = |role: Role, column: &Column| match role {
        Role::Buttons | Role::MoreButtons(_) | Role::OutButtons => column.mask_base(padded),
        Role::Axis(_) if hex_axes => Base::Hex,
        Role::Axis(_) | Role::OutAxis(_) => column.reading_base(),
        _ => column.base(),
    };
    let unit = |role, column: &Column| role == Role::Clock && is_millis("", column);
    let fields = roles.iter().zip(columns).enumerate();
    let fields = fields
        .map(|(k, (&role, column))| Field {
            name: match names.get(k) {
                Some(name) if !name.is_empty() => name.clone(),
                _ => name_of(role, k, unit(role, column)),
            },
            role,
            base: base(role, column),
        })
        .collect();
    (fields, !named)
}

/// The unit of the clock field by its name, else by its step, and the width at which it turns;
/// one with a point is read in milliseconds or microseconds from here on.
pub(super) fn settle_clock(
    names: &[String],
    fields: &mut [Field],
    columns: &[Column],
) -> (ClockUnit, Option<u8>) {
    let clock = fields.iter().position(|field| field.role == Role::Clock);
    let Some(at) = clock else { return (ClockUnit::Micros, None) };
    let (field, column) = (&mut fields[at], &columns[at]);
    let name = names.get(at).map_or("", String::as_str);
    let places = match field.base {
        Base::Fixed(places) | Base::FixedComma(places) => places,
        Base::DayTime => return (ClockUnit::Micros, None),
        _ => {
            let millis = is_millis(name, column);
            let unit = if millis { ClockUnit::Millis } else { ClockUnit::Micros };
            return (unit, column.turns_narrow().then_some(16));
        }
    };
    let step = column.median_step() as f64 / 10_f64.powi(i32::from(places));
    let (kept, unit) = match unit_of_name(name) {
        Some(ClockUnit::Millis) => (3, ClockUnit::Micros),
        Some(ClockUnit::Micros) => (0, ClockUnit::Micros),
        // A line cannot come every half millisecond less often than every half second.
        None if step < 0.5 && places <= 3 => (3, ClockUnit::Millis),
        None if step < 0.5 => (6, ClockUnit::Micros),
        None if step < 100.0 => (3, ClockUnit::Micros),
        None => (0, ClockUnit::Micros),
    };
    if names.is_empty() {
        field.name = if unit == ClockUnit::Millis { "t_ms" } else { "t_us" }.to_owned();
    }
    field.base = match field.base {
        Base::FixedComma(_) => Base::FixedComma(kept),
        _ => Base::Fixed(kept),
    };
    (unit, None)
}

/// Lines cannot come every 100 µs, so a smaller step is in milliseconds.
fn is_millis(name: &str, column: &Column) -> bool {
    match unit_of_name(name) {
        Some(unit) => unit == ClockUnit::Millis,
        None => column.pace() < 100,
    }
}

fn name_of(role: Role, field: usize, millis: bool) -> String {
    match role {
        Role::Seq => "seq".to_owned(),
        Role::Clock => if millis { "t_ms" } else { "t_us" }.to_owned(),
        Role::Axis(axis) => axis.key().to_owned(),
        Role::Buttons => "buttons".to_owned(),
        Role::Button(n) => format!("b{n}"),
        _ => format!("field{}", field + 1),
    }
}

fn by_name(names: &[String], columns: &[Column]) -> Vec<Role> {
    let plain: Vec<String> = names.iter().map(|n| plain(n)).collect();
    let has = |name: &str| plain.iter().any(|n| n == name);
    let exact = |k: usize| {
        let name = plain.get(k).map_or("", String::as_str);
        role_in_company(name, &has)
            .or_else(|| role_of_name(name))
            .or_else(|| side_and_number(name, &columns[k]))
    };
    let by_words = |k: usize| role_of_words(&[names.get(k).map_or("", String::as_str)]);
    // The usual spellings first: a longer name that ends alike must not take their place.
    let mut roles = vec![Role::Ignore; columns.len()];
    let passes: [&dyn Fn(usize) -> Option<Role>; 2] = [&exact, &by_words];
    for of in passes {
        for k in 0..columns.len() {
            let plausible = |role: &Role| is_plausible(*role, &columns[k], others_move(columns, k));
            let found = of(k).filter(plausible).filter(|role| !roles.contains(role));
            if let (Role::Ignore, Some(role)) = (roles[k], found) {
                roles[k] = role;
            }
        }
    }
    if roles.iter().any(|r| matches!(r, Role::Axis(_))) {
        if !roles.contains(&Role::Seq) {
            let seq =
                (0..roles.len()).find(|k| roles[*k] == Role::Ignore && columns[*k].is_counter());
            seq.into_iter().for_each(|k| roles[k] = Role::Seq);
        }
        if !roles.contains(&Role::Clock) {
            best_clock(columns, &roles).into_iter().for_each(|k| roles[k] = Role::Clock);
        }
        fill_up(names, columns, &mut roles);
        find_buttons(names, columns, &mut roles);
    }
    roles
}

/// True when a column other than the k-th was moved through many values.
fn others_move(columns: &[Column], k: usize) -> bool {
    columns.iter().enumerate().any(|(other, column)| other != k && column.is_moved())
}

/// A name is believed unless the numbers deny it.
fn is_plausible(role: Role, column: &Column, others_move: bool) -> bool {
    const ENOUGH: usize = 16;
    match role {
        _ if column.count < ENOUGH => true,
        Role::Axis(_) => {
            !(column.is_flag() && others_move || column.is_day_time() || column.is_clock())
        }
        Role::Seq => {
            let other = column.is_clock() || column.is_steady() || column.runs_like_mask();
            column.is_counter() || !(other || column.is_moved_about())
        }
        Role::Clock => column.goes_forward() && !column.is_steady(),
        _ => true,
    }
}

/// Buttons by how fields run that no name explains: masks, then columns of 0 and 1.
fn find_buttons(names: &[String], columns: &[Column], roles: &mut [Role]) {
    let open = |roles: &[Role], k: usize| roles[k] == Role::Ignore;
    let flags: Vec<usize> = (0..roles.len())
        .filter(|k| open(roles, *k) && columns[*k].is_flag() && !columns[*k].is_pointed())
        .collect();
    if let Some(mask) = roles.iter().position(|r| *r == Role::Buttons)
        && columns[mask].is_flag()
        && !flags.is_empty()
    {
        // One column among many of its kind.
        roles[mask] = Role::Ignore;
    }
    let masks: Vec<usize> = (0..roles.len())
        .filter(|k| {
            roles[*k] == Role::Buttons || {
                open(roles, *k) && (columns[*k].runs_like_mask() || columns[*k].is_marks())
            }
        })
        .collect();
    let single = roles.iter().any(|r| matches!(r, Role::Button(_)));
    if !masks.is_empty() && !single {
        let high = |k: &usize| {
            let name = names.get(*k).map(|n| n.to_ascii_lowercase()).unwrap_or_default();
            ["hi", "high", "upper", "msb"].iter().any(|w| name.ends_with(w) || name.starts_with(w))
        };
        let mut order = masks;
        order.sort_by_key(|k| (high(k), *k));
        give_masks(columns, &order, roles);
    } else if let ([lone], false) = (flags.as_slice(), single)
        && columns[*lone].longest_token() == 1
        && roles.iter().all(|r| *r != Role::Buttons)
    {
        // A mask at rest looks so too, and more of it may come.
        roles[*lone] = Role::Buttons;
    } else {
        number_flags(columns, roles);
    }
}

/// Names whose meaning depends on which other names there are.
fn role_in_company(name: &str, has: &dyn Fn(&str) -> bool) -> Option<Role> {
    let axis = match name {
        // Numbered from 0 when there is a 0.
        "x0" => AxisId::Lx,
        "y0" => AxisId::Ly,
        "x1" if has("x0") => AxisId::Rx,
        "y1" if has("y0") => AxisId::Ry,
        // The usage tables' order: with rx and ry the right stick is taken, and these are triggers.
        "z" if has("rz") => {
            if has("rx") {
                AxisId::Lt
            } else {
                AxisId::Rx
            }
        }
        "rz" if has("z") => {
            if has("ry") {
                AxisId::Rt
            } else {
                AxisId::Ry
            }
        }
        _ => return None,
    };
    Some(Role::Axis(axis))
}

/// A side and a number (`l2`): a trigger when it has an analog range.
fn side_and_number(name: &str, column: &Column) -> Option<Role> {
    let name = without_fillers(name);
    let digits = name.strip_prefix(['l', 'r'])?;
    if column.is_flag() || digits.is_empty() || !digits.bytes().all(|b| b.is_ascii_digit()) {
        return None;
    }
    Some(Role::Axis(if name.starts_with('l') { AxisId::Lt } else { AxisId::Rt }))
}

/// Fields of 0 and 1 are buttons, in their order, on the numbers that are still free.
fn number_flags(columns: &[Column], roles: &mut [Role]) {
    let mut next = 0;
    for k in 0..roles.len() {
        if roles[k] != Role::Ignore || !columns[k].is_flag() {
            continue;
        }
        while next < 32 && roles.contains(&Role::Button(next)) {
            next += 1;
        }
        if next < 32 {
            roles[k] = Role::Button(next);
        }
    }
}
