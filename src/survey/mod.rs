//! A session's whole set of readings: stream, axes, sticks, triggers, buttons.
//!
//! The composition of `segment` and `measure` that findings, constants and every output read.
//! Figures that the data do not support are a [`Shortage`](crate::measure::Shortage), never a zero.
mod axes;
mod buttons;
pub mod catalogue;
mod channels;
mod code;
mod coupling;
mod figures;
mod long;
mod returns;
mod parts;
mod roll_call;
pub(crate) mod scaled;
mod page;
mod sticks;
mod stream;
mod triggers;
mod untimed;
mod why;

pub use channels::{Channel, Heard, HeardAll, hear};
pub use code::{Code, Stage};
pub use figures::{
    AxisFigures, ButtonFigures, Common, Density, Driven, Followed, Looked, Profile, ReleaseRest,
    SpectrumLine, StickFigures, StreamFigures, Survey, TriggerFigures, short, value,
};
pub use page::Page;
pub use roll_call::{Answered, RollCall, roll_call};

use crate::measure::Span;
use crate::rig::{Half, Rig};
use crate::segment::{Rows, Segments};
use crate::session::Tracks;

/// Parts of a whole survey, for its progress: the stream, two sticks, six axes, the buttons, coupling.
const PARTS: u32 = 11;

/// What a survey reads.
#[derive(Clone, Copy)]
struct Source<'a> {
    tracks: &'a Tracks,
    segments: &'a Segments,
    rig: &'a Rig,
}

impl Source<'_> {
    /// Board time of a stretch, both ends included.
    fn span(&self, rows: Rows) -> Span {
        let at = |row: usize| self.tracks.t_us.get(row).copied().unwrap_or(0);
        Span { start_us: at(rows.first), end_us: at(rows.end.saturating_sub(1).max(rows.first)) }
    }

    /// Board time from the first row to the last.
    fn whole(&self) -> Span {
        self.span(Rows { first: 0, end: self.tracks.rows() })
    }

    /// The smallest span that holds every stretch; the whole session without any.
    fn span_of(&self, rows: impl IntoIterator<Item = Rows>) -> Span {
        rows.into_iter().map(|r| self.span(r)).reduce(Span::join).unwrap_or(self.whole())
    }

    /// True when the rig lists parts at all; an empty list means: what the stream sends.
    fn listed(&self) -> bool {
        !self.rig.sticks.is_empty() || !self.rig.triggers.is_empty()
    }

    fn has_stick(&self, half: Half) -> bool {
        half.stick().iter().all(|&axis| self.tracks.axis(axis).is_some())
            && (!self.listed() || self.rig.sticks.iter().any(|part| part.half == half))
    }

    fn has_trigger(&self, half: Half) -> bool {
        self.tracks.axis(half.trigger()).is_some()
            && (!self.listed() || self.rig.triggers.iter().any(|part| part.half == half))
    }
}

/// Measures everything that a session supports.
///
/// `go_on` is told the share done in per mille between the parts; when it says false the work ends
/// and there is no survey. Cost: a few passes over the rows, most of them over rests only.
pub fn survey(
    tracks: &Tracks,
    segments: &Segments,
    rig: &Rig,
    go_on: &mut dyn FnMut(u32) -> bool,
) -> Option<Survey> {
    let source = Source { tracks, segments, rig };
    let mut done = 0;
    let mut step = |go_on: &mut dyn FnMut(u32) -> bool| {
        done += 1;
        go_on((1000 * done / PARTS).min(1000)).then_some(())
    };
    let stream = stream::figures(source);
    step(go_on)?;
    let mut axes = Vec::new();
    let mut sticks = Vec::new();
    let mut triggers = Vec::new();
    for half in Half::ALL {
        if source.has_stick(half) {
            let (stick, gate) = sticks::figures(source, half);
            step(go_on)?;
            for axis in half.stick() {
                axes.push(axes::figures(source, axis, axes::Of::Stick(&stick, &gate)));
                step(go_on)?;
            }
            sticks.push(stick);
        } else if !source.listed() {
            // One axis without the other is no stick, and still rests and makes noise.
            let lone = half.stick().into_iter().filter(|&axis| tracks.axis(axis).is_some());
            axes.extend(lone.map(|axis| axes::figures(source, axis, axes::Of::Alone)));
        }
        if source.has_trigger(half) {
            let trigger = triggers::figures(source, half);
            axes.push(axes::figures(source, half.trigger(), axes::Of::Trigger(&trigger)));
            step(go_on)?;
            triggers.push(trigger);
        }
    }
    axes.sort_by_key(|figures| figures.axis.index());
    let buttons = buttons::figures(source);
    step(go_on)?;
    let away = coupling::Away::of(source);
    let idle = |a: &mut AxisFigures| a.idle_drift_per_min = long::idle_drift(source, a.axis, &away);
    axes.iter_mut().for_each(idle);
    let (driven, followed) = (coupling::driven(source, &away), coupling::followed(source, &away));
    step(go_on)?;
    let survey = Survey {
        frames: tracks.rows() as u64,
        duration_s: source.whole().seconds(),
        time_source: tracks.time_source,
        raw_bits: tracks.raw_bits,
        codes: tracks.codes,
        raw_bits_guessed: tracks.raw_bits_guessed,
        stream,
        axes,
        sticks,
        triggers,
        buttons,
        driven,
        followed,
        common: Half::ALL.map(|half| coupling::common(source, half)),
        buttons_active_low: tracks.buttons_active_low,
        roll_call: roll_call(tracks),
        inverted: signs(rig),
        signs_declared: !rig.sticks.is_empty(),
    };
    Some(untimed::without_time(survey, tracks.time_source))
}

/// Which axes the rig says run backward, in the order of [`crate::rig::AxisId::ALL`].
fn signs(rig: &Rig) -> [bool; 6] {
    let mut inverted = [false; 6];
    for stick in &rig.sticks {
        for (axis, turned) in
            stick.half.stick().into_iter().zip([stick.x_inverted, stick.y_inverted])
        {
            inverted[axis.index()] = turned;
        }
    }
    inverted
}

#[cfg(test)]
mod tests;
