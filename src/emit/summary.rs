//! The summary that `solve` prints: figures with intervals, findings, constants, in plain text.
use super::escape::terminal;
use super::forms::{cause, form, percent};
use super::meta::Report;
use super::places::grouped;
use super::text_table::{Page, Table, Width};
use crate::findings::Severity;
use crate::measure::{Measured, number, spaced};
use crate::rig::Half;
use crate::survey::Looked;
use crate::trim::ZonePlace;
use crate::units::Unit;

/// The summary, one line feed at the end of every line. Text from the session is made harmless.
pub fn summary(report: &Report<'_>, width: Width) -> String {
    let mut out = Page::new(width);
    head(report, &mut out);
    stream(report, &mut out);
    axes(report, &mut out);
    steadiness(report, &mut out);
    sticks(report, &mut out);
    gates(report, &mut out);
    triggers(report, &mut out);
    buttons(report, &mut out);
    coupling(report, &mut out);
    found(report, &mut out);
    constants(report, &mut out);
    out.into_text()
}

fn head(report: &Report<'_>, out: &mut Page) {
    let (facts, survey) = (report.facts, report.survey);
    let mut names: Vec<String> = Vec::new();
    if !facts.rig_name.is_empty() {
        names.push(facts.rig_name.clone());
    }
    if !facts.board_id.is_empty() {
        names.push(format!("board {}", facts.board_id));
    }
    names.push(facts.source.clone());
    line(out, &terminal(&names.join(" · ")));
    let mut facts_line = format!("{} frames in {} s", survey.frames, number(survey.duration_s, 1));
    if let Ok(rate) = &survey.stream.rate_hz {
        facts_line.push_str(&format!(", {} frames/s", number(rate.value, 1)));
    }
    facts_line.push_str(&format!(", {} bits", survey.raw_bits));
    if survey.raw_bits_guessed {
        facts_line.push_str(" (guessed from the samples)");
    }
    if !facts.created.is_empty() {
        facts_line.push_str(&format!(", recorded {}", terminal(&facts.created)));
    }
    line(out, &facts_line);
    for damage in &facts.damage {
        line(out, &format!("damage: {}", terminal(damage)));
    }
    line(out, "± is half the 95 % interval; – is a figure that the data do not support");
}

fn stream(report: &Report<'_>, out: &mut Page) {
    let s = &report.survey.stream;
    let lost = s.lost.as_ref().map_or("–".to_owned(), u64::to_string);
    let mut table = Table::new(["stream", "lost", "malformed", "duplicated", "resets"]);
    table.heads(["interval ms", "p01", "p99", "max"]);
    table.row([
        String::new(),
        lost,
        s.malformed.to_string(),
        s.duplicated.to_string(),
        s.resets.to_string(),
        millis(&s.interval_median_us),
        millis(&s.interval_p01_us),
        millis(&s.interval_p99_us),
        millis(&s.interval_max_us),
    ]);
    table.write(out);
    let [left, right] = Half::ALL.map(|half| cell(&s.stale[half as usize]));
    let clock = cell(&s.clock_ppm);
    line(out, &format!("clock against the host {clock} ppm; stale left {left}, right {right}"));
    let jitter = cell(&s.jitter_us);
    let behind = cell(&s.half_skew_ms);
    line(out, &format!("jitter of arrival {jitter} µs; right half behind the left by {behind} ms"));
}

fn axes(report: &Report<'_>, out: &mut Page) {
    let mut table = Table::new(["axis, counts", "rest", "noise rms", "pk-pk", "drift/min"]);
    table.heads(["low", "high", "centre", "dead zone"]);
    for a in &report.survey.axes {
        let trim = &report.solution.trim;
        let dead = if a.axis.is_trigger() {
            trim.trigger(a.axis.half()).map(|t| t.dead)
        } else {
            trim.axis(a.axis).map(|t| t.dead)
        };
        let pp = a.noise_pp.as_ref().map_or("–".to_owned(), |r| number(r.value, 0));
        table.row([
            a.axis.key().to_owned(),
            cell(&a.rest),
            cell(&a.noise_rms),
            pp,
            cell(&a.drift_per_min),
            cell(&a.low),
            cell(&a.high),
            cell(&a.centre),
            dead.map_or("–".to_owned(), |d| d.to_string()),
        ]);
    }
    table.write(out);
}

/// Resolution and steadiness of every axis.
fn steadiness(report: &Report<'_>, out: &mut Page) {
    let mut table = Table::new(["axis", "effective bits", "noise-free steps", "warm-up, counts"]);
    table.heads(["odd codes"]);
    for a in &report.survey.axes {
        let odd = a.odd_codes.as_ref().map_or("–".to_owned(), |codes| codes.len().to_string());
        table.row([
            a.axis.key().to_owned(),
            cell(&a.effective_bits),
            cell(&a.noise_free_steps),
            cell(&a.warm_up_rise),
            odd,
        ]);
    }
    table.write(out);
}

