//! What the constants do, computed from [`super::apply`] over every raw code.
use super::apply::{Axis, Smoother, Stick, Trigger, node_angle};
use super::{FULL_OUTPUT, Matrix2, SmoothTrim, Trim};
use crate::rig::{AxisId, Half};

/// One output over every raw code of its input, in the order of the codes.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Sweep {
    /// Which input.
    pub input: AxisId,
    /// Output at the ends of the travel: reached in full on both sides (0 and full for a trigger).
    pub ends_reached: bool,
    /// The output never turns back from the lowest to the highest code.
    pub monotonic: bool,
    /// First and last code that give 0; `None` when none does.
    pub zero_codes: Option<(u16, u16)>,
    /// The output is 0 everywhere between those two.
    pub zero_unbroken: bool,
    /// Largest step between neighbouring codes, output units.
    pub largest_step: u16,
    /// Different outputs that occur.
    pub distinct: usize,
    /// Pairs of neighbouring codes outside the zero and short of full that give the same output.
    pub stalls: usize,
    /// Outputs that could occur and never do: of −32767…32767, or 0…32767 for a trigger.
    pub missing: usize,
}

/// A stick's zone over its whole field.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Field {
    /// Which stick.
    pub half: Half,
    /// x swept with y at its centre, then y with x at its centre, in the form that the firmware uses.
    pub sweeps: [Sweep; 2],
    /// Least output magnitude over 360 directions at the ends of travel, or over those of a reach
    /// table at its radii; full = every direction reaches it. The components are rounded down, so a few units below 32767 are full.
    pub least_magnitude: u16,
}

/// Everything that can be said without a board.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Check {
    /// Axial form of every axis.
    pub axes: Vec<Sweep>,
    /// Chosen form of every stick.
    pub sticks: Vec<Field>,
    /// Triggers.
    pub triggers: Vec<Sweep>,
    /// Smoothed inputs.
    pub smoothing: Vec<Settled>,
}

/// Where smoothing comes to rest.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Settled {
    /// Which input.
    pub input: AxisId,
    /// Shift in use.
    pub shift: u8,
    /// Largest distance from a held code at which it stays, from below or above, counts: what a
    /// filter that stalls would show as a false hysteresis.
    pub residue: u16,
    /// Scans until 90 % of a step of full scale has come through.
    pub rise_scans: u16,
}

/// Runs every raw code of every part. Cost: under a millisecond a part at 16 bits.
pub fn check(trim: &Trim) -> Check {
    let axes = trim.axes.iter().filter_map(|a| {
        let axis = Axis::of(trim, a.axis)?;
        Some(swept(trim, a.axis, [a.low, a.high], |raw| axis.axial(raw)))
    });
    let triggers = trim.triggers.iter().filter_map(|t| {
        let trigger = Trigger::of(trim, t.half)?;
        Some(swept(trim, t.half.trigger(), [t.rest, t.full], |raw| trigger.run(raw)))
    });
    Check {
        axes: axes.collect(),
        sticks: trim.sticks.iter().filter_map(|s| field(trim, s.half)).collect(),
        triggers: triggers.collect(),
        smoothing: trim.options.smoothing.iter().map(|s| settled(trim, s)).collect(),
    }
}

/// Most codes at which smoothing is held.
const HELD_CODES: u16 = 64;

/// Runs smoothing from both ends of the range to codes all over it.
fn settled(trim: &Trim, smooth: &SmoothTrim) -> Settled {
    let full = trim.full_scale();
    let held = |from: u16, code: u16| {
        let mut smoother = Smoother::new(smooth);
        smoother.sample(from);
        // 2^k scans divide what is left by e; 16 of those leave nothing of 16 bits.
        let last = (0..16u32 << smooth.shift).map(|_| smoother.sample(code)).last();
        last.unwrap_or(from).abs_diff(code)
    };
    let codes = (0..=full).step_by(usize::from(full / HELD_CODES).max(1)).chain([full]);
    let residue = codes.map(|c| held(0, c).max(held(full, c))).max().unwrap_or(0);
    let mut step = Smoother::new(smooth);
    step.sample(0);
    let ninety = (u32::from(full) * 9).div_ceil(10) as u16;
    let rise_scans = (1..=u16::MAX).find(|_| step.sample(full) >= ninety).unwrap_or(u16::MAX);
    Settled { input: smooth.axis, shift: smooth.shift, residue, rise_scans }
}

impl Check {
    /// True when every end is reached, nothing turns back, every zero is unbroken and smoothing
    /// comes to rest where it should.
    pub fn sound(&self) -> bool {
        let sticks = self.sticks.iter().flat_map(|f| &f.sweeps);
        self.axes
            .iter()
            .chain(&self.triggers)
            .chain(sticks)
            .all(|s| s.ends_reached && s.monotonic && s.zero_unbroken)
            && self.smoothing.iter().all(|s| s.residue == 0)
    }
}

