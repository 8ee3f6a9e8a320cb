//! What the traces are made of: lanes of channels in their forms, each between two values.
use std::collections::{BTreeMap, BTreeSet};
use std::ops::Range;

use super::channels::{Channel, ContactRows, Contacts, FieldRows};
use super::outputs::{OutputRows, Outputs};
use super::picture::{Lane, LaneForm, Layer};
use super::sampling::Rows;
use super::travel::{Scale, TravelRows};
use crate::desk::Desk;
use crate::gui::parts::area::round_step;
use crate::rig::{AxisId, Half};
use crate::trim::{Trim, apply};

/// What is shown of an analog input.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Form {
    /// The converter's codes.
    Counts,
    /// Share of the way from rest to the end that every push passes.
    Travel,
    /// What the firmware makes of it with the constants in force.
    Output,
}

impl Form {
    /// All of them, in the order in which they stand.
    pub const ALL: [Form; 3] = [Form::Counts, Form::Travel, Form::Output];

    /// Its name on a button.
    pub fn title(self) -> &'static str {
        ["Counts", "Travel", "Output"][self as usize]
    }

    /// What a whole row number stands for, in `unit`.
    pub fn scale(self) -> f64 {
        match self {
            Form::Counts | Form::Output => 1.0,
            // Shares of travel are kept in hundredths of a per cent.
            Form::Travel => 0.01,
        }
    }

    /// Unit of the numbers.
    pub fn unit(self) -> &'static str {
        ["counts", "% of travel", "of 32\u{a0}767"][self as usize]
    }

    /// Decimals that are worth writing.
    pub fn decimals(self) -> usize {
        usize::from(self == Form::Travel)
    }
}

/// One line of the picture: a channel in a form.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct LineKey {
    /// Which channel.
    pub channel: Channel,
    /// What is shown of it.
    pub form: Form,
}

/// One lane before it is drawn.
#[derive(Clone, Debug, PartialEq)]
pub struct Planned {
    /// Its name for a person.
    pub name: String,
    /// Its lines; the first one stands for the lane.
    pub lines: Vec<LineKey>,
}

impl Planned {
    /// The line that stands for the lane.
    pub fn key(&self) -> LineKey {
        self.lines[0]
    }
}

/// Which forms are shown, and whether inputs of a stick share a lane.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Plan {
    /// Counts, travel, output.
    pub forms: [bool; 3],
    /// Both axes of a stick, and both triggers, in one lane.
    pub shared: bool,
}

impl Default for Plan {
    fn default() -> Plan {
        Plan { forms: [true, false, false], shared: false }
    }
}

impl Plan {
    /// Switches a form on or off; one of them always stays.
    pub fn toggle(&mut self, form: Form) {
        self.forms[form as usize] ^= true;
        if self.forms == [false; 3] {
            self.forms[form as usize] = true;
        }
    }

    /// Counts, then travel, then output, then all of them side by side, then counts again.
    pub fn next(&mut self) {
        self.forms = match self.forms {
            [true, false, false] => [false, true, false],
            [false, true, false] => [false, false, true],
            [true, true, true] => [true, false, false],
            _ => [true; 3],
        };
    }

    /// The lanes of the channels shown, and the inputs that have no constants for the form asked.
    pub fn lanes(
        &self,
        desk: &Desk,
        shown: &[Channel],
        trim: Option<&Trim>,
    ) -> (Vec<Planned>, BTreeSet<AxisId>) {
        let mut missing = BTreeSet::new();
        let mut lanes = Vec::new();
        let forms: Vec<Form> = Form::ALL.into_iter().filter(|f| self.forms[*f as usize]).collect();
        let mut can = |axis: AxisId, form: Form| {
            let can = form == Form::Counts || trim.is_some_and(|t| has(t, axis, form));
            if !can {
                missing.insert(axis);
            }
            can
        };
        let axes: Vec<AxisId> = shown.iter().filter_map(|c| c.axis()).collect();
        let line = |axis, form| LineKey { channel: Channel::Axis(axis), form };
        if self.shared {
            for form in forms {
                for (name, group) in groups() {
                    let there = group.iter().filter(|a| axes.contains(a) && can(**a, form));
                    let lines: Vec<LineKey> = there.map(|a| line(*a, form)).collect();
                    if !lines.is_empty() {
                        lanes.push(Planned { name: name.to_owned(), lines });
                    }
                }
            }
        } else {
            for axis in axes {
                for form in forms.iter().copied().filter(|f| can(axis, *f)) {
                    let name = axis.words().to_owned();
                    lanes.push(Planned { name, lines: vec![line(axis, form)] });
                }
            }
        }
        for channel in shown.iter().copied().filter(|c| c.axis().is_none()) {
            let key = LineKey { channel, form: Form::Counts };
            lanes.push(Planned { name: channel.name(desk), lines: vec![key] });
        }
        (lanes, missing)
    }
}

