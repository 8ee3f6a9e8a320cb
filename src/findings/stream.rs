//! What the stream itself shows: lost frames, restarts, a stale half, an uneven loop.
use super::say::{self, SUPPLY_CAUTION};
use super::{Bench, Code, Finding, Severity, loud, remote, severity_of};
use crate::measure::{Span, interval, number};
use crate::rig::{Half, Place};
use crate::session::TimeSource;
use crate::survey::scaled;
use crate::units::Unit;

/// Share of the stale rows from which silence, which has a name of its own, is what made them.
const SILENT_SHARE: f64 = 0.6;

/// Frames that should have come and did not, or lines damaged on the way.
pub(super) fn link_loss(bench: &Bench<'_>, found: &mut Vec<Finding>) {
    let stream = &bench.survey.stream;
    // At another symbol rate nothing is lost on the way: nothing was ever read.
    if super::has(found, &[Code::BaudMismatch], Place::Stream) {
        return;
    }
    let (missed, what) = match stream.lost_on_the_way() {
        Some(lost) => (lost, "lost"),
        // Without counter and clock the first torn line is only where the port was opened.
        None if stream.malformed > 1 => (stream.malformed, "unreadable"),
        None => return,
    };
    // No rate of the port brings frames that were never printed.
    if super::foreign::in_place_of_frames(bench, missed) {
        return;
    }
    let band = &bench.limits.loss_share;
    let due = bench.survey.frames.saturating_add(missed);
    let Ok(share) = interval::share(missed as usize, due as usize) else { return };
    let share = share.over(session_span(bench), Unit::Fraction);
    let Some(severity) = severity_of(band, &share) else { return };
    let evidence = format!(
        "{} of {due} {what}, {} ({}); {} malformed, {} duplicated; {}",
        say::count_of(missed, "frame"),
        share.value_text(),
        share.interval_text(),
        stream.malformed,
        stream.duplicated,
        say::missed(band, severity, Unit::Fraction),
    );
    let remedy = "Shorten the line, raise the baud rate or print fewer frames a second; check \
        the cable, the ground wire and the receiver's buffer";
    found.push(Finding::new(Code::LinkLoss, Place::Stream, severity, evidence, remedy));
}

/// The counter and the clock of the board started again.
pub(super) fn board_reset(bench: &Bench<'_>, found: &mut Vec<Finding>) {
    // Brown-outs have a name of their own.
    let known = super::supply::explained(bench);
    let resets = bench.survey.stream.resets.saturating_sub(known.len() as u64);
    let exact = resets as f64;
    let Some(severity) = Severity::of(bench.limits.resets.grade(exact, exact)) else { return };
    let all = bench.tracks.stream.resets.iter();
    let rows: Vec<usize> = all.copied().filter(|row| !known.contains(row)).collect();
    let first_us = rows.first().and_then(|&row| bench.tracks.t_us.get(row)).copied();
    let when = first_us
        .map(|t_us| {
            format!(", first {:.2}\u{a0}s after the first frame", bench.since_start_s(t_us))
        })
        .unwrap_or_default();
    let evidence =
        format!("counter and clock started again {}{when}; limit 0", say::count_of(resets, "time"));
    let remedy = "Have the firmware print its reset cause at start; look for a supply that sags \
        when motors or lights start, a watchdog, or a port that resets the board when opened";
    let mut finding = Finding::new(Code::BoardReset, Place::Stream, severity, evidence, remedy)
        .with_caution(SUPPLY_CAUTION);
    if let Some(t_us) = first_us {
        finding = finding.at(Span { start_us: t_us, end_us: t_us });
    }
    found.push(finding);
}

