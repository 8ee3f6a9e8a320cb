//! Contacts: bounce, doubles and the window to debounce with.
use super::{ButtonFigures, Looked, Source, short};
use crate::measure::contact::{self, ContactFigures};
use crate::measure::{Estimate, Measured, Span, interval};
use crate::units::Unit;

pub(super) fn figures(source: Source) -> Vec<ButtonFigures> {
    source.segments.buttons.iter().map(|button| of_button(source, button)).collect()
}

fn of_button(source: Source, button: &crate::segment::ButtonTrack) -> ButtonFigures {
    let (found, looked) = closest(source, button);
    let span = source.span_of(button.presses.iter().map(|press| press.rows));
    let (start_us, end_us) = button.log.span_us;
    let log_span = Span { start_us, end_us };
    let double_share = double_share(&found, button.index, span);
    let ms = |figure: Measured<Estimate>| figure.map(|ms| ms.over(span, Unit::Millis));
    ButtonFigures {
        index: button.index,
        presses: button.presses.len(),
        bounce_press_ms: ms(found.press.typical_ms),
        bounce_press_max_ms: ms(found.press.bound_ms),
        bounce_release_ms: ms(found.release.typical_ms),
        bounce_release_max_ms: ms(found.release.bound_ms),
        doubles: Ok(found.doubles),
        double_share,
        dropouts: Ok(found.dropouts),
        closures: Ok(found.closures),
        blips: found.blips,
        idle_edges_per_hour: found.idle_edges_per_hour.map(|e| e.over(log_span, Unit::Number)),
        edges_max: [found.press.edges_max, found.release.edges_max],
        longest_wrong_ms: [ms(found.press.longest_wrong_ms), ms(found.release.longest_wrong_ms)],
        press_window_ms: ms(found.press_window_ms),
        release_window_ms: ms(found.release_window_ms),
        window_ms: ms(found.window_ms),
        stuck: found.stuck,
        looked,
    }
}

/// The figures by whoever looked most closely: the firmware's own log of changes where it saw the
/// button press or let go, else the frames.
///
/// Counts come from that log only when nothing of it is missing and it holds every press of the
/// frames; one that began later says how long a bounce is, not how often something happened.
fn closest(source: Source, button: &crate::segment::ButtonTrack) -> (ContactFigures, Looked) {
    let mut found = contact::figures(&button.log);
    let by_frames = Looked { every_ms: button.log.period_us * 1e-3, by_log: false };
    let Some(log) = &button.timed else { return (found, by_frames) };
    let timed = contact::figures(log);
    if timed.press.bound_ms.is_err() || timed.release.bound_ms.is_err() {
        return (found, by_frames);
    }
    let looked = Looked { every_ms: log.period_us * 1e-3, by_log: true };
    if source.tracks.edges.lost == 0 && timed.presses >= found.presses {
        return (ContactFigures { blips: found.blips, stuck: found.stuck, ..timed }, looked);
    }
    found.press = timed.press;
    found.release = timed.release;
    found.press_window_ms = timed.press_window_ms;
    found.release_window_ms = timed.release_window_ms;
    found.window_ms = timed.window_ms;
    (found, looked)
}

/// Share of the releases that a double followed.
fn double_share(found: &ContactFigures, index: u8, span: Span) -> Measured {
    if found.releases == 0 {
        let what = format!("releases of button b{index}");
        return Err(short(&what, 0, 1, "press and let go of it five times"));
    }
    let doubles = found.doubles.min(found.releases);
    Ok(interval::share(doubles, found.releases)?.over(span, Unit::Fraction))
}