/// Inputs that share a lane.
fn groups() -> [(&'static str, [AxisId; 2]); 3] {
    [
        ("left stick", Half::Left.stick()),
        ("right stick", Half::Right.stick()),
        ("triggers", [AxisId::Lt, AxisId::Rt]),
    ]
}

/// True when the constants tell this form of an input.
fn has(trim: &Trim, axis: AxisId, form: Form) -> bool {
    match (form, axis.is_trigger()) {
        (Form::Counts, _) => true,
        (_, true) => trim.trigger(axis.half()).is_some(),
        (Form::Travel, false) => trim.axis(axis).is_some(),
        (Form::Output, false) => apply::Stick::of(trim, axis.half()).is_some(),
    }
}

/// The values at the lower and the upper edge of each lane, in row numbers.
#[derive(Default)]
pub struct Ranges {
    /// Ranges found by themselves, so that they do not tremble with the noise.
    kept: BTreeMap<LineKey, [f64; 2]>,
    /// Ranges that a person fixed.
    fixed: BTreeMap<LineKey, [f64; 2]>,
}

/// The least height of a fixed range, row numbers.
const LEAST: f64 = 2.0;

impl Ranges {
    /// The range of a lane that shows values from `now.0` to `now.1`.
    pub fn of(&mut self, key: LineKey, now: Option<(i32, i32)>) -> [f64; 2] {
        match self.fixed.get(&key) {
            Some(range) => *range,
            None => steady(self.kept.entry(key).or_default(), now),
        }
    }

    /// True when a person fixed it.
    pub fn is_fixed(&self, key: LineKey) -> bool {
        self.fixed.contains_key(&key)
    }

    /// Fixes the range where it is.
    pub fn fix(&mut self, key: LineKey) {
        let now = self.kept.get(&key).copied().filter(|r| r[0] < r[1]).unwrap_or([0.0, 1.0]);
        self.fixed.entry(key).or_insert(now);
    }

    /// Fixes it between two values; the upper one lies above the lower one.
    pub fn fix_at(&mut self, key: LineKey, [low, high]: [f64; 2]) {
        self.fixed.insert(key, [low, high.max(low + LEAST)]);
    }

    /// Lets it follow the data again.
    pub fn free(&mut self, key: LineKey) {
        self.fixed.remove(&key);
    }

    /// Makes the range `factor` times as high and fixes it; the value at `share` from below stays.
    pub fn zoom(&mut self, key: LineKey, factor: f64, share: f64) {
        self.fix(key);
        if let Some([low, high]) = self.fixed.get(&key).copied() {
            let pivot = low + share * (high - low);
            let height = ((high - low) * factor).clamp(LEAST, 1e6);
            let from = pivot - share * height;
            self.fixed.insert(key, [from, from + height]);
        }
    }

    /// Moves the range by a share of its height, upwards when positive, and fixes it.
    pub fn shift(&mut self, key: LineKey, share: f64) {
        self.fix(key);
        if let Some([low, high]) = self.fixed.get(&key).copied() {
            let by = share * (high - low);
            self.fixed.insert(key, [low + by, high + by]);
        }
    }
}

/// A vertical range that holds what is visible, grows at once and shrinks only by halves.
fn steady(kept: &mut [f64; 2], now: Option<(i32, i32)>) -> [f64; 2] {
    let Some((low, high)) = now.map(|(l, h)| (f64::from(l), f64::from(h))) else {
        return if kept[0] < kept[1] { *kept } else { [0.0, 1.0] };
    };
    let need = (high - low).max(4.0);
    let have = kept[1] - kept[0];
    if have <= 0.0 || low < kept[0] || high > kept[1] || need < have * 0.3 {
        let step = round_step(need / 4.0);
        let from = ((low - need * 0.1) / step).floor() * step;
        let to = ((high + need * 0.1) / step).ceil() * step;
        *kept = [from, to];
    }
    *kept
}

/// A lane ready to be drawn.
pub fn lane<'a>(
    plan: &'a Planned,
    layers: Vec<Layer<'a>>,
    ranges: &mut Ranges,
    visible: &Range<usize>,
    chosen: Option<LineKey>,
    trim: Option<&Trim>,
) -> Lane<'a> {
    let key = plan.key();
    let contact = matches!(key.channel, Channel::Button(_));
    let form = if contact {
        LaneForm::Contact
    } else {
        let parts = layers.iter().filter_map(|l| l.rows.min_max(visible.clone()));
        let now = parts.reduce(|a, b| (a.0.min(b.0), a.1.max(b.1)));
        LaneForm::Level(ranges.of(key, now))
    };
    let smooths = |line: &LineKey| {
        let axis = line.channel.axis();
        trim.is_some_and(|t| t.options.smoothing.iter().any(|s| Some(s.axis) == axis))
    };
    let unit = match key.form {
        Form::Counts => "",
        // The header's smoothing is not part of the output drawn.
        Form::Output if plan.lines.iter().any(smooths) => "unsmoothed",
        form => form.unit(),
    };
    let fixed = if ranges.is_fixed(key) { "fixed" } else { "" };
    let note: Vec<&str> = [unit, fixed].into_iter().filter(|w| !w.is_empty()).collect();
    Lane {
        name: &plan.name,
        note: note.join(", "),
        short: ["", ", %", ", out"][key.form as usize],
        scale: key.form.scale(),
        chosen: chosen == Some(key),
        form,
        layers,
    }
}

