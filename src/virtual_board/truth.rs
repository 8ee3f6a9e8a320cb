//! What is true of a virtual board: the figures that a measurement of it should find.
//!
//! Figures in counts are of the raw code before rounding, as the converter would give it without
//! noise; rounding to the nearest code leaves their mean alone once the noise exceeds 0.5 counts.
use crate::rig::{AxisId, Half};

/// What is true of the board as built, and what has happened to it so far.
#[derive(Clone, Debug)]
pub struct Truth {
    /// Width of a raw reading in bits.
    pub raw_bits: u8,
    /// Frames a second that the firmware's loop aims at, by its own clock.
    pub rate_hz: f64,
    /// Board clock against true time, parts in a million; positive = the board's clock is fast.
    pub clock_ppm: f64,
    /// By axis, in the order of [`AxisId::ALL`]; `None` where the rig has no such part.
    pub axes: [Option<AxisTruth>; 6],
    /// Left stick, right stick.
    pub sticks: [Option<StickTruth>; 2],
    /// Left trigger, right trigger.
    pub triggers: [Option<TriggerTruth>; 2],
    /// By button, in bit order.
    pub buttons: Vec<ButtonTruth>,
    /// What became of the frames.
    pub stream: StreamTruth,
}

impl Truth {
    /// The axis, where the rig has it.
    pub fn axis(&self, axis: AxisId) -> Option<&AxisTruth> {
        self.axes[axis.index()].as_ref()
    }

    /// The stick of a half, where the rig has it.
    pub fn stick(&self, half: Half) -> Option<&StickTruth> {
        self.sticks[half as usize].as_ref()
    }

    /// The trigger of a half, where the rig has it.
    pub fn trigger(&self, half: Half) -> Option<&TriggerTruth> {
        self.triggers[half as usize].as_ref()
    }
}

/// One analog input.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct AxisTruth {
    /// Mean of settled rests, counts.
    pub rest: f64,
    /// Gaussian noise, counts rms; without quantisation, hum and drift.
    pub noise_sigma: f64,
    /// Mains on the lead, counts peak.
    pub hum: f64,
    /// Least code reached against the gate or stop, counts.
    pub low: f64,
    /// Greatest code reached against the gate or stop, counts.
    pub high: f64,
}

/// One stick.
#[derive(Clone, Debug, PartialEq)]
pub struct StickTruth {
    /// Mean of settled rests, x and y, counts.
    pub centre: [f64; 2],
    /// SD per axis of settled rests from the seat alone, counts (friction adds to it).
    pub seat_sd: [f64; 2],
    /// Middle of the least-squares circle through the gate, counts.
    pub gate_centre: [f64; 2],
    /// Radius of that circle, counts.
    pub gate_radius: f64,
    /// Roundness deviation of the gate after scaling each side of each axis to 1, over its mean
    /// radius: greatest less least distance from the least-squares centre.
    pub roundness: f64,
    /// Distance from the centre by 5° sectors of raw direction, sector 0 begins at 0°, counts.
    pub profile: [f64; 72],
    /// Lean of the raw y axis toward the raw x axis, degrees: `asin` of their correlation over a
    /// round gate.
    pub orthogonality_deg: f64,
    /// How far the raw axes are turned from the shell, degrees, counter-clockwise.
    pub rotation_deg: f64,
    /// Swing beyond the rest after a let-go from the gate, share of the way home.
    pub overshoot: f64,
    /// Let-goes that have settled, oldest first; the newest 4096.
    pub rests: Vec<RestTruth>,
}

/// Where a stick came to rest after a let-go.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct RestTruth {
    /// True time since power-on when it counted as settled, µs.
    pub t_us: u64,
    /// Direction in the shell from which it had been let go, degrees counter-clockwise from right.
    pub from_deg: f64,
    /// Counts, x and y.
    pub at: [f64; 2],
}

/// One trigger.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TriggerTruth {
    /// Mean of settled rests, counts.
    pub rest: f64,
    /// Reading against the full stop, counts.
    pub full: f64,
    /// SD of settled rests, counts.
    pub rest_sd: f64,
    /// Difference between the way in and the way out in mid-travel, counts.
    pub hysteresis: f64,
    /// Greatest run backward during a one-way pull, counts.
    pub reversal: f64,
    /// Share of the travel at the end over which the reading stands still.
    pub end_plateau: f64,
}

/// One button.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct ButtonTruth {
    /// Presses and releases that have settled, oldest first.
    pub edges: Vec<EdgeTruth>,
    /// Episodes beyond the 4096 that are remembered.
    pub forgotten: u64,
}

/// A press or a release, with its bounce. Times are true time since power-on, µs.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct EdgeTruth {
    /// True for a press.
    pub pressed: bool,
    /// First change of the contact; `None` when no finger caused it.
    pub first_us: Option<f64>,
    /// Last change of the contact.
    pub last_us: Option<f64>,
    /// First change as the firmware's scans saw it.
    pub seen_first_us: f64,
    /// Last change as the firmware's scans saw it.
    pub seen_last_us: f64,
}

impl EdgeTruth {
    /// Bounce in continuous time, ms; `None` when no finger caused the change.
    pub fn bounce_ms(&self) -> Option<f64> {
        Some((self.last_us? - self.first_us?) / 1000.0)
    }

    /// Bounce as sampled, ms; 0 when only one change was seen.
    pub fn seen_bounce_ms(&self) -> f64 {
        (self.seen_last_us - self.seen_first_us) / 1000.0
    }
}

/// What became of the frames.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct StreamTruth {
    /// Frames that left the board, lost ones included.
    pub sent: u64,
    /// Frames that never reached the host.
    pub dropped: u64,
    /// Frames that came with a flipped character and are no frame any more.
    pub destroyed: u64,
    /// Frames that came with a flipped character and still read as a frame, with a wrong number.
    pub altered: u64,
    /// Dropped or destroyed frames between the first and the last that came through whole: those
    /// that a counter can show.
    pub lost: u64,
    /// Starts after the first.
    pub resets: u64,
    /// Frames that carried fresh data of the second half.
    pub fresh: u64,
    /// Frames that repeated data of the second half sent before.
    pub repeated: u64,
    /// Greatest age of the second half's data in a frame, µs.
    pub oldest_us: u64,
    /// Bytes written to the board.
    pub bytes_received: u64,
}

impl StreamTruth {
    /// Share of frames that repeat old data of the second half; `None` without a second half.
    pub fn stale_share(&self) -> Option<f64> {
        let all = self.fresh + self.repeated;
        (all > 0).then(|| self.repeated as f64 / all as f64)
    }
}
