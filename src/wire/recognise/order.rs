//! The meaning of fields that nobody named: by how they run and, among those alike, by their order.
use crate::rig::AxisId;
use crate::wire::Role;
use crate::wire::words::is_of_another;

use super::column::Column;

/// Lines from which on the running of a column tells what it is not.
const ENOUGH: usize = 16;

/// What the columns have in common, so that it says nothing of one of them.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Company {
    /// Zeros in front everywhere.
    pub(super) padded: bool,
    /// `0x` in front everywhere.
    pub(super) prefixed: bool,
}

impl Company {
    pub(super) fn of(columns: &[Column]) -> Company {
        let many = |is: &dyn Fn(&Column) -> bool| columns.iter().filter(|c| is(c)).count() >= 3;
        Company {
            padded: many(&|c| c.is_padded() && !c.is_steady()),
            prefixed: many(&|c| c.is_prefixed()),
        }
    }
}

/// What a column looks like that is neither counter nor clock.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Look {
    /// 0 and 1 alone.
    Flag,
    /// Many buttons.
    Mask,
    /// The reading of a stick or trigger.
    Analog,
    /// Stands still, runs one way, leaps about as a checksum does, or is a hat.
    Nobody,
}

/// `seq t_us lx ly rx ry lt rt buttons`, trailing roles absent when there are fewer. Counter, clock,
/// buttons and what stands still are known by their running, wherever they stand.
pub(super) fn by_order(columns: &[Column]) -> Vec<Role> {
    let company = Company::of(columns);
    let mut roles = vec![Role::Ignore; columns.len()];
    let places = running(columns, &mut roles);
    let worked = places.iter().filter(|k| columns[**k].is_moved()).count() >= 2;
    if worked {
        by_looks(columns, &places, company, &mut roles);
    } else {
        at_rest(columns, &places, company, &mut roles);
    }
    roles
}

/// Counter and clock; gives the places of the other columns that may be controls.
fn running(columns: &[Column], roles: &mut [Role]) -> Vec<usize> {
    if let Some(seq) = columns.iter().position(Column::is_counter) {
        roles[seq] = Role::Seq;
    }
    if let Some(clock) = best_clock(columns, roles) {
        roles[clock] = Role::Clock;
    }
    let open = |k: &usize| roles[*k] == Role::Ignore && !columns[*k].is_day_time();
    (0..columns.len()).filter(open).filter(|k| !runs_on(&columns[*k])).collect()
}

/// A further clock or counter: no control rises or falls all the time.
fn runs_on(column: &Column) -> bool {
    column.count >= ENOUGH
        && (column.is_clock() || column.is_falling() || column.is_counter() || column.creeps())
}

/// The clock among the fields without a role: the board's own before a stamp, then the finest.
pub(super) fn best_clock(columns: &[Column], roles: &[Role]) -> Option<usize> {
    let open = (0..columns.len()).filter(|k| roles[*k] == Role::Ignore && columns[*k].is_clock());
    // With few lines several rise by chance: then the first.
    let mut open: Vec<usize> = open.collect();
    if columns.first().is_none_or(|c| c.count < ENOUGH) {
        return open.first().copied();
    }
    open.sort_by_key(|k| (columns[*k].is_day_time(), std::cmp::Reverse(columns[*k].pace())));
    open.first().copied()
}

fn look(column: &Column, company: Company, decimal: bool) -> Look {
    if column.leaps() || column.is_hat() {
        Look::Nobody
    } else if column.is_flag() && !column.is_steady() {
        Look::Flag
    } else if column.runs_like_mask() || column.is_marks() {
        Look::Mask
    } else if column.is_steady() {
        Look::Nobody
    } else if column.is_written_as_mask(company) || decimal && column.is_hex() {
        Look::Mask
    } else {
        Look::Analog
    }
}

