//! The figures of a survey, part by part.
use crate::measure::{Measured, Reading, Shortage};
use crate::rig::{AxisId, Half};

/// Health of the stream.
#[derive(Clone, Debug)]
pub struct StreamFigures {
    /// Frames a second, from the board's clock where sent.
    pub rate_hz: Measured,
    /// Interval between frames, µs: median with its interval.
    pub interval_median_us: Measured,
    /// 1st percentile of the interval, µs.
    pub interval_p01_us: Measured,
    /// 99th percentile of the interval, µs.
    pub interval_p99_us: Measured,
    /// Longest interval, µs.
    pub interval_max_us: Measured,
    /// Frames that should have come and did not.
    pub lost: Measured<u64>,
    /// Lines damaged on the way.
    pub malformed: u64,
    /// Lines never meant as frames.
    pub foreign: u64,
    /// Frames seen twice.
    pub duplicated: u64,
    /// Restarts of the board.
    pub resets: u64,
    /// Board clock against host clock, ppm.
    pub clock_ppm: Measured,
    /// Share of stale tuples by half (left, right).
    pub stale: [Measured; 2],
}

/// One line of a noise spectrum.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SpectrumLine {
    /// Frequency as seen in the stream, Hz.
    pub hz: f64,
    /// Amplitude (peak), counts.
    pub amplitude: f64,
    /// Probability that noise alone shows such a line anywhere in the band.
    pub false_alarm: f64,
}

/// An estimated noise density for drawing: one-sided, counts²/Hz.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Density {
    /// Frequencies, Hz.
    pub hz: Vec<f64>,
    /// Density at each, counts²/Hz.
    pub counts2_per_hz: Vec<f64>,
}

/// What the quiet rests and the rolls say of one axis.
#[derive(Clone, Debug)]
pub struct AxisFigures {
    /// Which.
    pub axis: AxisId,
    /// Level of the quiet rest, counts.
    pub rest: Measured,
    /// RMS noise without quantisation, lines and drift, counts.
    pub noise_rms: Measured,
    /// Peak-to-peak noise over the rest, counts (n says over how many samples).
    pub noise_pp: Measured,
    /// log2(full scale / 6.6 σ), bits.
    pub noise_free_bits: Measured,
    /// Lines found, strongest first.
    pub lines: Vec<SpectrumLine>,
    /// Density for the picture.
    pub density: Density,
    /// Drift of the rest level, counts a minute.
    pub drift_per_min: Measured,
    /// Per-turn lower reach, counts.
    pub low: Measured,
    /// Per-turn upper reach, counts.
    pub high: Measured,
    /// Share of roll samples within one count of the extreme code.
    pub clipped: Measured,
    /// Centre from the releases, counts.
    pub centre: Measured,
}

/// One release: where the stick came to rest and the push that it came from.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ReleaseRest {
    /// Settled mean, counts (x, y).
    pub at: [f64; 2],
    /// Direction of the push before it, degrees, counter-clockwise, 0 = +x raw.
    pub from_deg: f64,
    /// Start of the settled span, µs.
    pub t_us: u64,
}

/// Reach of a stick by direction: 72 sectors of 5°, sector k centred on 5k°.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Profile {
    /// Reach from the centre after per-side scaling, share of the mean; NaN where never seen.
    pub reach: Vec<f64>,
    /// Standard deviation over turns, same unit; NaN with fewer than two turns.
    pub spread: Vec<f64>,
    /// Reach in raw counts from the centre; NaN where never seen.
    pub raw_counts: Vec<f64>,
}