fn sticks(report: &Report<'_>, out: &mut Page) {
    let mut table = Table::new(["stick", "releases", "scatter", "dead zone", "reach"]);
    table.heads(["roundness", "axes off 90°", "rotation", "coverage"]);
    for s in &report.survey.sticks {
        let zone = report.solution.zones.iter().find(|z| z.place == ZonePlace::Stick(s.half));
        let dead = zone.map_or("–".to_owned(), |z| {
            let share = number(z.radius_fraction * 100.0, 1);
            format!("{} ({share}\u{a0}%)", number(z.radius_counts, 0))
        });
        table.row([
            s.half.key().to_owned(),
            s.releases.len().to_string(),
            cell(&s.scatter),
            dead,
            cell(&s.outer_reach),
            cell(&s.roundness),
            cell(&s.orthogonality_deg),
            cell(&s.rotation_deg),
            s.coverage.as_ref().map_or("–".to_owned(), |r| percent(r.value, 0)),
        ]);
    }
    table.write(out);
}

/// Return and gate of every stick.
fn gates(report: &Report<'_>, out: &mut Page) {
    let mut table = Table::new(["stick", "overshoot", "settling ms", "press shift x", "y"]);
    table.heads(["turning difference", "gate"]);
    for s in &report.survey.sticks {
        table.row([
            s.half.key().to_owned(),
            cell(&s.overshoot),
            cell(&s.settling_ms),
            cell(&s.press_shift[0]),
            cell(&s.press_shift[1]),
            cell(&s.direction_difference),
            s.shape.as_ref().map_or("–".to_owned(), |_| form(&s.shape)),
        ]);
    }
    table.write(out);
}

fn triggers(report: &Report<'_>, out: &mut Page) {
    let mut table = Table::new(["trigger, counts", "pulls", "rest", "full", "rest scatter"]);
    table.heads(["reversal", "hysteresis", "on", "off"]);
    for t in &report.survey.triggers {
        let solved = report.solution.trim.trigger(t.half);
        let code = |code: Option<u16>| code.map_or("–".to_owned(), |c| c.to_string());
        table.row([
            t.half.trigger().key().to_owned(),
            t.pulls.to_string(),
            cell(&t.rest),
            cell(&t.full),
            cell(&t.rest_scatter),
            cell(&t.reversal),
            cell(&t.hysteresis),
            code(solved.map(|t| t.on)),
            code(solved.map(|t| t.off)),
        ]);
    }
    table.write(out);
}

fn buttons(report: &Report<'_>, out: &mut Page) {
    let mut table = Table::new(["button, ms", "presses", "press bounce", "at most"]);
    table.heads(["release bounce", "at most", "doubles", "window"]);
    for b in &report.survey.buttons {
        let name = report.facts.button_names.get(usize::from(b.index));
        let name = name.filter(|n| !n.is_empty()).map(|n| format!(" {}", terminal(n)));
        table.row([
            format!("b{}{}", b.index, name.unwrap_or_default()),
            if b.stuck { "held".to_owned() } else { b.presses.to_string() },
            bounce(&b.bounce_press_ms, &b.looked),
            cell_plain(&b.bounce_press_max_ms),
            bounce(&b.bounce_release_ms, &b.looked),
            cell_plain(&b.bounce_release_max_ms),
            b.doubles.to_string(),
            cell_plain(&b.window_ms),
        ]);
    }
    table.write(out);
}

/// What motors and lights do to each axis, and what the channels of a half share.
fn coupling(report: &Report<'_>, out: &mut Page) {
    let mut table = Table::new(["coupling", "driven", "up to", "shift, counts", "noise ×"]);
    for d in &report.survey.driven {
        table.row([
            d.axis.key().to_owned(),
            d.by.key(),
            d.largest.map_or("–".to_owned(), |most| number(most, 0)),
            cell(&d.shift),
            cell(&d.noise_ratio),
        ]);
    }
    table.write(out);
    for (half, common) in Half::ALL.into_iter().zip(&report.survey.common) {
        if let (Ok(r), Some(rms)) = (&common.correlation, common.rms)
            && r.low > 0.0
        {
            let (half, r, rms) = (half.key(), cell(&common.correlation), number(rms, 2));
            let words = format!(
                "at rest the {half} half moves together, correlation {r}, {rms} counts rms: {}",
                cause(common)
            );
            wrap(out, "", &words);
        }
    }
}

