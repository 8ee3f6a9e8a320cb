//! The roll-call's response matrix: which channel answered which control, and how much.
use crate::measure::Span;
use crate::rig::{AxisId, Control};
use crate::segment::roll_call::{Answer, Call, answer, calls, pressed};
use crate::session::Tracks;

/// Everything that answered a roll-call.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct RollCall {
    /// Controls in the order in which they were asked for.
    pub controls: Vec<Control>,
    /// Channels as the dialect names them.
    pub channels: Vec<Control>,
    /// `answers[k][c]`: how channel c answered control k.
    pub answers: Vec<Vec<Answer>>,
    /// From the first call to the last.
    pub span: Span,
    /// Greatest code of an analog channel, counts.
    pub full_scale: i32,
}

/// The channel that answered a control.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Answered {
    /// Which, by its place among the channels.
    pub channel: usize,
    /// Its change, counts (±1 for a button).
    pub change: f64,
    /// Its change over that of the next, in shares of full scale; infinite when no other moved.
    pub dominance: f64,
}

/// Reads the roll-call of a session; `None` when there was none.
pub fn roll_call(tracks: &Tracks) -> Option<RollCall> {
    let calls = calls(tracks);
    let (first, last) = (calls.first()?, calls.last()?);
    let at = |row: usize| tracks.t_us.get(row).copied().unwrap_or(0);
    let span = Span { start_us: at(first.rows.first), end_us: at(last.rows.end.saturating_sub(1)) };
    let axes: Vec<AxisId> =
        AxisId::ALL.into_iter().filter(|&axis| tracks.axis(axis).is_some()).collect();
    let buttons = tracks.buttons.as_ref().map_or(0, |_| tracks.button_count.min(32)) as u8;
    let channels: Vec<Control> =
        axes.iter().map(|&a| Control::Axis(a)).chain((0..buttons).map(Control::Button)).collect();
    let answers = calls
        .iter()
        .map(|call| channels.iter().map(|&c| answer_of(tracks, call, c)).collect())
        .collect();
    let controls = calls.iter().map(|c| c.control).collect();
    Some(RollCall { controls, channels, answers, span, full_scale: tracks.full_scale() })
}

fn answer_of(tracks: &Tracks, call: &Call, channel: Control) -> Answer {
    let t_us = call.rows.of(&tracks.t_us);
    match channel {
        Control::Axis(axis) => {
            let codes = tracks.axis(axis).map_or(&[][..], |c| call.rows.of(c));
            answer(codes, t_us, tracks.full_scale())
        }
        Control::Button(bit) => {
            let masks = tracks.buttons.as_deref().map_or(&[][..], |m| call.rows.of(m));
            let closed: Vec<bool> = masks.iter().map(|m| m >> bit & 1 == 1).collect();
            pressed(&closed, t_us)
        }
    }
}

impl RollCall {
    /// The channel that answered the control at `place`: of its own kind (analog or button) the one
    /// that moved most, clearly and back; `None` when none did.
    pub fn answered(&self, place: usize) -> Option<Answered> {
        let row = self.answers.get(place)?;
        best(row, |c| same_kind(self.controls[place], self.channels[c]))
    }

    /// The channel that answered a control.
    pub fn of(&self, control: Control) -> Option<(Control, Answered)> {
        let place = self.controls.iter().position(|c| *c == control)?;
        let answered = self.answered(place)?;
        Some((self.channels[answered.channel], answered))
    }

    /// The controls that nothing answered.
    pub fn silent(&self) -> Vec<Control> {
        (0..self.controls.len())
            .filter(|&k| self.answered(k).is_none())
            .map(|k| self.controls[k])
            .collect()
    }
}

fn same_kind(a: Control, b: Control) -> bool {
    matches!(a, Control::Axis(_)) == matches!(b, Control::Axis(_))
}

/// The largest clear answer of a row among the channels that may answer.
pub(super) fn best(row: &[Answer], may: impl Fn(usize) -> bool) -> Option<Answered> {
    let mut sizes: Vec<(usize, f64)> =
        row.iter().enumerate().filter(|(c, _)| may(*c)).map(|(c, a)| (c, a.change.abs())).collect();
    sizes.sort_by(|a, b| b.1.total_cmp(&a.1));
    let &(channel, size) = sizes.iter().find(|(c, _)| row[*c].counts())?;
    let next = sizes.iter().filter(|(c, _)| *c != channel).map(|s| s.1).fold(0.0, f64::max);
    let dominance = if next > 0.0 { size / next } else { f64::INFINITY };
    Some(Answered { channel, change: row[channel].change, dominance })
}