/// What releases and rolls say of one stick.
#[derive(Clone, Debug)]
pub struct StickFigures {
    /// Which.
    pub half: Half,
    /// Centre x and y, counts.
    pub centre: [Measured; 2],
    /// The releases behind it.
    pub releases: Vec<ReleaseRest>,
    /// RMS distance of the rests from their centre, counts.
    pub scatter: Measured,
    /// |mean after + − mean after −| by axis, counts.
    pub hysteresis: [Measured; 2],
    /// Per-turn outward reach: mean radius of the raw profile, counts.
    pub outer_reach: Measured,
    /// RONt (least squares) over mean radius after per-side scaling.
    pub roundness: Measured,
    /// Minimum-zone roundness over mean radius, same profile.
    pub mzci: Measured,
    /// Departure of the axes from 90°, degrees; assumes a round gate.
    pub orthogonality_deg: Measured,
    /// Rotation, degrees; only from gate corners or prompted pushes.
    pub rotation_deg: Measured,
    /// Share of the 72 sectors seen at least twice.
    pub coverage: Measured,
    /// Reach by direction.
    pub profile: Profile,
}

/// What pulls say of one trigger.
#[derive(Clone, Debug)]
pub struct TriggerFigures {
    /// Which.
    pub half: Half,
    /// Released level, counts.
    pub rest: Measured,
    /// Fully pulled level, counts.
    pub full: Measured,
    /// Standard deviation of the released levels, counts.
    pub rest_scatter: Measured,
    /// Largest reversal during a one-way pull, counts.
    pub reversal: Measured,
    /// Up against down at equal time, counts.
    pub hysteresis: Measured,
    /// Number of pulls seen.
    pub pulls: usize,
}

/// What presses say of one button.
#[derive(Clone, Debug)]
pub struct ButtonFigures {
    /// Bit number.
    pub index: u8,
    /// Presses seen.
    pub presses: usize,
    /// Typical press bounce as sampled, ms; 0 = nothing seen in between (print "< 2T").
    pub bounce_press_ms: Measured,
    /// Upper bound: largest seen + 2T, ms.
    pub bounce_press_max_ms: Measured,
    /// Typical release bounce as sampled, ms.
    pub bounce_release_ms: Measured,
    /// Upper bound: largest seen + 2T, ms.
    pub bounce_release_max_ms: Measured,
    /// Closures within 80 ms after a release episode ended.
    pub doubles: usize,
    /// Proposed debounce window, ms.
    pub window_ms: Measured<f64>,
    /// The line that never changed is held closed.
    pub stuck: bool,
}

/// Everything that a session says.
#[derive(Clone, Debug)]
pub struct Survey {
    /// Frames read.
    pub frames: u64,
    /// From the first to the last frame, s.
    pub duration_s: f64,
    /// Raw width, bits.
    pub raw_bits: u8,
    /// The width is a guess from the samples.
    pub raw_bits_guessed: bool,
    /// Health of the stream.
    pub stream: StreamFigures,
    /// One entry an axis present, in the order of [`AxisId::ALL`].
    pub axes: Vec<AxisFigures>,
    /// One entry a stick with both axes present.
    pub sticks: Vec<StickFigures>,
    /// One entry a trigger present.
    pub triggers: Vec<TriggerFigures>,
    /// One entry a button.
    pub buttons: Vec<ButtonFigures>,
    /// Buttons read 0 when pressed: the rig's word, or what idles high.
    pub buttons_active_low: bool,
}

impl Survey {
    /// Figures of an axis.
    pub fn axis(&self, axis: AxisId) -> Option<&AxisFigures> {
        self.axes.iter().find(|a| a.axis == axis)
    }

    /// Figures of a stick.
    pub fn stick(&self, half: Half) -> Option<&StickFigures> {
        self.sticks.iter().find(|s| s.half == half)
    }

    /// Figures of a trigger.
    pub fn trigger(&self, half: Half) -> Option<&TriggerFigures> {
        self.triggers.iter().find(|t| t.half == half)
    }
}

/// The value of a figure, if there is one.
pub fn value(figure: &Measured<Reading>) -> Option<f64> {
    figure.as_ref().ok().map(|r| r.value)
}

/// A shortage in one line.
pub fn short(what: &str, have: usize, need: usize, advice: &str) -> Shortage {
    Shortage { what: what.to_owned(), have, need, advice: advice.to_owned() }
}
