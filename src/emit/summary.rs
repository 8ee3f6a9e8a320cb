//! The summary that `solve` prints: figures with intervals, findings, constants, in plain text.
use super::escape::terminal;
use super::forms::{cause, form};
use super::meta::Report;
use super::origin;
use super::places::grouped;
use super::text_table::{Page, Table, Width};
use crate::findings::Severity;
use crate::measure::number;
use crate::rig::Half;
use crate::session::{ColumnRead, Fate, TimeSource};
use crate::survey::catalogue::{Entry, Figure, Shown, undecided};
use crate::units::Unit;
use crate::wire::Role;

/// The summary, one line feed at the end of every line. Text from the session is made harmless.
pub fn summary(report: &Report<'_>, width: Width) -> String {
    let mut out = Page::new(width);
    head(report, &mut out);
    figures(report, &mut out);
    gates(report, &mut out);
    columns(report, &mut out);
    coupling(report, &mut out);
    found(report, &mut out);
    if let Some(words) = undecided(&report.entries()) {
        wrap(&mut out, "", &words);
    }
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
    names.push(facts.origin.source.clone());
    line(out, &terminal(&names.join(" · ")));
    let mut facts_line = match survey.duration_s.is_finite() {
        true => format!("{} frames in {} s", survey.frames, number(survey.duration_s, 1)),
        false => format!("{} frames, nothing tells their time", survey.frames),
    };
    if matches!(survey.time_source, TimeSource::Host | TimeSource::Stated) {
        facts_line.push_str(&format!(" by {}", survey.time_source.words()));
    }
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
    for text in origin::lines(&facts.origin) {
        wrap(out, "", &text);
    }
    line(out, "± and to: the 95 % interval; – a figure that the data do not support");
}

/// A table of every kind of part with the figures that the catalogue shows here.
fn figures(report: &Report<'_>, out: &mut Page) {
    let entries = report.entries();
    for group in GROUPS {
        let prefix = format!("{}.", group.path);
        let of_group = |e: &&Entry<'_>| e.is_shown(Shown::Summary) && e.path.starts_with(&prefix);
        let shown: Vec<&Entry<'_>> = entries.iter().filter(of_group).collect();
        let mut parts: Vec<&str> = shown.iter().map(|e| part_of(e, group)).collect();
        parts.sort_by_key(|part| shown.iter().position(|e| part_of(e, group) == *part));
        parts.dedup();
        let mut heads: Vec<String> = Vec::new();
        for head in shown.iter().map(|e| head_of(e)) {
            if !heads.contains(&head) {
                heads.push(head);
            }
        }
        let cell = |part: &str, head: &String| {
            let mut here = shown.iter().filter(|e| part_of(e, group) == part);
            let found = here.find(|e| head_of(e) == *head);
            found.map_or(String::new(), |e| e.figure.cell())
        };
        let names: Vec<String> = parts.iter().map(|part| named(report, group, part)).collect();
        let title = vec![group.title.to_owned()];
        let mut table;
        if group.one_a_row {
            table = Table::of([title, heads.clone()].concat());
            for (part, name) in parts.iter().zip(names) {
                let cells = heads.iter().map(|head| cell(part, head)).collect();
                table.row_of([vec![name], cells].concat());
            }
        } else {
            table = Table::of([title, names].concat());
            for head in &heads {
                let cells = parts.iter().map(|part| cell(part, head)).collect();
                table.row_of([vec![head.clone()], cells].concat());
            }
        }
        table.write(out);
    }
}

/// A kind of part: where it stands in the document, and the head of its table.
struct Group {
    path: &'static str,
    title: &'static str,
    /// Many parts stand under one another, few side by side.
    one_a_row: bool,
}

const GROUPS: &[Group] = &[
    Group { path: "stream", title: "stream", one_a_row: false },
    Group { path: "axes", title: "axis", one_a_row: false },
    Group { path: "sticks", title: "stick", one_a_row: false },
    Group { path: "triggers", title: "trigger", one_a_row: false },
    Group { path: "buttons", title: "button", one_a_row: true },
    Group { path: "coupling.driven", title: "driven", one_a_row: true },
];

/// Key of the part that a figure belongs to; empty for the stream, which is one.
fn part_of<'a>(entry: &'a Entry<'_>, group: &Group) -> &'a str {
    if group.path == "stream" {
        return "";
    }
    let rest = entry.path.get(group.path.len() + 1..).unwrap_or("");
    rest.split('.').next().unwrap_or("")
}

/// Its label with the unit that its cells do not carry: "noise rms, counts".
fn head_of(entry: &Entry<'_>) -> String {
    match entry.info.unit {
        Unit::Fraction | Unit::Degrees | Unit::Number => entry.label(),
        unit => format!("{}, {}", entry.label(), unit.symbol()),
    }
}