/// The rows behind a line.
pub fn rows_of<'a>(
    desk: &'a Desk,
    contacts: &'a Contacts,
    outputs: &'a Outputs,
    trim: Option<&Trim>,
    key: LineKey,
) -> Box<dyn Rows + 'a> {
    let (session, timebase) = (desk.session(), desk.timebase());
    // A channel whose field went away shows nothing: the session has no such column.
    let field = key.channel.field(session).unwrap_or(usize::MAX);
    let codes = || FieldRows { session, timebase, field };
    match (key.channel, key.form) {
        (Channel::Button(bit), _) => Box::new(ContactRows { timebase, contacts, bit }),
        (Channel::Axis(axis), Form::Output) => {
            Box::new(OutputRows { codes: codes(), outputs, axis })
        }
        (Channel::Axis(axis), Form::Travel) => match trim.and_then(|trim| Scale::of(trim, axis)) {
            Some(scale) => {
                let sums = outputs.travels.sums(axis);
                Box::new(TravelRows { codes: codes(), scale, sums })
            }
            None => Box::new(codes()),
        },
        _ => Box::new(codes()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const KEY: LineKey = LineKey { channel: Channel::Axis(AxisId::Lx), form: Form::Counts };

    #[test]
    fn a_range_grows_at_once_and_does_not_tremble() {
        let mut kept = [0.0; 2];
        let first = steady(&mut kept, Some((500, 520)));
        assert!(first[0] < 500.0 && first[1] > 520.0);
        assert_eq!(steady(&mut kept, Some((501, 519))), first);
        let wider = steady(&mut kept, Some((100, 900)));
        assert!(wider[0] < 100.0 && wider[1] > 900.0);
        assert_eq!(steady(&mut kept, None), wider);
        assert!(steady(&mut kept, Some((500, 520)))[1] < 600.0, "shrinks when far too wide");
    }

    #[test]
    fn a_fixed_range_stands_zooms_about_its_pivot_and_is_freed_again() {
        let mut ranges = Ranges::default();
        let own = ranges.of(KEY, Some((500, 520)));
        ranges.fix(KEY);
        assert_eq!(ranges.of(KEY, Some((0, 1000))), own, "it stands whatever comes");
        ranges.fix_at(KEY, [400.0, 600.0]);
        ranges.zoom(KEY, 0.5, 0.5);
        assert_eq!(ranges.of(KEY, None), [450.0, 550.0]);
        ranges.shift(KEY, 0.1);
        assert_eq!(ranges.of(KEY, None), [460.0, 560.0]);
        ranges.fix_at(KEY, [5.0, 1.0]);
        assert_eq!(ranges.of(KEY, None), [5.0, 7.0], "never upside down");
        ranges.free(KEY);
        assert!(ranges.of(KEY, Some((0, 1000)))[1] > 1000.0);
    }

    #[test]
    fn one_form_always_stays() {
        let mut plan = Plan::default();
        plan.toggle(Form::Counts);
        assert_eq!(plan.forms, [true, false, false]);
        plan.toggle(Form::Output);
        plan.toggle(Form::Counts);
        assert_eq!(plan.forms, [false, false, true]);
        for want in [[true; 3], [true, false, false], [false, true, false], [false, false, true]] {
            plan.next();
            assert_eq!(plan.forms, want);
        }
    }
}
