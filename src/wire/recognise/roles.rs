//! The meaning of each field: by its name, else by the default order and by how it runs.
use crate::rig::AxisId;
use crate::wire::names::{clock_unit as unit_of_name, plain, role_of_name};
use crate::wire::{Base, ClockUnit, Field, Role};

use super::column::Column;

/// Names, roles and bases of all fields, and whether the roles go by nothing but their order.
pub(super) fn assign(names: &[String], columns: &[Column]) -> (Vec<Field>, bool) {
    let mut roles = by_name(names, columns);
    let named = roles.iter().any(|r| matches!(r, Role::Axis(_) | Role::OutAxis(_)));
    if !named {
        roles = by_order(columns);
    }
    let hex_axes = roles
        .iter()
        .zip(columns)
        .any(|(role, column)| matches!(role, Role::Axis(_)) && column.is_hex());
    let base = |role: Role, column: &Column| match role {
        Role::Buttons | Role::OutButtons => column.mask_base(),
        Role::Axis(_) if hex_axes => Base::Hex,
        _ if column.is_hex() => Base::Hex,
        _ => Base::Decimal,
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

/// The unit of the clock field, by its name, else by its step.
pub(super) fn clock_unit(fields: &[Field], columns: &[Column]) -> ClockUnit {
    let clock = fields.iter().zip(columns).find(|(field, _)| field.role == Role::Clock);
    match clock {
        Some((field, column)) if is_millis(&field.name, column) => ClockUnit::Millis,
        _ => ClockUnit::Micros,
    }
}

/// Lines cannot come every 100 µs, so a smaller step is in milliseconds.
fn is_millis(name: &str, column: &Column) -> bool {
    match unit_of_name(name) {
        Some(unit) => unit == ClockUnit::Millis,
        None => column.median_step() < 100,
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
    let mut roles: Vec<Role> = Vec::with_capacity(columns.len());
    for (k, column) in columns.iter().enumerate() {
        let name = plain.get(k).map_or("", String::as_str);
        let found = role_in_company(name, &has)
            .or_else(|| role_of_name(name))
            .or_else(|| side_and_number(name, column));
        let role = found.filter(|role| !roles.contains(role)).unwrap_or(Role::Ignore);
        roles.push(role);
    }
    if !roles.contains(&Role::Buttons) {
        number_flags(names, columns, &mut roles);
    }
    roles
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
    let digits = name.strip_prefix(['l', 'r'])?;
    if column.is_flag() || digits.is_empty() || !digits.bytes().all(|b| b.is_ascii_digit()) {
        return None;
    }
    Some(Role::Axis(if name.starts_with('l') { AxisId::Lt } else { AxisId::Rt }))
}

/// Named fields of 0 and 1 are buttons, in their order, on the numbers that are still free.
fn number_flags(names: &[String], columns: &[Column], roles: &mut [Role]) {
    let mut next = 0;
    for k in 0..roles.len() {
        let named = names.get(k).is_some_and(|n| !n.is_empty());
        if roles[k] != Role::Ignore || !named || !columns[k].is_flag() {
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

/// `seq t_us lx ly rx ry lt rt buttons`, trailing roles absent when there are fewer. Counter and
/// clock are known by their running, wherever they stand.
fn by_order(columns: &[Column]) -> Vec<Role> {
    let mut roles = vec![Role::Ignore; columns.len()];
    let places = running(columns, &mut roles);
    let rest: Vec<&Column> = places.iter().map(|&k| &columns[k]).collect();
    // Trailing fields of 0 and 1, unless they may be triggers at rest.
    let flags = rest.iter().rev().take_while(|c| c.is_flag()).count();
    let start = rest.len() - flags;
    // Hexadecimal behind decimal ones is a mask as well.
    let decimal = rest.first().is_some_and(|c| !c.is_hex());
    let masked = |c: &&Column| c.is_written_as_mask() || decimal && c.is_hex();
    let written = rest.iter().position(masked).filter(|at| *at <= 6);
    let last_runs = rest.last().is_some_and(|c| rest.len() <= 6 && c.runs_like_mask());
    let axes = match (written, last_runs) {
        (Some(at), _) => at,
        (None, true) => rest.len() - 1,
        // Sticks are never at a rail for long, triggers are.
        (None, false) if start >= 4 => rest.len().min(6),
        (None, false) if flags >= 2 => start,
        (None, false) => rest.len().min(6),
    };
    for (place, axis) in places.iter().zip(AxisId::ALL).take(axes) {
        roles[*place] = Role::Axis(axis);
    }
    let after = &rest[axes..];
    // A lone 0 or 1 is a mask with one button, or one at rest.
    let flags = after.iter().take_while(|c| c.is_flag()).count();
    if flags > 1 {
        for k in 0..flags.min(32) {
            roles[places[axes + k]] = Role::Button(k as u8);
        }
    } else if !after.is_empty() {
        roles[places[axes]] = Role::Buttons;
    }
    roles
}

/// Counter and clock; gives the places of the other columns.
fn running(columns: &[Column], roles: &mut [Role]) -> Vec<usize> {
    for (k, column) in columns.iter().enumerate() {
        if column.is_counter() && !roles.contains(&Role::Seq) {
            roles[k] = Role::Seq;
        } else if column.is_clock() && !roles.contains(&Role::Clock) {
            roles[k] = Role::Clock;
        }
    }
    (0..columns.len()).filter(|k| roles[*k] == Role::Ignore).collect()
}