/// The part as a person knows it: buttons with their names, couplings with what was driven.
fn named(report: &Report<'_>, group: &Group, part: &str) -> String {
    let number = || part.trim_start_matches('b').parse::<usize>().unwrap_or(usize::MAX);
    match group.path {
        "buttons" => match report.facts.button_names.get(number()).filter(|n| !n.is_empty()) {
            Some(name) => format!("{part} {}", terminal(name)),
            None => part.to_owned(),
        },
        "coupling.driven" => {
            let driven = report.survey.driven.get(number());
            driven.map_or(String::new(), |d| format!("{} by {}", d.axis.key(), d.by.key()))
        }
        _ => part.to_owned(),
    }
}

/// The columns as they were read; buttons side by side share a row.
fn columns(report: &Report<'_>, out: &mut Page) {
    let columns = &report.facts.columns;
    if columns.is_empty() {
        return;
    }
    let heads = ["columns as read", "taken for", "digits", "range", ""];
    let mut table = Table::of(heads.map(str::to_owned).to_vec());
    let single = |c: &ColumnRead| matches!(c.role, Role::Button(_)) && c.fate == Fate::Used;
    for run in columns.chunk_by(|a, b| single(a) && single(b)) {
        let (first, last) = (&run[0], &run[run.len() - 1]);
        let (what, role) = match run.len() {
            1 => (terminal(&first.words()), first.taken_for()),
            _ => {
                let names = [first, last].map(|c| terminal(&c.words())).join(" … ");
                (names, [first.role.words(), last.taken_for()].join(" … "))
            }
        };
        table.row_of(vec![
            what,
            role,
            first.digits(),
            first.range_words(),
            first.fate.words().to_owned(),
        ]);
    }
    table.write(out);
}

/// The forms of the gates.
fn gates(report: &Report<'_>, out: &mut Page) {
    for s in report.survey.sticks.iter().filter(|s| s.shape.is_ok()) {
        line(out, &format!("gate of the {} stick: {}", s.half.key(), form(&s.shape)));
    }
}

/// What the channels of a half share at rest.
fn coupling(report: &Report<'_>, out: &mut Page) {
    for (half, common) in Half::ALL.into_iter().zip(&report.survey.common) {
        if let (Ok(r), Some(rms)) = (&common.correlation, common.rms)
            && r.low > 0.0
        {
            let (half, r, rms) =
                (half.key(), Figure::Reading(&common.correlation).cell(), number(rms, 2));
            let words = format!(
                "at rest the {half} half moves together, correlation {r}, {rms} counts rms: {}",
                cause(common)
            );
            wrap(out, "", &words);
        }
    }
}

fn found(report: &Report<'_>, out: &mut Page) {
    out.gap();
    let count = |s: Severity| report.findings.iter().filter(|f| f.severity == s).count();
    let [faults, warnings, notes] = [Severity::Fault, Severity::Warning, Severity::Note].map(count);
    line(out, &format!("findings: faults {faults}, warnings {warnings}, notes {notes}"));
    for group in grouped(report.findings) {
        let finding = group.first;
        let head = format!("{} {}", finding.severity.word(), finding.code);
        for (evidence, places) in &group.evidence {
            let places: Vec<String> = places.iter().map(|place| place.key()).collect();
            let places = places.join(", ");
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
        let text = summary(&whole().report(), Width::columns(100));
        for piece in [
            "Heron rig · board 7C · heron-7c.session",
            "10000 frames in 40.0 s, 250.0 frames/s, 10 bits, recorded 2026-03-04T10:12:00Z",
            "0.710 ±\u{a0}0.020",
            "dead zone, counts",
            "b0 south",
            "< 8.0",
            "constants: axes 4, sticks 2, triggers 1, buttons 3",
            "refused, right trigger",
            "spare (field 2)",
            "not used, and it moves",
        ] {
            assert!(text.contains(piece), "{piece} not in\n{text}");
        }
        let widest = text.lines().map(|line| line.chars().count()).max();
        assert!(widest <= Some(100), "{widest:?}\n{text}");
    }

    #[test]
    fn missing_figures_are_dashes() {
        let mut built = healthy();
        built.survey.axes[0].noise_rms = no("rest");
        built.survey.stream.lost = no("counter");
        let text = summary(&of(built).report(), Width::FULL);
        let cells = |head: &str| {
            let row = text.lines().find(|line| line.starts_with(head)).expect("a row");
            row[head.len()..].split("  ").filter(|c| !c.trim().is_empty()).map(str::trim).collect()
        };
        let noise: Vec<&str> = cells("noise rms, counts");
        assert_eq!((noise.len(), noise[0]), (6, "–"), "{text}");
        assert_eq!(cells("lost"), ["–"]);
    }

    #[test]
    fn nothing_from_a_session_reaches_the_terminal_raw() {
        let text = summary(&hostile().report(), Width::FULL);
        assert!(text.contains("\\u{1b}[31m"));
        assert!(text.chars().all(|c| c == '\n' || !c.is_control()), "{text:?}");
    }
}
