//! A stream without any clock: what would be made of time is not there, and says why.
use super::figures::{AxisFigures, ButtonFigures, Density};
use super::{Survey, short};
use crate::measure::Shortage;
use crate::session::TimeSource;

/// Takes every figure in seconds, milliseconds, microseconds or hertz out of the survey of a log
/// that nothing told the time of, and every count of what is told apart by its length. Levels, scatter,
/// ranges and other counts stay.
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
        *figure = Err(no_clock());
    }
    survey.axes.iter_mut().for_each(of_axis);
    for stick in &mut survey.sticks {
        stick.settling_ms = Err(no_clock());
    }
    survey.buttons.iter_mut().for_each(of_button);
    survey
}

fn no_clock() -> Shortage {
    let advice = "nothing tells the time: print the board's µs clock in every line";
    short("clock in the lines", 0, 1, advice)
}

fn of_axis(axis: &mut AxisFigures) {
    axis.lines.clear();
    axis.density = Density::default();
    axis.allan.clear();
    axis.drift_per_min = Err(no_clock());
    axis.idle_drift_per_min = Err(no_clock());
    axis.warm_up_rise = Err(no_clock());
    axis.warm_up_tau_s = Err(no_clock());
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
        *figure = Err(no_clock());
    }
    for count in [&mut button.doubles, &mut button.dropouts, &mut button.closures] {
        *count = Err(no_clock());
    }
    button.longest_wrong_ms = [(); 2].map(|()| Err(no_clock()));
    button.looked.every_ms = f64::NAN;
}
