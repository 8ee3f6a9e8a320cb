//! The figures of a survey, part by part.
use crate::measure::cadence::LossRuns;
use crate::measure::coupling::CommonCause;
use crate::measure::curve::OddCode;
use crate::measure::gate::{Deficit, GateShape};
use crate::measure::stability::AllanPoint;
use crate::measure::{Measured, Reading, Shortage};
use crate::rig::{AxisId, Half};
use crate::session::Drive;

use super::RollCall;

/// Health of the stream.
#[derive(Clone, Debug)]
pub struct StreamFigures {
    /// Frames a second, from the board's clock where sent.
    pub rate_hz: Measured,
    /// Interval between frames, µs: median with its interval.
    pub interval_median_us: Measured,
    /// 1st percentile of the interval, µs.
    pub interval_p01_us: Measured,
    /// 95th percentile of the interval, µs.
    pub interval_p95_us: Measured,
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
    /// Runs of lost frames: single losses or bursts.
    pub loss_runs: LossRuns,
    /// Frames seen twice.
    pub duplicated: u64,
    /// Restarts of the board.
    pub resets: u64,
    /// Board clock against host clock, ppm.
    pub clock_ppm: Measured,
    /// Interarrival jitter (RFC 3550): arrival at the host against the board's clock, µs.
    pub jitter_us: Measured,
    /// Share of stale tuples by half (left, right).
    pub stale: [Measured; 2],
    /// How much later the right half shows the same motion than the left, ms; needs both strapped
    /// together.
    pub half_skew_ms: Measured,
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
    /// log2(full scale / σ), bits.
    pub effective_bits: Measured,
    /// Steps of travel that a person can place apart: mean travel to a side (a trigger's whole
    /// travel) over 6.6 σ.
    pub noise_free_steps: Measured,
    /// Lines found, strongest first.
    pub lines: Vec<SpectrumLine>,
    /// Density for the picture.
    pub density: Density,
    /// Drift of the rest level, counts a minute.
    pub drift_per_min: Measured,
    /// The same while only its own part is left alone, from all stays of 8 s; n = levels of a second.
    pub idle_drift_per_min: Measured,
    /// How far the rest level goes until warm, counts; needs rests over minutes.
    pub warm_up_rise: Measured,
    /// Time constant of that, s.
    pub warm_up_tau_s: Measured,
    /// Allan deviation of the longest rest, counts, at 1, 2, 4, … samples; empty without a rest.
    pub allan: Vec<AllanPoint>,
    /// Codes that are wide or missing: steps of the converter, as slow sweeps show them.
    pub odd_codes: Measured<Vec<OddCode>>,
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
    /// Class of the gate by its form.
    pub shape: Measured<GateShape>,
    /// Directions in which the reach falls short of that form.
    pub deficits: Vec<Deficit>,
    /// Largest difference of reach between clockwise and counter-clockwise turns, share of the mean.
    pub direction_difference: Measured,
    /// Swing beyond the rest after a let-go, share of the way home.
    pub overshoot: Measured,
    /// From the let-go to within 2 % of the way for good, ms.
    pub settling_ms: Measured,
    /// Shift of x and y while the stick's own switch is pressed, counts.
    pub press_shift: [Measured; 2],
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
    /// Down − up at 25, 50 and 75 % of the time of a stroke, counts toward full.
    pub hysteresis_at: [Measured; 3],
    /// Standard deviation of the fully pulled levels, counts.
    pub full_scatter: Measured,
    /// Share of a slow pull's time at the full end.
    pub end_plateau: Measured,
    /// The reading falls when the trigger is pulled; `None` without pulls.
    pub rests_high: Option<bool>,
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
    /// The same as a share of the releases, with its exact binomial interval.
    pub double_share: Measured,
    /// Openings while held that ended within the settle time.
    pub dropouts: usize,
    /// Short closures while released.
    pub closures: usize,
    /// One-row changes taken for damage on the line.
    pub blips: usize,
    /// Changes an hour while released that belong to no press.
    pub idle_edges_per_hour: Measured,
    /// Most changes in one press and in one release, as sampled.
    pub edges_max: [Measured<usize>; 2],
    /// Longest stretch at the old level within a press and within a release, ms as sampled.
    pub longest_wrong_ms: [Measured; 2],
    /// Proposed lock-out after an eager press, ms.
    pub press_window_ms: Measured,
    /// Proposed time that a release must hold, ms.
    pub release_window_ms: Measured,
    /// Proposed debounce window, ms.
    pub window_ms: Measured,
    /// The line that never changed is held closed.
    pub stuck: bool,
    /// Where its bounce was looked at: the frames, or the firmware's own log of changes.
    pub looked: Looked,
}

/// How closely a contact was looked at.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Looked {
    /// Interval T between two looks, ms; of a log of changes the longest round any change.
    pub every_ms: f64,
    /// By the firmware's own log of changes, not limited by the rate of the frames.
    pub by_log: bool,
}

/// An axis at home while the board drives a motor or a light.
#[derive(Clone, Debug)]
pub struct Driven {
    /// The axis.
    pub axis: AxisId,
    /// What was driven.
    pub by: Drive,
    /// Shift of the reading at the largest drive seen, counts.
    pub shift: Measured,
    /// Noise at the largest drive over noise without.
    pub noise_ratio: Measured,
    /// Largest drive seen, in the board's own unit; `None` where the figures are short.
    pub largest: Option<f64>,
}

/// An axis at home while another one moves.
#[derive(Clone, Debug)]
pub struct Followed {
    /// The axis that is left alone.
    pub axis: AxisId,
    /// The axis that moves: the one scanned before it, or a trigger.
    pub by: AxisId,
    /// It is the one scanned before.
    pub scanned_before: bool,
    /// Counts of the axis a count of the other, as a share.
    pub share: Measured,
    /// Correlation of the two, −1 to 1.
    pub correlation: Measured,
}

/// Motion that the channels of a half share at rest.
#[derive(Clone, Debug)]
pub struct Common {
    /// Mean correlation of the pairs.
    pub correlation: Measured,
    /// RMS of the shared motion, counts; `None` where the figure is short.
    pub rms: Option<f64>,
    /// In proportion to the reading or not.
    pub cause: CommonCause,
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
    /// Every axis against every motor and light that the stream tells of.
    pub driven: Vec<Driven>,
    /// Every axis against the one scanned before it and against the triggers.
    pub followed: Vec<Followed>,
    /// Shared motion at rest by half (left, right).
    pub common: [Common; 2],
    /// Buttons read 0 when pressed: the rig's word, or what idles high.
    pub buttons_active_low: bool,
    /// What answered each control that was asked for; `None` without a roll-call.
    pub roll_call: Option<RollCall>,
    /// Axes that the rig says run backward, in the order of [`AxisId::ALL`].
    pub inverted: [bool; 6],
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
