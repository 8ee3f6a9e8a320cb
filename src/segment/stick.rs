//! A stick's path in shares of its reach, and its trips: from leaving the middle to coming back.
use super::blocks::Blocks;
use super::levels::{AxisLevel, Levels, stick_mask};
use crate::rig::{AxisId, Half};

/// A stick farther out than this share of its reach is pushed.
const PUSHED: f64 = 0.5;
/// Nearer than this it is back.
pub(super) const BACK: f64 = 0.35;
/// Along the rim of the gate, whatever its shape.
pub(super) const RIM: f64 = 0.6;

/// One stick's block medians with the scale of its two axes.
pub(super) struct Path<'a> {
    pub(super) half: Half,
    pub(super) blocks: &'a Blocks,
    pub(super) mask: u8,
    x: Scale<'a>,
    y: Scale<'a>,
}

struct Scale<'a> {
    median: &'a [i32],
    rest: f64,
    per_count: [f64; 2],
}

impl Scale<'_> {
    fn share(&self, counts: f64) -> f64 {
        let way = counts - self.rest;
        way * self.per_count[usize::from(way > 0.0)]
    }
}

/// A stretch of blocks during which the stick was out.
#[derive(Clone, Copy, Debug)]
pub(super) struct Trip {
    /// First block pushed.
    pub(super) first: usize,
    /// First block that is back (or the end of the run).
    pub(super) back: usize,
    /// It began or ended at a gap, a restart or an end of the log.
    pub(super) cut: [bool; 2],
    /// Range of the angle passed along the rim, radians.
    pub(super) swept: f64,
}

impl<'a> Path<'a> {
    /// The stick's path; `None` when an axis is missing or neither was used.
    pub(super) fn of(half: Half, blocks: &'a Blocks, levels: &Levels) -> Option<Path<'a>> {
        let [ax, ay] = half.stick();
        let (lx, ly) = (levels.axis(ax)?, levels.axis(ay)?);
        if !lx.used && !ly.used {
            return None;
        }
        let widest = lx.travel().max(ly.travel());
        let x = scale(blocks, ax, lx, widest)?;
        let y = scale(blocks, ay, ly, widest)?;
        Some(Path { half, blocks, mask: stick_mask(half), x, y })
    }

    /// Place of raw readings in shares of the reach.
    pub(super) fn share(&self, at: [f64; 2]) -> [f64; 2] {
        [self.x.share(at[0]), self.y.share(at[1])]
    }

    /// Place in a block in shares of the reach.
    pub(super) fn at(&self, block: usize) -> [f64; 2] {
        self.share(self.raw(block))
    }

    /// Place in a block in raw counts.
    pub(super) fn raw(&self, block: usize) -> [f64; 2] {
        [f64::from(self.x.median[block]), f64::from(self.y.median[block])]
    }

    /// Distance from rest in a block, share of the reach.
    pub(super) fn radius(&self, block: usize) -> f64 {
        let [x, y] = self.at(block);
        x.hypot(y)
    }

    /// The trips in order. A single block far out is no trip.
    pub(super) fn trips(&self) -> Vec<Trip> {
        let mut trips = Vec::new();
        let mut open: Option<Sweep> = None;
        for b in 0..self.blocks.len() {
            if self.blocks.opens_run(b)
                && let Some(sweep) = open.take()
            {
                sweep.close(b, true, &mut trips);
            }
            let [x, y] = self.at(b);
            let radius2 = x * x + y * y;
            match &mut open {
                Some(sweep) if radius2 >= BACK * BACK => sweep.follow([x, y], radius2),
                Some(_) => {
                    if let Some(sweep) = open.take() {
                        sweep.close(b, false, &mut trips);
                    }
                }
                None if radius2 >= PUSHED * PUSHED => {
                    let mut sweep = Sweep::from(b, self.blocks.opens_run(b));
                    sweep.follow([x, y], radius2);
                    open = Some(sweep);
                }
                None => {}
            }
        }
        if let Some(sweep) = open {
            sweep.close(self.blocks.len(), true, &mut trips);
        }
        trips
    }
}

/// A trip under way: the angle followed along the rim.
struct Sweep {
    first: usize,
    cut_before: bool,
    last: Option<[f64; 2]>,
    angle: f64,
    range: [f64; 2],
}

impl Sweep {
    fn from(first: usize, cut_before: bool) -> Sweep {
        Sweep { first, cut_before, last: None, angle: 0.0, range: [0.0, 0.0] }
    }

    fn follow(&mut self, at: [f64; 2], radius2: f64) {
        if radius2 < RIM * RIM {
            return;
        }
        if let Some(last) = self.last {
            self.angle += turned(last, at);
            self.range = [self.range[0].min(self.angle), self.range[1].max(self.angle)];
        }
        self.last = Some(at);
    }

    fn close(self, back: usize, cut_after: bool, trips: &mut Vec<Trip>) {
        if back - self.first < 2 {
            return;
        }
        let swept = self.range[1] - self.range[0];
        trips.push(Trip { first: self.first, back, cut: [self.cut_before, cut_after], swept });
    }
}

/// Angle from one place to another as seen from the rest, radians, −π…π.
pub(super) fn turned(from: [f64; 2], to: [f64; 2]) -> f64 {
    (from[0] * to[1] - from[1] * to[0]).atan2(from[0] * to[0] + from[1] * to[1])
}

/// Shares a count on either side; a side hardly used takes half of the stick's widest way, so that
/// noise on a dead axis does not look like a push.
fn scale<'a>(
    blocks: &'a Blocks,
    axis: AxisId,
    level: &AxisLevel,
    widest: f64,
) -> Option<Scale<'a>> {
    let floor = 0.5 * widest;
    let down = (level.rest - f64::from(level.low)).max(floor);
    let up = (f64::from(level.high) - level.rest).max(floor);
    let median = blocks.median(axis)?;
    Some(Scale { median, rest: level.rest, per_count: [1.0 / down, 1.0 / up] })
}
