//! What stands at the play head now: readings of the axes, the sticks' recent trail, contacts.
use egui::{Color32, Painter, Rect};

use super::traces::channels::FieldRows;
use super::traces::sampling::{Rows, column_rows, extents};
use crate::desk::Desk;
use crate::gui::parts::gate_outline::TRAIL_S;
use crate::gui::parts::lane::Band;
use crate::rig::{AxisId, Half, Rig};
use crate::session::BLOCK_ROWS;
use crate::wire::Role;

/// Most points of a trail.
const TRAIL_POINTS: usize = 240;

/// Row at the play head; `None` before the first frame.
pub fn row_now(desk: &Desk) -> Option<usize> {
    let rows = desk.session().rows();
    desk.timebase().row_at(desk.transport.at_us + 1).min(rows).checked_sub(1)
}

fn cell(desk: &Desk, field: usize, row: usize) -> Option<i32> {
    desk.session().blocks().get(row / BLOCK_ROWS)?.column(field).get(row % BLOCK_ROWS).copied()
}

/// The reading of an axis at the play head, counts.
pub fn reading(desk: &Desk, axis: AxisId) -> Option<f64> {
    let field = desk.session().field_of(Role::Axis(axis))?;
    cell(desk, field, row_now(desk)?).map(f64::from)
}

/// A stick's position at the play head, counts.
pub fn stick(desk: &Desk, half: Half) -> Option<[f64; 2]> {
    let [x, y] = half.stick();
    Some([reading(desk, x)?, reading(desk, y)?])
}

/// Where a stick was in the last half second: position in counts and age in seconds.
pub fn trail(desk: &Desk, half: Half) -> Vec<([f64; 2], f32)> {
    let session = desk.session();
    let [x, y] = half.stick().map(|axis| session.field_of(Role::Axis(axis)));
    let (Some(x), Some(y), Some(last)) = (x, y, row_now(desk)) else { return Vec::new() };
    let timebase = desk.timebase();
    let now_us = timebase.time_us(last);
    let first = timebase.row_at(now_us.saturating_sub((TRAIL_S * 1e6) as u64));
    let step = ((last + 1 - first) / TRAIL_POINTS).max(1);
    let mut trail = Vec::with_capacity(TRAIL_POINTS + 1);
    for row in (first..=last).step_by(step) {
        if let (Some(x), Some(y)) = (cell(desk, x, row), cell(desk, y, row)) {
            let age = (now_us - timebase.time_us(row)) as f32 / 1e6;
            trail.push(([f64::from(x), f64::from(y)], age));
        }
    }
    trail
}

/// Draws the last `span_us` of a field up to the play head: two points a column, from the envelope.
///
/// `range` are the values at the lower and the upper edge; `None` = the stretch's own extremes.
pub fn strip(
    painter: &Painter,
    desk: &Desk,
    field: usize,
    rect: Rect,
    span_us: u64,
    range: Option<[f32; 2]>,
    colour: Color32,
) {
    let source = FieldRows { session: desk.session(), timebase: desk.timebase(), field };
    let end_us = desk.transport.at_us;
    let from_us = end_us.saturating_sub(span_us);
    let count = (rect.width().max(1.0) as usize / 2).max(1);
    let edge = |k: usize| from_us + span_us * k as u64 / count as u64;
    let columns: Vec<_> = (0..count).map(|k| Some([edge(k), edge(k + 1)])).collect();
    let own = || {
        let rows = source.row_at(from_us)..source.row_at(end_us + 1);
        let (low, high) = source.min_max(rows)?;
        let (low, high) = (low as f32, high as f32);
        let pad = ((high - low) * 0.1).max(1.0);
        Some([low - pad, high + pad])
    };
    let Some(range) = range.or_else(own) else { return };
    let extents = extents(&source, &column_rows(&source, &columns));
    Band::from(extents).paint(painter, rect, range, colour);
}

/// Where raw 0°, 90°, 180° and 270° of a stick lie for the person.
pub fn directions(rig: &Rig, half: Half) -> [&'static str; 4] {
    let part = rig.sticks.iter().find(|s| s.half == half);
    let (x, y) = part.map_or((false, false), |s| (s.x_inverted, s.y_inverted));
    let (right, left) = if x { ("left", "right") } else { ("right", "left") };
    let (up, down) = if y { ("down", "up") } else { ("up", "down") };
    [right, up, left, down]
}
