//! The figures of a survey, part by part.
use crate::measure::cadence::LossRuns;
use crate::measure::coupling::CommonCause;
use crate::measure::curve::OddCode;
use crate::measure::gate::{Deficit, GateShape};
use crate::measure::stability::AllanPoint;
use crate::measure::{Measured, Reading, Shortage};
use crate::rig::{AxisId, Half};
use crate::session::{Codes, Drive, TimeSource};

use super::catalogue::{Figure, Judge, figures};
use super::{Code, RollCall, scaled};

figures! {
    /// Health of the stream.
    pub struct StreamFigures {
        /// Frames a second, from the board's clock where sent.
        rate_hz: Measured => "/source.rate_hz", "rate", Hertz, One, [Sheet Asked],
            Judge::by(|l| &l.rate_hz, Code::SlowLoop, |s: &StreamFigures, _, _| s.rate_hz.clone().ok()).nuisance();
        /// Interval between frames: median with its interval.
        interval_median_us: Measured => "interval_us.median", "median interval", Micros, One, [Summary Sheet Asked];
        /// 1st percentile of the interval between frames.
        interval_p01_us: Measured => "interval_us.p01", "1st percentile", Micros, One, [Summary Sheet];
        /// 95th percentile of the interval between frames.
        interval_p95_us: Measured => "interval_us.p95", "95th percentile", Micros, One, [Sheet];
        /// 99th percentile of the interval between frames; its limit is a multiple of the median.
        interval_p99_us: Measured => "interval_us.p99", "99th percentile", Micros, One, [Summary Sheet],
            Judge::by(|l| &l.interval_ratio, Code::SlowLoop, scaled::interval_ratio);
        /// Longest interval between frames.
        interval_max_us: Measured => "interval_us.max", "longest", Micros, One, [Summary Sheet];
        /// Frames that should have come and are not there; the limit is for the share of those that went
        /// missing on the way, damage of the recording aside.
        lost: Measured<u64> => "lost", "lost", Number, One, [Summary Asked],
            Judge::by(|l| &l.loss_share, Code::LinkLoss, scaled::loss_share);
        /// Those of them that damage of the recording took.
        lost_in_file: u64 => "lost_in_file", "lost in damage of the recording", Number, One, [];
        /// Lines damaged on the way.
        malformed: u64 => "malformed", "malformed", Number, One, [Summary];
        /// Lines never meant as frames.
        foreign: u64;
        /// Runs of lost frames: single losses or bursts.
        loss_runs: LossRuns;
        /// Frames seen twice.
        duplicated: u64 => "duplicated", "duplicated", Number, One, [Summary];
        /// Restarts of the board: counter and clock begin again.
        resets: u64 => "resets", "resets", Number, One, [Summary],
            Judge::by(|l| &l.resets, Code::BoardReset, scaled::resets);
        /// Board clock against host clock: their ratio less one.
        clock_ppm: Measured => "clock_ppm", "clock against the host", Ppm, One, [Summary Sheet Asked];
        /// Interarrival jitter (RFC 3550): arrival at the host against the board's clock.
        jitter_us: Measured => "jitter_us", "jitter of arrival", Micros, One, [Summary Sheet];
        /// Share of repeated tuples of a half beyond what its noise and speed explain.
        stale: [Measured; 2] => "stale", "stale share", Fraction, Halves, [Summary Sheet Asked],
            Judge::by(|l| &l.stale_share, Code::StaleHalf, |s, k, _| s.stale[k.min(1)].clone().ok());
        /// How much later the right half shows the same motion than the left; needs both strapped
        /// together.
        half_skew_ms: Measured => "half_skew_ms", "right half behind the left", Millis, One, [Summary Sheet];
    }
    also {}
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

figures! {
    /// What the quiet rests and the rolls say of one axis.
    pub struct AxisFigures {
        /// Which.
        axis: AxisId;
        /// Level of the quiet rest.
        rest: Measured => "rest", "rest level", Counts, One, [Summary Sheet Asked];
        /// RMS noise without quantisation, lines and drift.
        noise_rms: Measured => "noise_rms", "noise rms", Counts, One, [Summary Sheet Asked],
            Judge::by(|l| &l.noise_rms_counts, Code::NoisyInput, |a, _, _| a.noise_rms.clone().ok());
        /// RMS noise as a firmware meets it, with the lines in it: √(σ² + Σ a²/2).
        noise_with_lines: Measured => "noise_with_lines", "noise rms with lines", Counts, One, [Summary Sheet];
        /// Peak-to-peak noise over the rest (n says over how many samples).
        noise_pp: Measured => "noise_pp", "pk-pk", Counts, One, [Summary Sheet Asked];
        /// Bits whose codes noise does not move: log2(full scale / 6.6 σ).
        noise_free_bits: Measured => "noise_free_bits", "noise-free bits", Bits, One, [Sheet];
        /// Bits by the noise at rest with the rounding in it (IEEE 1241): at most those of the converter.
        effective_bits: Measured => "effective_bits", "effective bits", Bits, One, [Summary Sheet];
        /// Steps of travel that a person can place apart: mean travel to a side (a trigger's whole
        /// travel) over 6.6 σ.
        noise_free_steps: Measured => "noise_free_steps", "noise-free steps", Number, One, [Summary Sheet];
        /// Lines found, strongest first.
        lines: Vec<SpectrumLine>;
        /// Density for the picture.
        density: Density;
        /// Drift of the rest level.
        drift_per_min: Measured => "drift_per_min", "drift a minute", CountsPerMinute, One, [Summary Sheet Asked];
        /// The same while only its own part is left alone, from all stays of 8 s; n = levels of a second.
        idle_drift_per_min: Measured;
        /// How far the rest level goes until warm; needs rests over minutes.
        warm_up_rise: Measured => "warm_up.rise", "warm-up", Counts, One, [Summary Sheet];
        /// Time constant of the warm-up.
        warm_up_tau_s: Measured => "warm_up.tau_s", "warm-up time constant", Seconds, One, [Sheet];
        /// Allan deviation of the longest rest, counts, at 1, 2, 4, … samples; empty without a rest.
        allan: Vec<AllanPoint>;
        /// Codes that are wide or missing: steps of the converter, as slow sweeps show them.
        odd_codes: Measured<Vec<OddCode>>;
        /// Per-turn lower reach; its limit is the clearance to the converter's lower rail.
        low: Measured => "low", "low end", Counts, One, [Summary Sheet AskedOfSticks],
            Judge::by(|l| &l.clearance_counts, Code::Saturated, scaled::clearance_below);
        /// Per-turn upper reach; its limit is the clearance to the converter's upper rail.
        high: Measured => "high", "high end", Counts, One, [Summary Sheet AskedOfSticks],
            Judge::by(|l| &l.clearance_counts, Code::Saturated, scaled::clearance_above);
        /// Share of roll samples within one count of the extreme code.
        clipped: Measured => "clipped", "clipped share", Fraction, One, [Sheet AskedOfSticks];
        /// Centre from the releases.
        centre: Measured => "centre", "centre", Counts, One, [Summary Sheet AskedOfSticks];
    }
    also {}
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

figures! {
    /// What releases and rolls say of one stick.
    pub struct StickFigures {
        /// Which.
        half: Half;
        /// Centre from the releases, by axis.
        centre: [Measured; 2] => "centre", "centre", Counts, Axes, [Sheet Station];
        /// The releases behind it.
        releases: Vec<ReleaseRest>;
        /// Rest scatter: RMS distance of the rests from their centre.
        scatter: Measured => "scatter", "rest scatter", Counts, One, [Summary Sheet Station Asked];
        /// Hysteresis at the centre: |mean after + − mean after −| by axis; its limit is a share of travel.
        hysteresis: [Measured; 2] => "hysteresis", "hysteresis", Counts, Axes, [Sheet Station Asked],
            Judge::by(|l| &l.hysteresis_share, Code::StickyReturn, scaled::hysteresis);
        /// Per-turn outward reach: mean radius of the raw profile.
        outer_reach: Measured => "outer_reach", "reach", Counts, One, [Summary Sheet Station Asked];
        /// Roundness deviation RONt (least squares) over mean radius after per-side scaling.
        roundness: Measured => "roundness", "roundness", Fraction, One, [Summary Sheet Station Asked],
            Judge::by(|l| &l.roundness, Code::GateDefect, scaled::roundness);
        /// Minimum-zone roundness over mean radius, same profile.
        mzci: Measured => "mzci", "minimum zone", Fraction, One, [Sheet];
        /// Departure of the axes from a right angle; takes the gate to be round.
        orthogonality_deg: Measured => "orthogonality_deg", "axes off 90°", Degrees, One, [Summary Sheet Station Asked],
            Judge::by(|l| &l.orthogonality_deg, Code::SkewedAxes, |s, _, _| s.orthogonality_deg.clone().ok());
        /// Rotation in its seat; only from gate corners or prompted pushes.
        rotation_deg: Measured => "rotation_deg", "rotation", Degrees, One, [Summary Sheet Station Asked];
        /// Share of the 72 sectors of 5° seen at least twice.
        coverage: Measured => "coverage", "coverage", Fraction, One, [Summary Sheet Asked];
        /// Reach by direction.
        profile: Profile;
        /// Class of the gate by its form.
        shape: Measured<GateShape>;
        /// Directions in which the reach falls short of that form.
        deficits: Vec<Deficit>;
        /// Turning difference: largest difference of reach between clockwise and counter-clockwise
        /// turns, share of the mean.
        direction_difference: Measured => "direction_difference", "turning difference", Fraction, One, [Summary Sheet];
        /// Overshoot: swing beyond the rest after a let-go, share of the way home.
        overshoot: Measured => "overshoot", "overshoot", Fraction, One, [Summary Sheet],
            Judge::by(|l| &l.overshoot_share, Code::ReleaseOvershoot, |s: &StickFigures, _, _| s.overshoot.clone().ok())
                .nuisance();
        /// Settling time: from the let-go to within 2 % of the way for good.
        settling_ms: Measured => "settling_ms", "settling time", Millis, One, [Summary Sheet];
        /// Shift of x and y while the stick's own switch is pressed; its limit is a share of travel.
        press_shift: [Measured; 2] => "press_shift", "press shift", Counts, Axes, [Summary Sheet],
            Judge::by(|l| &l.press_shift_share, Code::PressShift, scaled::press_shift).nuisance();
    }
    also {
        " Releases that came to rest and were used.", |s: &StickFigures, _| Figure::Count(Ok(s.releases.len() as u64))
            => "releases", "releases", Number, [Summary];
    }
}

figures! {
    /// What pulls say of one trigger.
    pub struct TriggerFigures {
        /// Which.
        half: Half;
        /// Level while it is released.
        rest: Measured => "rest", "released level", Counts, One, [Summary Sheet Station Asked];
        /// Level while it is fully pulled.
        full: Measured => "full", "full level", Counts, One, [Summary Sheet Station Asked];
        /// Rest scatter: standard deviation of the released levels; its limit is a share of the span.
        rest_scatter: Measured => "rest_scatter", "rest scatter", Counts, One, [Summary Sheet Station Asked],
            Judge::by(|l| &l.trigger_scatter_share, Code::StickyReturn, scaled::trigger_scatter);
        /// Largest reversal during a one-way pull.
        reversal: Measured => "reversal", "reversal", Counts, One, [Summary Sheet Station Asked],
            Judge::by(|l| &l.trigger_reversal_counts, Code::NonMonotonic, scaled::reversal);
        /// Strokes apart: up against down at equal time. Play of the lever delays both alike and does not
        /// show in it, a hand that lets go otherwise than it pulls does: no limit holds for it.
        hysteresis: Measured => "hysteresis", "strokes apart", Counts, One, [Sheet Station Asked];
        /// Strokes apart at 25, 50 and 75 % of the time of a stroke: down less up, toward full.
        hysteresis_at: [Measured; 3] => "hysteresis_at", "strokes apart", Counts, Quarters, [Sheet];
        /// Standard deviation of the fully pulled levels.
        full_scatter: Measured => "full_scatter", "full scatter", Counts, One, [Sheet];
        /// Share of a slow pull's time at the full end.
        end_plateau: Measured => "end_plateau", "time at full", Fraction, One, [Sheet];
        /// The reading falls when the trigger is pulled; not known without pulls.
        rests_high: Option<bool> => "rests_high", "rests high", Number, One, [];
        /// Pulls seen.
        pulls: usize => "pulls", "pulls", Number, One, [Summary Station];
    }
    also {}
}

figures! {
    /// What presses say of one button.
    pub struct ButtonFigures {
        /// Bit number.
        index: u8;
        /// Presses seen.
        presses: usize => "presses", "presses", Number, One, [Summary Sheet Station];
        /// Typical press bounce as sampled: first to last change; nothing seen in between is shorter
        /// than two looks.
        bounce_press_ms: Measured => "bounce_press_ms", "press bounce", Millis, One, [Summary Sheet Station Asked]
            via |b: &ButtonFigures, _| Figure::Sampled(&b.bounce_press_ms, 2.0 * b.looked.every_ms);
        /// Upper bound of the press bounce, 999 in 1 000: largest seen + 2T + min(7T, 16 ms) for what no look saw.
        bounce_press_max_ms: Measured => "bounce_press_max_ms", "press bounce at most", Millis, One, [Summary Sheet Station],
            Judge::by(|l| &l.bounce_ms, Code::Chatter, |b, _, _| scaled::bounce(b, &b.bounce_press_max_ms));
        /// Typical release bounce as sampled: first to last change.
        bounce_release_ms: Measured => "bounce_release_ms", "release bounce", Millis, One, [Summary Sheet Station Asked]
            via |b: &ButtonFigures, _| Figure::Sampled(&b.bounce_release_ms, 2.0 * b.looked.every_ms);
        /// Upper bound of the release bounce, 999 in 1 000: largest seen + 2T + min(7T, 16 ms) for what no look saw.
        bounce_release_max_ms: Measured => "bounce_release_max_ms", "release bounce at most", Millis, One, [Summary Sheet Station],
            Judge::by(|l| &l.bounce_ms, Code::Chatter, |b, _, _| scaled::bounce(b, &b.bounce_release_max_ms));
        /// Closures within 80 ms after a release episode ended.
        doubles: Measured<usize> => "doubles", "doubles", Number, One, [Summary Sheet Station];
        /// The same as a share of the releases, with its exact binomial interval.
        double_share: Measured => "double_share", "double share", Fraction, One, [Sheet],
            Judge::by(|l| &l.double_share, Code::DoubleFire, scaled::doubles);
        /// Openings while held that ended within the settle time.
        dropouts: Measured<usize> => "dropouts", "dropouts", Number, One, [Sheet];
        /// Short closures while released.
        closures: Measured<usize> => "closures", "closures", Number, One, [Sheet];
        /// One-row changes taken for damage on the line.
        blips: usize => "blips", "blips", Number, One, [Sheet];
        /// Changes an hour while released that belong to no press.
        idle_edges_per_hour: Measured => "idle_edges_per_hour", "idle edges an hour", Number, One, [Sheet];
        /// Most changes in one press and in one release, as sampled.
        edges_max: [Measured<usize>; 2] => "edges_max", "most edges", Number, Edges, [Sheet];
        /// Longest stretch at the old level within a press and within a release, as sampled.
        longest_wrong_ms: [Measured; 2] => "longest_wrong_ms", "longest at the old level", Millis, Edges, [Sheet];
        /// Proposed lock-out after an eager press.
        press_window_ms: Measured => "press_window_ms", "press window", Millis, One, [Sheet];
        /// Proposed time that a release must hold.
        release_window_ms: Measured => "release_window_ms", "release window", Millis, One, [Sheet];
        /// Proposed debounce window: the larger of both.
        window_ms: Measured => "window_ms", "debounce window", Millis, One, [Summary Sheet Station Asked];
        /// The line that never changed is held closed.
        stuck: bool => "stuck", "held closed", Number, One, [];
        /// Where its bounce was looked at: the frames, or the firmware's own log of changes.
        looked: Looked;
    }
    also {
        " Interval T between two looks at the contact.", |b: &ButtonFigures, _| Figure::Number(Some(b.looked.every_ms).filter(|ms| ms.is_finite()))
            => "looked_every_ms", "looked at every", Millis, [Sheet];
        " Looked at by the firmware's own log of changes, not by the frames.", |b: &ButtonFigures, _| Figure::Flag(Some(b.looked.by_log))
            => "by_edge_log", "by the edge log", Number, [];
    }
}

/// How closely a contact was looked at.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Looked {
    /// Interval T between two looks, ms; of a log of changes the longest round any change.
    pub every_ms: f64,
    /// By the firmware's own log of changes, not limited by the rate of the frames.
    pub by_log: bool,
}

figures! {
    /// An axis at home while the board drives a motor or a light.
    pub struct Driven {
        /// The axis.
        axis: AxisId;
        /// What was driven.
        by: Drive;
        /// Shift of the reading at the largest drive seen.
        shift: Measured => "shift", "shift", Counts, One, [Summary Sheet];
        /// Noise at the largest drive over noise without.
        noise_ratio: Measured => "noise_ratio", "noise ratio", Number, One, [Summary Sheet],
            Judge::by(|l| &l.driven_noise_ratio, Code::PwmCoupling, |d, _, _| d.noise_ratio.clone().ok());
        /// Largest drive seen, in the board's own unit; nothing where the figures are short.
        largest: Option<f64> => "largest", "up to", Number, One, [Summary Sheet];
    }
    also {}
}

figures! {
    /// An axis at home while another one moves.
    pub struct Followed {
        /// The axis that is left alone.
        axis: AxisId;
        /// The axis that moves: the one scanned before it, or a trigger.
        by: AxisId;
        /// It is the one scanned before.
        scanned_before: bool => "scanned_before", "scanned before", Number, One, [];
        /// Counts of the axis a count of the other, as a share.
        share: Measured => "share", "share", Fraction, One, [Sheet];
        /// Correlation of the two, −1 to 1.
        correlation: Measured => "correlation", "correlation", Number, One, [Sheet];
    }
    also {}
}

figures! {
    /// Motion that the channels of a half share at rest.
    pub struct Common {
        /// Which half.
        half: Half;
        /// Mean correlation of the pairs.
        correlation: Measured => "correlation", "correlation", Number, One, [Sheet];
        /// RMS of the shared motion, counts; nothing where the figure is short.
        rms: Option<f64> => "rms", "shared motion", Counts, One, [Sheet];
        /// In proportion to the reading or not.
        cause: CommonCause;
    }
    also {}
}

/// Everything that a session says.
#[derive(Clone, Debug)]
pub struct Survey {
    /// Frames read.
    pub frames: u64,
    /// From the first to the last frame, s; NaN where nothing tells the time.
    pub duration_s: f64,
    /// Where times come from.
    pub time_source: TimeSource,
    /// Raw width, bits.
    pub raw_bits: u8,
    /// What the codes of the axes are: whether the converter's ends are known.
    pub codes: Codes,
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
    /// A rig names the sticks: without one nothing can differ from what it says.
    pub signs_declared: bool,
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
