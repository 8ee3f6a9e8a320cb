//! A stream without any clock: what would be made of time is not there, and says why.
use super::figures::{AxisFigures, ButtonFigures, Density};
use super::{Survey, short};
use crate::measure::Shortage;
use crate::session::TimeSource;

/// Takes every figure in seconds, milliseconds, microseconds or hertz out of the survey of a log
/// that nothing told the time of. Levels, scatter, ranges and counts stay.
pub(super) fn without_time(mut survey: Survey, time: TimeSource) -> Survey {
    if time != TimeSource::Assumed {
        return survey;
    }
    survey.duration_s = f64::NAN;
    let stream = &mut survey.stream;
    for figure in [
        &mut stream.rate_hz,
        &mut stream.interval_median_us,
        &mut stream.interval_p01_us,
        &mut stream.interval_p95_us,
        &mut stream.interval_p99_us,
        &mut stream.interval_max_us,
        &mut stream.jitter_us,
        &mut stream.half_skew_ms,
    ] {
        *figure = Err(no_clock("figure in time"));
    }
    survey.axes.iter_mut().for_each(of_axis);
    for stick in &mut survey.sticks {
        stick.settling_ms = Err(no_clock("settling time"));
    }
    survey.buttons.iter_mut().for_each(of_button);
    survey
}

fn no_clock(what: &str) -> Shortage {
    short(what, 0, 1, "nothing tells the time: print the board's µs clock in every line")
}

fn of_axis(axis: &mut AxisFigures) {
    axis.lines.clear();
    axis.density = Density::default();
    axis.drift_per_min = Err(no_clock("drift"));
    axis.idle_drift_per_min = Err(no_clock("drift"));
    axis.warm_up_rise = Err(no_clock("warm-up"));
    axis.warm_up_tau_s = Err(no_clock("warm-up"));
}

fn of_button(button: &mut ButtonFigures) {
    for figure in [
        &mut button.bounce_press_ms,
        &mut button.bounce_press_max_ms,
        &mut button.bounce_release_ms,
        &mut button.bounce_release_max_ms,
        &mut button.press_window_ms,
        &mut button.release_window_ms,
        &mut button.window_ms,
        &mut button.double_share,
        &mut button.idle_edges_per_hour,
    ] {
        *figure = Err(no_clock("figure in time"));
    }
    button.longest_wrong_ms = [(); 2].map(|()| Err(no_clock("figure in time")));
    button.looked.every_ms = f64::NAN;
}