fn field(trim: &Trim, half: Half) -> Option<Field> {
    let stick = Stick::of(trim, half)?;
    let [x, y] = half.stick().map(|a| trim.axis(a));
    let (x, y) = (x?, y?);
    let sweeps = [
        swept(trim, x.axis, [x.low, x.high], |raw| stick.run(raw, y.centre).0),
        swept(trim, y.axis, [y.low, y.high], |raw| stick.run(x.centre, raw).1),
    ];
    let toward = |share: f64, centre: u16, low: u16, high: u16| {
        let travel = if share < 0.0 { centre - low } else { high - centre };
        // Rounded away from the centre, as a push that passes the end.
        let past = (share.abs() * f64::from(travel)).ceil() as u16;
        let past = past.min(if share < 0.0 { centre } else { trim.full_scale() - centre });
        if share < 0.0 { centre - past } else { centre + past }
    };
    let magnitude = |[share_x, share_y]: [f64; 2]| {
        let raw_x = toward(share_x, x.centre, x.low, x.high);
        let raw_y = toward(share_y, y.centre, y.low, y.high);
        let (out_x, out_y) = stick.run(raw_x, raw_y);
        let square = i64::from(out_x).pow(2) + i64::from(out_y).pow(2);
        u16::try_from(square.isqrt()).unwrap_or(u16::MAX)
    };
    let least_magnitude = match trim.options.reach(half) {
        None => (0..360).map(|deg| at(f64::from(deg).to_radians(), 1.0)).map(magnitude).min(),
        Some(reach) => {
            let matrix = trim.stick(half).and_then(|s| s.matrix);
            let share = |radius: u16| f64::from(radius) / f64::from(FULL_OUTPUT);
            let nodes = reach.radii.iter().enumerate();
            nodes.map(|(n, r)| before(matrix, at(node_angle(n), share(*r)))).map(magnitude).min()
        }
    }?;
    Some(Field { half, sweeps, least_magnitude })
}

/// A point by direction and radius.
fn at(angle: f64, radius: f64) -> [f64; 2] {
    let (sin, cos) = angle.sin_cos();
    [radius * cos, radius * sin]
}

/// Where a point stood before the 2×2 correction.
fn before(matrix: Option<Matrix2>, [x, y]: [f64; 2]) -> [f64; 2] {
    let Some(Matrix2(rows)) = matrix else { return [x, y] };
    let [[a, b], [c, d]] = rows.map(|row| row.map(|f| f64::from(f) / 16384.0));
    let det = a * d - b * c;
    if det == 0.0 { [x, y] } else { [(d * x - b * y) / det, (a * y - c * x) / det] }
}

/// Reads a sweep off an output function.
fn swept(trim: &Trim, input: AxisId, ends: [u16; 2], output: impl Fn(u16) -> i16) -> Sweep {
    let outputs: Vec<i16> = (0..=trim.full_scale()).map(output).collect();
    let at = |code: u16| outputs.get(usize::from(code)).copied().unwrap_or(0).unsigned_abs();
    let full_at = |code: u16| at(code) == FULL_OUTPUT;
    let ends_reached = if input.is_trigger() {
        at(ends[0]) == 0 && full_at(ends[1])
    } else {
        full_at(ends[0]) && full_at(ends[1])
    };
    let steps = || outputs.windows(2).map(|w| i32::from(w[1]) - i32::from(w[0]));
    let zeros = || outputs.iter().enumerate().filter(|(_, o)| **o == 0).map(|(i, _)| i as u16);
    let zero_codes = zeros().next().zip(zeros().next_back());
    let between = zero_codes.map_or(0, |(first, last)| usize::from(last - first) + 1);
    let idle = |output: i16| output == 0 || output.unsigned_abs() == FULL_OUTPUT;
    let mut sorted = outputs.clone();
    sorted.sort_unstable();
    sorted.dedup();
    let possible = usize::from(FULL_OUTPUT) * if input.is_trigger() { 1 } else { 2 } + 1;
    Sweep {
        input,
        ends_reached,
        monotonic: steps().all(|s| s >= 0) || steps().all(|s| s <= 0),
        zero_codes,
        zero_unbroken: zeros().count() == between,
        largest_step: steps().map(|s| s.unsigned_abs()).max().unwrap_or(0) as u16,
        distinct: sorted.len(),
        stalls: outputs.windows(2).filter(|w| w[0] == w[1] && !idle(w[0])).count(),
        missing: possible - sorted.len(),
    }
}
