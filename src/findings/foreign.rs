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

/// One line in twenty or more is of another form: which one, and where.
pub(super) fn foreign_lines(bench: &Bench<'_>, found: &mut Vec<Finding>) {
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
