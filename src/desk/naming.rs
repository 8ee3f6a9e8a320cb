//! Names for an unlabelled stream: what answered the roll-call becomes a dialect and a rig.
use crate::rig::{AxisId, Control, Half, Rig, StickPart, TriggerPart};
use crate::segment::Rows;
use crate::segment::roll_call::{Answer, Call, answer, calls, pressed};
use crate::session::{Session, Tracks};
use crate::wire::{Dialect, Role};

/// Most values that a field of button lines takes while controls are moved one by one: idle, each
/// button, and some damage.
const MASK_VALUES: usize = 64;
/// A channel answers for sure when the next one moved by less than this share of it.
const SECOND: f64 = 0.5;

/// What the roll-call says of the stream's fields.
#[derive(Clone, Debug, PartialEq)]
pub struct Naming {
    /// The dialect with every field named that answered; fields that answered nothing are ignored.
    pub dialect: Dialect,
    /// The parts found, with their signs; buttons by the name that they were called by, in bit order.
    pub rig: Rig,
    /// Controls that nothing answered.
    pub silent: Vec<Control>,
    /// Controls that more than one channel answered.
    pub doubtful: Vec<Control>,
}

/// Where a channel stands in a line.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Place {
    Whole(usize),
    Bit(usize, u8),
}

/// One control and the channel that answered it.
struct Named {
    control: Control,
    place: Place,
    answer: Answer,
}

/// Names every channel of a session by its roll-call; `None` without calls or frames.
///
/// The roles that the dialect gives are not looked at, but for counter, clock and what is no input.
pub fn name_channels(session: &Session, rig: &Rig) -> Option<Naming> {
    let dialect = session.dialect()?;
    let tracks = session.tracks(rig);
    let calls = calls(&tracks);
    let (first, last) = (calls.first()?.rows.first, calls.last()?.rows.end);
    let fields: Vec<usize> = (0..dialect.fields.len())
        .filter(|&f| session.roles().get(f).is_some_and(|r| is_input(*r)))
        .collect();
    let columns: Vec<(usize, Vec<i32>)> =
        fields.iter().map(|&f| (f, session.column_part(f, first..last))).collect();
    let (masks, analog): (Vec<_>, Vec<_>) =
        columns.into_iter().partition(|(_, cells)| is_mask(cells));
    let (mut named, mut silent, mut doubtful) = (Vec::new(), Vec::new(), Vec::new());
    for call in &calls {
        let part = Rows { first: call.rows.first - first, end: call.rows.end - first };
        let answers = match call.control {
            Control::Axis(_) => of_analog(&tracks, call, part, &analog),
            Control::Button(_) => of_masks(&tracks, call, part, &masks),
        };
        let mut sure: Vec<&(Place, Answer)> = answers.iter().filter(|a| a.1.counts()).collect();
        sure.sort_by(|a, b| b.1.change.abs().total_cmp(&a.1.change.abs()));
        let Some(&&(place, answer)) = sure.first() else {
            silent.push(call.control);
            continue;
        };
        if sure.get(1).is_some_and(|n| n.1.change.abs() > SECOND * answer.change.abs()) {
            doubtful.push(call.control);
        }
        named.push(Named { control: call.control, place, answer });
    }
    Some(Naming {
        dialect: dialect_of(dialect, session.roles(), &named),
        rig: rig_of(rig, &tracks, &named),
        silent,
        doubtful,
    })
}

/// True for a role that a reading of a control may hide behind.
fn is_input(role: Role) -> bool {
    matches!(role, Role::Axis(_) | Role::Button(_) | Role::Buttons | Role::Ignore)
}

/// Few values, and never two bits away from idle at once but for a few damaged rows.
fn is_mask(cells: &[i32]) -> bool {
    let mut values = cells.to_vec();
    values.sort_unstable();
    let (mut counts, mut idle) = (0, (0, 0));
    for run in values.chunk_by(|a, b| a == b) {
        counts += 1;
        if run.len() > idle.1 {
            idle = (run[0], run.len());
        }
    }
    let several = cells.iter().filter(|&&c| ((c ^ idle.0) as u32).count_ones() > 1).count();
    counts <= MASK_VALUES && several * 50 <= cells.len()
}

