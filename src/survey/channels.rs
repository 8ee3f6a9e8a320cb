//! What answered a roll-call, by the place in the line: a field, or a bit of it, whatever role it has.
//!
//! The response matrix action × channel over all fields. Analog controls are looked for among the
//! fields that run through many values, buttons among the bits of those that hold few. An answer
//! counts by its effect size (see [`Answer::counts`]); what moves at most calls is no control. The
//! strongest pairs are taken first, so that a channel answers one control only.
use crate::rig::Control;
use crate::segment::Rows;
use crate::segment::roll_call::{Answer, Call, answer, calls, pressed};
use crate::session::{InputColumn, Inputs, Tracks};

/// Most values that a field of button lines takes while controls are moved one by one: idle, each
/// button, and some damage.
const MASK_VALUES: usize = 64;
/// Share of rows (one in so many) at which a mask may be more than one bit away from idle.
const SEVERAL: usize = 50;
/// A line of a button changes at most so often in a whole roll-call, bounce included.
const MOST_CHANGES: usize = 96;
/// A button is held for this long at least, µs: shorter closures are damage.
const HELD_US: f64 = 20_000.0;
/// The share of the calls at which a channel may move clearly and still be a control's.
const LIVELY: f64 = 0.34;
/// Another channel that moved by this share of the first one makes the answer doubtful.
const SECOND: f64 = 0.6;

/// Where a channel stands in a line.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Channel {
    /// A field, counted from 0.
    Field(usize),
    /// A bit of a field.
    Bit(usize, u8),
}

impl Channel {
    /// The field that it is in.
    pub fn field(self) -> usize {
        match self {
            Channel::Field(field) | Channel::Bit(field, _) => field,
        }
    }
}

/// One control and the channel that answered it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Heard {
    /// What was asked for.
    pub control: Control,
    /// What answered.
    pub channel: Channel,
    /// Its change, counts; ±1 for a bit.
    pub change: f64,
    /// The next channel's change as a share of this one's; 0 when no other moved.
    pub second: f64,
}

/// All that answered a roll-call.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct HeardAll {
    /// Controls in the order in which they were asked for.
    pub asked: Vec<Control>,
    /// Those that were answered.
    pub heard: Vec<Heard>,
    /// Every channel that could have answered: fields, then bits that changed at all.
    pub channels: Vec<Channel>,
    /// The response matrix: `shares[k][c]` = how far channel c moved at the call of control k,
    /// signed share of the field's full scale; ±1 for a bit; 0 when it did not move clearly.
    pub shares: Vec<Vec<f32>>,
}

impl HeardAll {
    /// The channel that answered a control.
    pub fn of(&self, control: Control) -> Option<&Heard> {
        self.heard.iter().find(|h| h.control == control)
    }

    /// Controls that no channel answered.
    pub fn silent(&self) -> Vec<Control> {
        self.asked.iter().copied().filter(|c| self.of(*c).is_none()).collect()
    }

    /// Controls at whose call another channel moved nearly as much.
    pub fn doubtful(&self) -> Vec<Control> {
        self.heard.iter().filter(|h| h.second > SECOND).map(|h| h.control).collect()
    }
}

/// A channel and how it answered each call.
struct Row {
    channel: Channel,
    full: f64,
    answers: Vec<Answer>,
    /// It moves at too many calls to be one control's.
    lively: bool,
}

impl Row {
    fn share(&self, call: usize) -> f64 {
        self.answers[call].change / self.full
    }

    /// True when it may be what answered the control.
    fn answers(&self, call: usize, control: Control) -> bool {
        let analog = matches!(control, Control::Axis(_));
        analog == matches!(self.channel, Channel::Field(_))
            && !self.lively
            && self.answers[call].counts()
    }
}

