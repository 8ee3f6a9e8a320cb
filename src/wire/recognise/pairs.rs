//! Axes that nobody names in the usual ways: names in pairs that end in x and y (or h and v), in their order.
use crate::rig::AxisId;
use crate::wire::Role;
use crate::wire::names::plain;
use crate::wire::words::{is_lever, is_of_another};

use super::column::Column;

/// Where no axis has a role yet: the first pair is the left stick, the second the right one; a trigger
/// without a side is the left one.
pub(super) fn give(names: &[String], columns: &[Column], roles: &mut [Role]) {
    let open = |roles: &[Role], k: usize| {
        let name = names.get(k).map_or("", String::as_str);
        roles[k] == Role::Ignore && columns[k].is_moved() && !is_of_another(name)
    };
    let plain: Vec<String> = names.iter().map(|name| plain(name)).collect();
    let has = |name: String| plain.contains(&name);
    let mut found: Vec<[usize; 2]> = Vec::new();
    for (k, name) in plain.iter().enumerate().take(columns.len()) {
        for [across, along] in [["x", "y"], ["h", "v"], ["hor", "ver"]] {
            let Some(stem) = name.strip_suffix(across).filter(|_| open(roles, k)) else { continue };
            let other = format!("{stem}{along}");
            let partner = plain.iter().position(|n| *n == other).filter(|j| open(roles, *j));
            // Three ways belong to a sensor of motion.
            if let Some(j) = partner.filter(|_| !has(format!("{stem}z"))) {
                found.push([k, j]);
            }
        }
    }
    let sticks = [[AxisId::Lx, AxisId::Ly], [AxisId::Rx, AxisId::Ry]];
    for (pair, axes) in found.iter().zip(sticks) {
        for (k, axis) in pair.iter().zip(axes) {
            roles[*k] = Role::Axis(axis);
        }
    }
    let lever =
        (0..plain.len().min(columns.len())).find(|k| open(roles, *k) && is_lever(&plain[*k]));
    if let Some(k) = lever.filter(|_| !found.is_empty()) {
        roles[k] = Role::Axis(AxisId::Lt);
    }
}