/// One half repeats its readings because it is polled more often than it measures.
pub(super) fn stale_half(bench: &Bench<'_>, found: &mut Vec<Finding>) {
    let stream = &bench.survey.stream;
    for half in Half::ALL {
        let (Ok(stale), Ok(loop_us)) = (&stream.stale[half as usize], &stream.interval_median_us)
        else {
            continue;
        };
        // A half that fell silent has a name of its own: what it repeats then says nothing of its rate.
        let silent = remote::silent_rows(bench, half) as f64;
        if super::has(found, &[Code::HalfHang], Place::Half(half))
            && silent > SILENT_SHARE * stale.value * bench.tracks.rows() as f64
        {
            continue;
        }
        // Every fresh reading is followed by s/(1 − s) repeats, so it is renewed each T/(1 − s).
        let age_ms = |share: f64| loop_us.value * 1e-3 / (1.0 - share.clamp(0.0, 0.999));
        let age = [stale.value, stale.low, stale.high].map(age_ms);
        let by_age = loud(&bench.limits.remote_age_ms, age);
        let by_share = severity_of(&bench.limits.stale_share, stale);
        // An old reading counts only where repeats show that it is the half that is slow.
        let Some(by_share) = by_share else { continue };
        let severity = by_age.map_or(by_share, |by_age| by_age.min(by_share));
        let evidence = format!(
            "{} of the {} half's frames repeat the one before ({}, n\u{a0}=\u{a0}{}): fresh readings every \
             {:.1}\u{a0}ms in a loop of {:.1}\u{a0}ms",
            stale.value_text(),
            half.key(),
            stale.interval_text(),
            stale.n,
            age_ms(stale.value),
            loop_us.value * 1e-3,
        );
        let remedy = "Poll that half at the rate of the loop: raise the bus clock with pull-ups \
            to match, send fewer bytes, or let it send its own counter so that age is known";
        found.push(
            Finding::new(Code::StaleHalf, Place::Half(half), severity, evidence, remedy)
                .with_caution(SUPPLY_CAUTION)
                .at(stale.span),
        );
    }
}

/// Frames come slowly, or some take much longer than the rest.
pub(super) fn slow_loop(bench: &Bench<'_>, found: &mut Vec<Finding>) {
    let stream = &bench.survey.stream;
    // Host times are those of reads and say nothing of the board's loop.
    if bench.tracks.time_source != TimeSource::Board {
        return;
    }
    let (Ok(median), Ok(p99)) = (&stream.interval_median_us, &stream.interval_p99_us) else {
        return;
    };
    slow_rate(bench, found);
    // A half that hangs holds the loop up and has a name of its own.
    if found.iter().any(|f| f.code == Code::HalfHang) {
        return;
    }
    let Some(times) = scaled::interval_ratio(stream, 0, bench.survey) else { return };
    let band = &bench.limits.interval_ratio;
    let Some(severity) = severity_of(band, &times) else { return };
    let evidence = format!(
        "1 interval in 100 is longer than {:.2}\u{a0}ms, {:.2} times the median of \
         {:.2}\u{a0}ms ({}); {}",
        p99.value * 1e-3,
        times.value,
        median.value * 1e-3,
        times.interval_text(),
        say::missed(band, severity, Unit::Number),
    );
    let remedy = "Move light updates and prints out of the measuring loop or give them a fixed \
        share of it; print less than the link can carry";
    found
        .push(Finding::new(Code::SlowLoop, Place::Stream, severity, evidence, remedy).at(p99.span));
}

/// Few frames a second: printing holds the loop up, and short events pass unseen.
fn slow_rate(bench: &Bench<'_>, found: &mut Vec<Finding>) {
    let Ok(rate) = &bench.survey.stream.rate_hz else { return };
    let band = &bench.limits.rate_hz;
    let Some(severity) = severity_of(band, rate) else { return };
    // Slow frames weaken the measurements; they do not make the board faulty.
    let severity = severity.max(Severity::Warning);
    let evidence = format!(
        "{} frames a second ({}, n = {}), one every {:.1}\u{a0}ms: what is shorter passes unseen; {}",
        number(rate.value, 1),
        rate.interval_text(),
        rate.n,
        1e3 / rate.value,
        say::missed(band, severity, Unit::Number),
    );
    let remedy = "A full transmit buffer slows the loop to the print rate: shorten the line or \
        raise the baud rate, and choose filters and windows for the rate of the final firmware";
    found.push(
        Finding::new(Code::SlowLoop, Place::Stream, severity, evidence, remedy).at(rate.span),
    );
}

fn session_span(bench: &Bench<'_>) -> Span {
    let t_us = &bench.tracks.t_us;
    Span { start_us: t_us.first().copied().unwrap_or(0), end_us: t_us.last().copied().unwrap_or(0) }
}