/// Listens to a roll-call: `tracks` give time and marks, `inputs` the fields, rows of `tracks` from
/// [`Inputs::first`] on. `None` without a call.
pub fn hear(tracks: &Tracks, inputs: &Inputs) -> Option<HeardAll> {
    let calls = calls(tracks);
    calls.first()?;
    let asked: Vec<Control> = calls.iter().map(|c| c.control).collect();
    let (masks, analog): (Vec<&InputColumn>, Vec<&InputColumn>) =
        inputs.columns.iter().partition(|c| is_mask(&c.cells));
    let mut rows: Vec<Row> =
        analog.into_iter().map(|c| of_field(tracks, inputs.first, &calls, c)).collect();
    rows.extend(masks.into_iter().flat_map(|c| of_bits(tracks, inputs.first, &calls, c)));
    let heard = strongest(&asked, &rows);
    let share = |row: &Row, k: usize| if row.answers[k].clear { row.share(k) } else { 0.0 };
    let line = |k: usize| rows.iter().map(|r| share(r, k) as f32).collect();
    let shares = (0..asked.len()).map(line).collect();
    let channels = rows.iter().map(|r| r.channel).collect();
    Some(HeardAll { heard, channels, shares, asked })
}

/// Pairs of control and channel, the strongest answer first, each in one pair only.
fn strongest(asked: &[Control], rows: &[Row]) -> Vec<Heard> {
    let mut pairs: Vec<(usize, &Row)> = (0..asked.len())
        .flat_map(|k| rows.iter().filter(move |r| r.answers(k, asked[k])).map(move |r| (k, r)))
        .collect();
    // Among equal shares (bits) the call with the fewest answers first, then by place: the same
    // bytes give the same names.
    let mut rivals = vec![0; asked.len()];
    pairs.iter().for_each(|(call, _)| rivals[*call] += 1);
    pairs.sort_by(|a, b| {
        let place = |&(call, row): &(usize, &Row)| (rivals[call], call, row.channel);
        let size = |&(call, row): &(usize, &Row)| row.share(call).abs();
        size(b).total_cmp(&size(a)).then(place(a).cmp(&place(b)))
    });
    let mut heard: Vec<Heard> = Vec::new();
    for &(call, row) in &pairs {
        let control = asked[call];
        if heard.iter().any(|h| h.control == control || h.channel == row.channel) {
            continue;
        }
        let others = pairs.iter().filter(|p| p.0 == call && p.1.channel != row.channel);
        let next = others.map(|(call, other)| other.share(*call).abs()).fold(0.0, f64::max);
        let (second, change) = (next / row.share(call).abs(), row.answers[call].change);
        heard.push(Heard { control, channel: row.channel, change, second });
    }
    heard.sort_by_key(|h| asked.iter().position(|c| *c == h.control));
    heard
}

/// Few values, and hardly ever two bits away from idle at once.
fn is_mask(cells: &[i32]) -> bool {
    let mut values = cells.to_vec();
    values.sort_unstable();
    let (mut kinds, mut idle) = (0, (0, 0));
    for run in values.chunk_by(|a, b| a == b) {
        kinds += 1;
        if run.len() > idle.1 {
            idle = (run[0], run.len());
        }
    }
    let several = cells.iter().filter(|&&c| ((c ^ idle.0) as u32).count_ones() > 1).count();
    kinds <= MASK_VALUES && several * SEVERAL <= cells.len()
}

/// The rows of a call within a column.
fn part<'a>(call: &Call, first: usize, column: &'a InputColumn) -> &'a [i32] {
    let rows = Rows {
        first: call.rows.first.saturating_sub(first),
        end: call.rows.end.saturating_sub(first),
    };
    rows.of(&column.cells)
}

/// How a whole field answered the calls.
fn of_field(tracks: &Tracks, first: usize, calls: &[Call], column: &InputColumn) -> Row {
    let full = full_scale(&column.cells);
    let answer = |call: &Call| answer(part(call, first, column), call.rows.of(&tracks.t_us), full);
    row(Channel::Field(column.field), f64::from(full), calls.iter().map(answer).collect())
}