fn of_analog(
    tracks: &Tracks,
    call: &Call,
    part: Rows,
    columns: &[(usize, Vec<i32>)],
) -> Vec<(Place, Answer)> {
    let t_us = call.rows.of(&tracks.t_us);
    let full = tracks.full_scale();
    columns.iter().map(|(f, c)| (Place::Whole(*f), answer(part.of(c), t_us, full))).collect()
}

fn of_masks(
    tracks: &Tracks,
    call: &Call,
    part: Rows,
    columns: &[(usize, Vec<i32>)],
) -> Vec<(Place, Answer)> {
    let t_us = call.rows.of(&tracks.t_us);
    let mut answers = Vec::new();
    for (field, cells) in columns {
        let cells = part.of(cells);
        let changed = cells.windows(2).fold(0, |all, w| all | (w[0] ^ w[1]) as u32);
        for bit in (0..32).filter(|bit| changed >> bit & 1 == 1) {
            let closed: Vec<bool> = cells.iter().map(|c| (*c as u32) >> bit & 1 == 1).collect();
            answers.push((Place::Bit(*field, bit), pressed(&closed, t_us)));
        }
    }
    answers
}

/// The dialect with roles and names by what answered.
fn dialect_of(dialect: &Dialect, roles: &[Role], named: &[Named]) -> Dialect {
    let mut dialect = dialect.clone();
    for (k, field) in dialect.fields.iter_mut().enumerate() {
        field.role = roles.get(k).copied().unwrap_or(field.role);
        if !is_input(field.role) {
            continue;
        }
        let answers: Vec<&Named> = named.iter().filter(|n| field_of(n.place) == k).collect();
        (field.role, field.name) = match answers.as_slice() {
            [] => (Role::Ignore, field.name.clone()),
            [Named { control: Control::Axis(axis), .. }, ..] => {
                (Role::Axis(*axis), axis.key().to_owned())
            }
            // One line alone in its field: a field of 0 and 1.
            [Named { control: Control::Button(n), place: Place::Bit(_, 0), .. }] => {
                (Role::Button(*n), format!("b{n}"))
            }
            _ => (Role::Buttons, "buttons".to_owned()),
        };
    }
    dialect
}

fn field_of(place: Place) -> usize {
    match place {
        Place::Whole(field) | Place::Bit(field, _) => field,
    }
}

/// The parts list by what answered: signs from the direction of the change.
fn rig_of(rig: &Rig, tracks: &Tracks, named: &[Named]) -> Rig {
    let change = |axis: AxisId| {
        let found = named.iter().find(|n| n.control == Control::Axis(axis));
        found.map(|n| n.answer.change)
    };
    let mut rig = rig.clone();
    rig.raw_bits = Some(tracks.raw_bits);
    let sticks = Half::ALL.into_iter().filter_map(|half| {
        let [x, y] = half.stick().map(change);
        let kept = rig.sticks.iter().find(|s| s.half == half).cloned();
        let part = kept.unwrap_or_else(|| StickPart::plain(half));
        Some(StickPart { x_inverted: x? < 0.0, y_inverted: y? < 0.0, ..part })
    });
    let sticks = sticks.collect();
    let triggers = Half::ALL.into_iter().filter_map(|half| {
        let kept = rig.triggers.iter().find(|t| t.half == half).cloned();
        let part = kept.unwrap_or_else(|| TriggerPart::plain(half));
        Some(TriggerPart { rests_high: Some(change(half.trigger())? < 0.0), ..part })
    });
    let triggers = triggers.collect();
    let called = rig.buttons.clone();
    let name = |n: u8| called.get(usize::from(n)).cloned().unwrap_or_else(|| format!("b{n}"));
    let mut buttons: Vec<String> = Vec::new();
    for found in named {
        let (Control::Button(n), Place::Bit(_, bit)) = (found.control, found.place) else {
            continue;
        };
        let bit = usize::from(bit);
        if buttons.len() <= bit {
            buttons.extend((buttons.len()..=bit).map(|k| format!("unnamed {k}")));
        }
        buttons[bit] = name(n);
    }
    let low = named.iter().filter(|n| matches!(n.place, Place::Bit(..)) && n.answer.change < 0.0);
    let low = 2 * low.count() > buttons.len();
    Rig { sticks, triggers, buttons_active_low: Some(low), buttons, ..rig }
}
