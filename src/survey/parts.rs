//! The parts of a survey as the catalogue sees them, and every figure of a session in its order.
use super::catalogue::{Entry, Part, entries_of, parts};
use super::{
    AxisFigures, ButtonFigures, Common, Driven, Followed, StickFigures, StreamFigures, Survey,
    TriggerFigures,
};
use crate::limits::Limits;
use crate::rig::Place;

parts! {
    StreamFigures, |_| Place::Stream;
    AxisFigures, |a| Place::Axis(a.axis);
    StickFigures, |s| Place::Stick(s.half);
    TriggerFigures, |t| Place::trigger(t.half);
    ButtonFigures, |b| Place::Button(b.index);
    Driven, |d| Place::Axis(d.axis);
    Followed, |f| Place::Axis(f.axis);
    Common, |c| Place::Half(c.half);
}

impl Survey {
    /// Every figure with its judgement, in the order of the JSON document.
    pub fn entries(&self, limits: &Limits) -> Vec<Entry<'_>> {
        self.entries_at(Place::Session, limits)
    }

    /// The same of the parts at one place alone; the session's are all.
    pub fn entries_at(&self, place: Place, limits: &Limits) -> Vec<Entry<'_>> {
        let mut all = Gather { survey: self, limits, place, all: Vec::new() };
        all.part(&self.stream, || "stream".to_owned());
        for axis in &self.axes {
            all.part(axis, || format!("axes.{}", axis.axis.key()));
        }
        for stick in &self.sticks {
            all.part(stick, || format!("sticks.{}", stick.half.key()));
        }
        for trigger in &self.triggers {
            all.part(trigger, || format!("triggers.{}", trigger.half.trigger().key()));
        }
        for button in &self.buttons {
            all.part(button, || format!("buttons.b{}", button.index));
        }
        for (k, driven) in self.driven.iter().enumerate() {
            all.part(driven, || format!("coupling.driven.{k}"));
        }
        for (k, followed) in self.followed.iter().enumerate() {
            all.part(followed, || format!("coupling.followed.{k}"));
        }
        for common in &self.common {
            all.part(common, || format!("coupling.common.{}", common.half.key()));
        }
        all.all
    }
}

/// Gathers the entries of the parts that are wanted.
struct Gather<'a, 'l> {
    survey: &'a Survey,
    limits: &'l Limits,
    place: Place,
    all: Vec<Entry<'a>>,
}

impl<'a> Gather<'a, '_> {
    fn part<T: Part>(&mut self, part: &'a T, path: impl Fn() -> String) {
        if self.place == Place::Session || self.place == part.place() {
            entries_of(part, &path(), self.survey, self.limits, &mut self.all);
        }
    }
}
