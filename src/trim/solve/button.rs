//! Windows of a button: 1.5 times the largest bounce seen, plus two samples, at least 5 ms.
use super::lacking;
use crate::measure::Reading;
use crate::rig::{Place, Rig};
use crate::survey::{ButtonFigures, Code, Survey, short};
use crate::trim::{ButtonSource, ButtonTrim, Refusal};

/// Shortest window, ms (common practice: datasheets of tactile switches promise 5–10 ms).
const LEAST_MS: f64 = 5.0;

/// Constants of one button.
pub(super) fn solved(
    survey: &Survey,
    rig: &Rig,
    figures: &ButtonFigures,
) -> Result<ButtonTrim, Refusal> {
    let place = Place::Button(figures.index);
    if figures.stuck {
        let why = "its line never changed and reads closed".to_owned();
        let advice = "look for a short or a wrong pin, then press it again";
        return Err(Refusal::of(place, Code::StuckRail, why, advice));
    }
    if figures.presses == 0 {
        let shortage = short("presses", 0, 1, "press and let go of it five times");
        return Err(lacking(place, &shortage));
    }
    let press = figures.bounce_press_max_ms.as_ref().map_err(|s| lacking(place, s))?;
    let release = figures.bounce_release_max_ms.as_ref().map_err(|s| lacking(place, s))?;
    Ok(ButtonTrim {
        index: figures.index,
        name: rig.buttons.get(usize::from(figures.index)).cloned().unwrap_or_default(),
        press_lockout_ms: window(place, press)?,
        release_ms: window(place, release)?,
        active_low: survey.buttons_active_low,
        from: ButtonSource {
            bounce_press_max_ms: Some(*press),
            bounce_release_max_ms: Some(*release),
        },
    })
}

/// Window for a bounce whose reading runs from the largest seen to that plus two samples.
fn window(place: Place, bounce: &Reading) -> Result<u8, Refusal> {
    let seen = bounce.low.clamp(0.0, bounce.value.max(0.0));
    let window = (1.5 * seen + (bounce.value - seen)).max(LEAST_MS).ceil();
    if window <= f64::from(u8::MAX) {
        return Ok(window as u8);
    }
    let why = format!("a bounce of {:.0} ms needs a window longer than 255 ms", bounce.value);
    let advice = "change the switch or its wiring, then press it again";
    Err(Refusal::of(place, Code::Chatter, why, advice))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::measure::{Estimate, Span};
    use crate::units::Unit;

    #[test]
    fn windows_follow_the_largest_bounce_and_the_sampling() {
        let seen = |most: f64, two_samples: f64| {
            let value = most + two_samples;
            let estimate = Estimate { value, low: most, high: value, n: 5 };
            window(Place::Button(0), &estimate.over(Span::default(), Unit::Millis))
        };
        assert_eq!(seen(0.0, 2.0), Ok(5), "the floor");
        assert_eq!(seen(4.0, 8.0), Ok(14), "6 + 8");
        assert_eq!(seen(9.5, 2.0), Ok(17), "14.25 + 2 rounded up");
        assert_eq!(seen(200.0, 8.0).expect_err("too long").code, Code::Chatter);
    }
}