/// How the bits of a field answered the calls; those that never changed are left out.
fn of_bits(tracks: &Tracks, first: usize, calls: &[Call], column: &InputColumn) -> Vec<Row> {
    let changed = column.cells.windows(2).fold(0, |all, w| all | (w[0] ^ w[1]) as u32);
    let mut rows = Vec::new();
    for bit in (0..32_u8).filter(|bit| changed >> bit & 1 == 1) {
        let level = |c: &i32| (*c as u32) >> bit & 1 == 1;
        let changes = column.cells.windows(2).filter(|w| level(&w[0]) != level(&w[1])).count();
        if changes > MOST_CHANGES {
            continue;
        }
        let answer = |call: &Call| {
            let cells = part(call, first, column);
            if cells.windows(2).all(|w| (w[0] ^ w[1]) as u32 >> bit & 1 == 0) {
                return Answer::default();
            }
            let closed: Vec<bool> = cells.iter().map(level).collect();
            let t_us = call.rows.of(&tracks.t_us);
            let answer = pressed(&closed, t_us);
            if held(&closed, tracks.period_us, answer) { answer } else { Answer::default() }
        };
        let answers = calls.iter().map(answer).collect();
        rows.push(row(Channel::Bit(column.field, bit), 1.0, answers));
    }
    rows
}

fn row(channel: Channel, full: f64, answers: Vec<Answer>) -> Row {
    let clear = answers.iter().filter(|a| a.clear).count();
    let lively = clear > 3 && clear as f64 > LIVELY * answers.len() as f64;
    Row { channel, full, answers, lively }
}

/// True when a line left its idle level for as long as a person holds a button: by rows and their
/// usual interval, since rows of one read may share one time.
fn held(closed: &[bool], period_us: f64, answer: Answer) -> bool {
    let down = answer.change > 0.0;
    let runs = closed.chunk_by(|a, b| a == b).filter(|run| run[0] == down);
    let longest = runs.map(<[bool]>::len).max().unwrap_or(0);
    longest as f64 * period_us > HELD_US
}

/// Greatest code of the smallest usual width that holds all but one in 1 000 cells.
fn full_scale(cells: &[i32]) -> i32 {
    let above = |most: i32| cells.iter().filter(|c| c.unsigned_abs() > most as u32).count();
    let full = [8, 10, 12, 14].map(|bits| (1 << bits) - 1);
    full.into_iter().find(|&most| above(most) * 1000 <= cells.len()).unwrap_or(65_535)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn masks_are_told_from_axes() {
        let mask: Vec<i32> =
            (0..2000).map(|k| if k % 400 < 30 { 1 << (k / 400) } else { 0 }).collect();
        assert!(is_mask(&mask));
        let low: Vec<i32> = mask.iter().map(|m| 0x7FFF ^ m).collect();
        assert!(is_mask(&low));
        let axis: Vec<i32> = (0..2000).map(|k| 511 + k % 2).collect();
        assert!(!is_mask(&axis), "511 and 512 differ in ten bits");
        let pulled: Vec<i32> = (0..2000).map(|k| (k - 1500).clamp(0, 300)).collect();
        assert!(!is_mask(&pulled));
    }

    #[test]
    fn a_blip_is_no_press_and_a_press_is() {
        let t_us: Vec<u64> = (0..200).map(|k| k * 4_000).collect();
        let closed = |n: usize| (0..200).map(|k| (60..60 + n).contains(&k)).collect::<Vec<bool>>();
        for (rows, is) in [(2, false), (5, false), (6, true), (30, true)] {
            let answer = pressed(&closed(rows), &t_us);
            assert_eq!(held(&closed(rows), 4_000.0, answer), is, "{rows}");
            let low: Vec<bool> = closed(rows).iter().map(|c| !c).collect();
            let answer = pressed(&low, &t_us);
            assert_eq!(held(&low, 4_000.0, answer), is, "{rows}, idle high");
        }
    }

    #[test]
    fn the_scale_is_the_field_s_own() {
        assert_eq!(full_scale(&[0, 1000, 3]), 1023);
        assert_eq!(full_scale(&[0, 200, 3]), 255);
        assert_eq!(full_scale(&[40_000; 4]), 65_535);
    }
}