/// Somebody moved the controls: every column shows what it is.
fn by_looks(columns: &[Column], places: &[usize], company: Company, roles: &mut [Role]) {
    let first = places.iter().find(|k| columns[**k].is_moved());
    let decimal = first.is_some_and(|k| !columns[*k].is_hex());
    let looks: Vec<Look> = places.iter().map(|k| look(&columns[*k], company, decimal)).collect();
    let all = |what: Look| {
        let fits = looks.iter().zip(places).filter(move |(look, _)| **look == what);
        fits.map(|(_, k)| *k).collect::<Vec<usize>>()
    };
    let analog = all(Look::Analog);
    for (k, axis) in analog.iter().zip(axes_in_order(columns, &analog)) {
        roles[*k] = Role::Axis(axis);
    }
    let (masks, flags) = (all(Look::Mask), all(Look::Flag));
    let idle_flags = || {
        let last = places.iter().filter(|k| columns[**k].is_flag());
        last.copied().collect::<Vec<usize>>()
    };
    match (masks.is_empty(), flags.len()) {
        (true, 0) => {
            // A mask that nobody pressed, behind the readings.
            let last = places.last().filter(|k| {
                columns[**k].is_idle_mask() || columns[**k].is_written_as_mask(company)
            });
            if let Some(k) = last.filter(|k| roles[**k] == Role::Ignore) {
                roles[*k] = Role::Buttons;
            }
        }
        // One of many columns of buttons was pressed, or a mask of which one bit was.
        (true, _) if idle_flags().len() > 1 => {
            for (n, k) in idle_flags().into_iter().take(32).enumerate() {
                roles[k] = Role::Button(n as u8);
            }
        }
        (true, _) => roles[flags[0]] = Role::Buttons,
        (false, _) => {
            let mut in_order = [masks, flags].concat();
            in_order.sort_unstable();
            give_masks(columns, &in_order, roles);
        }
    }
}

/// `lx ly rx ry lt rt`, but six readings of which two rest at an end and four do not show themselves
/// which the triggers are.
fn axes_in_order(columns: &[Column], analog: &[usize]) -> Vec<AxisId> {
    let pulled: Vec<bool> = analog.iter().map(|k| columns[*k].rests_at_an_end()).collect();
    let centred = analog.iter().filter(|k| columns[**k].rests_between()).count();
    let two = pulled.iter().filter(|pulled| **pulled).count() == 2;
    if analog.len() != 6 || !two || centred != 4 {
        return AxisId::ALL.to_vec();
    }
    let (mut triggers, mut sticks) =
        (AxisId::ALL.into_iter().skip(4), AxisId::ALL.into_iter().take(4));
    pulled.iter().filter_map(|p| if *p { triggers.next() } else { sticks.next() }).collect()
}

/// Readings without a name beside named ones: the axes that nobody is yet, in their order, where the
/// count and their rest fit.
pub(super) fn fill_up(names: &[String], columns: &[Column], roles: &mut [Role]) {
    let other = |k: usize| names.get(k).is_some_and(|name| is_of_another(name));
    let free = |k: &usize| {
        let column = &columns[*k];
        roles[*k] == Role::Ignore && column.is_moved() && !runs_on(column) && !other(*k)
    };
    let open: Vec<usize> = (0..columns.len()).filter(free).collect();
    let taken = |axis: &AxisId| roles.contains(&Role::Axis(*axis));
    let missing: Vec<AxisId> = AxisId::ALL.into_iter().filter(|axis| !taken(axis)).collect();
    let fits = |(k, axis): (&usize, &AxisId)| match axis.is_trigger() {
        true => columns[*k].rests_at_an_end(),
        false => columns[*k].rests_between(),
    };
    if missing.is_empty() || open.len() != missing.len() || !open.iter().zip(&missing).all(fits) {
        return;
    }
    for (k, axis) in open.into_iter().zip(missing) {
        roles[k] = Role::Axis(axis);
    }
}

/// Gives several fields of buttons their numbers, those of the first mask first.
pub(super) fn give_masks(columns: &[Column], fields: &[usize], roles: &mut [Role]) {
    let mut next = 0;
    for &k in fields {
        if next < 32 {
            roles[k] = if next == 0 { Role::Buttons } else { Role::MoreButtons(next) };
        }
        next = next.saturating_add(columns[k].mask_width());
    }
}

/// Nothing was moved yet: by order, and by how the digits are written.
fn at_rest(columns: &[Column], places: &[usize], company: Company, roles: &mut [Role]) {
    let flag = |k: &&usize| columns[**k].is_flag();
    let before = places.iter().take_while(flag).count();
    let others = places.iter().filter(|k| !columns[**k].is_flag()).count();
    let (ahead, places) = places.split_at(if before >= 2 && others >= 2 { before } else { 0 });
    for (n, k) in ahead.iter().take(32).enumerate() {
        roles[*k] = Role::Button(n as u8);
    }
    let rest: Vec<&Column> = places.iter().map(|&k| &columns[k]).collect();
    // Trailing fields of 0 and 1, unless they may be triggers at rest.
    let flags = rest.iter().rev().take_while(|c| c.is_flag()).count();
    let start = rest.len() - flags;
    // Hexadecimal behind decimal ones is a mask as well.
    let decimal = rest.first().is_some_and(|c| !c.is_hex());
    let masked = |c: &&Column| c.is_written_as_mask(company) || decimal && c.is_hex();
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
    if !ahead.is_empty() {
        return;
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
}
