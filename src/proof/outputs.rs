//! The outputs that are judged: what the board sent, or what the record makes of its raw codes.
use super::Judged;
use crate::rig::{AxisId, Half};
use crate::session::{Session, Tracks};
use crate::trim::apply::{Debouncer, Stick, Trigger};
use crate::trim::{FULL_OUTPUT, Trim};
use crate::wire::Role;

/// Output columns, one value a row.
#[derive(Clone, Debug, PartialEq)]
pub struct Outputs {
    /// Where they come from.
    pub judged: Judged,
    /// By axis, in the order of [`AxisId::ALL`].
    pub axes: [Option<Vec<i32>>; 6],
    /// What the record gives for the same rows' raw codes, where both are known.
    pub expected: [Option<Vec<i32>>; 6],
    /// Bit k set = button k counts as pressed.
    pub buttons: Option<Vec<u32>>,
}

impl Outputs {
    /// The board's outputs where it sends any, else the record's.
    pub fn of(session: &Session, tracks: &Tracks, trim: &Trim) -> Outputs {
        let column = |role| session.field_of(role).map(|field| session.column(field));
        let sent = AxisId::ALL.map(|axis| column(Role::OutAxis(axis)));
        let buttons = column(Role::OutButtons);
        let computed = computed(tracks, trim);
        if sent.iter().all(Option::is_none) && buttons.is_none() {
            let buttons = debounced(tracks, trim);
            return Outputs {
                judged: Judged::Record,
                axes: computed,
                expected: Default::default(),
                buttons,
            };
        }
        Outputs {
            judged: Judged::Board,
            axes: sent,
            expected: computed,
            buttons: buttons.map(|b| b.into_iter().map(|mask| mask as u32).collect()),
        }
    }

    /// The output of an axis.
    pub fn axis(&self, axis: AxisId) -> Option<&[i32]> {
        self.axes[axis.index()].as_deref()
    }
}

/// Tracks for finding rests, rolls and pulls in a stream of outputs alone, with the outputs as 16-bit
/// codes; `None` when raw codes are sent, or no outputs either.
pub fn stand_in(session: &Session, tracks: &Tracks) -> Option<Tracks> {
    if tracks.axes.iter().any(Option::is_some) {
        return None;
    }
    let column = |role| session.field_of(role).map(|field| session.column(field));
    let axes = AxisId::ALL.map(|axis| {
        let middle = if axis.is_trigger() { 0 } else { i32::from(FULL_OUTPUT) };
        let column = column(Role::OutAxis(axis))?;
        Some(column.into_iter().map(|out| out + middle).collect::<Vec<i32>>())
    });
    axes.iter().any(Option::is_some).then(|| Tracks { axes, raw_bits: 16, ..tracks.clone() })
}

/// Raw codes through the record's constants, without smoothing and guards.
fn computed(tracks: &Tracks, trim: &Trim) -> [Option<Vec<i32>>; 6] {
    let mut out: [Option<Vec<i32>>; 6] = Default::default();
    let code = |raw: i32| raw.clamp(0, i32::from(u16::MAX)) as u16;
    for half in Half::ALL {
        let [x, y] = half.stick();
        if let (Some(stick), Some(raw_x), Some(raw_y)) =
            (Stick::of(trim, half), tracks.axis(x), tracks.axis(y))
        {
            let (mut out_x, mut out_y) = (Vec::new(), Vec::new());
            for (a, b) in raw_x.iter().zip(raw_y) {
                let pair = stick.run(code(*a), code(*b));
                out_x.push(i32::from(pair.0));
                out_y.push(i32::from(pair.1));
            }
            (out[x.index()], out[y.index()]) = (Some(out_x), Some(out_y));
        }
        let axis = half.trigger();
        if let (Some(trigger), Some(raw)) = (Trigger::of(trim, half), tracks.axis(axis)) {
            let run = raw.iter().map(|r| i32::from(trigger.run(code(*r))));
            out[axis.index()] = Some(run.collect());
        }
    }
    out
}

/// Raw contacts through the record's windows.
fn debounced(tracks: &Tracks, trim: &Trim) -> Option<Vec<u32>> {
    let raw = tracks.buttons.as_ref()?;
    let mut windows: Vec<(u8, Debouncer)> =
        trim.buttons.iter().map(|b| (b.index, Debouncer::new(b))).collect();
    let rows = raw.iter().zip(&tracks.t_us).map(|(mask, t_us)| {
        let now_ms = (t_us / 1000) as u16;
        let pressed = windows
            .iter_mut()
            .map(|(bit, w)| u32::from(w.sample(mask >> *bit & 1 == 1, now_ms)) << *bit);
        pressed.fold(0, |all, bit| all | bit)
    });
    Some(rows.collect())
}