/// A bounce as sampled: nothing seen between two looks is only known to be short.
pub fn bounce(figure: &Measured, looked: &Looked) -> String {
    match figure {
        Ok(r) if r.value > 0.0 => number(r.value, 1),
        Ok(_) if looked.every_ms > 0.0 => format!("< {}", number(2.0 * looked.every_ms, 1)),
        Ok(_) => "none seen".to_owned(),
        Err(_) => "–".to_owned(),
    }
}

fn found(report: &Report<'_>, out: &mut Page) {
    out.gap();
    let count = |s: Severity| report.findings.iter().filter(|f| f.severity == s).count();
    let [faults, warnings, notes] = [Severity::Fault, Severity::Warning, Severity::Note].map(count);
    line(out, &format!("findings: faults {faults}, warnings {warnings}, notes {notes}"));
    for group in grouped(report.findings) {
        let finding = group.first;
        let head = format!("{} {}", finding.severity.word(), terminal(&finding.code));
        for (evidence, places) in &group.evidence {
            let places = terminal(&places.join(", "));
            wrap(out, "  ", &format!("{head} at {places}: {}", terminal(evidence)));
        }
        if !finding.remedy.is_empty() {
            wrap(out, "    ", &format!("to do: {}", terminal(&finding.remedy)));
        }
        if let Some(caution) = &finding.caution {
            wrap(out, "    ", &format!("caution: {}", terminal(caution)));
        }
    }
}

fn constants(report: &Report<'_>, out: &mut Page) {
    out.gap();
    let trim = &report.solution.trim;
    line(
        out,
        &format!(
            "constants: axes {}, sticks {}, triggers {}, buttons {}",
            trim.axes.len(),
            trim.sticks.len(),
            trim.triggers.len(),
            trim.buttons.len()
        ),
    );
    for refusal in &trim.refusals {
        let text = format!(
            "refused, {}: {}; {}",
            terminal(&refusal.what),
            terminal(&refusal.why),
            terminal(&refusal.advice)
        );
        wrap(out, "  ", &text);
    }
}

/// "0.712 ± 0.021"; the wider side where the interval is lopsided. Unit only for per cent and
/// degrees, the head of the table names the rest.
fn cell(figure: &Measured) -> String {
    let Ok(r) = figure else { return "–".to_owned() };
    let k = r.unit.shown_factor();
    let half = (r.high - r.value).max(r.value - r.low) * k;
    let unit = match r.unit {
        Unit::Fraction | Unit::Degrees => spaced(r.unit),
        _ => String::new(),
    };
    if !half.is_finite() || half == 0.0 {
        return format!("{}{unit}", number(r.value * k, 1));
    }
    let decimals = crate::measure::decimals(r.value * k, half);
    format!("{} ± {}{unit}", number(r.value * k, decimals), number(half, decimals))
}

fn cell_plain(figure: &Measured) -> String {
    figure.as_ref().map_or("–".to_owned(), |r| number(r.value, 1))
}

fn millis(figure: &Measured) -> String {
    figure.as_ref().map_or("–".to_owned(), |r| number(r.value * 1e-3, 3))
}

fn line(out: &mut Page, text: &str) {
    out.line(text);
}

fn wrap(out: &mut Page, indent: &str, text: &str) {
    out.wrapped(indent, text);
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::emit::built::{hostile, of, whole};
    use crate::findings::built::{healthy, no};

    #[test]
    fn the_summary_names_every_part_with_its_interval() {
        let text = summary(&whole().report(), Width::FULL);
        for piece in [
            "Heron rig · board 7C · heron-7c.session",
            "10000 frames in 40.0 s, 250.0 frames/s, 10 bits, recorded 2026-03-04T10:12:00Z",
            "0.710 ± 0.020",
            "16 (4.0\u{a0}%)",
            "b0 south",
            "< 8.0",
            "constants: axes 4, sticks 2, triggers 1, buttons 3",
            "refused, right trigger",
        ] {
            assert!(text.contains(piece), "{piece} not in\n{text}");
        }
        let widest = text.lines().map(|line| line.chars().count()).max();
        assert!(widest <= Some(120), "{widest:?}\n{text}");
    }

    #[test]
    fn missing_figures_are_dashes() {
        let mut built = healthy();
        built.survey.axes[0].noise_rms = no("rest");
        built.survey.stream.lost = no("counter");
        let text = summary(&of(built).report(), Width::FULL);
        let row = text.lines().find(|line| line.starts_with("lx ")).expect("lx");
        assert!(row.contains(" – "), "{row}");
    }

    #[test]
    fn nothing_from_a_session_reaches_the_terminal_raw() {
        let text = summary(&hostile().report(), Width::FULL);
        assert!(text.contains("\\u{1b}[31m"));
        assert!(text.chars().all(|c| c == '\n' || !c.is_control()), "{text:?}");
    }
}
