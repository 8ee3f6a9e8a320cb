//! The constants that are shown beside the readings, as figures of the catalogue.
use super::{Solution, ZonePlace};
use crate::limits::Limits;
use crate::measure::{Estimate, Reading, Span};
use crate::rig::{AxisId, Half, Place};
use crate::survey::catalogue::{Entry, Judge, Part, entries_of, figures, parts};
use crate::survey::{Code, Survey};
use crate::units::Unit;

figures! {
    /// Constants of an axis beside its readings.
    pub struct SolvedAxis {
        /// Which.
        axis: AxisId;
        /// Dead zone of the axis alone, or of the trigger's rest, in whole counts.
        dead: Option<u16> => "dead", "dead zone", Counts, One, [Summary];
    }
    also {}
}

figures! {
    /// Constants of a stick beside its readings.
    pub struct SolvedStick {
        /// Which.
        half: Half;
        /// Radius of the inner dead zone; its limit is a share of travel.
        inner_dead: Option<f64> => "inner_dead", "dead zone", Counts, One, [Summary Sheet Station],
            Judge::by(|l| &l.dead_zone_share, Code::StickyReturn, share);
        /// The same as a share of the mean travel, first as endless releases would give it; and how many
        /// releases are behind it.
        fraction: Option<(f64, f64, usize)>;
    }
    also {}
}

figures! {
    /// Constants of a trigger beside its readings.
    pub struct SolvedTrigger {
        /// Which.
        half: Half;
        /// Code from which the trigger's switch is on.
        on: Option<u16> => "on", "on", Counts, One, [Summary Station];
        /// Code at which the trigger's switch is off again.
        off: Option<u16> => "off", "off", Counts, One, [Summary Station];
    }
    also {}
}

/// The share of the travel; its lower end is what any number of releases like these would ask for, so
/// that few releases do not speak against the stick.
fn share(stick: &SolvedStick, _: usize, _: &Survey) -> Option<Reading> {
    let (least, value, n) = stick.fraction?;
    let estimate = Estimate { value, low: least, high: value, n };
    Some(estimate.over(Span::default(), Unit::Fraction))
}

parts! {
    SolvedAxis, |a| Place::Axis(a.axis);
    SolvedStick, |s| Place::Stick(s.half);
    SolvedTrigger, |t| Place::trigger(t.half);
}

impl Solution {
    /// The constants as figures, for every part that the survey has.
    pub fn entries(&self, survey: &Survey, limits: &Limits) -> Vec<Entry<'static>> {
        self.entries_at(Place::Session, survey, limits)
    }

    /// The same of the parts at one place alone; the session's are all.
    pub fn entries_at(
        &self,
        place: Place,
        survey: &Survey,
        limits: &Limits,
    ) -> Vec<Entry<'static>> {
        let mut all = Vec::new();
        let wanted = |at: Place| place == Place::Session || place == at;
        for figures in survey.axes.iter().filter(|a| wanted(Place::Axis(a.axis))) {
            let axis = figures.axis;
            let dead = match axis.is_trigger() {
                true => self.trim.trigger(axis.half()).map(|t| t.dead),
                false => self.trim.axis(axis).map(|a| a.dead),
            };
            let part = SolvedAxis { axis, dead };
            add(&part, &format!("axes.{}", axis.key()), survey, limits, &mut all);
        }
        for stick in survey.sticks.iter().filter(|s| wanted(Place::Stick(s.half))) {
            let half = stick.half;
            let zone = self.zones.iter().find(|z| z.place == ZonePlace::Stick(half));
            let inner_dead = zone.map(|z| z.radius_counts);
            let fraction = zone.map(|z| (z.least_fraction(), z.radius_fraction, z.n));
            let part = SolvedStick { half, inner_dead, fraction };
            add(&part, &format!("sticks.{}", half.key()), survey, limits, &mut all);
        }
        for trigger in survey.triggers.iter().filter(|t| wanted(Place::trigger(t.half))) {
            let half = trigger.half;
            let solved = self.trim.trigger(half);
            let part = SolvedTrigger { half, on: solved.map(|t| t.on), off: solved.map(|t| t.off) };
            let path = format!("triggers.{}", half.trigger().key());
            add(&part, &path, survey, limits, &mut all);
        }
        all
    }
}

/// Constants carry no borrowed reading: their entries outlive the part.
fn add<T: Part>(
    part: &T,
    path: &str,
    survey: &Survey,
    limits: &Limits,
    all: &mut Vec<Entry<'static>>,
) {
    let mut own = Vec::new();
    entries_of(part, path, survey, limits, &mut own);
    all.extend(own.into_iter().filter_map(Entry::unborrowed));
}
