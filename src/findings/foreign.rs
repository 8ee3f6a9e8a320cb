//! Lines among the frames that look like frames of another form: counted, not measured, and no loss.
use super::{Bench, Code, Finding, Severity, say};
use crate::rig::Place;
use crate::session::{FORM_LEAST, OtherForm};

/// Share of all lines from which another form is more than a remark of the firmware now and then.
const SHARE: f64 = 0.05;

/// The commonest other form, where it is one line in twenty or more.
fn other<'a>(bench: &Bench<'a>) -> Option<(&'a OtherForm, f64)> {
    let form = bench.tracks.stream.other_form.as_ref().filter(|form| form.count >= FORM_LEAST)?;
    let all = bench.survey.frames.saturating_add(bench.tracks.stream.lines.total());
    let share = form.count as f64 / all.max(1) as f64;
    (share >= SHARE).then_some((form, share))
}

/// Frames that are missing because a line of another form stands in their place: all of them, where
/// they are as many as those lines but for one in ten.
pub(super) fn in_place_of_frames(bench: &Bench<'_>, lost: u64) -> bool {
    other(bench).is_some_and(|(form, _)| lost.abs_diff(form.count) <= (form.count / 10).max(2))
}

/// Lines of a second form that hold the same readings: read and measured like the others.
fn second_form(bench: &Bench<'_>, found: &mut Vec<Finding>) {
    let second = bench.tracks.stream.second;
    if second == 0 {
        return;
    }
    let more = &bench.tracks.stream.second_more;
    let besides = match more.is_empty() {
        true => String::new(),
        false => format!("; only they hold {}, which is not read", more.join(", ")),
    };
    let evidence = format!(
        "{} of {} came as lines of a second form with the same readings; both are measured{besides}",
        say::count_of(second, "frame"),
        bench.survey.frames,
    );
    let (severity, remedy) = match more.is_empty() {
        true => (
            Severity::Note,
            "Nothing, if the firmware prints in two ways; else see which build ran",
        ),
        false => (Severity::Warning, "Let the firmware print every reading in every line"),
    };
    found.push(Finding::new(Code::ForeignLines, Place::Stream, severity, evidence, remedy));
}

/// One line in twenty or more is of another form: which one, and where.
pub(super) fn foreign_lines(bench: &Bench<'_>, found: &mut Vec<Finding>) {
    second_form(bench, found);
    let Some((form, share)) = other(bench) else { return };
    let lost = bench.survey.stream.lost_on_the_way().filter(|lost| *lost > 0);
    let instead = match lost.filter(|lost| in_place_of_frames(bench, *lost)) {
        Some(lost) => format!(
            "; the {} that counter or clock miss are as many: these lines stand in their place",
            say::count_of(lost, "frame")
        ),
        None => String::new(),
    };
    let evidence = format!(
        "{} of another form, {:.1}\u{a0}% of all, first line {}: \"{}\"; they are counted and not \
         measured{instead}",
        say::count_of(form.count, "line"),
        100.0 * share,
        form.place.line,
        form.example.escape_ascii(),
    );
    let remedy = "If they hold readings, let the firmware print one form alone, or read them with a \
        dialect file of their own; if not, all is well";
    found.push(Finding::new(
        Code::ForeignLines,
        Place::Stream,
        Severity::Warning,
        evidence,
        remedy,
    ));
}
